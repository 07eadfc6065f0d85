"""Figures as the report prints them, rounded as on the map."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from plotmap.model.result_tables import FULL_COUNT, NO_PLOTS, ONE_PLOT
from plotmap.output.webmap.figures import decimals_of, numbers, rounded, side_width

if TYPE_CHECKING:
    import pandas as pd
    import polars as pl

    from plotmap.model.columns import Column, Table
    from plotmap.model.labels import Labels

THIN_SPACE = "\u202f"


@dataclass(frozen=True, slots=True)
class Estimate:
    """One figure with its limits, as texts.

    Attributes
    ----------
    title, unit : str
        What it is; the unit may be empty.
    value : str
        Empty where there is no figure.
    limits : str
        ``21.6 – 24.2``; empty where there are none.
    half : str
        ``± 1.3`` where the limits are equally far below and above; else empty.
    why : str
        Why there is no figure, or why it has no limits; empty where there are.
    """

    title: str
    unit: str
    value: str
    limits: str = ""
    half: str = ""
    why: str = ""

    @property
    def uncertainty(self) -> str:
        """Limits, as ± where they are even; else why there are none."""
        return self.half or self.limits or self.why


def number_text(value: float, decimals: int) -> str:
    """Return a number that is already rounded; one that is small keeps its two figures.

    Parameters
    ----------
    value : float
        As `plotmap.output.webmap.figures.rounded` gives it, not missing.
    decimals : int
        Decimals of usual values.
    """
    small = value != 0 and abs(value) < 10.0 ** (1 - decimals)
    places = max(decimals, 1 - int(np.floor(np.log10(abs(value))))) if small else decimals
    return f"{value:,.{places}f}".replace(",", THIN_SPACE)


def texts(values: NDArray[np.float64], decimals: int) -> list[str]:
    """Return numbers as texts, empty where missing."""
    return [
        "" if missing else number_text(value, decimals)
        for value, missing in zip(
            rounded(values, decimals).tolist(), (~np.isfinite(values)).tolist(), strict=True
        )
    ]


def column_texts(frame: pd.DataFrame | pl.DataFrame, column: Column) -> list[str]:
    """Return a column as texts, in the decimals of its unit, empty where missing."""
    return texts(numbers(frame[column.name]), decimals_of(column))


def whole(value: float | None) -> str:
    """Return a count, without decimals where it has none; empty where missing."""
    if value is None or not np.isfinite(value):
        return ""
    decimals = 0 if value == round(value) else 1
    return f"{value:,.{decimals}f}".replace(",", THIN_SPACE)


def pct_text(pct: float) -> str:
    """Return a percentage of the settings: 95 or 99.9."""
    return f"{round(pct, 6):g}"


def estimates(
    frame: pd.DataFrame | pl.DataFrame, table: Table, name: str, status: list[str], labels: Labels
) -> list[Estimate]:
    """Return one estimate a row.

    Parameters
    ----------
    frame : pandas.DataFrame or polars.DataFrame
        Columns of `table`, among them `name` with ``_low`` and ``_high``.
    table : Table
        Declares title and unit.
    name : str
        Column of the estimate.
    status : list of str
        Status of each row, which says why figures or limits are missing.
    labels : Labels
        Words of the survey.
    """
    column = table[name]
    decimals = decimals_of(column)
    value, low, high = (numbers(frame[f"{name}{end}"]) for end in ("", "_low", "_high"))
    below, above = side_width(value - low, value), side_width(high - value, value)
    flat = (below == 0) & (above == 0)
    title, unit = labels.title(column, table), labels.unit(column)
    parts = (texts(one, decimals) for one in (value, low, high, below, above))
    return [
        _estimate(title, unit, shown, _Limits(*shape), word, labels)
        for *shown, shape, word in zip(
            *parts, list(zip(flat.tolist(), np.isfinite(low).tolist(), strict=True)), status, strict=True
        )
    ]


@dataclass(frozen=True, slots=True)
class _Limits:
    """Whether limits have no width, and whether there are any."""

    flat: bool
    known: bool


def _estimate(
    title: str, unit: str, shown: list[str], limits: _Limits, status: str, labels: Labels
) -> Estimate:
    """Return one estimate from its texts: value, lower and upper limit, distance to each."""
    value, low, high, below, above = shown
    if not value:
        return Estimate(
            title, unit, "", why=labels("report.no_plots" if status == NO_PLOTS else "report.no_stems")
        )
    if status == FULL_COUNT:
        return Estimate(title, unit, value, why=labels("report.counted"))
    if not limits.known:
        why = labels("report.one_plot" if status == ONE_PLOT else "report.no_error")
        return Estimate(title, unit, value, why=why)
    if limits.flat:
        return Estimate(title, unit, value, why=labels("report.plots_agree"))
    return Estimate(title, unit, value, f"{low} – {high}", f"± {below}" if below == above else "")
