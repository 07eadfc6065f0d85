"""The CSV files are read back and compared with the stand (RFC 4180 for quoting, RFC 3629 for UTF-8)."""

from __future__ import annotations

import csv
import io
from dataclasses import replace
from pathlib import Path

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from polars.testing import assert_frame_equal

from plotmap.errors import SchemaError
from plotmap.model.findings import Findings, finding
from plotmap.model.result_tables import FINDING_RESULTS, LEDGER_RESULTS, RESULT_TABLES
from plotmap.model.survey import Stand
from plotmap.output.declared import stand_frames
from plotmap.output.tables import write_findings, write_ledger, write_tables
from tests.stand_example import stand_example

AWKWARD = [
    "=1+1",
    "+1",
    "-1",
    "@SUM(A1)",
    "\ttab",
    "\rreturn",
    'say "x", y',
    "two\nlines",
    "",
    "NA",
    "001",
    "1e5",
    "é–×",
]


@pytest.fixture(scope="module")
def stand() -> Stand:
    return stand_example()


@pytest.fixture(scope="module")
def folder(stand, tmp_path_factory) -> Path:
    path = tmp_path_factory.mktemp("csv") / "tables"
    write_tables(stand, path)
    return path


def rows_of(path: Path) -> list[list[str]]:
    """Return the cells of a CSV file as Python's own reader sees them."""
    return list(csv.reader(io.StringIO(path.read_bytes().decode("utf-8"), newline="")))


def test_there_is_one_file_a_result_table(folder) -> None:
    assert sorted(path.name for path in folder.iterdir()) == sorted(
        f"{table.name}.csv" for table in RESULT_TABLES
    )


@pytest.mark.parametrize("table", RESULT_TABLES, ids=lambda table: table.name)
def test_every_table_reads_back_exactly(stand, folder, table) -> None:
    frame = stand_frames(stand)[table.name]
    back = pl.read_csv(folder / f"{table.name}.csv", schema_overrides=dict(frame.schema))
    assert_frame_equal(back.select(table.names), frame, check_exact=True)


@pytest.mark.parametrize("table", RESULT_TABLES, ids=lambda table: table.name)
def test_headings_are_the_declared_names_in_order(folder, table) -> None:
    position = ["easting", "northing"] if table.name == "plots" else []
    assert rows_of(folder / f"{table.name}.csv")[0] == table.names + position


def test_plots_carry_their_position_and_a_blank_where_there_is_none(stand, tmp_path) -> None:
    plots = stand.plots.copy()
    plots.loc[0, "geometry"] = None
    write_tables(replace(stand, plots=plots), tmp_path)
    back = pl.read_csv(tmp_path / "plots.csv")
    assert back["easting"].to_list() == [None, *plots.geometry.x[1:]]
    assert back["northing"].to_list() == [None, *plots.geometry.y[1:]]


def test_files_are_plain_utf8_with_line_feeds(folder) -> None:
    for path in folder.iterdir():
        content = path.read_bytes()
        assert not content.startswith(b"\xef\xbb\xbf")
        assert content.endswith(b"\n")
        assert b"\r" not in content
    assert "10–<15".encode() in (folder / "classes.csv").read_bytes()


def test_two_runs_are_byte_identical(stand, folder, tmp_path) -> None:
    write_tables(stand, tmp_path)
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == {
        path.name: path.read_bytes() for path in folder.iterdir()
    }


def test_awkward_texts_are_kept_exactly(stand, tmp_path) -> None:
    trees = stand.trees.head(len(AWKWARD)).with_columns(pl.Series("tree", AWKWARD))
    write_tables(replace(stand, trees=trees), tmp_path)
    rows = rows_of(tmp_path / "trees.csv")
    at = rows[0].index("tree")
    assert [row[at] for row in rows[1:]] == AWKWARD


@settings(max_examples=15, deadline=None)
@given(numbers=st.lists(st.floats(allow_nan=False, allow_infinity=False), min_size=40, max_size=40))
def test_numbers_read_back_as_the_same_numbers(stand, tmp_path_factory, numbers) -> None:
    folder = tmp_path_factory.mktemp("numbers")
    trees = stand.trees.head(len(numbers)).with_columns(pl.Series("dbh_cm", numbers))
    write_tables(replace(stand, trees=trees), folder)
    heading, *rows = rows_of(folder / "trees.csv")
    assert [float(row[heading.index("dbh_cm")]) for row in rows] == numbers


def test_missing_is_an_empty_cell(stand, folder) -> None:
    rows = rows_of(folder / "compartments.csv")
    last = dict(zip(rows[0], rows[-1], strict=True))
    assert last["status"] == "no plots"
    assert last["basal_area_m2_per_ha"] == ""
    assert stand.compartments["basal_area_m2_per_ha"].isna().iloc[-1]


def test_findings_are_written_with_a_heading_even_when_there_are_none(tmp_path) -> None:
    write_findings(Findings.none(), tmp_path / "findings.csv")
    assert rows_of(tmp_path / "findings.csv") == [FINDING_RESULTS.names]
    found = finding("column-unknown", "trees.csv", 'a, b\nand "c"', column="sweep")
    write_findings(found, tmp_path / "findings.csv")
    heading, row = rows_of(tmp_path / "findings.csv")
    assert dict(zip(heading, row, strict=True)) == {
        name: "" if value is None else str(value) for name, value in found.frame.row(0, named=True).items()
    }


def test_the_ledger_is_written_as_declared(stand, tmp_path) -> None:
    write_ledger(stand.ledger, tmp_path / "ledger.csv")
    rows = rows_of(tmp_path / "ledger.csv")
    assert rows[0] == LEDGER_RESULTS.names
    assert rows[1:] == [[str(cell) for cell in row] for row in stand.ledger.rows()]


def test_a_table_without_a_declared_column_is_refused(stand, tmp_path) -> None:
    with pytest.raises(SchemaError, match="trees: the columns dbh_cm are not there"):
        write_tables(replace(stand, trees=stand.trees.drop("dbh_cm")), tmp_path)
    with pytest.raises(SchemaError, match="ledger: the columns rows are not there"):
        write_ledger(stand.ledger.drop("rows"), tmp_path / "ledger.csv")
