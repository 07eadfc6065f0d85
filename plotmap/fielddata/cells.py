"""One column of cells on its way to values, with what findings about it need."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray

from plotmap.fielddata.cell_names import cell_name, listed
from plotmap.fielddata.headings import Heading
from plotmap.fielddata.raw import LAYER_FIRST_ROW
from plotmap.model.findings import Findings, finding, findings_of

PLACE, RAW, VALUE = "_place", "_raw", "_value"
"""Columns of frames of cells: place among the rows of the file from 0, cell as text, value."""
_EXACT = 2.0**53
"""Whole numbers below this are exact in a float."""
_SHOWN = 200


@dataclass(frozen=True, slots=True)
class TableRows:
    """The rows of a table that hold data, and where they stand.

    Attributes
    ----------
    rows : polars.Series of int
        Their numbers in the file.
    source : str
        File, for findings.
    first_row : int
        Number of the first row of the file below the heading.
    """

    rows: pl.Series
    source: str
    first_row: int

    def row(self, place: int) -> int:
        """Return the number of a row by its place among these."""
        return int(self.rows[place])

    def listed(self, places: Sequence[int] | NDArray[np.int64], column: int) -> str:
        """Return the first names of cells as a spreadsheet shows them, or rows of a layer, and how many more."""
        rows = self.rows.gather(np.asarray(places)).to_list()
        if self.first_row == LAYER_FIRST_ROW:
            return ("row " if len(rows) == 1 else "rows ") + listed([str(row) for row in rows])
        return listed([cell_name(column, row) for row in rows])


@dataclass(frozen=True, slots=True)
class Cells:
    """One column of cells.

    Attributes
    ----------
    raw : polars.Series
        Cells as the reader gave them.
    table : TableRows
        Where they stand.
    plot : polars.Series of str or None
        Plots of these rows, where the table has them.
    heading : Heading
        What stands over them.
    """

    raw: pl.Series
    table: TableRows
    plot: pl.Series | None
    heading: Heading

    @property
    def source(self) -> str:
        """File, for findings."""
        return self.table.source

    def frame(self, value: pl.Series | None = None) -> pl.DataFrame:
        """Return rows, plots, cells as text and values side by side."""
        nothing = pl.Series("plot", [None], dtype=pl.String).new_from_index(0, len(self.raw))
        series = [
            self.table.rows,
            (nothing if self.plot is None else self.plot).alias("plot"),
            _shortened(self.text).alias(RAW),
        ]
        return pl.DataFrame(series if value is None else [*series, value.alias(VALUE)])

    @property
    def text(self) -> pl.Series:
        """Cells as text."""
        return text_of(self.raw)

    def told(self, code: str, message: str, place: int) -> Findings:
        """Return one finding about many cells of the column, which names the row and cell of the first."""
        return finding(
            code,
            self.source,
            message,
            row=self.table.row(place),
            column=self.heading.written,
            value=_shortened(self.text.gather([place]))[0],
        )

    def findings(
        self, code: str, faulty: pl.DataFrame, message: pl.Expr, hint: pl.Expr | None = None
    ) -> Findings:
        """Return one finding for each faulty row."""
        if not faulty.height:
            return Findings.none()
        return findings_of(
            code,
            faulty,
            self.source,
            message,
            plot="plot",
            column=self.heading.written,
            value=RAW,
            hint=hint,
        )


def text_of(raw: pl.Series) -> pl.Series:
    """Return cells as text; whole numbers lose their .0."""
    if not raw.dtype.is_float():
        return raw.cast(pl.String)
    small = (raw == raw.round(0)) & (raw.abs() < _EXACT)
    whole = raw.cast(pl.Int64, strict=False).cast(pl.String)
    return pl.select(pl.when(small).then(whole).otherwise(raw.cast(pl.String))).to_series()


def _shortened(text: pl.Series) -> pl.Series:
    """Return cells cut to a length that findings can carry."""
    if (text.str.len_bytes().max() or 0) <= _SHOWN:  # type: ignore[operator]
        return text
    cut = text.str.slice(0, _SHOWN) + "…"
    return pl.select(pl.when(text.str.len_chars() > _SHOWN).then(cut).otherwise(text)).to_series()
