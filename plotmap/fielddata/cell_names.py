"""Cells as a spreadsheet names them: B7 is the second column, seventh row."""

from __future__ import annotations

from collections.abc import Sequence

_LISTED = 5


def column_letters(column: int) -> str:
    """Return the letters of a column counted from 0: 0 is A, 26 is AA."""
    letters = ""
    number = column + 1
    while number:
        number, rest = divmod(number - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


def cell_name(column: int, row: int) -> str:
    """Return the name of a cell: its column from 0, its row as the spreadsheet numbers it."""
    return f"{column_letters(column)}{row}"


def listed(names: Sequence[str]) -> str:
    """Return the first names, and how many more there are."""
    more = len(names) - _LISTED
    if more <= 1:
        return ", ".join(names)
    return f"{', '.join(names[:_LISTED])} and {more} more"
