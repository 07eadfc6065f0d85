"""The workbook to fill in: nothing in it reads as data, what is typed survives, lists and ranges are those declared.

It is written with XlsxWriter and read back here with openpyxl, which also plays the person who fills it in.
"""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import openpyxl
import pandas as pd
import polars as pl
import pyogrio
import pytest
from openpyxl.utils import column_index_from_string
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.worksheet import Worksheet

from plotmap.fielddata import read_survey
from plotmap.fielddata.blank_survey import lay_down
from plotmap.fielddata.blank_workbook import blank_workbook, headings_of
from plotmap.model.columns import Column, Kind, Table
from plotmap.model.field_tables import CHECK_TREES, COMPARTMENTS, FIELD_TABLES, PLOTS, SPECIES, TALLIES, TREES
from plotmap.model.survey import Survey
from tests.folder_example import FILES, compartments_example, folder_example, rows_of
from tests.folder_example import TALLIES as TALLY_ROWS

SHEETS = [table for table in FIELD_TABLES if table is not COMPARTMENTS]
COLUMNS = [(table, name, column) for table in SHEETS for name, column in headings_of(table)]
IDS = [f"{table.name}-{name}" for table, name, _ in COLUMNS]
IDENTIFIERS = ["001", "3-5", "10E2", "NA", "1/2", "TRUE"]


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> openpyxl.Workbook:
    """Return the workbook as it is laid down."""
    folder = tmp_path_factory.mktemp("laid")
    lay_down(folder, workbook=True)
    return openpyxl.load_workbook(folder / "survey.xlsx")


def _place(sheet: Worksheet, name: str) -> str:
    """Return the letters of the column with a heading."""
    return str(next(cell.column_letter for cell in sheet[1] if cell.value == name))


def _rule(sheet: Worksheet, name: str) -> DataValidation | None:
    """Return what is checked in the cells of a column; it must be checked down to the last row of a sheet."""
    letters = _place(sheet, name)
    rules = [
        rule
        for rule in sheet.data_validations.dataValidation
        if str(rule.sqref) == f"{letters}2:{letters}1048576"
    ]
    assert len(rules) <= 1
    return rules[0] if rules else None


def _fill(path: Path, tables: dict[str, list[list[Any]]]) -> None:
    """Type rows into the sheets by their headings; the first row of each table names them."""
    book = openpyxl.load_workbook(path)
    for name, (heading, *rows) in tables.items():
        sheet = book[name]
        at = {cell.value: cell.column for cell in sheet[1]}
        for number, cells in enumerate(rows, start=2):
            for column, cell in zip(heading, cells, strict=True):
                if cell != "":
                    sheet.cell(number, at[column], cell)
    book.save(path)


def _typed(table: Table, text: str) -> list[list[Any]]:
    """Return the rows of a CSV text as a person types them: numbers and dates in cells of their kind."""
    heading, *rows = rows_of(text)
    kinds = {name: column.kind for name, column in headings_of(table)}
    makers = {Kind.NUMBER: float, Kind.COUNT: int, Kind.DATE: dt.date.fromisoformat}
    return [
        heading,
        *(
            [makers.get(kinds[n], str)(c) if c else "" for n, c in zip(heading, row, strict=True)]
            for row in rows
        ),
    ]


# --- laid down ----------------------------------------------------------------------------------------------


def test_it_has_a_sheet_for_each_table_after_the_one_that_explains_them(book: openpyxl.Workbook) -> None:
    assert book.sheetnames == ["About", *(table.name for table in SHEETS)]


@pytest.mark.parametrize("table", SHEETS, ids=lambda table: table.name)
def test_a_sheet_holds_its_frozen_headings_and_no_other_cell(book: openpyxl.Workbook, table: Table) -> None:
    sheet = book[table.name]
    assert [cell.value for cell in sheet[1]] == [name for name, _ in headings_of(table)]
    assert (sheet.max_row, sheet.freeze_panes) == (1, "A2")


