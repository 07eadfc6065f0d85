"""What stands in the files of a folder: texts, columns of numbers and bytes, read by general-purpose readers."""

from __future__ import annotations

import csv
import html
import io
import json
import re
import sqlite3
import zipfile
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing
from dataclasses import dataclass, field
from html.parser import HTMLParser
from itertools import islice
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import polars as pl

Unpack = Callable[[str], dict[str, Any]]
"""Turns the packed text of the map into lists and texts."""
PACKED = "survey-data"
"""Element of the page that holds packed data."""
_JSON_ESCAPE = re.compile(r"\\u([0-9a-fA-F]{4})")
_XML_TEXT = re.compile(r">([^<>]+)<|=\"([^\"]+)\"")
_CELLS = re.compile(r"[A-Z]{1,3}\d{1,7}(:[A-Z]{1,3}\d{1,7})?")
"""References to cells, which attributes of a workbook hold and which may look like an instrument."""
_DEEPEST = 2
"""Keys within keys that a message names."""
_AT_ONCE = 50_000
"""Rows of a table that are held in memory together."""
_LONGEST_CSV_CELL = 10_000_000


@dataclass(frozen=True, slots=True)
class Part:
    """A part of a file.

    Attributes
    ----------
    where : str
        What it is called in messages.
    texts : polars.Series of str
        Cells, values and passages; each once is enough.
    heading : str
        Name of the column or key they come from; empty where there is none.
    columns : tuple of numpy.ndarray of float
        Numbers that stand in rows beside each other, all of one length.
    packed : bool
        Whether whole numbers may be parts of a unit, or steps from one to the next.
    raw : bytes
        Bytes that may hold floating-point numbers.
    """

    where: str
    texts: pl.Series = field(default_factory=lambda: pl.Series([], dtype=pl.String))
    heading: str = ""
    columns: tuple[npt.NDArray[np.float64], ...] = ()
    packed: bool = False
    raw: bytes = b""


class UnreadableError(Exception):
    """A file of a kind that cannot be searched."""


def parts_of(path: Path, unpack: Unpack) -> Iterator[Part]:
    """Yield everything that a file holds.

    Parameters
    ----------
    path : Path
        A file with one of the endings of `READERS`.
    unpack : callable
        For the packed data of the map.

    Yields
    ------
    Part
        Texts are those that a program shows: unescaped, decompressed, decoded.

    Raises
    ------
    UnreadableError
        There is no reader for such files, or the file is broken.
    """
    reader = READERS.get(path.suffix.lower())
    if reader is None:
        raise UnreadableError(path.suffix)
    try:
        yield from reader(path, unpack)
    except (
        OSError,
        ValueError,
        KeyError,
        sqlite3.Error,
        zipfile.BadZipFile,
        pl.exceptions.PolarsError,
    ) as error:
        raise UnreadableError(str(error)) from error


def texts_of(values: Any) -> pl.Series:
    """Return texts, each once, without missing ones."""
    return pl.Series("texts", values, dtype=pl.String, strict=False).drop_nulls().unique(maintain_order=True)


def numbers_of(values: Any) -> npt.NDArray[np.float64]:
    """Return a column as floats, NaN where there is no number."""
    cast = pl.Series("x", values, strict=False).cast(pl.Float64, strict=False)
    return np.asarray(cast.fill_null(np.nan).to_numpy(), dtype=np.float64)


def _text_file(path: Path, _unpack: Unpack) -> Iterator[Part]:
    """Yield a text."""
    yield _passage("text", path.read_bytes().decode("utf-8", "replace"))


def _passage(where: str, text: str) -> Part:
    """Return a passage as it stands and with what escapes stand for."""
    variants = {text, html.unescape(text), _JSON_ESCAPE.sub(lambda found: chr(int(found[1], 16)), text)}
    return Part(where, texts_of(sorted(variants)))


def _table(where: str, headings: list[str], rows: list[tuple[Any, ...]]) -> Iterator[Part]:
    """Yield the columns of a table."""
    yield Part(f"{where}, headings", texts_of([str(heading) for heading in headings]))
    numbers, raw = [], b""
    for place, heading in enumerate(headings):
        cells = [row[place] if place < len(row) else None for row in rows]
        found = [cell for cell in cells if isinstance(cell, str)]
        yield Part(f"{where}, column {place + 1}", texts_of(found), heading=str(heading))
        for cell in dict.fromkeys(found):
            if cell[:1] in {"{", "["} and cell[-1:] in {"}", "]"}:
                yield from _json_text(f"{where}, column {place + 1}", cell)
        raw += b"".join(cell for cell in cells if isinstance(cell, bytes))
        if any(isinstance(cell, (int, float)) or cell for cell in cells):
            column = numbers_of([_plain(cell) for cell in cells])
            if np.isfinite(column).any():
                numbers.append(column)
    yield Part(where, columns=tuple(numbers), raw=raw)


