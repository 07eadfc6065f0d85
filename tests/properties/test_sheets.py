"""How a table is laid out on a sheet changes nothing: titles, merged cells and totals against the plain table."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby, pairwise
from pathlib import Path

import polars as pl
import xlsxwriter
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from polars.testing import assert_frame_equal

from plotmap.fielddata.convert import TypedTable, convert
from plotmap.fielddata.heading_row import Wanted
from plotmap.fielddata.headings import match_headings
from plotmap.fielddata.raw import RawTable
from plotmap.fielddata.text_files import read_text
from plotmap.fielddata.workbooks import read_sheet
from plotmap.model.columns import Table
from plotmap.model.field_tables import TALLIES, TREES
from tests.folder_example import as_csv

HEADING = ["plot", "tree", "species", "d1_cm"]
STEM = st.tuples(
    st.sampled_from(["P1", "P2", "003"]),
    st.sampled_from(["1", "2", "3-5"]),
    st.sampled_from(["oak", "ash"]),
    st.integers(5, 4000).map(lambda mm: mm / 10),
)
STEMS = st.lists(STEM, min_size=1, max_size=12)
TITLES = st.lists(
    st.sampled_from(["", "Beat 7", "Stems, of May", "a;b;c;d;e", "plot", "Tree list", '"quoted, title"']),
    max_size=6,
)
MANY = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


def _typed(table: Table, raw: RawTable) -> TypedTable:
    headings, _ = match_headings(table, raw.headings, {}, "a")
    return convert(table, raw, headings, "a")


def _csv(folder: Path, table: Table, text: str) -> TypedTable:
    path = folder / "a.csv"
    path.write_text(text)
    return _typed(table, read_text(path, "", "a", Wanted(table)))


@MANY
@given(stems=STEMS, titles=TITLES, delimiter=st.sampled_from([",", ";", "\t"]))
def test_titles_above_a_text_table_change_nothing_but_the_numbers_of_rows(
    tmp_path: Path, stems: list[tuple], titles: list[str], delimiter: str
) -> None:
    text = as_csv([HEADING, *stems], delimiter)
    plain = _csv(tmp_path, TREES, text)
    titled = _csv(tmp_path, TREES, "".join(f"{title}\n" for title in titles) + text)
    moved = plain.frame.with_columns(pl.col("source_row") + len(titles))
    assert_frame_equal(titled.frame, moved)
    assert titled.findings.codes == plain.findings.codes | ({"heading-row-found"} if titles else set())
    assert titled.n_read == plain.n_read


def _merged_book(path: Path, stems: Sequence[tuple], above: int) -> None:
    """Write stems with the plot and the species merged wherever the same follow each other."""
    with xlsxwriter.Workbook(path) as book:
        sheet = book.add_worksheet("trees")
        sheet.write_row(above, 0, HEADING)
        for row, stem in enumerate(stems, start=above + 1):
            sheet.write_string(row, 1, stem[1])
            sheet.write_number(row, 3, stem[3])
        for column in (0, 2):
            row = above + 1
            for value, block in groupby(stem[column] for stem in stems):
                length = len(list(block))
                if length > 1:
                    sheet.merge_range(row, column, row + length - 1, column, value)
                else:
                    sheet.write_string(row, column, value)
                row += length


@MANY
@given(stems=STEMS, above=st.integers(0, 3))
def test_a_workbook_with_merged_cells_is_the_plain_table(
    tmp_path: Path, stems: list[tuple], above: int
) -> None:
    plain = _csv(tmp_path, TREES, as_csv([HEADING, *stems]))
    _merged_book(tmp_path / "a.xlsx", stems, above)
    merged = _typed(TREES, read_sheet(tmp_path / "a.xlsx", "trees", "a", Wanted(TREES)))
    assert_frame_equal(merged.frame, plain.frame.with_columns(pl.col("source_row") + above))
    repeated = any(a[i] == b[i] for a, b in pairwise(stems) for i in (0, 2))
    assert ("cells-merged" in merged.findings.codes) is repeated


COUNTS = st.lists(st.lists(st.integers(1, 50), min_size=1, max_size=5), min_size=1, max_size=5)


@MANY
@given(blocks=COUNTS, word=st.sampled_from(["Total", "Σ", "Summe:", "sub-total"]), grand=st.booleans())
def test_totals_between_the_rows_are_set_aside_and_every_row_is_accounted_for(
    tmp_path: Path, blocks: list[list[int]], word: str, *, grand: bool
) -> None:
    heading = ["plot", "class", "count"]
    data = [
        [[f"P{n}", f"{c}-{c + 1}", str(x)] for c, x in enumerate(block)] for n, block in enumerate(blocks)
    ]
    rows = [row for block in data for row in [*block, [word, "", str(sum(int(cells[2]) for cells in block))]]]
    end = [["Grand total", "", str(sum(map(sum, blocks)))]] if grand else []
    typed = _csv(tmp_path, TALLIES, as_csv([heading, *rows, *end]))
    assert typed.frame["count"].to_list() == [x for block in blocks for x in block]
    n_totals = len(blocks) + len(end)
    assert typed.set_aside == {"row of totals": n_totals}
    assert typed.n_read == typed.frame.height + n_totals
