"""The first rows of a sheet are those that python-calamine reads, and nothing beyond them is looked at."""

from __future__ import annotations

import zipfile
from pathlib import Path

import openpyxl
import pytest

from plotmap.fielddata.discovery import look_into
from plotmap.fielddata.raw import UnreadableFileError
from plotmap.fielddata.sheet_head import sheet_head
from tests.folder_example import folder_example, the_finding, write_book

ROWS = [["Beat 7"], ["plot", None, "d1_cm", "<&>"], ["P1", "ä", 31.5, True], [12, None, None, "x"]]


def test_the_first_rows_are_read_as_text(tmp_path: Path) -> None:
    book = write_book(tmp_path / "a.xlsx", {"other": [["x"]], "trees": ROWS})
    assert sheet_head(book, "trees", 3) == [
        ["Beat 7"],
        ["plot", "", "d1_cm", "<&>"],
        ["P1", "ä", "31.5", "1"],
    ]
    assert len(sheet_head(book, "trees", 9)) == len(ROWS)


def test_texts_in_the_sheet_itself_are_read_too(tmp_path: Path) -> None:
    book = openpyxl.Workbook(write_only=True)
    sheet = book.create_sheet("trees")
    for row in ROWS:
        sheet.append(row)
    book.save(tmp_path / "a.xlsx")
    assert sheet_head(tmp_path / "a.xlsx", "trees", 2)[1] == ["plot", "", "d1_cm", "<&>"]


def _damaged_below(folder: Path, heading: list[str]) -> Path:
    """Return a folder with a workbook whose only sheet is cut off in the middle of its XML."""
    folder_example(folder)
    rows = [heading, *[[str(n)] for n in range(30_000)]]
    whole = write_book(folder.parent / "whole.xlsx", {"Sheet3": rows})
    with zipfile.ZipFile(whole) as book, zipfile.ZipFile(folder / "cut.xlsx", "w") as cut:
        for name in book.namelist():
            content = book.read(name)
            cut.writestr(name, content[: len(content) // 2] if name.endswith("sheet1.xml") else content)
    return folder


def test_what_is_damaged_beyond_the_first_rows_is_not_looked_at(tmp_path: Path) -> None:
    folder = _damaged_below(tmp_path / "survey", ["plot", "tree", "species", "d1_cm"])
    assert sheet_head(folder / "cut.xlsx", "Sheet3", 3)[1:] == [["0"], ["1"]]
    with pytest.raises(UnreadableFileError, match="sheet Sheet3 cannot be read"):
        sheet_head(folder / "cut.xlsx", "Sheet3", 30_000)
    assert the_finding(look_into(folder).findings, "table-overlooked")["value"] == "Sheet3"


def test_a_sheet_that_is_not_there_has_no_rows(tmp_path: Path) -> None:
    assert sheet_head(write_book(tmp_path / "a.xlsx", {"trees": ROWS}), "plots", 2) == []


def test_a_sheet_with_a_title_above_the_headings_of_a_table_is_a_warning(tmp_path: Path) -> None:
    folder_example(tmp_path, {"trees.csv": None})
    rows = [["Beat 7"], [], ["plot", "tree", "species", "d1_cm"]]
    write_book(tmp_path / "book.xlsx", {"Sheet3": rows})
    assert the_finding(look_into(tmp_path).findings, "table-overlooked")["value"] == "Sheet3"