def _plain(cell: object) -> object:
    """Return a cell that may be a number as text."""
    return str(cell) if isinstance(cell, (str, int, float)) else None


def _csv_file(path: Path, _unpack: Unpack) -> Iterator[Part]:
    """Yield the columns of a CSV file."""
    text = path.read_bytes().decode("utf-8-sig", "replace")
    csv.field_size_limit(_LONGEST_CSV_CELL)
    lines = csv.reader(io.StringIO(text))
    headings = next(lines, [])
    while rows := [tuple(line) for line in islice(lines, _AT_ONCE)]:
        yield from _table("table", headings, rows)
    yield from _table("table", headings, [])


def _json_text(where: str, text: str) -> Iterator[Part]:
    """Yield what stands in JSON; the text itself where it is none."""
    try:
        yield from _structure(where, json.loads(text), packed=False)
    except ValueError:
        yield _passage(where, text)


def _json_file(path: Path, _unpack: Unpack) -> Iterator[Part]:
    """Yield what stands in a JSON file, its coordinates too."""
    text = path.read_bytes().decode("utf-8", "replace")
    yield _passage("text", text)
    yield from _structure("values", json.loads(text), packed=False)


def _structure(where: str, value: Any, *, packed: bool, key: str = "") -> Iterator[Part]:
    """Yield texts and lists of numbers of nested lists and dicts."""
    if isinstance(value, Mapping):
        yield from _mapping(where, value, packed=packed)
    elif isinstance(value, (list, tuple)):
        found = [x for x in value if isinstance(x, str)]
        if found:
            yield Part(where, texts_of(found), heading=key)
        flat = [x for x in value if _is_figure(x)]
        if len(flat) > 1:
            row = np.array(flat, dtype=np.float64)
            yield Part(where, columns=(row[:-1], row[1:]))
        for inner in value:
            if isinstance(inner, (list, dict)):
                yield from _structure(where, inner, packed=packed, key=key)
    elif isinstance(value, str):
        yield Part(where, texts_of([value]), heading=key)
        if value[:1] in {"{", "["} and value[-1:] in {"}", "]"}:
            yield from _json_text(where, value)


def _mapping(where: str, value: Mapping[str, Any], *, packed: bool) -> Iterator[Part]:
    """Yield the keys of a dict, lists of one length as columns beside each other, and what is inside."""
    yield Part(where, texts_of([str(name) for name in value]))
    columns: dict[int, list[npt.NDArray[np.float64]]] = {}
    for name, inner in value.items():
        if isinstance(inner, (list, tuple)) and not any(isinstance(x, (list, dict)) for x in inner):
            column = numbers_of([None if isinstance(x, str) else x for x in inner])
            if np.isfinite(column).any():
                columns.setdefault(len(column), []).append(column)
        place = f"{where}.{name}" if where.count(".") < _DEEPEST else where
        yield from _structure(place, inner, packed=packed, key=str(name))
    for together in columns.values():
        yield Part(where, columns=tuple(together), packed=packed)
    single = tuple(np.array([x], dtype=np.float64) for x in value.values() if _is_figure(x))
    if single:
        yield Part(where, columns=single)


def _is_figure(value: object) -> bool:
    """Say whether a value is a number."""
    return isinstance(value, (int, float)) and not isinstance(value, bool)


class _Page(HTMLParser):
    """Collects the texts of a page, and apart from them what programs and styles hold."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.texts: list[str] = []
        self.inside: list[tuple[str, str]] = []
        self.packed: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.texts += [
            value for name, value in attrs if value and not value.startswith("data:") and name != "content"
        ]
        if tag in {"script", "style"}:
            self.inside.append((tag, dict(attrs).get("id") or ""))

    def handle_endtag(self, tag: str) -> None:
        if self.inside and tag == self.inside[-1][0]:
            self.inside.pop()

    def handle_data(self, data: str) -> None:
        if not self.inside:
            self.texts.append(data)
        elif self.inside[-1][1] == PACKED:
            self.packed.append(data)

    def handle_comment(self, data: str) -> None:
        self.texts.append(data)


def _html_file(path: Path, unpack: Unpack) -> Iterator[Part]:
    """Yield texts, attributes, comments and packed data of a page; its programs and styles are plotmap's own."""
    page = _Page()
    page.feed(path.read_bytes().decode("utf-8", "replace"))
    page.close()
    texts = [text.strip() for text in page.texts if text.strip()]
    yield Part("page", texts_of(texts))
    yield _passage("page", " ".join(texts))
    packed = "".join(page.packed).strip()
    if packed:
        yield from _structure("data", unpack(packed), packed=True)


