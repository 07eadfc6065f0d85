"""What compartments can be coloured by: classes, colours and counts of each theme, and what is hatched."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from branca.utilities import color_brewer

from plotmap.model.result_tables import COMPARTMENT_RESULTS, NO_PLOTS, ONE_PLOT
from plotmap.output.webmap.breaks import pretty_breaks
from plotmap.output.webmap.figures import decimals_of, numbers, rounded

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

RAMP = "YlGnBu"
"""ColorBrewer ramp, told apart with any kind of colour vision."""
LARGE_ERROR_PCT = 50.0
"""Sampling error above which a compartment is hatched, in per cent of basal area."""
NO_VALUE, UNKNOWN = -1, -2
"""Class numbers of compartments with plots but without this value, and of those without plots."""
PLAIN, ONE_PLOT_HATCH, LARGE_ERROR_HATCH = 0, 1, 2
"""What is drawn over the colour."""
_FEWEST_COLOURS = 3
_FAR_OUT = 3.0
_MISSING = {
    "basal_area_m2_per_ha": "no value",
    "stems_per_ha": "no value",
    "dg_cm": "no stems, so no diameter",
    "sampling_error_pct": "no basal area, so no error",
}
"""What a compartment lacks that has plots but no value, by column, in the order of the switch."""


@dataclass(frozen=True, slots=True)
class Theme:
    """One way to colour the compartments.

    Attributes
    ----------
    column : str
        Column of `COMPARTMENT_RESULTS`.
    labels, colours, counts : tuple
        Label, colour (``#rrggbb``) and number of compartments of each class.
    classes : numpy.ndarray of int64, shape (n_compartments,)
        Class of each compartment, `NO_VALUE` or `UNKNOWN`.
    missing_label : str
        What compartments of class `NO_VALUE` lack.
    """

    column: str
    labels: tuple[str, ...]
    colours: tuple[str, ...]
    counts: tuple[int, ...]
    classes: NDArray[np.int64]
    missing_label: str


def themes(compartments: pd.DataFrame) -> tuple[Theme, ...]:
    """Return the themes in the order of the switch.

    Parameters
    ----------
    compartments : pandas.DataFrame
        Columns of `COMPARTMENT_RESULTS`.

    Returns
    -------
    tuple of Theme
        Basal area (m²/ha), stems (1/ha), quadratic mean diameter (cm), sampling error (%).
    """
    unknown = (compartments["status"] == NO_PLOTS).to_numpy()
    return tuple(_theme(column, numbers(compartments[column]), unknown) for column in _MISSING)


def hatches(compartments: pd.DataFrame) -> NDArray[np.int64]:
    """Return what is hatched whatever the theme: one plot without an error, or a large error (as shown).

    Parameters
    ----------
    compartments : pandas.DataFrame
        ``status`` and ``sampling_error_pct`` (% of basal area) of `COMPARTMENT_RESULTS`.

    Returns
    -------
    numpy.ndarray of int64, shape (n_compartments,)
        `PLAIN`, `ONE_PLOT_HATCH` or `LARGE_ERROR_HATCH`.
    """
    column = COMPARTMENT_RESULTS["sampling_error_pct"]
    error = rounded(numbers(compartments[column.name]), decimals_of(column))
    one = (compartments["status"] == ONE_PLOT).to_numpy() & np.isnan(error)
    return np.select([one, error > LARGE_ERROR_PCT], [ONE_PLOT_HATCH, LARGE_ERROR_HATCH], PLAIN)


def ramp(classes: int) -> tuple[str, ...]:
    """Return that many colours from light to dark.

    Parameters
    ----------
    classes : int
        1 to 9.

    Returns
    -------
    tuple of str
        ``#rrggbb``.
    """
    colours = color_brewer(RAMP, max(classes, _FEWEST_COLOURS))
    return tuple(colours[1:] if classes == 1 else colours)[:classes]


def classify(
    values: NDArray[np.float64], *, cap: float = np.inf
) -> tuple[tuple[str, ...], NDArray[np.int64]]:
    """Put values into classes at round numbers; the lower edge belongs to the class.

    A few values far above the rest (more than three interquartile ranges above the upper quartile, Tukey's
    far-out values) do not stretch the classes: they fall in an open class at the top, as values above `cap` do.

    Parameters
    ----------
    values : numpy.ndarray of float, shape (n,)
        As shown, in the unit of the theme; NaN where missing.
    cap : float
        Value above which the top class is open, unless all values are.

    Returns
    -------
    labels : tuple of str
        ``10–<20``; the last class holds its upper edge (``40–50``) or is open (``≥50``). Empty without values.
    classes : numpy.ndarray of int64, shape (n,)
        0 for the first label; `NO_VALUE` where missing.
    """
    present = values[np.isfinite(values)]
    if not present.size:
        return (), np.full(values.shape, NO_VALUE)
    first, third = np.quantile(present, [0.25, 0.75])
    high = present[present <= third + _FAR_OUT * (third - first)].max()
    if present.min() < cap:
        high = min(high, cap)
    edges = np.array(pretty_breaks(float(present.min()), float(high)))
    is_open = bool(present.max() > edges[-1])
    labels = [f"{_edge(low)}–<{_edge(top)}" for low, top in pairwise(edges.tolist())]
    if is_open:
        labels.append(f"≥{_edge(edges[-1])}")
    else:
        labels[-1] = labels[-1].replace("<", "")
    found = np.searchsorted(edges, values, side="right") - 1
    found = np.minimum(found, len(labels) - 1)
    return tuple(labels), np.where(np.isfinite(values), found, NO_VALUE)


def _edge(value: float) -> str:
    """Return a class edge as the page writes numbers: thousands apart by a thin space."""
    return f"{value:,.10g}".replace(",", "\u202f")


def _theme(column: str, exact: NDArray[np.float64], unknown: NDArray[np.bool_]) -> Theme:
    """Return one theme; classes are those of the values as shown, so that colour and text agree."""
    shown = rounded(np.where(unknown, np.nan, exact), decimals_of(COMPARTMENT_RESULTS[column]))
    cap = LARGE_ERROR_PCT if column == "sampling_error_pct" else np.inf
    labels, classes = classify(shown, cap=cap)
    counts = np.bincount(classes[classes >= 0], minlength=len(labels))
    return Theme(
        column=column,
        labels=labels,
        colours=ramp(len(labels)) if labels else (),
        counts=tuple(int(count) for count in counts),
        classes=np.where(unknown, UNKNOWN, classes),
        missing_label=_MISSING[column],
    )
