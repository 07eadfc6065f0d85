"""Reading tables from text files separated by commas, semicolons or tabs."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import polars as pl

from plotmap.fielddata.heading_row import HEAD_ROWS, Wanted, heading_place, rows_above
from plotmap.fielddata.raw import SHEET_FIRST_ROW, RawTable, UnreadableFileError
from plotmap.model.findings import Findings, finding

_DELIMITERS = ",;\t"
_HEAD_BYTES = 1 << 20
_HEAD_LINES = 50
"""A heading that goes on over more lines than this is taken for a quote that was never closed."""
_BOM = b"\xef\xbb\xbf"


@dataclass(frozen=True, slots=True)
class _Layout:
    """Where the heading of a file stands and what parts its cells; `place` counts rows, `start` bytes, from 0."""

    path: Path
    headings: tuple[str, ...]
    delimiter: str
    place: int
    start: int

    @property
    def first_row(self) -> int:
        """Number of the first row below the heading."""
        return SHEET_FIRST_ROW + self.place


def read_text(path: Path, _part: str, source: str, wanted: Wanted | None = None) -> RawTable:
    """Read a CSV file (UTF-8, with or without byte order mark), every cell as text.

    Parameters
    ----------
    path : Path
        The file; cells are parted by commas, semicolons or tabs.
    _part : str
        Not used: a text file holds one table.
    source : str
        File, for findings.
    wanted : Wanted, optional
        What the file is to hold: its heading is found among the first rows. Without it the first row is it.

    Returns
    -------
    RawTable
        With the finding line-too-long for each row that holds something beyond the last heading, and
        heading-row-found where rows stand above the heading. Short rows are filled with blanks.

    Raises
    ------
    UnreadableFileError
        The file is empty, not UTF-8 text, has no heading, or more rows than one that could be it, or a cell begins
        with a quote that never ends.
    """
    layout, above = _layout(path, source, wanted)
    _refuse_what_is_no_text(path)
    if _needs_care(layout):
        cells, findings = _read_strictly(layout, source)
    else:
        try:
            cells, findings = _scan(layout), Findings.none()
        except pl.exceptions.PolarsError:
            cells, findings = _read_strictly(layout, source)
    return RawTable(layout.headings, cells, layout.first_row, Findings.join([above, findings]))


def _layout(path: Path, source: str, wanted: Wanted | None) -> tuple[_Layout, Findings]:
    """Return where the heading is and what parts the cells, told by the heading line, and heading-row-found."""
    with path.open("rb") as file:
        head = file.read(_HEAD_BYTES)
    if head.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise UnreadableFileError("the file is UTF-16, but must be UTF-8 text: save it as CSV UTF-8")
    mark = len(_BOM) if head.startswith(_BOM) else 0
    if not head[mark:].strip():
        raise UnreadableFileError("the file is empty")
    if b"\x00" in head:
        raise UnreadableFileError("the file is no text: it holds zero bytes")
    lines = _first_lines(head, mark, HEAD_ROWS if wanted else 1)
    delimiter = _delimiter(lines, wanted)
    rows = [_cells_of(line, delimiter) for _, line in lines[:1]]
    rows += [_cells_if_readable(line, delimiter) for _, line in lines[1:]]
    place = heading_place(rows, wanted)
    if not any(heading.strip() for heading in rows[place]):
        raise UnreadableFileError("the first row must hold the headings, but it is blank")
    start = lines[place][0] if place else 0
    return _Layout(path, tuple(rows[place]), delimiter, place, start), rows_above(rows, place, source)


def _delimiter(lines: list[tuple[int, str]], wanted: Wanted | None) -> str:
    """Return what parts the cells: by the first line, or by the one that has most headings."""
    bare = "".join(lines[0][1].split('"')[::2])
    usual = max(_DELIMITERS, key=bare.count)
    if wanted is None:
        return usual
    order = [usual, *(one for one in _DELIMITERS if one != usual)]
    return max(order, key=lambda one: max(wanted.known([_cells_if_readable(line, one) for _, line in lines])))


def _cells_of(line: str, delimiter: str) -> list[str]:
    """Return the cells of one row."""
    try:
        return next(csv.reader(line.splitlines(keepends=True), delimiter=delimiter), [])
    except csv.Error as error:
        raise UnreadableFileError(f"the heading cannot be read: {error}") from error


def _cells_if_readable(line: str, delimiter: str) -> list[str]:
    """Return the cells of one row; none where it cannot be read, which is told where it is read as data."""
    try:
        return _cells_of(line, delimiter)
    except UnreadableFileError:
        return []


def _first_lines(head: bytes, start: int, count: int) -> list[tuple[int, str]]:
    """Return the first lines with the bytes before each; lines after the first that cannot be read are left out."""
    lines: list[tuple[int, str]] = []
    while start < len(head) and len(lines) < count:
        try:
            if lines and len(head) == _HEAD_BYTES and b"\n" not in head[start:]:
                break  # the line may go on beyond what was read
            line = _first_line(head[start:])
            text = _line_text(line.rstrip(b"\r"))
        except UnreadableFileError:
            if lines:
                break
            raise
        lines.append((start, text))
        start += len(line) + 1
    return lines


def _line_text(line: bytes) -> str:
    """Return a line as text."""
    if b"\r" in line.replace(b"\r\n", b""):
        raise UnreadableFileError(
            "its lines end in carriage returns alone: save it with the line ends of Windows or Unix"
        )
    try:
        return line.decode("utf-8")
    except UnicodeDecodeError as error:
        raise UnreadableFileError("the heading is not UTF-8 text: save the file as CSV UTF-8") from error


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


def _needs_care(layout: _Layout) -> bool:
    """Say whether the quick reader might lose cells: a single column, or quotes that do not just enclose cells."""
    n_columns = len(layout.headings)
    if n_columns == 1:
        return True
    if b'"' not in layout.path.read_bytes():
        return False
    return any(len(cells) > n_columns or '"' in "".join(cells) for _, cells in _rows(layout))


def _scan(layout: _Layout) -> pl.DataFrame:
    """Read all cells below the heading as text."""
    return pl.read_csv(
        io.BytesIO(layout.path.read_bytes()[layout.start :]) if layout.start else layout.path,
        separator=layout.delimiter,
        has_header=True,
        new_columns=[f"c{i}" for i in range(len(layout.headings))],
        infer_schema=False,
    )


def _read_strictly(layout: _Layout, source: str) -> tuple[pl.DataFrame, Findings]:
    """Read row by row what the quick reader refused; return the cells and a finding for each row too long."""
    n_columns = len(layout.headings)
    found: list[Findings] = []
    rows: list[list[str | None]] = []
    for number, cells in _rows(layout):
        if any(cell.strip() for cell in cells[n_columns:]):
            are = "is 1 heading" if n_columns == 1 else f"are {n_columns} headings"
            message = f"the row has {len(cells)} cells, but there {are}"
            extra = layout.delimiter.join(cells[n_columns:])
            found.append(finding("line-too-long", source, message, row=number, value=extra))
        filled: list[str | None] = [cell or None for cell in cells[:n_columns]]
        rows.append(filled + [None] * (n_columns - len(filled)))
    schema = {f"c{i}": pl.String for i in range(n_columns)}
    return pl.DataFrame(rows[1:], schema=schema, orient="row"), Findings.join(found)


def _rows(layout: _Layout) -> Iterator[tuple[int, list[str]]]:
    """Yield every row from the heading on with its number as a spreadsheet shows it."""
    number = layout.place
    with layout.path.open("rb") as content:
        content.seek(layout.start)
        file = io.TextIOWrapper(content, encoding="utf-8-sig", newline="")
        try:
            reader = csv.reader(file, delimiter=layout.delimiter, strict=True)
            for number, cells in enumerate(reader, start=layout.place + 1):
                yield number, cells
        except csv.Error as error:
            if "limit" in str(error):
                most = f"{csv.field_size_limit():,} letters"
                raise UnreadableFileError(f"row {number + 1} has a cell of more than {most}") from error
            raise UnreadableFileError(
                f"row {number + 1} cannot be read ({error}): a double quote that opens a cell must close it, "
                "and one inside a cell is written twice"
            ) from error
