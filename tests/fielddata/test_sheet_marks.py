"""Error cells, formulas without a value and colours of workbooks written by XlsxWriter and openpyxl."""

from __future__ import annotations

from pathlib import Path

import openpyxl
import pytest
import xlsxwriter
from openpyxl.styles import PatternFill

from plotmap.fielddata import read_survey
from plotmap.fielddata.workbooks import read_sheet
from plotmap.workflow import check
from tests.folder_example import FILES, folder_example, found, rows_of, the_finding


@pytest.mark.parametrize("shown", ["#REF!", "#DIV/0!", "#N/A"])
def test_a_cell_that_shows_an_error_is_an_error_with_its_place(tmp_path: Path, shown: str) -> None:
    path = tmp_path / "a.xlsx"
    with xlsxwriter.Workbook(path) as book:
        sheet = book.add_worksheet("plots")
        sheet.write_row(0, 0, ["plot", "date", "crew"])
        sheet.write_row(1, 0, ["P1", "2026-05-14"])
        sheet.write_formula(1, 2, "=A1/0", value=shown)
    error = the_finding(read_sheet(path, "plots", "a.xlsx, sheet plots").findings, "cell-error")
    assert (error["severity"], error["file"], error["row"]) == ("error", "a.xlsx, sheet plots", 2)
    assert (error["column"], error["value"]) == ("crew", shown)
    assert error["message"] == f"the cell C2 shows {shown}, which is no value"


def test_a_formula_without_a_value_is_an_error(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    book.active.title = "plots"
    for row in (["plot", "area_m2"], ["P1", "=2*250"], ["P2", 500]):
        book.active.append(row)
    book.save(tmp_path / "a.xlsx")
    findings = read_sheet(tmp_path / "a.xlsx", "plots", "a.xlsx").findings
    error = the_finding(findings, "formula-without-value")
    assert (error["severity"], error["row"], error["column"]) == ("error", 2, "area_m2")
    assert error["message"] == "the cell B2 holds the formula =2*250, but no value of it"
    assert "Open the workbook in the spreadsheet program and save it" in error["hint"]


def test_formulas_with_values_and_blank_texts_are_no_finding(tmp_path: Path) -> None:
    path = tmp_path / "a.xlsx"
    with xlsxwriter.Workbook(path) as book:
        sheet = book.add_worksheet("plots")
        sheet.write_row(0, 0, ["plot", "area_m2", "crew"])
        sheet.write_string(1, 0, "P1")
        sheet.write_formula(1, 1, "=2*250", value=500)
        sheet.write_formula(1, 2, '=IF(A2="P1"," ","x")', value=" ")
    raw = read_sheet(path, "plots", "a.xlsx")
    assert not len(raw.findings)
    assert raw.cells.rows() == [("P1", "500", None)]


def test_coloured_cells_are_a_note_for_each_column(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "plots"
    for row in (["plot", "crew"], ["P1", "a"], ["P2", "b"], ["P3", "c"]):
        sheet.append(row)
    yellow = PatternFill("solid", fgColor="FFFF00")
    for name in ("A1", "B1", "A3", "A4"):  # the heading may be as colourful as it likes
        sheet[name].fill = yellow
    book.save(tmp_path / "a.xlsx")
    note = the_finding(read_sheet(tmp_path / "a.xlsx", "plots", "a.xlsx").findings, "cells-coloured")
    assert (note["severity"], note["column"], note["value"]) == ("note", "plot", "A3")
    assert note["message"] == "2 cells are coloured, the first A3; colours are not read"


def test_what_follows_from_an_error_cell_is_not_told(tmp_path: Path) -> None:
    rows = rows_of(FILES["plots.csv"])
    with xlsxwriter.Workbook(tmp_path / "plots.xlsx") as book:
        sheet = book.add_worksheet("plots")
        for number, cells in enumerate(rows):
            sheet.write_row(number, 0, cells)
        sheet.write_formula(1, 1, "=A1/0", value="#DIV/0!")
    survey = read_survey(folder_example(tmp_path, {"plots.csv": None}))
    assert [row["row"] for row in found(survey, "plot-without-position")] == [2]
    assert check(survey).codes == {"cell-error"}
