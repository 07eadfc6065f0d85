"""Reading XLSX; the workbooks are written with XlsxWriter and openpyxl, which plotmap does not read with."""

from __future__ import annotations

import datetime as dt
import zipfile
from pathlib import Path

import openpyxl
import pytest
import xlsxwriter

from plotmap.fielddata.raw import UnreadableFileError
from plotmap.fielddata.workbooks import read_sheet, sheet_names
from tests.folder_example import write_book


def test_cells_become_the_text_a_person_would_write(tmp_path: Path) -> None:
    book = write_book(
        tmp_path / "a.xlsx",
        {
            "trees": [
                ["plot", "d1_cm", "day", "yes", "blank"],
                ["001", 31.5, dt.date(2026, 5, 14), True, None],
                [1.0, 31.0, dt.datetime.fromisoformat("2026-05-14T09:30"), False, "  "],
                [12_345_678, 0.1, "14 May", None, ""],
            ]
        },
    )
    raw = read_sheet(book, "trees", "a.xlsx")
    assert raw.headings == ("plot", "d1_cm", "day", "yes", "blank")
    assert raw.cells.rows() == [
        ("001", "31.5", "2026-05-14", "TRUE", None),
        ("1", "31", "2026-05-14T09:30:00", "FALSE", None),
        ("12345678", "0.1", "14 May", None, None),
    ]
    assert raw.first_row == 2


@pytest.mark.parametrize("word", ["001", "NA", "10E2", "3-5", "null", "True", "1.0"])
def test_text_cells_stay_as_they_are(tmp_path: Path, word: str) -> None:
    book = write_book(tmp_path / "a.xlsx", {"plots": [["plot"], [word]]})
    assert read_sheet(book, "plots", "").cells.item() == word


def test_blank_rows_inside_the_sheet_stay_so_that_rows_keep_their_numbers(tmp_path: Path) -> None:
    book = write_book(tmp_path / "a.xlsx", {"plots": [["plot"], ["A"], [None], [None], ["B"]]})
    assert read_sheet(book, "plots", "").cells["c0"].to_list() == ["A", None, None, "B"]


def test_columns_beyond_the_headings_are_kept_where_they_hold_something(tmp_path: Path) -> None:
    book = write_book(
        tmp_path / "a.xlsx", {"plots": [["plot"], ["A", None, "lost?"], ["B", None, None, " "]]}
    )
    raw = read_sheet(book, "plots", "")
    assert raw.headings == ("plot", "", "")
    assert raw.cells.rows() == [("A", None, "lost?"), ("B", None, None)]


def test_a_heading_alone_is_a_table_without_rows(tmp_path: Path) -> None:
    raw = read_sheet(write_book(tmp_path / "a.xlsx", {"plots": [["plot", "date", None]]}), "plots", "")
    assert raw.headings == ("plot", "date")
    assert raw.cells.height == 0


def test_sheets_are_listed_in_the_order_of_the_workbook(tmp_path: Path) -> None:
    book = write_book(tmp_path / "a.xlsx", {"trees": [["plot"]], "Notes": [], "plots": [["plot"]]})
    assert sheet_names(book) == ["trees", "Notes", "plots"]


@pytest.mark.parametrize(
    ("rows", "says"),
    [([], "row 1 of sheet plots must hold the headings"), ([[None], ["plot"]], "row 1 of sheet plots")],
)
def test_a_sheet_without_heading_in_row_1_is_refused(
    tmp_path: Path, rows: list[list[str]], says: str
) -> None:
    book = write_book(tmp_path / "a.xlsx", {"plots": rows})
    with pytest.raises(UnreadableFileError, match=says):
        read_sheet(book, "plots", "")


def test_a_sheet_that_is_not_there_is_refused_with_those_that_are(tmp_path: Path) -> None:
    book = write_book(tmp_path / "a.xlsx", {"trees": [["plot"]], "plots": [["plot"]]})
    with pytest.raises(UnreadableFileError, match="no sheet tallies; its sheets are trees, plots"):
        read_sheet(book, "tallies", "")


def test_a_stray_cell_far_out_is_refused_before_it_fills_the_memory(tmp_path: Path) -> None:
    path = tmp_path / "a.xlsx"
    with xlsxwriter.Workbook(path) as book:
        book.add_worksheet("trees").write_row(0, 0, ["plot", "tree"])
        sheet = book.add_worksheet("plots")
        sheet.write_row(0, 0, ["plot", "date"])
        sheet.write(1_048_575, 16_383, " ")
    with pytest.raises(UnreadableFileError, match=r"reaches to cell XFD1048576, .*20,000,000 cells.*delete"):
        read_sheet(path, "plots", "")
    assert read_sheet(path, "trees", "").headings == ("plot", "tree")


def test_a_workbook_that_openpyxl_wrote_is_read(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    book.active.title = "plots"
    book.active.append(["plot", "easting"])
    book.active.append(["001", 499_850])
    book.save(tmp_path / "a.xlsx")
    assert read_sheet(tmp_path / "a.xlsx", "plots", "").cells.rows() == [("001", "499850")]


def _damaged(path: Path) -> bytes:
    """Return a workbook whose sheet is cut off in the middle of its XML."""
    whole = write_book(path / "whole.xlsx", {"plots": [["plot"], *[[f"P{i}"] for i in range(50)]]})
    with zipfile.ZipFile(whole) as book, zipfile.ZipFile(path / "cut.xlsx", "w") as cut:
        for name in book.namelist():
            content = book.read(name)
            cut.writestr(name, content[: len(content) // 2] if name.endswith("sheet1.xml") else content)
    return (path / "cut.xlsx").read_bytes()


def test_a_sheet_cut_off_in_the_middle_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "a.xlsx"
    path.write_bytes(_damaged(tmp_path))
    with pytest.raises(UnreadableFileError, match="sheet plots cannot be read"):
        read_sheet(path, "plots", "")


COMPOUND_FILE = bytes.fromhex("d0cf11e0a1b11ae1") + bytes(1024)
"""What a workbook locked by a password begins with ([MS-CFB] 2.2)."""


@pytest.mark.parametrize(
    "content", [b"", b"plot,date\n", bytes(range(256)) * 8, COMPOUND_FILE, b"PK\x03\x04" + bytes(100)]
)
def test_what_is_no_workbook_is_refused(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "a.xlsx"
    path.write_bytes(content)
    with pytest.raises(UnreadableFileError, match=r"no workbook that can be opened \(.+\)"):
        sheet_names(path)