def test_caliper_readings_have_two_columns() -> None:
    assert [name for name, column in headings_of(TREES) if column.numbered] == ["d1_cm", "d2_cm"]


@pytest.mark.parametrize(("table", "name", "column"), COLUMNS, ids=IDS)
def test_a_heading_says_what_it_means_and_whether_it_must_be_filled_in(
    book: openpyxl.Workbook, table: Table, name: str, column: Column
) -> None:
    (cell,) = (cell for cell in book[table.name][1] if cell.value == name)
    assert column.meaning in cell.comment.text
    assert bool(cell.font.bold) is column.required
    assert cell.comment.text.startswith("Must be filled in.") is column.required
    assert cell.fill.fill_type is None  # a colour in the heading would look as if colours were read


@pytest.mark.parametrize(("table", "name", "column"), COLUMNS, ids=IDS)
def test_whole_columns_have_the_format_of_what_goes_into_them(
    book: openpyxl.Workbook, table: Table, name: str, column: Column
) -> None:
    sheet = book[table.name]
    expected = {Kind.NUMBER: "General", Kind.COUNT: "General", Kind.DATE: "yyyy-mm-dd"}.get(column.kind, "@")
    number = column_index_from_string(_place(sheet, name))
    (group,) = (group for group in sheet.column_dimensions.values() if group.min <= number <= group.max)
    assert group.number_format == expected


@pytest.mark.parametrize(("table", "name", "column"), COLUMNS, ids=IDS)
def test_the_ranges_and_words_declared_are_checked_while_typing(
    book: openpyxl.Workbook, table: Table, name: str, column: Column
) -> None:
    rule = _rule(book[table.name], name)
    if column.kind is Kind.CHOICE:
        assert rule is not None
        assert (rule.type, rule.formula1) == ("list", '"' + ",".join(column.choices) + '"')
        assert rule.errorStyle in (None, "stop")
    elif column.kind is Kind.DATE:
        assert rule is not None
        assert (rule.type, rule.operator) == ("date", "greaterThanOrEqual")
    elif column.low is None:
        assert rule is None or name == "species"
    elif name not in ("lon", "lat"):
        assert rule is not None
        assert rule.type == ("whole" if column.kind is Kind.COUNT else "decimal")
        assert (float(rule.formula1), float(rule.formula2)) == (column.low, column.high)
        assert column.allowed in rule.error
        # a heading may be changed to another unit: such a range is asked about, not refused
        assert rule.errorStyle == ("warning" if column.dimension else None)


@pytest.mark.parametrize(("name", "limit"), [("lon", "180"), ("lat", "90")])
def test_degrees_may_be_numbers_in_range_or_text_in_parts(
    book: openpyxl.Workbook, name: str, limit: str
) -> None:
    rule, cell = _rule(book[PLOTS.name], name), f"{_place(book[PLOTS.name], name)}2"
    assert rule is not None
    assert rule.formula1 == f"OR(ISTEXT({cell}),AND({cell}>=-{limit},{cell}<={limit}))"


@pytest.mark.parametrize("table", [TREES, TALLIES, CHECK_TREES], ids=lambda table: table.name)
def test_species_are_offered_from_what_stands_on_their_sheet_and_others_are_asked_about(
    book: openpyxl.Workbook, table: Table
) -> None:
    rule = _rule(book[table.name], "species")
    assert rule is not None
    assert rule.formula1 == "OFFSET(species!$A$2,0,0,MAX(1,COUNTA(species!$A$2:$A$2001)),1)"
    assert (rule.type, rule.errorStyle) == ("list", "warning")
    assert _place(book[SPECIES.name], "species") == "A"
    assert _rule(book[SPECIES.name], "species") is None


