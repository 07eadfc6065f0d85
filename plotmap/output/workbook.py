"""Sheets of the workbook: what it is about, the tables, and what every column means."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from datetime import datetime
from io import BytesIO
from pathlib import Path
from typing import Any

import polars as pl

from plotmap.model.columns import Column, Kind, Table
from plotmap.model.labels import Labels, labels_of
from plotmap.model.settings import Settings

MAX_ROWS = 20_000
"""Longest table the workbook takes; a sheet could hold 1 048 575 rows, but few programs bear that."""
CREATED = datetime(1980, 1, 1)  # noqa: DTZ001 - workbooks know no time zone
"""Stands for the time of writing, so that the same stand gives the same bytes."""
# Digits by the unit; single stems and shares need more than totals do.
_FORMATS_BY_NAME = {
    "share_inside": "0.000",
    "stems_total": "#,##0",
    "basal_area_m2": "0.0000",
    "times": "0.##",
}
_FORMATS_BY_UNIT = {
    "m²/ha": "0.0",
    "1/ha": "0",
    "m²": "#,##0.0",
    "ha": "#,##0.00",
    "cm": "0.0",
    "mm": "0.0",
    "%": "0.0",
    "m": "0.0",
}
ABOUT, COLUMNS = "(about)", "(columns)"
"""Stand for the first and the last sheet beside the names of tables."""
_RESERVED = {"history"}
_NOT_IN_SHEET_NAMES = re.compile(r"[\[\]:*?/\\]")
_LONGEST_SHEET_NAME = 31
"""Most UTF-16 units in the name of a sheet."""
_LONGEST_TEXT = 60
_LONGEST_SENTENCE = 110
Row = tuple[str | float | None, ...]


def write_sheets(
    tables: Sequence[Table],
    frames: dict[str, pl.DataFrame],
    settings: Settings,
    path: Path,
    about: list[Row],
) -> None:
    """Write tables into a workbook (see `plotmap.output.tables.write_workbook`).

    Parameters
    ----------
    tables : sequence of Table
        What to write, in the order of the sheets.
    frames : dict of str to polars.DataFrame
        The tables by name, each with exactly the declared columns.
    settings : Settings
        Of the survey: its title is the workbook's.
    path : Path
        File to write.
    about : list of tuple
        Rows of the first sheet: label, then text or number. Tables that are too long are named below them.
        Words of the workbook itself are in the language of the settings, with their own labels.

    Raises
    ------
    OSError, xlsxwriter.exceptions.XlsxFileError
        The file cannot be written.
    """
    import xlsxwriter  # noqa: PLC0415 - only where a workbook is wanted

    packed = BytesIO()  # a disk that is full then meets plain files only, not a half-written archive
    book = xlsxwriter.Workbook(
        packed,
        {
            "constant_memory": True,
            "tmpdir": str(path.parent),
            "strings_to_formulas": False,
            "strings_to_urls": False,
            "strings_to_numbers": False,
            "nan_inf_to_errors": True,
        },
    )
    book.set_properties({"title": settings.survey.title, "created": CREATED})
    labels = labels_of(settings)
    names = sheet_names(tables, labels)
    short = [table for table in tables if frames[table.name].height <= MAX_ROWS]
    long = [table for table in tables if frames[table.name].height > MAX_ROWS]
    try:
        rows = about + _left_out(frames, long, names, labels)
        _write_plain_sheet(book, names[ABOUT], (), rows, (34, _LONGEST_SENTENCE))
        for table in short:
            _write_table_sheet(book.add_worksheet(names[table.name]), book, table, frames[table.name], labels)
        _write_columns_sheet(book, tables, names, labels)
        book.close()
    finally:
        _abandon(book)
    path.write_bytes(packed.getbuffer())


def sheet_names(tables: Sequence[Table], labels: Labels) -> dict[str, str]:
    """Return the name of the sheet of each table, and of the sheets `ABOUT` and `COLUMNS`, in their order.

    What workbooks do not allow in a name is replaced or cut off, and a name that comes twice (capitals do not
    count) gets a number, so that any own label will do.

    Parameters
    ----------
    tables : sequence of Table
        What is written.
    labels : Labels
        Of the survey.
    """
    wanted = {ABOUT: labels("workbook.sheet_about")}
    wanted |= {table.name: labels.sheet_name(table) for table in tables}
    wanted[COLUMNS] = labels("workbook.sheet_columns")
    found: dict[str, str] = {}
    for key, name in wanted.items():
        found[key] = _free_name(name, {one.casefold() for one in found.values()} | _RESERVED)
    return found


def _free_name(name: str, taken: set[str]) -> str:
    """Return a name that a sheet may have and no other sheet has."""
    allowed = _NOT_IN_SHEET_NAMES.sub("_", name).strip("'").strip() or "_"
    free, number = _cut(allowed, _LONGEST_SHEET_NAME), 1
    while free.casefold() in taken:
        number += 1
        free = f"{_cut(allowed, _LONGEST_SHEET_NAME - len(f' {number}'))} {number}"
    return free


def _cut(text: str, longest: int) -> str:
    """Return a text cut to that many UTF-16 units, neither within a letter nor after a blank or apostrophe."""
    units = text.encode("utf-16-le")[: 2 * longest]
    return units.decode("utf-16-le", errors="ignore").rstrip(" '")


def number_format(column: Column) -> str:
    """Return the number format of a column: as many digits as its unit calls for."""
    if column.kind is Kind.DATE:
        return "yyyy-mm-dd"
    if column.kind is Kind.COUNT:
        return "0"
    if column.kind is not Kind.NUMBER:
        return "@"
    name = column.name
    for ending in ("_se", "_low", "_high"):
        name = name.removesuffix(ending)
    return _FORMATS_BY_NAME.get(name) or _FORMATS_BY_UNIT.get(column.unit, "General")


def _abandon(book: Any) -> None:
    """Close what a failed workbook left open, and keep it from writing itself again when collected."""
    book.fileclosed = True
    for sheet in book.worksheets():
        for handle in (sheet.row_data_fh, sheet.fh):
            with suppress(OSError, AttributeError):
                handle.close()


def _write_table_sheet(sheet: Any, book: Any, table: Table, frame: pl.DataFrame, labels: Labels) -> None:
    """Write one table: frozen headings with units, formats, widths, filter; missing stays blank."""
    headings = [labels.heading(column, table) for column in table.columns]
    head = book.add_format({"bold": True, "text_wrap": True, "valign": "top", "bottom": 1})
    formats = [book.add_format({"num_format": number_format(column)}) for column in table.columns]
    for at, column in enumerate(table.columns):
        sheet.set_column(at, at, _width(headings[at], frame[column.name]), formats[at])
    sheet.freeze_panes(1, 0)
    sheet.autofilter(0, 0, max(frame.height, 1), len(table.columns) - 1)
    sheet.set_row(0, 45)
    for at, heading in enumerate(headings):
        sheet.write_string(0, at, heading, head)
    writers = [
        {
            Kind.NUMBER: sheet.write_number,
            Kind.COUNT: sheet.write_number,
            Kind.DATE: sheet.write_datetime,
        }.get(column.kind, sheet.write_string)
        for column in table.columns
    ]
    # The format has no other way in than cell by cell, row after row (constant memory).
    for row, cells in enumerate(frame.iter_rows(), start=1):
        for at, cell in enumerate(cells):
            if cell is not None:
                writers[at](row, at, cell, formats[at])


def _write_plain_sheet(
    book: Any, name: str, headings: tuple[str, ...], rows: Iterable[Row], widths: tuple[int, ...]
) -> None:
    """Write a sheet of sentences and numbers."""
    sheet = book.add_worksheet(name)
    bold = book.add_format({"bold": True, "valign": "top"})
    wrapped = book.add_format({"text_wrap": True, "valign": "top", "align": "left"})
    for at, width in enumerate(widths):
        sheet.set_column(at, at, width)
    if headings:
        sheet.freeze_panes(1, 0)
        for at, heading in enumerate(headings):
            sheet.write_string(0, at, heading, bold)
    for row, cells in enumerate(rows, start=1 if headings else 0):
        for at, cell in enumerate(cells):
            style = bold if at == 0 and not headings else wrapped
            if isinstance(cell, str):
                sheet.write_string(row, at, cell, style)
            elif cell is not None:
                sheet.write_number(row, at, cell, style)


def _write_columns_sheet(
    book: Any, tables: Sequence[Table], names: Mapping[str, str], labels: Labels
) -> None:
    """Write the sheet that explains every column of every table, also of those that are too long for a sheet."""
    headings = tuple(
        labels(key)
        for key in (
            "workbook.columns_table",
            "workbook.columns_column",
            "workbook.columns_heading",
            "workbook.columns_unit",
            "workbook.columns_meaning",
        )
    )
    rows = _columns(tables, names, labels)
    _write_plain_sheet(book, names[COLUMNS], headings, rows, (18, 28, 40, 8, _LONGEST_SENTENCE))


def _left_out(
    frames: dict[str, pl.DataFrame], long: list[Table], names: Mapping[str, str], labels: Labels
) -> list[Row]:
    """Return where to find the tables that are too long for a sheet."""
    return [
        (
            labels("workbook.sheet_left_out", table=names[table.name]),
            labels.count("workbook.sheet_left_out_rows", frames[table.name].height, table=table.name),
        )
        for table in long
    ]


def _columns(tables: Sequence[Table], names: Mapping[str, str], labels: Labels) -> list[Row]:
    """Return one row for each column of each table; a sheet called otherwise than its CSV file says both names."""
    called = {
        table.name: names[table.name]
        if names[table.name] == table.name
        else f"{names[table.name]} ({table.name})"
        for table in tables
    }
    return [
        (
            called[table.name],
            column.name,
            labels.heading(column, table),
            labels.unit(column),
            labels.meaning(column, table),
        )
        for table in tables
        for column in table.columns
    ]


def _width(heading: str, cells: pl.Series) -> float:
    """Return the width of a column in characters: the longest word of its heading, or its longest text."""
    least = min(max(len(word) for word in heading.split()), _LONGEST_TEXT) + 4
    longest = cells.str.len_chars().max() if cells.dtype == pl.String else None
    return float(max(least, 10, min(int(str(longest)), _LONGEST_TEXT) + 1 if longest is not None else 0))
