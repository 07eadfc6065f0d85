"""The workbook of a planned survey: what is filled in and offered, and that its filled copy runs as the CSV does."""

from __future__ import annotations

import datetime as dt
import shutil
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from plotmap.errors import OutputError
from plotmap.fielddata import read_survey
from plotmap.fielddata.plot_workbook import write_plot_workbook
from plotmap.workflow import run
from tests.folder_example import FILES, TALLIES, folder_example, rows_of

PLANNED = FILES["plots.csv"].replace("measured", "unvisited").replace("empty", "unvisited")
CLASSES = ["10–<15", "15–<20"]


def planned(folder: Path) -> Path:
    """Return a folder whose plots are all unvisited, without a stem."""
    return folder_example(folder, {"plots.csv": PLANNED, "trees.csv": None})


def written(tmp_path: Path, *plots: str) -> Path:
    survey = read_survey(planned(tmp_path / "planned"))
    write_plot_workbook(survey, tmp_path / "book.xlsx", plots, CLASSES)
    return tmp_path / "book.xlsx"


def type_in(path: Path, table: str, text: str) -> None:
    """Type the rows of a CSV text into a sheet: numbers as numbers, dates as dates, the rest as text."""
    book = openpyxl.load_workbook(path)
    sheet = book[table]
    at = {cell.value: cell.column for cell in sheet[1]}
    for column in [name for name in rows_of(text)[0] if name not in at]:
        raise AssertionError(f"the sheet {table} has no column {column}")
    heading, *rows = rows_of(text)
    for number, row in enumerate(rows, start=2):
        for name, cell in zip(heading, row, strict=True):
            if cell:
                sheet.cell(number, at[name], typed(name, cell))
    book.save(path)


def typed(name: str, cell: str) -> Any:
    if name == "date":
        return dt.date.fromisoformat(cell)
    return float(cell) if name.endswith(("_cm", "_m", "_pct", "ing")) or name == "count" else cell


def test_plots_species_and_instruments_are_filled_in_and_stems_are_blank(tmp_path: Path) -> None:
    book = openpyxl.load_workbook(written(tmp_path))
    heading, *plots = book["plots"].iter_rows(values_only=True)
    first = {name: cell for name, cell in zip(heading, plots[0], strict=True) if cell is not None}
    assert first["plot"] == "P1"
    assert (first["easting"], first["northing"]) == (499_850, 5_600_050)
    assert (first["compartment"], first["state"], first["slope_pct"]) == ("A", "unvisited", 0)
    assert len(plots) == 6
    assert [row[0] for row in book["species"].iter_rows(min_row=2, values_only=True)] == ["oak", "ash"]
    assert book["instruments"].max_row == 2
    assert [book[name].max_row for name in ("trees", "tallies", "check_trees")] == [1, 1, 1]


def test_plots_instruments_and_classes_are_offered(tmp_path: Path) -> None:
    book = openpyxl.load_workbook(written(tmp_path))
    rules = {rule.formula1: str(rule.sqref) for rule in book["tallies"].data_validations.dataValidation}
    assert rules["OFFSET(plots!$A$2,0,0,MAX(1,COUNTA(plots!$A$2:$A$20001)),1)"].startswith("A2:")
    assert "OFFSET(instruments!$A$2,0,0,MAX(1,COUNTA(instruments!$A$2:$A$20001)),1)" in rules
    place = next(formula for formula in rules if formula.startswith("About!"))
    assert [cell.value for (cell,) in book["About"][place.removeprefix("About!").replace("$", "")]] == CLASSES


def test_only_the_plots_named_are_in_it(tmp_path: Path) -> None:
    sheet = openpyxl.load_workbook(written(tmp_path, "P2", "P5"))["plots"]
    assert [row[0] for row in sheet.iter_rows(min_row=2, values_only=True)] == ["P2", "P5"]


@pytest.mark.parametrize("tallies", [None, TALLIES])
def test_filled_in_a_run_gives_what_the_csv_files_give(tmp_path: Path, tallies: str | None) -> None:
    by_csv = run(folder_example(tmp_path / "csv", {"tallies.csv": tallies} if tallies else {}))
    book = written(tmp_path)
    for table in ("plots", "trees"):
        type_in(book, table, FILES[f"{table}.csv"])
    if tallies:
        type_in(book, "tallies", tallies)
    folder = tmp_path / "typed"
    folder.mkdir()
    for name in ("survey.toml", "compartments.gpkg"):
        shutil.copy(tmp_path / "planned" / name, folder / name)
    shutil.copy(book, folder / "survey.xlsx")
    by_book = run(folder)
    assert by_csv.stand is not None
    assert by_book.stand is not None
    assert len(by_book.findings) == len(by_csv.findings)
    tables = sorted(path.name for path in (by_csv.folder / "tables").glob("*.csv"))
    assert tables
    for name in tables:
        one, other = ((result.folder / "tables" / name).read_bytes() for result in (by_csv, by_book))
        assert one == other or name == "ledger.csv", name


def test_the_bytes_are_the_same_again_and_nothing_is_overwritten(tmp_path: Path) -> None:
    first = written(tmp_path).read_bytes()
    with pytest.raises(OutputError, match="workbooks are never overwritten"):
        written(tmp_path)
    (tmp_path / "book.xlsx").unlink()
    assert written(tmp_path).read_bytes() == first


@pytest.mark.parametrize(
    ("name", "match"), [("book.ods", r"must end in \.xlsx"), ("nowhere/b.xlsx", "its folder is not there")]
)
def test_other_files_are_refused(tmp_path: Path, name: str, match: str) -> None:
    survey = read_survey(planned(tmp_path / "planned"))
    with pytest.raises(OutputError, match=match):
        write_plot_workbook(survey, tmp_path / name, (), CLASSES)
