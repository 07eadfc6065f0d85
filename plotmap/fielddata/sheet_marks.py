"""What a sheet says beside its values: error cells, formulas that were never computed, coloured cells."""

from __future__ import annotations

import re
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from html import unescape

from plotmap.fielddata.raw import UnreadableFileError

_CELL = re.compile(rb"<c\b([^>]*?)(?:/>|>(.*?)</c>)", re.DOTALL)
_ATTRIBUTE = re.compile(rb'\b(r|t|s)="([^"]*)"')
_FORMULA = re.compile(rb"<f\b[^>]*?(?:/>|>(.*?)</f>)", re.DOTALL)
_VALUE = re.compile(rb"<v\b[^>]*>([^<]+)</v>|<is\b")
_CELL_STYLES = re.compile(rb"<cellXfs\b.*?</cellXfs>", re.DOTALL)
_STYLE = re.compile(rb"<xf\b[^>]*>")
_FILL = re.compile(rb'\bfillId="(\d+)"')
_PLACE = re.compile(r"([A-Z]+)(\d+)")
_FIRST_OWN_FILL = 2
"""The first two fills of every workbook are none and a grey that marks nothing (ECMA-376 part 1, 18.8.21)."""


@dataclass(frozen=True, slots=True)
class MarkedCell:
    """One cell: its name as the spreadsheet shows it, row and column from 1, and what is shown or computed."""

    name: str
    row: int
    column: int
    text: str


@dataclass(frozen=True, slots=True)
class SheetMarks:
    """What was found beside the values.

    Attributes
    ----------
    errors : tuple of MarkedCell
        Cells that show an error, as ``#REF!``.
    uncomputed : tuple of MarkedCell
        Formulas without a stored value.
    coloured : tuple of MarkedCell
        Cells with a fill.
    """

    errors: tuple[MarkedCell, ...]
    uncomputed: tuple[MarkedCell, ...]
    coloured: tuple[MarkedCell, ...]


def sheet_marks(book: zipfile.ZipFile, member: str) -> SheetMarks:
    """Look through the XML of a sheet (ECMA-376 part 1, 18.3.1.4) for marked cells.

    Parameters
    ----------
    book : zipfile.ZipFile
        The workbook.
    member : str
        The sheet's file in it.

    Raises
    ------
    UnreadableFileError
        A cell has no name, which no spreadsheet program writes.
    """
    text = book.read(member)
    fills = _filled_styles(book)
    errors: list[MarkedCell] = []
    uncomputed: list[MarkedCell] = []
    coloured: list[MarkedCell] = []
    if fills or b'"e"' in text or b"<f" in text:
        for name, kind, style, inner in _cells(text):
            if kind == b"e":
                shown = _VALUE.search(inner)
                errors.append(_marked(name, shown[1] if shown and shown[1] else b"an error"))
            elif b"<f" in inner and kind != b"str" and not _VALUE.search(inner):
                formula = _FORMULA.search(inner)
                uncomputed.append(_marked(name, b"=" + ((formula[1] if formula else None) or b"")))
            if style in fills:
                coloured.append(_marked(name, b""))
    return SheetMarks(tuple(errors), tuple(uncomputed), tuple(coloured))


def _cells(text: bytes) -> Iterator[tuple[str, bytes, bytes, bytes]]:
    """Yield name, type, style and content of each cell."""
    for cell in _CELL.finditer(text):
        found = dict(_ATTRIBUTE.findall(cell[1]))
        if b"r" not in found:
            continue  # cells without a name follow their row in order; they carry values all the same
        yield (
            found[b"r"].decode("ascii", "replace"),
            found.get(b"t", b""),
            found.get(b"s", b""),
            cell[2] or b"",
        )


def _filled_styles(book: zipfile.ZipFile) -> set[bytes]:
    """Return the numbers of the cell styles that have a fill."""
    if "xl/styles.xml" not in book.namelist():
        return set()
    section = _CELL_STYLES.search(book.read("xl/styles.xml"))
    styles = _STYLE.findall(section[0]) if section else []
    fills = [_FILL.search(style) for style in styles]
    return {
        str(number).encode()
        for number, fill in enumerate(fills)
        if fill is not None and int(fill[1]) >= _FIRST_OWN_FILL
    }


def _marked(name: str, text: bytes) -> MarkedCell:
    """Return a cell with its row and column from 1."""
    found = _PLACE.fullmatch(name)
    if found is None:
        raise UnreadableFileError(f"a cell is called {name}, which is no cell name")
    return MarkedCell(name, int(found[2]), column_number(found[1]), unescape(text.decode("utf-8", "replace")))


def column_number(letters: str) -> int:
    """Return the number of a column from 1: A is 1, AA is 27."""
    number = 0
    for letter in letters:
        number = 26 * number + ord(letter) - ord("A") + 1
    return number
