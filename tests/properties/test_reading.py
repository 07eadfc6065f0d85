"""What must hold for any table: how it is written and in which order its rows stand changes nothing."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import polars as pl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from polars.testing import assert_frame_equal

from plotmap.fielddata import read_survey
from plotmap.fielddata.convert import convert
from plotmap.fielddata.headings import match_headings
from plotmap.fielddata.raw import UnreadableFileError
from plotmap.fielddata.text_files import read_text
from plotmap.model.field_tables import TREES
from tests.folder_example import FILES, as_csv, edited, folder_example, rows_of

# per unit: how many of it make a centimetre, and the decimals that keep a millimetre exact
UNITS = {"mm": (10, 0), "cm": (1, 1), "m": (0.01, 3)}
WORDS = st.text(
    st.characters(codec="utf-8", exclude_categories=("Cc", "Cs", "Z")), min_size=1, max_size=6
).filter(
    lambda word: (
        word.strip() == word
        and not word.startswith("\ufeff")
        and not any(total in word.casefold() for total in ("total", "sum", "σ", "∑"))
    )
)
TREE = st.tuples(
    WORDS,
    st.none() | WORDS,
    st.none() | st.integers(5, 4000),  # mm
    st.none() | st.integers(13, 1200),  # dm
    st.none() | st.text(st.sampled_from('abc ,;"\n\té'), max_size=8),
)


def _read(
    folder: Path, trees: list[tuple], delimiter: str, mark: str, unit: str, *, crlf: bool, bom: bool
) -> pl.DataFrame:
    """Write stems as CSV in one of many ways, and read them."""
    factor, digits = UNITS[unit]
    rows: list[list[str]] = [["plot", "species", f"d1_{unit}", "height_m", "remark"]]
    for plot, species, d1_mm, height_dm, remark in trees:
        d1 = "" if d1_mm is None else f"{d1_mm / 10 * factor:.{digits}f}"
        height = "" if height_dm is None else f"{height_dm / 10:.1f}"
        rows.append([plot, species or "", d1.replace(".", mark), height.replace(".", mark), remark or ""])
    text = as_csv(rows, delimiter)
    path = folder / "trees.csv"
    path.write_bytes(
        ("\ufeff" if bom else "").encode() + (text.replace("\n", "\r\n") if crlf else text).encode()
    )
    raw = read_text(path, "", "trees.csv")
    headings, found = match_headings(TREES, raw.headings, {}, "trees.csv")
    typed = convert(TREES, raw, headings, "trees.csv")
    assert not len(found)
    assert not typed.findings.codes - {"row-blank", "comma-thousands"}  # 1,234 m is told, and read as 1.234 m
    return typed.frame


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    trees=st.lists(TREE, max_size=12),
    way=st.sampled_from([(",", "."), (";", "."), (";", ","), ("\t", "."), ("\t", ",")]),
    unit=st.sampled_from(list(UNITS)),
    bom=st.booleans(),
)
def test_delimiter_decimal_mark_unit_and_byte_order_mark_change_nothing(
    tmp_path: Path, trees: list[tuple], way: tuple[str, str], unit: str, *, bom: bool
) -> None:
    expected = _read(tmp_path, trees, ",", ".", "cm", crlf=False, bom=False)
    frame = _read(tmp_path, trees, *way, unit, crlf=False, bom=bom)
    assert_frame_equal(frame, expected, rel_tol=1e-12)
    assert frame["plot"].to_list() == [tree[0] for tree in trees]
    assert frame["d1_cm"].to_list() == pytest.approx([None if t[2] is None else t[2] / 10 for t in trees])


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(trees=st.lists(TREE, max_size=8))
def test_line_ends_change_nothing_but_line_breaks_inside_cells(tmp_path: Path, trees: list[tuple]) -> None:
    columns = ["plot", "species", "d1_cm", "height_m", "source_row"]
    frames = [
        _read(tmp_path, trees, ";", ",", "mm", crlf=crlf, bom=False).select(columns) for crlf in (False, True)
    ]
    assert_frame_equal(*frames)


@settings(max_examples=200, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    n_columns=st.integers(1, 3),
    parts=st.lists(
        st.sampled_from(["a", "b", "1", " ", ",", '"', '""', '",', '\n"', "\n", "\r\n"]), max_size=25
    ),
)
def test_cells_are_those_of_the_csv_reader_of_python_or_the_file_is_refused(
    tmp_path: Path, n_columns: int, parts: list[str]
) -> None:
    """Python's own reader in strict mode is the judge; filled cells beyond the headings are findings."""
    text = ",".join("xyz"[:n_columns]) + "\n" + "".join(parts)
    path = tmp_path / "a.csv"
    path.write_bytes(text.encode())
    try:
        rows = list(csv.reader(io.StringIO(text, newline=""), strict=True))[1:]
    except csv.Error:
        with pytest.raises(UnreadableFileError, match=r"cannot be read|never ends"):
            read_text(path, "", "a.csv")
        return
    raw = read_text(path, "", "a.csv")
    padded = [(cells + [""] * n_columns)[:n_columns] for cells in rows]
    assert [[cell or "" for cell in row] for row in raw.cells.rows()] == padded
    too_long = [n for n, cells in enumerate(rows, start=2) if any(map(str.strip, cells[n_columns:]))]
    assert raw.findings.frame["row"].to_list() == too_long


MISTAKES = edited(
    "trees.csv",
    (3, "tree", "1"),  # stem-twice
    (4, "plot", "P9"),  # stem-without-plot
    (8, "d1_cm", "900"),  # value-out-of-range
    (9, "d2_cm", "thick"),  # number-unreadable
    (20, "plot", ""),  # value-missing
    (31, "species", "oka"),  # species-unknown
)
FOUND = {
    "stem-twice",
    "stem-without-plot",
    "value-out-of-range",
    "number-unreadable",
    "value-missing",
    "species-unknown",
}


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(order=st.permutations(range(len(rows_of(FILES["trees.csv"])) - 1)))
def test_the_order_of_rows_changes_only_the_rows_that_findings_name(tmp_path: Path, order: list[int]) -> None:
    heading, *rows = rows_of(MISTAKES)
    shuffled = as_csv([heading, *(rows[number] for number in order)])
    kept = ["code", "severity", "file", "plot", "column", "value", "hint"]
    straight = read_survey(folder_example(tmp_path / "straight", {"trees.csv": MISTAKES})).findings.frame
    mixed = read_survey(folder_example(tmp_path / "mixed", {"trees.csv": shuffled})).findings.frame
    assert set(straight["code"].to_list()) == FOUND
    assert sorted(map(str, mixed.select(kept).rows())) == sorted(map(str, straight.select(kept).rows()))
    for code, row in mixed.filter(pl.col("code") == "value-out-of-range").select("code", "row").rows():
        assert code == "value-out-of-range"
        assert order[row - 2] == 8 - 2
