"""Reading tables from the sheets of an XLSX workbook."""

from __future__ import annotations

import datetime as dt
import re
import zipfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import polars as pl
from python_calamine import CalamineWorkbook

from plotmap.fielddata.heading_row import HEAD_ROWS, Wanted, heading_place, rows_above
from plotmap.fielddata.merged_cells import fill_merged, filled_heads, merged_findings, merged_ranges
from plotmap.fielddata.raw import SHEET_FIRST_ROW, RawTable, UnreadableFileError, unreadable_where_refused
from plotmap.fielddata.sheet_head import sheet_member
from plotmap.fielddata.sheet_marks import SheetMarks, column_number, sheet_marks
from plotmap.model.columns import Kind
from plotmap.model.findings import Findings, finding

_MOST_CELLS = 20_000_000
"""A sheet is held in memory as a full rectangle; a stray cell far out would ask for many gigabytes."""
_DIMENSION = re.compile(rb'<dimension[^>]*\bref="[A-Z]+\d+:([A-Z]+)(\d+)"')
_HEAD_BYTES = 1 << 16
_SHOWN = 80
"""Longest piece of a formula that a message repeats."""


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


def read_sheet(path: Path, part: str, source: str, wanted: Wanted | None = None) -> RawTable:
    """Read one sheet; every cell becomes the text a person would write.

    Parameters
    ----------
    path : Path
        An XLSX file.
    part : str
        Name of the sheet.
    source : str
        File and sheet, for findings.
    wanted : Wanted, optional
        What the sheet is to hold: its heading is found among the first rows. Without it row 1 is the heading.

    Returns
    -------
    RawTable
        Cells as text: 12.0 as ``12``, dates as YYYY-MM-DD. Columns beyond the last heading are kept where
        they hold anything; merged cells are filled. With the findings heading-row-found, cells-merged,
        count-merged, title-row, cell-error, formula-without-value and cells-coloured.

    Raises
    ------
    UnreadableFileError
        The file is no workbook, has no such sheet, or the sheet has no heading, more rows than one that could be it,
        or reaches too far.
    """
    workbook = _open(path)
    if part not in workbook.sheet_names:
        raise UnreadableFileError(
            f"the workbook has no sheet {part}; its sheets are {', '.join(workbook.sheet_names)}"
        )
    _refuse_huge(path, part)
    with unreadable_where_refused(f"sheet {part} cannot be read"):
        sheet = workbook.get_sheet_by_name(part)
        rows: list[list[Any]] = sheet.to_python(skip_empty_area=False)
        merged = merged_ranges(sheet.merged_cell_ranges)
    head = filled_heads([[_as_text(cell) or "" for cell in row] for row in rows[:HEAD_ROWS]], merged)
    place = heading_place(head, wanted)
    if not head or not any(head[place]):
        raise UnreadableFileError(f"row 1 of sheet {part} must hold the headings, but it is blank")
    headings = head[place]
    kinds = [wanted.kind(text) if wanted else None for text in headings]
    blocks = fill_merged(rows, place, merged, lambda column: kinds[column] is Kind.COUNT)
    cells = list(zip(*rows[place + 1 :], strict=True)) or [()] * len(headings)
    columns = [
        pl.Series(f"c{i}", [_as_text(cell) for cell in column], dtype=pl.String)
        for i, column in enumerate(cells)
    ]
    dates = {f"c{i}": _dates(cells[i]) for i, kind in enumerate(kinds) if kind is Kind.IDENTIFIER}
    while not headings[-1] and not columns[-1].is_not_null().any():
        headings.pop()
        columns.pop()
    found = [
        rows_above(head, place, source),
        merged_findings(blocks, headings, lambda block: _as_text(rows[block.top][block.left]) or "", source),
        _mark_findings(path, part, headings, place + 1, source),
    ]
    return RawTable(
        tuple(headings),
        pl.DataFrame(columns),
        SHEET_FIRST_ROW + place,
        Findings.join(found),
        dates={name: is_date for name, is_date in dates.items() if is_date.any()},
        titles=frozenset(
            row - place - 1 for block in blocks.titles for row in range(block.top, block.bottom + 1)
        ),
    )


def _dates(cells: Sequence[Any]) -> pl.Series:
    """Say of each cell whether it is a date."""
    return pl.Series([isinstance(cell, dt.date) for cell in cells], dtype=pl.Boolean)


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
        member = sheet_member(book, part)
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


def _mark_findings(path: Path, part: str, headings: list[str], heading_row: int, source: str) -> Findings:
    """Return cell-error, formula-without-value and cells-coloured for the columns that have a heading."""
    with unreadable_where_refused(f"sheet {part} cannot be read"), zipfile.ZipFile(path) as book:
        member = sheet_member(book, part)
        marks = sheet_marks(book, member) if member is not None else SheetMarks((), (), ())
    found: list[Findings] = []
    told = (
        ("cell-error", marks.errors, "the cell {} shows {}, which is no value"),
        ("formula-without-value", marks.uncomputed, "the cell {} holds the formula {}, but no value of it"),
    )
    for code, cells, words in told:
        for cell in cells:
            name = headings[cell.column - 1] if cell.column <= len(headings) else ""
            if cell.row > heading_row and name:
                message = words.format(cell.name, cell.text[:_SHOWN])
                found.append(
                    finding(code, source, message, row=cell.row, column=name, value=cell.text[:_SHOWN])
                )
    for number, name in enumerate(headings, start=1):
        names = [cell.name for cell in marks.coloured if cell.column == number and cell.row > heading_row]
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
