"""Reading tables from the sheets of an XLSX workbook."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import polars as pl
from python_calamine import CalamineError, CalamineWorkbook

from plotmap.fielddata.raw import SHEET_FIRST_ROW, RawTable, UnreadableFileError
from plotmap.model.findings import Findings


def sheet_names(path: Path) -> list[str]:
    """Return the names of the sheets of a workbook.

    Raises
    ------
    UnreadableFileError
        The file is no workbook.
    """
    return list(_open(path).sheet_names)


def read_sheet(path: Path, part: str, _source: str) -> RawTable:
    """Read one sheet; every cell becomes the text a person would write.

    Raises
    ------
    UnreadableFileError
        The file is no workbook, has no such sheet, or the sheet has no heading.
    """
    workbook = _open(path)
    if part not in workbook.sheet_names:
        raise UnreadableFileError(
            f"the workbook has no sheet {part}; its sheets are {', '.join(workbook.sheet_names)}"
        )
    rows = workbook.get_sheet_by_name(part).to_python(skip_empty_area=False)
    if not rows or not any(str(cell).strip() for cell in rows[0]):
        raise UnreadableFileError(f"row 1 of sheet {part} must hold the headings, but it is blank")
    headings = [_as_text(cell) or "" for cell in rows[0]]
    while headings and not headings[-1]:
        headings.pop()
    columns = list(zip(*rows[1:], strict=True)) or [()] * len(headings)
    cells = pl.DataFrame(
        {
            f"c{i}": pl.Series([_as_text(cell) for cell in columns[i]], dtype=pl.String)
            for i in range(len(headings))
        }
    )
    return RawTable(tuple(headings), cells, SHEET_FIRST_ROW, Findings.none())


def _open(path: Path) -> CalamineWorkbook:
    """Open a workbook."""
    try:
        return CalamineWorkbook.from_path(path)
    except (CalamineError, OSError, ValueError) as error:
        raise UnreadableFileError(f"the file is no workbook ({error})") from error


def _as_text(cell: Any) -> str | None:
    """Return a cell as text: 12.0 as 12, dates as YYYY-MM-DD, blank as None."""
    if isinstance(cell, str):
        return cell.strip() or None
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float):
        return str(int(cell)) if cell.is_integer() else repr(cell)
    if isinstance(cell, dt.datetime):
        return cell.date().isoformat() if cell.time() == dt.time() else cell.isoformat()
    return None if cell is None else str(cell)
