"""Where the ground lies on the paper: scale, place, and what can be seen."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from plotmap.output.paper.sizes import Box

Floats = NDArray[np.float64]
_MM_PER_M = 1000.0
_ROUND = (1.0, 1.25, 1.5, 2.0, 2.5, 5.0, 7.5)
"""Scales that read as round numbers, times a power of ten: those of scale rulers, and 1 : 15 000."""
_ROUND_OFF = 1e-9


@dataclass(frozen=True, slots=True)
class Extent:
    """A rectangle of the grid, in m: eastings and northings of the survey's reference system."""

    west_m: float
    south_m: float
    east_m: float
    north_m: float

    @property
    def width_m(self) -> float:
        """From west to east."""
        return self.east_m - self.west_m

    @property
    def height_m(self) -> float:
        """From south to north."""
        return self.north_m - self.south_m

    @property
    def centre_m(self) -> tuple[float, float]:
        """Easting and northing of the middle."""
        return (self.west_m + self.east_m) / 2, (self.south_m + self.north_m) / 2

    def grown(self, by_m: float) -> Extent:
        """Return the rectangle that is larger by so much on each side."""
        return Extent(self.west_m - by_m, self.south_m - by_m, self.east_m + by_m, self.north_m + by_m)


@dataclass(frozen=True, slots=True)
class View:
    """A piece of the grid on a piece of paper.

    Lengths on the grid are shown true to scale; how far they are from lengths on the ground is the scale factor
    of the projection, which `plotmap.output.paper.norths` gives.

    Attributes
    ----------
    box : Box
        Where on the paper, in mm.
    west_m, south_m : float
        Easting and northing of its lower left corner.
    scale_denominator : float
        10 000 for 1 : 10 000.
    """

    box: Box
    west_m: float
    south_m: float
    scale_denominator: float

    @property
    def extent(self) -> Extent:
        """What is seen."""
        per_mm = self.scale_denominator / _MM_PER_M
        return Extent(
            self.west_m,
            self.south_m,
            self.west_m + self.box.width_mm * per_mm,
            self.south_m + self.box.height_mm * per_mm,
        )

    def length_mm(self, length_m: float) -> float:
        """Return how long a length of the grid is on the paper."""
        return length_m * _MM_PER_M / self.scale_denominator

    def length_m(self, length_mm: float) -> float:
        """Return how long a length on the paper is on the grid."""
        return length_mm * self.scale_denominator / _MM_PER_M

    def place(self, points_m: Floats) -> Floats:
        """Return places on the paper, in mm, of eastings and northings in m, shape (n, 2)."""
        factor = _MM_PER_M / self.scale_denominator
        corner = np.array([self.box.left_mm, self.box.bottom_mm])
        return np.asarray((points_m - np.array([self.west_m, self.south_m])) * factor + corner)


def extent_of(bounds: Floats) -> Extent:
    """Return the rectangle round bounds (west, south, east, north; one row or many), in m."""
    rows = np.atleast_2d(bounds)
    return Extent(*(float(v) for v in (*np.nanmin(rows[:, :2], axis=0), *np.nanmax(rows[:, 2:], axis=0))))


def fitted(extent: Extent, box: Box, scale_denominator: float | None = None, *, free_mm: float = 3.0) -> View:
    """Return the view of an extent in the middle of a box.

    Parameters
    ----------
    extent : Extent
        What is to be seen.
    box : Box
        Where on the paper.
    scale_denominator : float, optional
        Scale; the largest at which all of `extent` is seen where not given, which is no round number.
    free_mm : float
        Left free on each side where no scale is given.
    """
    if scale_denominator is None:
        scale_denominator = tightest_scale(extent, box, free_mm)
    east, north = extent.centre_m
    per_mm = scale_denominator / _MM_PER_M
    return View(box, east - box.width_mm * per_mm / 2, north - box.height_mm * per_mm / 2, scale_denominator)


def tightest_scale(extent: Extent, box: Box, free_mm: float = 3.0) -> float:
    """Return the denominator of the largest scale at which an extent fits a box, no round number."""
    inner = box.inset(free_mm)
    needed = max(extent.width_m / inner.width_mm, extent.height_m / inner.height_mm) * _MM_PER_M
    return max(needed, 1.0)


def round_scale(at_least: float) -> float:
    """Return the smallest round denominator that is not below `at_least`, which is above zero."""
    power = 10.0 ** math.floor(math.log10(at_least))
    steps = [power * step for step in (*_ROUND, 10.0)]
    return float(next(step for step in steps if step >= at_least * (1 - _ROUND_OFF)))


def round_length(at_most: float) -> float:
    """Return the largest of 1, 2 and 5 times a power of ten that is not above `at_most`, which is above zero."""
    power = 10.0 ** math.floor(math.log10(at_most) + _ROUND_OFF)
    return float(max(step * power for step in (1.0, 2.0, 5.0) if step * power <= at_most * (1 + _ROUND_OFF)))
