"""Merged cells of workbooks written by XlsxWriter: filled where merged, and nowhere else."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pytest
import xlsxwriter

from plotmap.fielddata import read_survey
from plotmap.fielddata.heading_row import Wanted
from plotmap.fielddata.raw import RawTable
from plotmap.fielddata.workbooks import read_sheet
from plotmap.model.columns import Table
from plotmap.model.field_tables import TALLIES, TREES
from plotmap.workflow import check, compile_survey
from tests.folder_example import FILES, folder_example, found, rows_of, the_finding

Merge = tuple[str, object]


def merged_book(path: Path, sheet: str, rows: Sequence[Sequence[object]], merges: Sequence[Merge]) -> Path:
    """Write a sheet and merge cells of it."""
    with xlsxwriter.Workbook(path) as book:
        page = book.add_worksheet(sheet)
        for number, cells in enumerate(rows):
            for column, cell in enumerate(cells):
                if isinstance(cell, str):
                    page.write_string(number, column, cell)
                elif cell is not None:
                    page.write(number, column, cell)
        for place, value in merges:
            page.merge_range(place, value)
    return path


def _read(folder: Path, table: Table, rows: Sequence[Sequence[object]], *merges: Merge) -> RawTable:
    path = merged_book(folder / "a.xlsx", table.name, rows, merges)
    return read_sheet(path, table.name, f"a.xlsx, sheet {table.name}", Wanted(table))


def test_a_plot_merged_over_its_stems_is_the_plot_of_each(tmp_path: Path) -> None:
    rows = [["plot", "tree", "d1_cm"], [None, "1", 30], [None, "2", 31], [None, "3", 32], ["P2", "1", 33]]
    raw = _read(tmp_path, TREES, rows, ("A2:A4", "P1"))
    assert raw.cells["c0"].to_list() == ["P1", "P1", "P1", "P2"]
    note = the_finding(raw.findings, "cells-merged")
    assert (note["severity"], note["row"], note["column"], note["value"]) == ("note", 2, "plot", "P1")
    assert note["file"] == "a.xlsx, sheet trees"
    says = "1 block of merged cells was filled with the value of the first cell (A2:A4); the first holds P1"
    assert note["message"] == says


def test_blank_cells_that_are_not_merged_are_not_filled(tmp_path: Path) -> None:
    rows = [["plot", "tree", "d1_cm"], ["P1", "1", 30], [None, "2", 31], [None, "3", 32]]
    raw = _read(tmp_path, TREES, rows)
    assert raw.cells["c0"].to_list() == ["P1", None, None]
    assert not len(raw.findings)


def test_many_blocks_of_a_column_are_one_finding(tmp_path: Path) -> None:
    rows = [["plot", "tree"], *[[None, str(n)] for n in range(20)]]
    merges = [(f"A{2 * n + 2}:A{2 * n + 3}", f"P{n}") for n in range(10)]
    raw = _read(tmp_path, TREES, rows, *merges)
    assert raw.cells["c0"].to_list() == [f"P{n // 2}" for n in range(20)]
    message = the_finding(raw.findings, "cells-merged")["message"]
    assert message.startswith("10 blocks of merged cells were filled")
    assert "(A2:A3, A4:A5, A6:A7, A8:A9, A10:A11 and 5 more)" in message


def test_a_row_made_taller_by_merging_all_its_cells_stays_one_row(tmp_path: Path) -> None:
    rows = [["plot", "tree"], [], [], ["P2", "1"]]
    raw = _read(tmp_path, TREES, rows, ("A2:A3", "P1"), ("B2:B3", "7"))
    assert raw.cells.rows() == [("P1", "7"), (None, None), ("P2", "1")]
    assert not found(raw.findings, "cells-merged")


def test_cells_merged_to_the_right_are_filled_to_the_right(tmp_path: Path) -> None:
    rows = [["plot", "d1_cm", "d2_cm"], ["P1"], ["P2", 20, None]]
    raw = _read(tmp_path, TREES, rows, ("B2:C2", 31.5))
    assert raw.cells.rows() == [("P1", "31.5", "31.5"), ("P2", "20", None)]
    assert the_finding(raw.findings, "cells-merged")["column"] == "d1_cm"


def test_a_block_merged_both_ways_is_filled_both_ways(tmp_path: Path) -> None:
    rows = [["plot", "d1_cm", "d2_cm"], ["P1"], ["P2"]]
    raw = _read(tmp_path, TREES, rows, ("B2:C3", 31.5))
    assert raw.cells.rows() == [("P1", "31.5", "31.5"), ("P2", "31.5", "31.5")]


def test_a_block_that_reaches_beyond_the_last_cell_is_filled_as_far_as_there_are_cells(
    tmp_path: Path,
) -> None:
    raw = _read(
        tmp_path, TREES, [["plot", "tree"], [None, "1"], [None, "2"]], ("A2:A9", "P1"), ("C2:F2", "x")
    )
    assert raw.cells.select("c0", "c1").rows() == [("P1", "1"), ("P1", "2")]


def test_a_merged_block_of_blanks_fills_nothing(tmp_path: Path) -> None:
    raw = _read(tmp_path, TREES, [["plot", "tree"], [None, "1"], [None, "2"]], ("A2:A3", ""))
    assert raw.cells["c0"].to_list() == [None, None]
    assert not len(raw.findings)


def test_a_title_merged_above_the_heading_is_no_data(tmp_path: Path) -> None:
    raw = _read(tmp_path, TREES, [[], ["plot", "tree"], ["P1", "1"]], ("A1:B1", "Beat 7"))
    assert (raw.headings, raw.cells.rows(), raw.first_row) == (("plot", "tree"), [("P1", "1")], 3)
    assert raw.findings.codes == {"heading-row-found"}


def test_headings_merged_over_two_rows_belong_to_the_lower_one(tmp_path: Path) -> None:
    rows = [[None, None, None, None], [None, None, "d1_cm", "d2_cm"], ["P1", "1", 30, 31]]
    raw = _read(tmp_path, TREES, rows, ("A1:A2", "plot"), ("B1:B2", "tree"), ("C1:D1", "Diameter"))
    assert raw.headings == ("plot", "tree", "d1_cm", "d2_cm")
    assert raw.cells.rows() == [("P1", "1", "30", "31")]


def test_a_heading_merged_into_the_first_row_of_data_fills_nothing(tmp_path: Path) -> None:
    raw = _read(tmp_path, TREES, [[None, "tree"], [None, "1"], ["P1", "2"]], ("A1:A2", "plot"))
    assert raw.cells["c0"].to_list() == [None, "P1"]


def test_a_count_merged_over_several_rows_is_an_error_and_not_shared_out(tmp_path: Path) -> None:
    rows = [["plot", "class", "count"], ["P1", "10-15", None], ["P1", "15-20", None], ["P1", "20-25", 2]]
    raw = _read(tmp_path, TALLIES, rows, ("C2:C3", 9))
    assert raw.cells["c2"].to_list() == ["9", None, "2"]
    error = the_finding(raw.findings, "count-merged")
    assert (error["severity"], error["row"], error["column"], error["value"]) == ("error", 2, "count", "9")
    assert "(C2:C3); nothing says whether 9 is for each or for all" in error["message"]


def _title_folder(folder: Path) -> Path:
    """Return a survey whose stems stand in a workbook with a merged title above those of P3."""
    rows = rows_of(FILES["trees.csv"])
    above = next(n for n, cells in enumerate(rows) if cells[0] == "P3")
    rows = [*rows[:above], [], *rows[above:]]
    merged_book(
        folder_example(folder, {"trees.csv": None}) / "trees.xlsx",
        "trees",
        rows,
        [(f"A{above + 1}:H{above + 1}", "Compartment B")],
    )
    return folder


def test_a_merged_title_between_the_rows_is_set_aside_and_counted(tmp_path: Path) -> None:
    survey = read_survey(_title_folder(tmp_path))
    warning = the_finding(survey, "title-row")
    assert (warning["severity"], warning["row"], warning["value"]) == ("warning", 14, "Compartment B")
    assert warning["message"].startswith("1 row holds a title alone, merged over several columns (A14:H14)")
    assert survey.rows_no_data["trees"] == {"title between the rows": 1}
    assert survey.trees["source_row"].to_list() == [*range(2, 14), *range(15, 33)]
    assert check(survey).codes == {"title-row"}
    ledger = compile_survey(survey).ledger
    assert ledger.filter(table="trees", reason="title between the rows")["rows"].to_list() == [1]


@pytest.mark.parametrize("beside", ["x", None])
def test_a_block_beside_other_cells_is_no_title(tmp_path: Path, beside: str | None) -> None:
    raw = _read(
        tmp_path, TREES, [["plot", "tree", "species"], [None, None, beside], ["P2", "1"]], ("A2:B2", "P1")
    )
    assert bool(raw.titles) is (beside is None)
    assert raw.cells.row(0) == (("P1", "P1", "x") if beside else ("P1", None, None))