def test_without_a_sheet_of_species_none_is_offered(tmp_path: Path) -> None:
    (tmp_path / "a.xlsx").write_bytes(blank_workbook([TREES]))
    assert _rule(openpyxl.load_workbook(tmp_path / "a.xlsx")["trees"], "species") is None


def test_the_first_sheet_explains_every_column(book: openpyxl.Workbook) -> None:
    told = {
        (str(sheet), str(name)): (needed, unit, allowed, meaning)
        for sheet, name, needed, unit, allowed, meaning in book["About"].iter_rows(
            max_col=6, values_only=True
        )
    }
    for table, name, column in COLUMNS:
        needed, unit, allowed, meaning = told[table.name, name]
        assert (needed == "yes") is column.required
        assert (unit or "", meaning) == (column.unit, column.meaning)
        if column.kind in (Kind.NUMBER, Kind.COUNT, Kind.CHOICE):
            assert column.allowed in allowed
    for table in SHEETS:
        assert any(meaning == f"{table.title}: one row is {table.row_is}." for *_, meaning in told.values())


def test_it_is_the_same_every_time() -> None:
    assert blank_workbook(SHEETS) == blank_workbook(SHEETS)


# --- read -------------------------------------------------------------------------------------------------


def _laid_down(folder: Path) -> Path:
    """Lay down the workbook with the compartments of the example beside it."""
    lay_down(folder, workbook=True)
    pyogrio.write_dataframe(compartments_example(), folder / "compartments.gpkg", layer="compartments")
    return folder / "survey.xlsx"


def test_just_laid_down_it_lacks_compartments_and_plots_and_nothing_else_is_said(tmp_path: Path) -> None:
    lay_down(tmp_path, workbook=True)
    frame = read_survey(tmp_path).findings.frame
    assert frame.select("code", "file").rows() == [
        ("table-missing", "compartments"),
        ("no-rows", "survey.xlsx, sheet plots"),
    ]
    assert "About" not in " ".join(frame["message"])


def test_filled_in_it_reads_as_the_csv_files_do(tmp_path: Path) -> None:
    by_csv = read_survey(folder_example(tmp_path / "csv", {"tallies.csv": TALLY_ROWS}))
    declared = {table.name: table for table in SHEETS}
    texts = {name.removesuffix(".csv"): text for name, text in FILES.items() if name.endswith(".csv")}
    texts["tallies"] = TALLY_ROWS
    path = _laid_down(tmp_path / "book")
    _fill(path, {name: _typed(declared[name], text) for name, text in texts.items()})
    by_book = read_survey(path.parent)
    assert len(by_csv.findings) == len(by_book.findings) == 0
    assert _stripped(by_book) == _stripped(by_csv)
    pd.testing.assert_frame_equal(
        pd.DataFrame(by_book.plots.dropna(axis="columns", how="all")),
        pd.DataFrame(by_csv.plots.dropna(axis="columns", how="all")),
    )


def _stripped(survey: Survey) -> dict[str, list[dict[str, object]]]:
    """Return the rows of each table of stems without cells that hold nothing."""
    tables: dict[str, pl.DataFrame] = {
        name: getattr(survey, name) for name in ("trees", "tallies", "instruments", "species")
    }
    return {
        name: [{key: cell for key, cell in row.items() if cell is not None} for row in frame.to_dicts()]
        for name, frame in tables.items()
    }


def test_identifiers_typed_as_text_stay_as_they_are(tmp_path: Path) -> None:
    path = _laid_down(tmp_path)
    heading = ["plot", "easting", "northing", "state", "crew"]
    rows = [[name, 499_850 + 5 * i, 5_600_050, "empty", name] for i, name in enumerate(IDENTIFIERS)]
    _fill(path, {"plots": [heading, *rows]})
    survey = read_survey(tmp_path)
    assert survey.plots["plot"].tolist() == survey.plots["crew"].tolist() == IDENTIFIERS
    assert survey.rows_read["plots"] == len(IDENTIFIERS)
