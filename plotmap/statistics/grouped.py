"""Sizes that were counted in classes: a linear density in each class instead of its midpoint.

Taking all counts of a class at its midpoint puts too much on the outer classes and forgets the spread
within. A density that leans as its neighbours say corrects both, and is the same correction that
Sheppard's −w²/12 makes to the variance (Sheppard 1898), but class by class and for unequal widths.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from plotmap.statistics.estimates import Floats

_EDGE = 1e-9
"""Edges that differ by less than this share of a class's width are one edge."""


@dataclass(frozen=True, slots=True)
class LinearDensity:
    """Density of sizes within classes: f + b·(t − m), with f = count / width and m the middle.

    Attributes
    ----------
    low, high : numpy.ndarray of float, shape (n,)
        Edges of the classes, in the unit of the sizes.
    count : numpy.ndarray of float, shape (n,)
        Counts, 0 or more.
    slope : numpy.ndarray of float, shape (n,)
        b, in counts per squared unit of size; the density is nowhere negative.
    """

    low: Floats
    high: Floats
    count: Floats
    slope: Floats

    def parts(
        self, low: npt.ArrayLike, high: npt.ArrayLike, row: npt.ArrayLike
    ) -> tuple[Floats, Floats, Floats]:
        """Return what lies in parts of classes.

        Parameters
        ----------
        low, high : array_like of float, shape (k,)
            Ends of each part, in the unit of the sizes, both inside its class.
        row : array_like of int, shape (k,)
            Row of the class that each part belongs to.

        Returns
        -------
        share, mean, mean_square : numpy.ndarray of float, shape (k,)
            Share of the class's count (0 to 1), and mean and mean square of the sizes there, in the unit
            of the sizes and its square. Of a class of count 0 as if it were filled evenly; of a part of no
            width, its place.

        Raises
        ------
        ValueError
            A part ends before it begins, or reaches out of its class, or its edges are NaN.
        IndexError
            A row is none of the classes.
        """
        rows = np.asarray(row, dtype=np.intp)
        width = (self.high - self.low)[rows]
        begin, end = np.asarray(low, dtype=float), np.asarray(high, dtype=float)
        slack = _EDGE * width
        inside = (begin >= self.low[rows] - slack) & (begin <= end) & (end <= self.high[rows] + slack)
        if not inside.all():
            raise ValueError("a part must lie inside its class and must not end before it begins")
        step, middle = end - begin, (begin + end) / 2.0
        count, slope = self.count[rows], self.slope[rows]
        density = count / width + slope * (middle - (self.low + self.high)[rows] / 2.0)
        even = step / width
        share = np.divide(step * density, count, out=even, where=count > 0)
        lean = np.divide(slope * step**2, density, out=np.zeros_like(density), where=density > 0) / 12.0
        mean = middle + lean
        mean_square = middle**2 + step**2 / 12.0 + 2.0 * middle * lean
        return np.clip(share, 0.0, 1.0), mean, mean_square


def linear_density(
    low: npt.ArrayLike,
    high: npt.ArrayLike,
    count: npt.ArrayLike,
    group: npt.ArrayLike | None = None,
) -> LinearDensity:
    """Lean the density in each class by the mean densities of its neighbours.

    Parameters
    ----------
    low, high : array_like of float, shape (n,)
        Edges of the classes in any order, in the unit of the sizes. Widths may differ, and there may be
        gaps.
    count : array_like of float, shape (n,)
        Counts, 0 or more. A class that was looked for and not found belongs here with count 0, above
        all the lowest one of the tally.
    group : array_like of int, shape (n,), optional
        Tally that each class belongs to; classes of different tallies are no neighbours. One tally where
        left out.

    Returns
    -------
    LinearDensity
        Rows in the order given.

    Raises
    ------
    ValueError
        An edge or count is NaN or infinite, a class ends before it begins, a count is negative, classes
        of one tally overlap, or lengths differ.

    Notes
    -----
    The slope is the central difference: densities of the class below and of the class above, over the
    distance of their midpoints. A class is a neighbour only if it shares an edge. What stands in for a
    neighbour that is not there:

    - above the last class and beside a gap, a density of 0 in a class of the same width (there are no
      sizes there);
    - below the lowest class of a tally, nothing: tallies are cut off at a smallest size, so that sizes
      below may well be there. The slope is the one-sided difference with the class above;
    - a class without neighbours on either side does not lean.

    Slopes are limited to ±2·f / width, so that the density is nowhere negative.
    """
    edges_low, edges_high, counts = (np.asarray(part, dtype=float) for part in (low, high, count))
    tally = np.zeros(len(edges_low), np.intp) if group is None else np.asarray(group)
    _check(edges_low, edges_high, counts, tally)
    order = np.lexsort((edges_low, tally))
    begin, end, number, kin = edges_low[order], edges_high[order], counts[order], tally[order]
    width = end - begin
    same = kin[1:] == kin[:-1]
    if (same & (begin[1:] < end[:-1] - _EDGE * np.minimum(width[1:], width[:-1]))).any():
        raise ValueError("classes of one tally overlap: every size must be in one class only")
    touching = same & (np.abs(begin[1:] - end[:-1]) <= _EDGE * np.minimum(width[1:], width[:-1]))
    slope = np.empty_like(width)
    slope[order] = _slopes(begin, end, number / width, touching, ~np.concatenate(([False], same)))
    return LinearDensity(edges_low, edges_high, counts, slope)


def _slopes(
    begin: Floats,
    end: Floats,
    density: Floats,
    touching: npt.NDArray[np.bool_],
    lowest: npt.NDArray[np.bool_],
) -> Floats:
    """Return limited slopes of classes in rising order; `lowest` marks the first of each tally."""
    width, middle = end - begin, (begin + end) / 2.0
    has_below = np.concatenate(([False], touching))
    has_above = np.concatenate((touching, [False]))
    below, above = np.roll(density, 1), np.roll(density, -1)
    below_middle = np.where(has_below, np.roll(middle, 1), middle - width)
    above_middle = np.where(has_above, np.roll(middle, -1), middle + width)
    below = np.where(has_below, below, 0.0)
    above = np.where(has_above, above, 0.0)
    one_sided = (above - density) / (above_middle - middle)
    central = (above - below) / (above_middle - below_middle)
    alone = ~(has_below | has_above)
    limit = 2.0 * density / width
    return np.clip(np.where(alone, 0.0, np.where(lowest, one_sided, central)), -limit, limit)


def _check(low: Floats, high: Floats, count: Floats, tally: npt.NDArray[np.generic]) -> None:
    """Raise ValueError unless there are classes of one length with rising edges and counts."""
    if low.ndim != 1 or not low.shape == high.shape == count.shape == tally.shape:
        raise ValueError("low, high, count and group must be one-dimensional and of one length")
    if not (np.isfinite(low) & np.isfinite(high) & (low < high)).all():
        raise ValueError("every class must end above where it begins, with finite edges")
    if not (np.isfinite(count) & (count >= 0)).all():
        raise ValueError("counts must be finite and 0 or more")
