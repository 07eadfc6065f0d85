"""The regular grid that positions lie on, if they do."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.spatial import cKDTree

Floats = npt.NDArray[np.float64]
Integers = npt.NDArray[np.int64]

_FEWEST = 4
"""Fewer positions show no grid."""
_NEIGHBOURS = 16
_LOOKED_AT = 2000
"""Steps are taken from so many positions, evenly over the list; all are then tried on the grid."""
_SAME_STEP = 0.15
"""Steps that differ by less than this share of the shortest are one."""
_OFF = 0.2
"""A position lies on the grid if it is nearer to a node than this share of the shorter step."""
_SHARE_ON = 0.9
_LEAST_SINE = 0.5
"""Sine of the smallest angle between the two steps of a grid."""


@dataclass(frozen=True, slots=True)
class Lattice:
    """A grid of two steps and the node that each position is nearest to.

    Attributes
    ----------
    first, second : tuple of float
        Steps from node to node, east and north, in the unit of the positions; `second` stands upright on
        `first` where all positions lie in one line.
    node : numpy.ndarray of int, shape (n, 2)
        How many steps of each kind lead to the node of each position.
    share_on_grid : float
        Share of the positions within a fifth of the shorter step of their node, 0.9 to 1.
    """

    first: tuple[float, float]
    second: tuple[float, float]
    node: Integers
    share_on_grid: float

    @property
    def spacing(self) -> tuple[float, float]:
        """Lengths of the two steps, the shorter one first."""
        lengths = math.hypot(*self.first), math.hypot(*self.second)
        return min(lengths), max(lengths)

    @property
    def bearing_deg(self) -> float:
        """Direction of the first step in degrees from grid north, clockwise, 0 to less than 180."""
        return math.degrees(math.atan2(*self.first)) % 180.0


def find_lattice(x: npt.ArrayLike, y: npt.ArrayLike) -> Lattice | None:
    """Find the grid that positions lie on: square, rectangular, triangular or skewed, with gaps.

    The commonest short steps between neighbours give the grid, which is then fitted by least squares to ever
    more positions. Positions may be off their node by a fifth of a step; one in ten may be off by more.

    Parameters
    ----------
    x, y : array_like of float, shape (n,)
        Positions in a metric plane, finite.

    Returns
    -------
    Lattice or None
        None where fewer than four positions are given, or more than one in ten lies on no node.

    Raises
    ------
    ValueError
        Lengths differ or a position is not finite.
    """
    places = np.column_stack([np.asarray(x, dtype=float), np.asarray(y, dtype=float)])
    if not np.isfinite(places).all():
        raise ValueError("positions must be finite: leave places without a position out")
    if len(places) < _FEWEST:
        return None
    steps = _steps(places)
    if steps is None:
        return None
    node, fitted, origin = _fit(places, steps)
    off = np.hypot(*(places - origin - node @ fitted).T)
    limit = _OFF * float(np.hypot(*fitted.T).min())
    share = float(np.mean(off <= limit))
    if share < _SHARE_ON:
        return None
    first, second = (tuple(step.tolist()) for step in fitted)
    return Lattice(first, second, node - node.min(axis=0), share)


def _steps(places: Floats) -> Floats | None:
    """Return the two commonest short steps as rows; None where neighbours have no step in common."""
    few = places[np.linspace(0, len(places) - 1, min(len(places), _LOOKED_AT)).astype(int)]
    distance, near = cKDTree(places).query(few, k=min(_NEIGHBOURS + 1, len(places)))
    distance, near = np.asarray(distance)[:, 1:], np.asarray(near)[:, 1:]
    vectors, lengths = (places[near] - few[:, None, :]).reshape(-1, 2), distance.ravel()
    shortest = float(np.median(distance[:, 0]))
    if shortest <= 0:
        return None
    tolerance = _SAME_STEP * shortest
    angle = np.arctan2(vectors[:, 1], vectors[:, 0])
    both_ways = lengths[:, None] * np.column_stack([np.cos(2 * angle), np.sin(2 * angle)])
    support = cKDTree(both_ways).query_ball_point(both_ways, tolerance, return_length=True)
    short = lengths <= shortest + tolerance
    first = _mean_step(both_ways, int(np.argmax(np.where(short, support, -1))), tolerance)
    sine = np.abs(vectors @ np.array([-first[1], first[0]])) / np.maximum(lengths * np.hypot(*first), 1e-300)
    across = (sine >= _LEAST_SINE) & (support >= 0.3 * support[short].max())
    if not across.any():
        return np.array([first, [-first[1], first[0]]])
    nearest = float(lengths[across].min())
    best = across & (lengths <= nearest + 2 * tolerance)
    second = _mean_step(both_ways, int(np.argmax(np.where(best, support, -1))), tolerance)
    return np.array([first, second])


def _mean_step(both_ways: Floats, centre: int, tolerance: float) -> Floats:
    """Return the mean of the steps like one of them, whichever way they were taken."""
    like = np.hypot(*(both_ways - both_ways[centre]).T) <= tolerance
    mean = both_ways[like].mean(axis=0)
    length, angle = float(np.hypot(*mean)), math.atan2(mean[1], mean[0]) / 2.0
    return np.array([length * math.cos(angle), length * math.sin(angle)])


def _fit(places: Floats, steps: Floats) -> tuple[Integers, Floats, Floats]:
    """Return nodes, steps and origin, fitted to positions ever farther from the middle one."""
    middle = places[np.argmin(np.hypot(*(places - places.mean(axis=0)).T))]
    distance = np.hypot(*(places - middle).T)
    reach, origin = 3.0 * float(np.hypot(*steps.T).max()), middle
    while True:
        node = np.rint((places - origin) @ np.linalg.inv(steps)).astype(np.int64)
        near = distance <= reach
        design = np.column_stack([np.ones(int(near.sum())), node[near]])
        if np.linalg.matrix_rank(design) == design.shape[1]:
            fitted = np.linalg.lstsq(design, places[near], rcond=None)[0]
            origin, steps = fitted[0], fitted[1:]
        if near.all():
            return np.rint((places - origin) @ np.linalg.inv(steps)).astype(np.int64), steps, origin
        reach *= 2.0
