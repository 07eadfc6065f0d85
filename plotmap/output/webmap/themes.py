"""What compartments can be coloured by: classes, colours and counts of each theme, and what is hatched."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from branca.utilities import color_brewer

from plotmap.model.result_tables import NO_PLOTS, ONE_PLOT
from plotmap.model.settings_map import MAP_THEMES, SPECIES_SHARE, MapSection
from plotmap.output.webmap.breaks import pretty_breaks, reaches
from plotmap.output.webmap.figures import numbers

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

RAMP = "YlGnBu"
"""ColorBrewer ramp, told apart with any kind of colour vision."""
SHARE_BREAKS = (0.0, 10.0, 25.0, 50.0, 75.0, 100.0)
"""Classes of the share of a species, in per cent of basal area, where the survey sets none."""
NO_VALUE, UNKNOWN = -1, -2
"""Class numbers of compartments with plots but without this value, and of those without plots."""
PLAIN, ONE_PLOT_HATCH, LARGE_ERROR_HATCH = 0, 1, 2
"""What is drawn over the colour."""
_FEWEST_COLOURS = 3
_FAR_OUT = 3.0
_SMALL_RANGE = 0.25
"""Values that differ by less than this part of the largest get classes from zero."""
_SHARE_OF_ERROR = 0.5
"""A class is not narrower than this part of the median ± of the values."""


@dataclass(frozen=True, slots=True)
class Theme:
    """One way to colour the compartments.

    Attributes
    ----------
    column : str
        Column of `COMPARTMENT_RESULTS`, or `SPECIES_SHARE`.
    labels, colours, counts : tuple
        Label, colour (``#rrggbb``) and number of compartments of each class.
    edges : tuple of float
        Values at which another class or the hatching begins, in the unit of the column.
    classes : numpy.ndarray of int64, shape (n_compartments,)
        Class of each compartment, `NO_VALUE` or `UNKNOWN`. Empty in the theme of a species, which the page
        puts into classes by the shares of the species chosen.
    """

    column: str
    labels: tuple[str, ...]
    colours: tuple[str, ...]
    counts: tuple[int, ...]
    edges: tuple[float, ...]
    classes: NDArray[np.int64]


def themes(compartments: pd.DataFrame, chosen: MapSection | None = None) -> tuple[Theme, ...]:
    """Return the themes in the order of the switch.

    Parameters
    ----------
    compartments : pandas.DataFrame
        Columns of `COMPARTMENT_RESULTS`.
    chosen : MapSection, optional
        Own class breaks and the error that is large; its defaults where not given.

    Returns
    -------
    tuple of Theme
        Basal area (m²/ha), stems (1/ha), quadratic mean diameter (cm), sampling error (%), and the share of a
        species in the basal area (%), whose classes are left open.
    """
    chosen = chosen or MapSection()
    unknown = (compartments["status"] == NO_PLOTS).to_numpy()
    own = [name for name in MAP_THEMES if name != SPECIES_SHARE]
    return (*(_theme(compartments, column, unknown, chosen) for column in own), _share_theme(chosen))


def hatches(compartments: pd.DataFrame, large_error_pct: float = 50.0) -> NDArray[np.int64]:
    """Return what is hatched whatever the theme: one plot without an error, or a large error.

    Parameters
    ----------
    compartments : pandas.DataFrame
        ``status`` and ``sampling_error_pct`` (% of basal area) of `COMPARTMENT_RESULTS`.
    large_error_pct : float
        Sampling error from which on a compartment is hatched, in per cent of basal area.

    Returns
    -------
    numpy.ndarray of int64, shape (n_compartments,)
        `PLAIN`, `ONE_PLOT_HATCH` or `LARGE_ERROR_HATCH`.
    """
    error = numbers(compartments["sampling_error_pct"])
    one = (compartments["status"] == ONE_PLOT).to_numpy() & np.isnan(error)
    return np.select([one, reaches(error, large_error_pct)], [ONE_PLOT_HATCH, LARGE_ERROR_HATCH], PLAIN)


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
    values: NDArray[np.float64], *, cap: float = np.inf, narrowest: float = 0.0
) -> tuple[tuple[str, ...], NDArray[np.int64], tuple[float, ...]]:
    """Put values that cannot be negative into classes at round numbers; the lower edge belongs to the class.

    A few values far above the rest (more than three interquartile ranges above the upper quartile, Tukey's
    far-out values) do not stretch the classes: they fall in an open class at the top, as values above `cap` do.
    Values that differ by little against their size get classes from zero, so that the colours do not make much
    of it.

    Parameters
    ----------
    values : numpy.ndarray of float, shape (n,)
        0 or more, not rounded, in the unit of the theme; NaN where missing.
    cap : float
        Value above which the top class is open, unless all values are.
    narrowest : float
        Least width of a class, 0 or more, in the unit of the theme.

    Returns
    -------
    labels : tuple of str
        ``10–<20``; the last class holds its upper edge (``40–50``) or is open (``≥50``). Empty without values.
    classes : numpy.ndarray of int64, shape (n,)
        0 for the first label; `NO_VALUE` where missing.
    edges : tuple of float
        Edges of the classes, one more than labels where the last is closed.
    """
    present = values[np.isfinite(values)]
    if not present.size:
        return (), np.full(values.shape, NO_VALUE), ()
    first, third = np.quantile(present, [0.25, 0.75])
    low, high = present.min(), present[present <= third + _FAR_OUT * (third - first)].max()
    if low < cap:
        high = min(high, cap)
    if high - low < _SMALL_RANGE * high:
        low = 0.0
    edges = pretty_breaks(float(low), float(high), narrowest=narrowest)
    labels = [f"{_edge(below)}–<{_edge(above)}" for below, above in pairwise(edges)]
    if present.max() > edges[-1] and not np.isclose(present.max(), edges[-1], rtol=1e-9, atol=0):
        labels.append(f"≥{_edge(edges[-1])}")
    else:
        labels[-1] = labels[-1].replace("<", "")
    found = np.sum([reaches(values, edge) for edge in edges], axis=0) - 1
    found = np.clip(found, 0, len(labels) - 1)
    return tuple(labels), np.where(np.isfinite(values), found, NO_VALUE), edges


def in_fixed_classes(
    values: NDArray[np.float64], edges: tuple[float, ...], most: float = np.inf
) -> tuple[tuple[str, ...], NDArray[np.int64], tuple[float, ...]]:
    """Put values into classes that the survey sets, whether they occur or not; the lower edge belongs to the class.

    Parameters
    ----------
    values : numpy.ndarray of float, shape (n,)
        0 or more, not rounded; NaN where missing.
    edges : tuple of float
        Rising, from 0; at least one.
    most : float
        Largest value there can be: no class is open above it.

    Returns
    -------
    labels : tuple of str
        The first class is open (``<10``) unless it begins at 0, the last (``≥50``) unless it ends at `most`.
    classes : numpy.ndarray of int64, shape (n,)
        0 for the first label; `NO_VALUE` where missing.
    lows : tuple of float
        Value at which each class begins, as many as labels.
    """
    labels = [f"{_edge(below)}–<{_edge(above)}" for below, above in pairwise(edges)]
    lows = list(edges)
    if edges[0] > 0:
        labels.insert(0, f"<{_edge(edges[0])}")
        lows.insert(0, 0.0)
    if edges[-1] < most:
        labels.append(f"≥{_edge(edges[-1])}")
    else:
        labels[-1] = labels[-1].replace("–<", "–")
        lows.pop()
    found = np.sum([reaches(values, low) for low in lows], axis=0) - 1
    return tuple(labels), np.where(np.isfinite(values), found, NO_VALUE), tuple(lows)


def _edge(value: float) -> str:
    """Return a class edge as the page writes numbers: thousands apart by a thin space."""
    return f"{value:,.10g}".replace(",", "\u202f")


def _theme(compartments: pd.DataFrame, column: str, unknown: NDArray[np.bool_], chosen: MapSection) -> Theme:
    """Return one theme; classes are those of the values before rounding."""
    exact = np.where(unknown, np.nan, numbers(compartments[column]))
    is_error = column == "sampling_error_pct"
    if column in chosen.breaks:
        labels, classes, edges = in_fixed_classes(exact, chosen.breaks[column])
    else:
        labels, classes, edges = classify(
            exact,
            cap=chosen.large_error_pct if is_error else np.inf,
            narrowest=_narrowest(compartments, column),
        )
    counts = np.bincount(classes[classes >= 0], minlength=len(labels))
    return Theme(
        column=column,
        labels=labels,
        colours=ramp(len(labels)) if labels else (),
        counts=tuple(int(count) for count in counts),
        edges=(*edges, chosen.large_error_pct) if is_error else edges,
        classes=np.where(unknown, UNKNOWN, classes),
    )


def _share_theme(chosen: MapSection) -> Theme:
    """Return the theme of a species: its classes are the same for every species."""
    edges = chosen.breaks.get(SPECIES_SHARE, SHARE_BREAKS)
    nothing = np.empty(0)
    labels, _, lows = in_fixed_classes(nothing, edges, most=100.0)
    return Theme(SPECIES_SHARE, labels, ramp(len(labels)), (0,) * len(labels), lows, nothing.astype(np.int64))


def _narrowest(compartments: pd.DataFrame, column: str) -> float:
    """Return the least width of a class: part of the median ± of the values, 0 where they have none."""
    if f"{column}_high" not in compartments:
        return 0.0
    half = numbers(compartments[f"{column}_high"]) - numbers(compartments[column])
    half = half[np.isfinite(half)]
    return _SHARE_OF_ERROR * max(float(np.median(half)), 0.0) if half.size else 0.0
