"""An empty workbook to fill in: one sheet a table, with notes, lists to choose from and checks while typing."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from io import BytesIO
from typing import Any

from plotmap.fielddata.discovery import ABOUT_SHEET
from plotmap.model.columns import Column, Kind, Table
from plotmap.model.field_tables import INSTRUMENTS, PLOTS, SPECIES, TALLIES

_CREATED = dt.datetime(1980, 1, 1)  # noqa: DTZ001 - workbooks know no time zone
"""Stands for the time of writing, so that the same declarations give the same bytes."""
_LAST_ROW = 1_048_575
"""Of a sheet, counted from 0 (ECMA-376; so the programs have it)."""
_LISTED_SPECIES = 2000
"""Rows of the sheet of species that the lists look at."""
_LISTED = 20_000
"""Rows of the sheets of plots and instruments that the lists look at."""
_FIRST_DAY = dt.date(1900, 1, 1)
"""The first day that cells of a workbook know."""
_CLASS = "class"
_IN_PARTS = ("lon", "lat")
"""Numbers that may also be written as text, in degrees, minutes and seconds."""
_TITLE = "How to fill in this workbook"
_HOW_TO = """\
One sheet is one table. plots is needed, and trees or tallies or both; other sheets may stay empty or be deleted.
The names of the sheets say what they hold: keep them.
Row 1 holds the headings. Those in bold must be there, and be filled in on every row; columns you do not need may go.
Rest the pointer on a heading to read what it means; all of it stands below, too.
A plot needs easting and northing, or lon and lat. A stem needs a caliper reading (add d3_cm, d4_cm, …) or a girth.
The unit stands at the end of the heading, never in a cell. For millimetres change d1_cm to d1_mm, and say yes where \
you are asked about a range.
Species are offered from the sheet species: write them there first, without blank rows between them.
Identifiers are text, so that 001 and 3-5 stay as they are typed. Paste values only: a format comes along otherwise.
Compartments are polygons and no sheet: put compartments.gpkg (or GeoJSON, a Shapefile, GeoParquet) beside this file.
Save as XLSX, close the file, and let plotmap check the folder.
"""
_CLASSES, _CLASSES_AT = "Classes of tallies", 7
"""Heading and column of the classes on the sheet that explains the others."""
_HEADINGS = ("Sheet", "Column", "Must be filled in", "Unit", "Allowed", "Meaning")
_WIDTHS = (14, 18, 16, 8, 40, 100)


def headings_of(table: Table) -> list[tuple[str, Column]]:
    """Return the headings of an empty table with their columns: two for caliper readings.

    Parameters
    ----------
    table : Table
        As declared.
    """
    return [(name, column) for column in table.columns for name in _names(column)]


def blank_workbook(
    tables: Sequence[Table],
    rows: Mapping[str, Sequence[Mapping[str, Any]]] | None = None,
    classes: Sequence[str] = (),
) -> bytes:
    """Return an XLSX workbook with a sheet for each table and one that explains every column.

    Parameters
    ----------
    tables : sequence of Table
        In the order of the sheets.
    rows : mapping of str to sequence of mappings, optional
        Rows that are known already, by table: cells by heading. With them plots and instruments are offered from
        their sheets, too.
    classes : sequence of str, optional
        Words offered for the class of a tally.

    Returns
    -------
    bytes
        The file; the same declarations give the same bytes. Below the headings there is no cell, only formats
        of whole columns, so that nothing reads as data. Identifiers, words and notes have the format of text.
        Words are chosen from lists, species from what the sheet of species holds. Values out of range are
        refused; where the heading may have been changed to another unit, they are asked about.
    """
    import xlsxwriter  # noqa: PLC0415 - only where a workbook is wanted

    packed = BytesIO()
    with xlsxwriter.Workbook(packed, {"in_memory": True, "strings_to_formulas": False}) as book:
        book.set_properties({"title": "Survey", "created": _CREATED})
        _write_about(book, tables, classes)
        names = {table.name for table in tables}
        lists = (SPECIES,) if rows is None else (SPECIES, PLOTS, INSTRUMENTS)
        offered = [table for table in lists if table.name in names]
        for table in tables:
            _write_sheet(book, table, offered, n_classes=len(classes))
            _write_rows(book.get_worksheet_by_name(table.name), table, (rows or {}).get(table.name, ()))
    return packed.getvalue()


def _names(column: Column) -> list[str]:
    """Return the headings of a column: two for readings."""
    return [f"d1_{column.suffix}", f"d2_{column.suffix}"] if column.numbered else [column.name]


def _write_about(book: Any, tables: Sequence[Table], classes: Sequence[str]) -> None:
    """Write the sheet that says how to fill in the others."""
    sheet = book.add_worksheet(ABOUT_SHEET)
    bold = book.add_format({"bold": True})
    wrapped = book.add_format({"text_wrap": True, "valign": "top"})
    for at, width in enumerate(_WIDTHS):
        sheet.set_column(at, at, width)
    sheet.write_string(0, 0, _TITLE, bold)
    sentences = _HOW_TO.splitlines()
    sheet.write_column(1, 0, sentences)
    start = len(sentences) + 2
    sheet.write_row(start, 0, _HEADINGS, bold)
    for row, cells in enumerate(_about(tables), start=start + 1):
        sheet.write_row(row, 0, cells, wrapped)
    if classes:
        sheet.write_string(0, _CLASSES_AT, _CLASSES, bold)
        for row, name in enumerate(classes, start=1):
            sheet.write_string(row, _CLASSES_AT, name)


def _about(tables: Sequence[Table]) -> Iterator[tuple[str, ...]]:
    """Yield what a row of each sheet is, and a row on each of its columns."""
    for table in tables:
        yield table.name, "", "", "", "", f"{table.title}: one row is {table.row_is}."
        for name, column in headings_of(table):
            needed = "yes" if column.required else ""
            yield table.name, name, needed, column.unit, _allowed(column), column.meaning


def _allowed(column: Column) -> str:
    """Return what a cell may hold, in words."""
    if column.kind is Kind.IDENTIFIER:
        return "text, kept as written"
    if column.kind in (Kind.TEXT, Kind.DATE):
        return "text" if column.kind is Kind.TEXT else "a date, year-month-day"
    parts = ", or degrees, minutes and seconds" if column.name in _IN_PARTS else ""
    whole = "whole number, " if column.kind is Kind.COUNT else ""
    return whole + column.allowed + parts


def _write_sheet(book: Any, table: Table, offered: Sequence[Table], *, n_classes: int) -> None:
    """Write one empty table: frozen headings with notes, formats of whole columns, lists and ranges."""
    sheet = book.add_worksheet(table.name)
    styles = {needed: book.add_format({"bold": needed, "bottom": 1}) for needed in (True, False)}
    formats = {name: book.add_format({"num_format": name}) for name in ("@", "yyyy-mm-dd", "General")}
    sheet.freeze_panes(1, 0)
    for at, (name, column) in enumerate(headings_of(table)):
        sheet.set_column(at, at, max(len(name) + 3, 11), formats[_format_of(column)])
        sheet.write_string(0, at, name, styles[column.required])
        note = ("Must be filled in. " if column.required else "") + column.meaning
        sheet.write_comment(0, at, f"{note}\nAllowed: {_allowed(column)}.", {"x_scale": 2.2, "y_scale": 1.4})
        cell = f"{_letters(at)}2"
        lists = [one for one in offered if one.columns[0].name == column.name and one is not table]
        rule = _listed_rule(lists[0]) if lists else _rule(column, cell)
        if n_classes and table is TALLIES and column.name == _CLASS:
            rule = _class_rule(n_classes)
        if rule:
            sheet.data_validation(1, at, _LAST_ROW, at, rule)


def _format_of(column: Column) -> str:
    """Return the number format of a column's cells."""
    if column.kind is Kind.DATE:
        return "yyyy-mm-dd"
    return "General" if column.kind in (Kind.NUMBER, Kind.COUNT) else "@"


