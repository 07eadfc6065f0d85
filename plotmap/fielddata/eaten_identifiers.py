"""Identifiers that a spreadsheet program took for a date: 3-5 became the third of May."""

from __future__ import annotations

import polars as pl

from plotmap.fielddata.cell_names import column_letters
from plotmap.fielddata.cells import RAW, Cells
from plotmap.model.field_tables import SOURCE_ROW
from plotmap.model.findings import Findings

_DAY = "_day"


def dates_for_identifiers(cells: Cells, is_date: pl.Series) -> Findings:
    """Return identifier-is-date for date cells in a column of identifiers, with what may have been typed.

    A program that reads day before month makes 3 May of ``3-5``, one that reads month before day of ``5-3``; and both
    make the first of March 2020 of ``3-20`` or ``3-2020``. Nothing in the cell says which it was, so none is taken.

    Parameters
    ----------
    cells : Cells
        A column of identifiers of a workbook.
    is_date : polars.Series of bool
        Whether each cell holds a date.
    """
    if not is_date.any():
        return Findings.none()
    faulty = cells.frame().filter(is_date).with_columns(pl.col(RAW).str.slice(0, 10).alias(_DAY))
    day, month, year = (
        pl.col(_DAY).str.slice(start, length).cast(pl.Int64) for start, length in ((8, 2), (5, 2), (0, 4))
    )
    other = pl.when(day == month).then(pl.lit("")).otherwise(pl.format(" or {}-{}", month, day))
    first = pl.when(day == 1).then(pl.format(" or {}-{}", month, year % 100)).otherwise(pl.lit(""))
    letters = column_letters(cells.heading.position)
    message = pl.format(
        f"the cell {letters}{{}} is the date {{}}, but {cells.heading.written} is an identifier; "
        "{}-{}{}{} may have been typed",
        SOURCE_ROW,
        _DAY,
        day,
        month,
        other,
        first,
    )
    return cells.findings("identifier-is-date", faulty, message)
