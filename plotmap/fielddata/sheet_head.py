"""The first rows of a sheet, read from the workbook's XML without reading the rest of it."""

from __future__ import annotations

import posixpath
import re
import zipfile
from collections.abc import Iterator
from pathlib import Path
from xml.etree import ElementTree as ET

from plotmap.fielddata.raw import unreadable_where_refused
from plotmap.fielddata.sheet_marks import column_number

_RELATIONS = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"
_STRINGS = "xl/sharedStrings.xml"
_LETTERS = re.compile(r"[A-Z]+")
_MOST_COLUMNS = 500


def sheet_head(path: Path, part: str, count: int) -> list[list[str]]:
    """Return the cells of the first rows of a sheet that are in the file, as text.

    Only as much of the workbook is unpacked as these rows need, whatever its size.

    Parameters
    ----------
    path : Path
        An XLSX file.
    part : str
        Name of the sheet.
    count : int
        How many rows at most.

    Returns
    -------
    list of list of str
        Blank rows that the file leaves out are left out here too; numbers as they are stored. Columns
        beyond the 500th are not looked at.

    Raises
    ------
    UnreadableFileError
        The file is no workbook, or damaged within these rows.
    """
    with unreadable_where_refused(f"sheet {part} cannot be read"), zipfile.ZipFile(path) as book:
        member = sheet_member(book, part)
        if member is None:
            return []
        rows = list(_first_rows(book, member, count))
        wanted = {int(text) for row in rows for kind, text in row.values() if kind == "s" and text.isdigit()}
        strings = _shared(book, wanted)
        return [_texts(row, strings) for row in rows]


def sheet_member(book: zipfile.ZipFile, part: str) -> str | None:
    """Return the file inside the workbook that holds a sheet, None where it is not in the usual place.

    Parameters
    ----------
    book : zipfile.ZipFile
        The workbook.
    part : str
        Name of the sheet.
    """
    if not {"xl/workbook.xml", "xl/_rels/workbook.xml.rels"} <= set(book.namelist()):
        return None
    sheets = ET.fromstring(book.read("xl/workbook.xml")).iter()  # noqa: S314 - expat limits entity growth
    own = next(
        (s.get(_RELATIONS) for s in sheets if s.tag.endswith("}sheet") and s.get("name") == part), None
    )
    relations = ET.fromstring(book.read("xl/_rels/workbook.xml.rels"))  # noqa: S314
    target = next((str(r.get("Target")) for r in relations if r.get("Id") == own), "")
    member = target.removeprefix("/") if target.startswith("/") else posixpath.normpath(f"xl/{target}")
    return member if member in book.namelist() else None


def _first_rows(book: zipfile.ZipFile, member: str, count: int) -> Iterator[dict[int, tuple[str, str]]]:
    """Yield type and stored text of the filled cells of each of the first rows, by column from 0."""
    with book.open(member) as sheet:
        yielded = 0
        for _, element in ET.iterparse(sheet):  # noqa: S314 - expat limits entity growth
            if not element.tag.endswith("}row"):
                continue
            yield dict(_cells(element))
            yielded += 1
            if yielded == count:
                return


def _cells(row: ET.Element) -> Iterator[tuple[int, tuple[str, str]]]:
    """Yield column, type and stored text of the cells of a row."""
    column = -1
    for cell in row:
        letters = _LETTERS.match(cell.get("r", ""))
        column = column_number(letters[0]) - 1 if letters else column + 1
        inner = (part for part in cell.iter() if part.tag.endswith(("}v", "}t")))
        text = "".join(part.text or "" for part in inner)
        if text and column < _MOST_COLUMNS:
            yield column, (cell.get("t", "n"), text)


def _shared(book: zipfile.ZipFile, wanted: set[int]) -> dict[int, str]:
    """Return the shared strings of these numbers."""
    if not wanted or _STRINGS not in book.namelist():
        return {}
    found: dict[int, str] = {}
    last, number = max(wanted), 0
    with book.open(_STRINGS) as strings:
        for _, element in ET.iterparse(strings):  # noqa: S314 - expat limits entity growth
            if not element.tag.endswith("}si"):
                continue
            if number in wanted:
                pieces = (part for part in element.iter() if part.tag.endswith("}t"))
                found[number] = "".join(part.text or "" for part in pieces)
            element.clear()
            number += 1
            if number > last:
                break
    return found


def _texts(row: dict[int, tuple[str, str]], strings: dict[int, str]) -> list[str]:
    """Return a row of cells as text, blanks as empty text."""
    cells = [""] * (max(row, default=-1) + 1)
    for column, (kind, text) in row.items():
        cells[column] = strings.get(int(text), "") if kind == "s" and text.isdigit() else text
    return cells
