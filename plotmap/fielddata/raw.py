"""What a reader of one file format hands over: headings and cells, nothing interpreted yet."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import polars as pl

from plotmap.model.findings import Findings

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from plotmap.fielddata.heading_row import Wanted

SHEET_FIRST_ROW = 2
"""Rows are numbered as a spreadsheet shows them: this is the first below a heading in row 1."""
LAYER_FIRST_ROW = 1
"""Features of a layer have no heading: the first is row 1."""
TITLE_ROW = "title between the rows"
"""Why such a row is set aside, as the ledger says."""
_REASON_LETTERS = 300


@dataclass(frozen=True, slots=True)
class RawTable:
    """One table as it stands in its file.

    Attributes
    ----------
    headings : tuple of str
        As written, doubles kept.
    cells : polars.DataFrame
        One column a heading, in order, named c0, c1, …; text, or numbers and dates where the format has them.
    first_row : int
        Number of the first row of `cells` in the file.
    geometry : array of shapely geometries, optional
        For layers; None where the format has none.
    crs : str
        CRS of `geometry` as WKT; empty where not stated.
    findings : Findings
        What was odd about the file itself.
    dates : mapping of str to polars.Series of bool
        For columns of identifiers that hold dates: which cells do.
    titles : frozenset of int
        Places of rows that hold nothing but one title, merged over several columns.
    """

    headings: tuple[str, ...]
    cells: pl.DataFrame
    first_row: int
    findings: Findings
    geometry: NDArray[np.object_] | None = None
    crs: str = ""
    dates: Mapping[str, pl.Series] = field(default_factory=dict)
    titles: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True)
class Location:
    """Where a table was found.

    Attributes
    ----------
    path : Path
        File it is in.
    part : str
        Sheet or layer, empty where the file holds one table.
    read : callable
        Reads it: called with the path, the part, the name to use in findings, and what is wanted.
    """

    path: Path
    part: str
    read: Callable[[Path, str, str, Wanted | None], RawTable]

    @property
    def source(self) -> str:
        """File, and sheet or layer, as findings name it."""
        kind = "sheet" if self.path.suffix.lower() == ".xlsx" else "layer"
        name = shown_name(self.path)
        return f"{name}, {kind} {self.part}" if self.part else name


def shown_name(path: Path) -> str:
    """Return the name of a file as text that can be written; bytes that are no UTF-8 are spelled out."""
    return os.fsencode(path.name).decode("utf-8", "backslashreplace")


class UnreadableFileError(Exception):
    """Raised by a reader for a file it can make nothing of; becomes the finding file-unreadable."""


@contextmanager
def unreadable_where_refused(what: str) -> Iterator[None]:
    """Word whatever a library says about a file inside the block; only calls of that library belong there.

    Parameters
    ----------
    what : str
        What is wrong then, for instance ``the file is no workbook``.

    Raises
    ------
    UnreadableFileError
        The library refused the file, with any exception: damaged files raise nearly every kind.
    """
    try:
        yield
    except (UnreadableFileError, MemoryError):
        raise
    except Exception as error:
        said = (error.strerror or str(error)) if isinstance(error, OSError) else str(error)
        lines = said.strip().splitlines() or [type(error).__name__]
        raise UnreadableFileError(f"{what} ({lines[0][:_REASON_LETTERS]})") from error
