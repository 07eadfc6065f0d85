"""The dip: how far a distribution is from having one peak only."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from plotmap.statistics.estimates import Floats

_LEVELS = (0.5, 0.3, 0.2, 0.1, 0.05, 0.02, 0.01, 0.005, 0.002, 0.001, 0.0001)
_TABLE = {
    50: (0.3454, 0.3876, 0.4159, 0.4590, 0.4969, 0.5424, 0.5742, 0.6031, 0.6398, 0.6653, 0.7402),
    100: (0.3546, 0.3980, 0.4273, 0.4715, 0.5113, 0.5580, 0.5902, 0.6204, 0.6580, 0.6845, 0.7626),
    200: (0.3618, 0.4058, 0.4356, 0.4808, 0.5210, 0.5695, 0.6037, 0.6358, 0.6755, 0.7031, 0.7901),
    500: (0.3679, 0.4126, 0.4431, 0.4892, 0.5306, 0.5796, 0.6138, 0.6462, 0.6861, 0.7159, 0.8046),
    1000: (0.3714, 0.4164, 0.4471, 0.4938, 0.5355, 0.5854, 0.6201, 0.6530, 0.6934, 0.7232, 0.8099),
    72000: (0.3785, 0.4240, 0.4552, 0.5026, 0.5452, 0.5966, 0.6327, 0.6664, 0.7090, 0.7386, 0.8300),
}
"""√n · dip that uniform samples of n exceed with each of `_LEVELS`: Hartigan & Hartigan's table, as computed anew
from a million samples each by M. Maechler for R; multiplied by √n here."""


def dip_of_classes(edges: Sequence[float], share: Sequence[float]) -> float:
    """Return the dip of a distribution that is even within classes.

    The dip is the smallest greatest distance between the distribution function and any distribution function
    with one peak (Hartigan & Hartigan 1985, Annals of Statistics 13: 70-84, whose way of narrowing the modal
    interval this is). Between the edges of classes the function runs straight.

    Parameters
    ----------
    edges : sequence of float, length k + 1
        Rising edges of the classes.
    share : sequence of float, length k
        Share of each class, 0 or more, adding up to 1.

    Returns
    -------
    float
        0 (one peak) to 0.25.

    Raises
    ------
    ValueError
        Lengths do not fit, edges do not rise, or shares are negative or do not add up to 1.
    """
    x = np.asarray(edges, dtype=float)
    parts = np.asarray(share, dtype=float)
    if len(x) != len(parts) + 1 or not (np.diff(x) > 0).all():
        raise ValueError("edges must rise and be one more than the shares")
    if (parts < 0).any() or abs(parts.sum() - 1.0) > _ROUND_OFF:
        raise ValueError(f"shares must be 0 or more and add up to 1, not to {parts.sum()}")
    f = np.concatenate(([0.0], np.cumsum(parts)))
    low, high, dip = 0, len(x) - 1, 0.0
    while low < high:
        below = _hull(x, f, low, high, 1.0)
        above = _hull(x, f, low, high, -1.0)
        span = np.arange(low, high + 1)
        minorant = np.interp(x[span], x[below], f[below])
        majorant = np.interp(x[span], x[above], f[above])
        gap = majorant - minorant
        corners = np.array(
            sorted({*below, *above})
        )  # the greatest gap is at one; round-off may put it beside
        at = int(corners[np.argmax(gap[corners - low])])
        if gap[at - low] <= dip + _ROUND_OFF or at in {low, high}:
            break
        new_low, new_high = max(i for i in below if i <= at), min(i for i in above if i >= at)
        left, right = span <= new_low, span >= new_high
        dip = max(
            dip, (f[span] - minorant)[left].max(initial=0.0), (majorant - f[span])[right].max(initial=0.0)
        )
        low, high = new_low, new_high
    return dip / 2.0


def dip_p(dip: npt.ArrayLike, n: npt.ArrayLike) -> Floats:
    """Return how often a sample of n sizes of a uniform distribution has a larger dip.

    The uniform distribution is the one-peaked one with the largest dips, so that this is an upper bound of the
    p-value (Hartigan & Hartigan 1985); taking the classes for even makes the dip smaller still.

    Parameters
    ----------
    dip : array_like of float
        By `dip_of_classes`.
    n : array_like of float
        Sizes, those that the sample is worth where it was drawn by plots.

    Returns
    -------
    numpy.ndarray of float
        Between the tabulated levels 0.5 and 0.0001 interpolated in ln p, by the row of the next larger
        tabulated n; 1 below them and 0.0001 above. NaN where an argument is.
    """
    dips, sizes = np.broadcast_arrays(np.asarray(dip, dtype=float), np.asarray(n, dtype=float))
    rows = np.minimum(np.searchsorted(list(_TABLE), sizes), len(_TABLE) - 1)
    made = np.full(dips.shape, np.nan)
    for place, critical in enumerate(_TABLE.values()):
        here = (rows == place) & ~np.isnan(dips) & ~np.isnan(sizes)
        scaled = np.sqrt(sizes[here]) * dips[here]
        p = np.exp(np.interp(scaled, critical, np.log(_LEVELS)))
        made[here] = np.where(scaled < critical[0], 1.0, p)
    return made


_ROUND_OFF = 1e-9


def _hull(x: Floats, f: Floats, low: int, high: int, sign: float) -> list[int]:
    """Return the corners of the greatest convex minorant (sign 1) or least concave majorant (-1)."""
    corners: list[int] = []
    for i in range(low, high + 1):
        while len(corners) > 1:
            a, b = corners[-2], corners[-1]
            if sign * ((f[b] - f[a]) * (x[i] - x[b]) - (f[i] - f[b]) * (x[b] - x[a])) < 0:
                break
            corners.pop()
        corners.append(i)
    return corners
