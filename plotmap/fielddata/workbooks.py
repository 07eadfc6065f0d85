"""Reading tables from the sheets of an XLSX workbook."""

from __future__ import annotations

import datetime as dt
import re
import zipfile
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import polars as pl
from python_calamine import CalamineWorkbook

from plotmap.fielddata.raw import SHEET_FIRST_ROW, RawTable, UnreadableFileError, unreadable_where_refused
from plotmap.fielddata.sheet_marks import SheetMarks, column_number, sheet_marks
from plotmap.model.findings import Findings, finding

_MOST_CELLS = 20_000_000
"""A sheet is held in memory as a full rectangle; a stray cell far out would ask for many gigabytes."""
_DIMENSION = re.compile(rb'<dimension[^>]*\bref="[A-Z]+\d+:([A-Z]+)(\d+)"')
_HEAD_BYTES = 1 << 16
_SHOWN = 80
"""Longest piece of a formula that a message repeats."""
_RELATIONS = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"


def sheet_names(path: Path) -> list[str]:
    """Return the names of the sheets of a workbook.

    Parameters
    ----------
    path : Path
        An XLSX file.

    Raises
    ------
    UnreadableFileError
        The file is no workbook, is damaged or locked by a password.
    """
    return list(_open(path).sheet_names)


def read_sheet(path: Path, part: str, source: str) -> RawTable:
    """Read one sheet; every cell becomes the text a person would write.

    Parameters
    ----------
    path : Path
        An XLSX file.
    part : str
        Name of the sheet; its row 1 holds the headings.
    source : str
        File and sheet, for findings.

    Returns
    -------
    RawTable
        Cells as text: 12.0 as ``12``, dates as YYYY-MM-DD. Columns beyond the last heading are kept where
        they hold anything. With the findings cell-error, formula-without-value and cells-coloured.

    Raises
    ------
    UnreadableFileError
        The file is no workbook, has no such sheet, or the sheet has no heading or reaches too far.
    """
    workbook = _open(path)
    if part not in workbook.sheet_names:
        raise UnreadableFileError(
            f"the workbook has no sheet {part}; its sheets are {', '.join(workbook.sheet_names)}"
        )
    _refuse_huge(path, part)
    with unreadable_where_refused(f"sheet {part} cannot be read"):
        rows = workbook.get_sheet_by_name(part).to_python(skip_empty_area=False)
    if not rows or not any(str(cell).strip() for cell in rows[0]):
        raise UnreadableFileError(f"row 1 of sheet {part} must hold the headings, but it is blank")
    headings = [_as_text(cell) or "" for cell in rows[0]]
    columns = [
        pl.Series(f"c{i}", [_as_text(cell) for cell in column], dtype=pl.String)
        for i, column in enumerate(zip(*rows[1:], strict=True))
    ] or [pl.Series(f"c{i}", [], dtype=pl.String) for i in range(len(headings))]
    while not headings[-1] and not columns[-1].is_not_null().any():
        headings.pop()
        columns.pop()
    found = _mark_findings(path, part, headings, source)
    return RawTable(tuple(headings), pl.DataFrame(columns), SHEET_FIRST_ROW, found)


def _open(path: Path) -> CalamineWorkbook:
    """Open a workbook."""
    with unreadable_where_refused("the file is no workbook that can be opened"):
        return CalamineWorkbook.from_path(path)


def _refuse_huge(path: Path, part: str) -> None:
    """Refuse a sheet whose stated extent would not fit into memory."""
    with (
        unreadable_where_refused("the file is no workbook that can be opened"),
        zipfile.ZipFile(path) as book,
    ):
        member = _member_of(book, part)
        if member is None:
            return
        with book.open(member) as sheet:
            found = _DIMENSION.search(sheet.read(_HEAD_BYTES))
    if found is None:
        return
    letters, height = found[1].decode(), int(found[2])
    if height * column_number(letters) > _MOST_CELLS:
        raise UnreadableFileError(
            f"sheet {part} reaches to cell {letters}{height}, but more than {_MOST_CELLS:,} cells are not read: "
            "delete the columns and rows beyond the table, or save it as CSV"
        )


def _member_of(book: zipfile.ZipFile, part: str) -> str | None:
    """Return the file inside the workbook that holds a sheet, None where it is not in the usual place."""
    if not {"xl/workbook.xml", "xl/_rels/workbook.xml.rels"} <= set(book.namelist()):
        return None
    sheets = ET.fromstring(book.read("xl/workbook.xml")).iter()  # noqa: S314 - expat limits entity growth
    own = next(
        (s.get(_RELATIONS) for s in sheets if s.tag.endswith("}sheet") and s.get("name") == part), None
    )
    relations = ET.fromstring(book.read("xl/_rels/workbook.xml.rels"))  # noqa: S314
    target = next((str(r.get("Target")) for r in relations if r.get("Id") == own), "")
    member = target.removeprefix("/") if target.startswith("/") else f"xl/{target}"
    return member if member in book.namelist() else None


def _mark_findings(path: Path, part: str, headings: list[str], source: str) -> Findings:
    """Return cell-error, formula-without-value and cells-coloured for the columns that have a heading."""
    with unreadable_where_refused(f"sheet {part} cannot be read"), zipfile.ZipFile(path) as book:
        member = _member_of(book, part)
        marks = sheet_marks(book, member) if member is not None else SheetMarks((), (), ())
    found: list[Findings] = []
    told = (
        ("cell-error", marks.errors, "the cell {} shows {}, which is no value"),
        ("formula-without-value", marks.uncomputed, "the cell {} holds the formula {}, but no value of it"),
    )
    for code, cells, words in told:
        for cell in cells:
            name = headings[cell.column - 1] if cell.column <= len(headings) else ""
            if cell.row > 1 and name:
                message = words.format(cell.name, cell.text[:_SHOWN])
                found.append(
                    finding(code, source, message, row=cell.row, column=name, value=cell.text[:_SHOWN])
                )
    for number, name in enumerate(headings, start=1):
        names = [cell.name for cell in marks.coloured if cell.column == number and cell.row > 1]
        if name and names:
            cells_are = "1 cell is" if len(names) == 1 else f"{len(names)} cells are"
            message = f"{cells_are} coloured, the first {names[0]}; colours are not read"
            found.append(finding("cells-coloured", source, message, column=name, value=names[0]))
    return Findings.join(found)


def _as_text(cell: Any) -> str | None:
    """Return a cell as text: 12.0 as 12, dates as YYYY-MM-DD, truth values as the sheet shows them."""
    if isinstance(cell, str):
        return cell.strip() or None
    if isinstance(cell, bool):
        return str(cell).upper()
    if isinstance(cell, float):
        return str(int(cell)) if cell.is_integer() else repr(cell)
    if isinstance(cell, dt.datetime):
        return cell.date().isoformat() if cell.time() == dt.time() else cell.isoformat()
    return None if cell is None else str(cell)
