"""Groups of places that lie together, and a short way round each."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from plotmap.spatial.crs import Floats

_GAIN_M = 1e-6
_MOST = 2000
"""Places of one walk; all distances between them are kept at once."""
_Indexes = npt.NDArray[np.intp]


def compact_groups(x: Floats, y: Floats, size: int) -> _Indexes:
    """Part places into compact groups of about the same size.

    The places are halved across their longer side again and again, each half taking whole groups (recursive
    coordinate bisection; Berger & Bokhari 1987, IEEE Transactions on Computers 36: 570-580).

    Parameters
    ----------
    x, y : numpy.ndarray of float, shape (n,)
        In m.
    size : int
        Most places of a group, 1 or more.

    Returns
    -------
    numpy.ndarray of int, shape (n,)
        Number of each place's group from 0 on: as few groups as there can be, of sizes that differ by one at most.

    Raises
    ------
    ValueError
        `size` is below 1.
    """
    if size < 1:
        raise ValueError(f"size is {size} places, but must be 1 or more")
    group = np.zeros(len(x), dtype=np.intp)
    left = [(np.arange(len(x)), -(-len(x) // size), 0)]
    while left:
        rows, n_groups, first = left.pop()
        if n_groups <= 1:
            group[rows] = first
            continue
        sides = np.ptp(x[rows]), np.ptp(y[rows])
        along = x if sides[0] >= sides[1] else y
        ordered = rows[np.lexsort((rows, along[rows]))]
        half = n_groups // 2
        cut = len(rows) * half // n_groups
        left += [(ordered[:cut], half, first), (ordered[cut:], n_groups - half, first + half)]
    return group


def walk_length_m(at: Floats, start: tuple[float, float] | None = None) -> float:
    """Return the length of straight lines from place to place in their order.

    Parameters
    ----------
    at : numpy.ndarray of float, shape (n, 2)
        East and north in m.
    start : tuple of float, optional
        Where the walk begins and ends; without it, it begins and ends at a place.
    """
    return float(np.diagonal(_distances(at, start), 1).sum())


def visiting_order(at: Floats, start: tuple[float, float] | None = None) -> _Indexes:
    """Return a short order in which to visit places.

    The nearest place that is left, again and again, from the start, or from the place farthest from the middle; then
    the stretch of the way whose turning round saves most is turned, until none saves anything (2-opt; Croes 1958,
    Operations Research 6: 791-812). Straight lines: terrain is not looked at.

    Parameters
    ----------
    at : numpy.ndarray of float, shape (n, 2)
        East and north in m.
    start : tuple of float, optional
        Where the walk begins and ends; without it, it begins and ends at a place.

    Returns
    -------
    numpy.ndarray of int, shape (n,)
        Rows in the order of the visit; never longer than the order they came in.

    Raises
    ------
    ValueError
        There are more than 2000 places: part them first (`compact_groups`).
    """
    if len(at) > _MOST:
        raise ValueError(f"a walk is to {len(at)} places, but must be to {_MOST} or fewer")
    if len(at) <= 1:
        return np.arange(len(at))
    between = _distances(at, start)
    written = np.arange(len(at) + 2)
    ways = [_turned_round(between, way) for way in (written, _nearest_first(between, at, start))]
    best = min(ways, key=lambda way: float(between[way[:-1], way[1:]].sum()))
    return best[1:-1] - 1


def _distances(at: Floats, start: tuple[float, float] | None) -> Floats:
    """Return distances between all places, the start being first and last; all ways to no start cost nothing."""
    end = np.array([start if start is not None else (np.nan, np.nan)], dtype=float)
    places = np.concatenate([end, at, end])
    step = places[:, None, :] - places[None, :, :]
    return np.asarray(np.nan_to_num(np.hypot(step[..., 0], step[..., 1])), dtype=np.float64)


def _nearest_first(between: Floats, at: Floats, start: tuple[float, float] | None) -> _Indexes:
    """Return the way that goes to the nearest place left each time, with both ends."""
    left = np.ones(len(between), dtype=bool)
    left[[0, -1]] = False
    from_middle = np.hypot(*(at - at.mean(axis=0)).T)
    here = 1 + int(np.argmin(between[0, 1:-1]) if start is not None else np.argmax(from_middle))
    way = np.zeros(len(between), dtype=np.intp)
    way[-1] = len(between) - 1
    for step in range(1, len(between) - 1):
        way[step], left[here] = here, False
        here = int(np.argmin(np.where(left, between[here], np.inf)))
    return way


def _turned_round(between: Floats, way: _Indexes) -> _Indexes:
    """Return a way after turning that stretch round which saves most, until none saves anything."""
    way = way.copy()
    while True:
        cost = between[np.ix_(way, way)]
        edges = np.diagonal(cost, 1)
        gain = edges[:-1, None] + edges[None, 1:] - cost[:-2, 1:-1] - cost[1:-1, 2:]
        gain[np.tril_indices(len(gain))] = 0.0
        best = int(np.argmax(gain))
        if gain.flat[best] <= _GAIN_M:
            return way
        first, last = divmod(best, len(gain))
        way[first + 1 : last + 2] = way[first + 1 : last + 2][::-1].copy()
