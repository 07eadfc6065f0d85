"""Reading tables from text files separated by commas, semicolons or tabs."""

from __future__ import annotations

import csv
from pathlib import Path

import polars as pl

from plotmap.fielddata.raw import SHEET_FIRST_ROW, RawTable, UnreadableFileError
from plotmap.model.findings import Findings, finding

_DELIMITERS = ",;\t"
_HEAD_BYTES = 1 << 20
_BOM = b"\xef\xbb\xbf"


def read_text(path: Path, _part: str, source: str) -> RawTable:
    """Read a CSV file (UTF-8, with or without byte order mark), every cell as text.

    Raises
    ------
    UnreadableFileError
        The file is empty, not UTF-8 text, or has no heading.
    """
    headings, delimiter = _heading(path)
    findings = Findings.none()
    try:
        cells = _scan(path, delimiter, len(headings), ragged=False)
    except pl.exceptions.PolarsError as error:
        findings = _long_lines(path, delimiter, len(headings), source)
        if not len(findings):
            raise UnreadableFileError(_in_words(error)) from error
        cells = _scan(path, delimiter, len(headings), ragged=True)
    return RawTable(tuple(headings), cells, SHEET_FIRST_ROW, findings)


def _heading(path: Path) -> tuple[list[str], str]:
    """Return the headings and the delimiter, told by the heading line."""
    with path.open("rb") as file:
        head = file.read(_HEAD_BYTES)
    if not head.removeprefix(_BOM).strip():
        raise UnreadableFileError("the file is empty")
    if b"\x00" in head or head.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise UnreadableFileError("the file is no UTF-8 text (it looks binary, or is UTF-16)")
    line = head.removeprefix(_BOM).split(b"\n", 1)[0].rstrip(b"\r")
    try:
        text = line.decode("utf-8")
    except UnicodeDecodeError as error:
        raise UnreadableFileError("the heading is not UTF-8 text: save the file as UTF-8") from error
    bare = "".join(text.split('"')[::2])
    delimiter = max(_DELIMITERS, key=bare.count)
    try:
        headings = next(csv.reader([text], delimiter=delimiter), [])
    except csv.Error as error:
        raise UnreadableFileError(f"the heading cannot be read: {error}") from error
    if not any(heading.strip() for heading in headings):
        raise UnreadableFileError("the first row must hold the headings, but it is blank")
    return headings, delimiter


def _scan(path: Path, delimiter: str, n_columns: int, *, ragged: bool) -> pl.DataFrame:
    """Read all cells below the heading as text."""
    return pl.read_csv(
        path,
        separator=delimiter,
        has_header=True,
        new_columns=[f"c{i}" for i in range(n_columns)],
        infer_schema=False,
        truncate_ragged_lines=ragged,
    )


def _long_lines(path: Path, delimiter: str, n_columns: int, source: str) -> Findings:
    """Return a finding for each line with more cells than the heading; only called when there are some."""
    found: list[Findings] = []
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            for number, cells in enumerate(csv.reader(file, delimiter=delimiter), start=1):
                if len(cells) > n_columns:
                    message = f"the row has {len(cells)} cells, but there are {n_columns} headings"
                    extra = delimiter.join(cells[n_columns:])
                    found.append(finding("line-too-long", source, message, row=number, value=extra))
    except (UnicodeDecodeError, csv.Error):
        return Findings.none()
    return Findings.join(found)


def _in_words(error: Exception) -> str:
    """Return what the reader said, in one line."""
    text = str(error).splitlines()[0] if str(error) else type(error).__name__
    return "the file is not UTF-8 text: save it as UTF-8" if "utf-8" in text.lower() else text