def _gpkg_file(path: Path, _unpack: Unpack) -> Iterator[Part]:
    """Yield every table of a GeoPackage, then all its bytes, those of freed pages too."""
    with closing(sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)) as database:
        names = database.execute("SELECT name, coalesce(sql, '') FROM sqlite_master").fetchall()
        yield Part("schema", texts_of([text for row in names for text in row]))
        readable = database.execute(
            "SELECT name FROM sqlite_master WHERE type IN ('table', 'view') AND name NOT LIKE 'rtree_%'"
        ).fetchall()
        for (name,) in readable:
            found = database.execute(f'SELECT * FROM "{name}"')  # noqa: S608 - a name of the file itself
            headings = [column[0] for column in found.description]
            while rows := found.fetchmany(_AT_ONCE):
                yield from _table(f"table {name}", headings, rows)
            yield from _table(f"table {name}", headings, [])
    content = path.read_bytes()
    yield Part("bytes", raw=content)
    yield Part(
        "bytes", texts_of(re.findall(r"[^\x00-\x1f]{6,}", content.decode("utf-8", "ignore"))), heading="bytes"
    )


def _xlsx_file(path: Path, _unpack: Unpack) -> Iterator[Part]:
    """Yield the sheets of a workbook, and the texts of every part of the file, hidden ones too."""
    from python_calamine import load_workbook  # noqa: PLC0415 - only where there is a workbook

    with zipfile.ZipFile(path) as book:
        for name in book.namelist():
            text = book.read(name).decode("utf-8", "replace")
            found = [
                html.unescape(one or other)
                for one, other in _XML_TEXT.findall(text)
                if not _CELLS.fullmatch(other)
            ]
            yield Part(name, texts_of([name, *(cell for cell in found if not _is_number(cell))]))
    workbook = load_workbook(path)
    for number, sheet in enumerate(workbook.sheet_names):
        rows = workbook.get_sheet_by_index(number).to_python(skip_empty_area=False)
        wide = max((len(row) for row in rows), default=0)
        for start in range(min(2, len(rows))):  # headings are in the first row, or below a title
            headings = [str(cell) for cell in rows[start]] + [""] * (wide - len(rows[start]))
            yield from _table(f"sheet {sheet}", headings, [tuple(row) for row in rows[start + 1 :]])


def _is_number(text: str) -> bool:
    """Say whether a text is but a number, as widths and indexes of a workbook are."""
    return re.fullmatch(r"[-+0-9.eE]+", text) is not None


def _parquet_file(path: Path, _unpack: Unpack) -> Iterator[Part]:
    """Yield the columns and the metadata of a Parquet file."""
    import pyarrow.parquet  # noqa: PLC0415 - slow to import

    table = pyarrow.parquet.read_table(path)
    for key, value in (table.schema.metadata or {}).items():
        if key != b"ARROW:schema":  # names of columns once more
            yield from _json_text("metadata", value.decode("utf-8", "replace"))
    rows = list(zip(*(column.to_pylist() for column in table.columns), strict=True))
    yield from _table("table", table.column_names, rows)


def _pdf_file(path: Path, _unpack: Unpack) -> Iterator[Part]:
    """Yield texts of the pages and facts about the document."""
    import pypdf  # noqa: PLC0415 - only where there is a PDF

    try:
        document = pypdf.PdfReader(path)
    except pypdf.errors.PyPdfError as error:
        raise UnreadableError(str(error)) from error
    yield Part("about", texts_of([str(value) for value in (document.metadata or {}).values()]))
    for number, page in enumerate(document.pages, 1):
        text = page.extract_text()
        yield _passage(f"page {number}", text)
        yield Part(f"page {number}", texts_of(text.splitlines()))


READERS: dict[str, Callable[[Path, Unpack], Iterator[Part]]] = {
    ".csv": _csv_file,
    ".geojson": _json_file,
    ".gpkg": _gpkg_file,
    ".html": _html_file,
    ".json": _json_file,
    ".parquet": _parquet_file,
    ".pdf": _pdf_file,
    ".txt": _text_file,
    ".xlsx": _xlsx_file,
}
"""How files are opened, by their ending."""