def _rule(column: Column, cell: str) -> dict[str, Any] | None:
    """Return what the program checks while typing; None where any text will do."""
    words = {"error_title": column.name, "error_message": f"Allowed: {_allowed(column)}."}
    if column.kind is Kind.CHOICE:
        return {"validate": "list", "source": list(column.choices), **words}
    if column.kind is Kind.DATE:
        return {"validate": "date", "criteria": ">=", "value": _FIRST_DAY, **words}
    if column.low is None or column.high is None:
        return None
    if column.name in _IN_PARTS:
        inside = f"=OR(ISTEXT({cell}),AND({cell}>={column.low:g},{cell}<={column.high:g}))"
        return {"validate": "custom", "value": inside, **words}
    if column.dimension is not None:
        words["error_type"] = "warning"
        words["error_message"] += " Go on only if you have changed the unit in the heading."
    kind = "integer" if column.kind is Kind.COUNT else "decimal"
    return {"validate": kind, "criteria": "between", "minimum": column.low, "maximum": column.high, **words}


def _write_rows(sheet: Any, table: Table, rows: Sequence[Mapping[str, Any]]) -> None:
    """Write rows that are known already; cells take the format of their column."""
    for number, row in enumerate(rows, start=1):
        for at, (name, _column) in enumerate(headings_of(table)):
            cell = row.get(name)
            if isinstance(cell, str):
                sheet.write_string(number, at, cell)
            elif isinstance(cell, dt.date):
                sheet.write_datetime(number, at, cell)
            elif cell is not None:
                sheet.write_number(number, at, cell)


def _listed_rule(table: Table) -> dict[str, Any]:
    """Return the list of what stands in the first column of a sheet, as far down as it is filled."""
    longest = _LISTED_SPECIES if table is SPECIES else _LISTED
    top = f"{table.name}!${_letters(0)}$2"
    filled = f"COUNTA({top}:${_letters(0)}${longest + 1})"
    what = table.columns[0].name
    return {
        "validate": "list",
        "source": f"=OFFSET({top},0,0,MAX(1,{filled}),1)",
        "error_type": "warning",
        "error_title": what,
        "error_message": f"This {what} is not on the sheet {table.name}. Add it there, or go on without.",
    }


def _class_rule(n_classes: int) -> dict[str, Any]:
    """Return the list of the classes of tallies, which stands on the sheet that explains the others."""
    column = _letters(_CLASSES_AT)
    return {
        "validate": "list",
        "source": f"={ABOUT_SHEET}!${column}$2:${column}${n_classes + 1}",
        "error_type": "warning",
        "error_title": _CLASS,
        "error_message": f"This class is not listed on the sheet {ABOUT_SHEET}. Go on only if the survey has it.",
    }


def _letters(at: int) -> str:
    """Return the letters of a column counted from 0."""
    letters = ""
    while at >= 0:
        at, rest = divmod(at, 26)
        letters, at = chr(ord("A") + rest) + letters, at - 1
    return letters
