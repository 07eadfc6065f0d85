"""Reading tables from text files separated by commas, semicolons or tabs."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from pathlib import Path

import polars as pl

from plotmap.fielddata.raw import SHEET_FIRST_ROW, RawTable, UnreadableFileError
from plotmap.model.findings import Findings, finding

_DELIMITERS = ",;\t"
_HEAD_BYTES = 1 << 20
_HEAD_LINES = 50
"""A heading that goes on over more lines than this is taken for a quote that was never closed."""
_BOM = b"\xef\xbb\xbf"


def read_text(path: Path, _part: str, source: str) -> RawTable:
    """Read a CSV file (UTF-8, with or without byte order mark), every cell as text.

    Parameters
    ----------
    path : Path
        The file; the first row holds the headings, parted by commas, semicolons or tabs.
    _part : str
        Not used: a text file holds one table.
    source : str
        File, for findings.

    Returns
    -------
    RawTable
        With the finding line-too-long for each row that holds something beyond the last heading. Short rows
        are filled with blanks.

    Raises
    ------
    UnreadableFileError
        The file is empty, not UTF-8 text, has no heading, or a cell begins with a quote that never ends.
    """
    headings, delimiter = _heading(path)
    _refuse_what_is_no_text(path)
    if _needs_care(path, delimiter, len(headings)):
        cells, findings = _read_strictly(path, delimiter, len(headings), source)
        return RawTable(tuple(headings), cells, SHEET_FIRST_ROW, findings)
    try:
        cells, findings = _scan(path, delimiter, len(headings)), Findings.none()
    except pl.exceptions.PolarsError:
        cells, findings = _read_strictly(path, delimiter, len(headings), source)
    return RawTable(tuple(headings), cells, SHEET_FIRST_ROW, findings)


def _heading(path: Path) -> tuple[list[str], str]:
    """Return the headings and the delimiter, told by the heading line."""
    with path.open("rb") as file:
        head = file.read(_HEAD_BYTES)
    if head.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise UnreadableFileError("the file is UTF-16, but must be UTF-8 text: save it as CSV UTF-8")
    if not head.removeprefix(_BOM).strip():
        raise UnreadableFileError("the file is empty")
    if b"\x00" in head:
        raise UnreadableFileError("the file is no text: it holds zero bytes")
    line = _first_line(head.removeprefix(_BOM)).rstrip(b"\r")
    if b"\r" in line.replace(b"\r\n", b""):
        raise UnreadableFileError(
            "its lines end in carriage returns alone: save it with the line ends of Windows or Unix"
        )
    try:
        text = line.decode("utf-8")
    except UnicodeDecodeError as error:
        raise UnreadableFileError("the heading is not UTF-8 text: save the file as CSV UTF-8") from error
    bare = "".join(text.split('"')[::2])
    delimiter = max(_DELIMITERS, key=bare.count)
    try:
        headings = next(csv.reader(text.splitlines(keepends=True), delimiter=delimiter), [])
    except csv.Error as error:
        raise UnreadableFileError(f"the heading cannot be read: {error}") from error
    if not any(heading.strip() for heading in headings):
        raise UnreadableFileError("the first row must hold the headings, but it is blank")
    return headings, delimiter


def _first_line(head: bytes) -> bytes:
    """Return the first line; a line break inside double quotes does not end it."""
    end = -1
    for _ in range(_HEAD_LINES):
        end = head.find(b"\n", end + 1)
        if end < 0:
            break
        if head.count(b'"', 0, end) % 2 == 0:
            return head[:end]
    if end < 0 and len(head) < _HEAD_BYTES and head.count(b'"') % 2 == 0:
        return head
    if head.count(b'"'):
        raise UnreadableFileError("a heading begins with a double quote that never ends")
    raise UnreadableFileError(f"the first line is longer than {_HEAD_BYTES:,} bytes: that is no heading")


def _refuse_what_is_no_text(path: Path) -> None:
    """Refuse zero bytes and bytes that are not UTF-8, naming the first row that has them."""
    with path.open("rb") as file:
        content = file.read()
    place = content.find(b"\x00")
    if place >= 0:
        row = content.count(b"\n", 0, place) + 1
        raise UnreadableFileError(f"line {row} holds a zero byte: the file is damaged, or no text")
    try:
        content.decode("utf-8")
    except UnicodeDecodeError as error:
        row = content.count(b"\n", 0, error.start) + 1
        raise UnreadableFileError(f"line {row} is not UTF-8 text: save the file as CSV UTF-8") from error


def _needs_care(path: Path, delimiter: str, n_columns: int) -> bool:
    """Say whether the quick reader might lose cells: a single column, or quotes that do not just enclose cells."""
    if n_columns == 1:
        return True
    if b'"' not in path.read_bytes():
        return False
    return any(len(cells) > n_columns or '"' in "".join(cells) for _, cells in _rows(path, delimiter))


def _scan(path: Path, delimiter: str, n_columns: int) -> pl.DataFrame:
    """Read all cells below the heading as text."""
    return pl.read_csv(
        path,
        separator=delimiter,
        has_header=True,
        new_columns=[f"c{i}" for i in range(n_columns)],
        infer_schema=False,
    )


def _read_strictly(path: Path, delimiter: str, n_columns: int, source: str) -> tuple[pl.DataFrame, Findings]:
    """Read row by row what the quick reader refused; return the cells and a finding for each row too long."""
    found: list[Findings] = []
    rows: list[list[str | None]] = []
    for number, cells in _rows(path, delimiter):
        if any(cell.strip() for cell in cells[n_columns:]):
            message = f"the row has {len(cells)} cells, but there are {n_columns} headings"
            extra = delimiter.join(cells[n_columns:])
            found.append(finding("line-too-long", source, message, row=number, value=extra))
        filled: list[str | None] = [cell or None for cell in cells[:n_columns]]
        rows.append(filled + [None] * (n_columns - len(filled)))
    schema = {f"c{i}": pl.String for i in range(n_columns)}
    return pl.DataFrame(rows[1:], schema=schema, orient="row"), Findings.join(found)


def _rows(path: Path, delimiter: str) -> Iterator[tuple[int, list[str]]]:
    """Yield every row with its number, the heading being row 1."""
    number = 0
    with path.open(encoding="utf-8-sig", newline="") as file:
        try:
            for number, cells in enumerate(csv.reader(file, delimiter=delimiter, strict=True), start=1):
                yield number, cells
        except csv.Error as error:
            if "limit" in str(error):
                most = f"{csv.field_size_limit():,} letters"
                raise UnreadableFileError(f"row {number + 1} has a cell of more than {most}") from error
            raise UnreadableFileError(
                f"row {number + 1} cannot be read ({error}): a double quote that opens a cell must close it, "
                "and one inside a cell is written twice"
            ) from error
