"""Points of a regular grid that lie in polygons."""

from __future__ import annotations

import math
from collections.abc import Iterator
from enum import StrEnum

import numpy as np
import numpy.typing as npt
import shapely

from plotmap.spatial.crs import Floats, Geometries

_BLOCK = 1_000_000
"""Nodes worked on at once."""
_MOST = 200_000_000
_TRIANGLE_DEG = 60.0
TRIANGLE_SINE = math.sin(math.radians(_TRIANGLE_DEG))
"""Area of a cell of a triangular grid over the square of its step."""
_ROUND_OFF = 1e-6
_Integers = npt.NDArray[np.int64]


class GridKind(StrEnum):
    """How the points of a grid lie to each other."""

    SQUARE = "square"
    TRIANGULAR = "triangular"
    STRIPS = "strips"


def grid_steps(kind: GridKind, cell_m2: float, bearing_deg: float, strip_ratio: float = 1.0) -> Floats:
    """Return the two steps of a grid with one point for each cell.

    Parameters
    ----------
    kind : GridKind
        Square; triangular: six neighbours at one distance; strips: points along lines that are farther apart.
    cell_m2 : float
        Area that a point stands for, above 0.
    bearing_deg : float
        Direction of the first step, clockwise from grid north. Points of strips follow each other in it.
    strip_ratio : float
        Distance of the lines over that of points on a line; looked at for strips only.

    Returns
    -------
    numpy.ndarray of float, shape (2, 2)
        Steps as rows, east and north in m; they span `cell_m2` (geometry, needs no source).
    """
    along, between, turn = math.sqrt(cell_m2), math.sqrt(cell_m2), 90.0
    if kind is GridKind.TRIANGULAR:
        along = between = math.sqrt(cell_m2 / TRIANGLE_SINE)
        turn = _TRIANGLE_DEG
    elif kind is GridKind.STRIPS:
        along = math.sqrt(cell_m2 / strip_ratio)
        between = along * strip_ratio
    first, second = math.radians(bearing_deg), math.radians(bearing_deg + turn)
    return np.array(
        [
            [along * math.sin(first), along * math.cos(first)],
            [between * math.sin(second), between * math.cos(second)],
        ]
    )


def points_of_grid(
    polygons: Geometries, steps: Floats, start: Floats
) -> tuple[Floats, Floats, npt.NDArray[np.intp]]:
    """Return the points of a grid that lie inside polygons.

    Parameters
    ----------
    polygons : array of shapely geometries, shape (n,)
        Polygons and multi-polygons in m; missing and empty ones hold nothing. They are prepared in place.
    steps : numpy.ndarray of float, shape (2, 2)
        Of `grid_steps`.
    start : numpy.ndarray of float, shape (2,)
        One point of the grid, east and north.

    Returns
    -------
    x, y : numpy.ndarray of float, shape (m,)
        By polygon, then from node to node. A point where polygons overlap belongs to the first of them; one on an
        edge to none.
    polygon : numpy.ndarray of int, shape (m,)
        Row of the polygon each lies in.

    Raises
    ------
    ValueError
        The grid is so narrow that more than two hundred million points would have to be looked at.
    """
    parts, owner = shapely.get_parts(np.asarray(polygons, dtype=object), return_index=True)
    shapely.prepare(parts)
    low, counts = _ranges(parts, steps, start)
    number = counts.prod(axis=1)
    if number.sum() > _MOST:
        raise ValueError(f"the grid has more than {_MOST:,} points round the polygons: take a wider one")
    found = [_inside(parts, owner, low, counts, rows, steps, start) for rows in _blocks(number)]
    node, polygon = (
        np.concatenate([block[0] for block in found]),
        np.concatenate([block[1] for block in found]),
    )
    order = np.lexsort((node[:, 1], node[:, 0], polygon))
    node, polygon = node[order], polygon[order]
    first = np.sort(np.unique(node, axis=0, return_index=True)[1])  # of overlapping polygons, the first
    x, y = (start + node[first] @ steps).T
    return x, y, polygon[first]


def _ranges(parts: Geometries, steps: Floats, start: Floats) -> tuple[_Integers, _Integers]:
    """Return, for each part, the lowest node of both steps and how many there are from it on."""
    corners, part = shapely.get_coordinates(parts, return_index=True)
    if not len(part):
        return np.zeros((len(parts), 2), dtype=np.int64), np.zeros((len(parts), 2), dtype=np.int64)
    nodes = (corners - start) @ np.linalg.inv(steps)
    begin = np.flatnonzero(np.diff(part, prepend=-1))
    low, high = np.full((len(parts), 2), 1, dtype=np.int64), np.zeros((len(parts), 2), dtype=np.int64)
    low[part[begin]] = np.ceil(np.minimum.reduceat(nodes, begin) - _ROUND_OFF).astype(np.int64)
    high[part[begin]] = np.floor(np.maximum.reduceat(nodes, begin) + _ROUND_OFF).astype(np.int64)
    return low, np.maximum(high - low + 1, 0)


def _blocks(number: _Integers) -> Iterator[slice]:
    """Return consecutive slices of parts with about as many nodes each as are worked on at once; at least one."""
    block = np.cumsum(number) // _BLOCK
    starts = [0, *np.flatnonzero(np.diff(block)) + 1]
    for begin, end in zip(starts, [*starts[1:], len(number)], strict=True):
        yield slice(int(begin), int(end))


def _inside(
    parts: Geometries,
    owner: npt.NDArray[np.intp],
    low: _Integers,
    counts: _Integers,
    rows: slice,
    steps: Floats,
    start: Floats,
) -> tuple[_Integers, npt.NDArray[np.intp]]:
    """Return the nodes inside some of the parts, and the polygons these belong to."""
    number = counts[rows].prod(axis=1)
    part = np.repeat(np.arange(len(parts))[rows], number)
    place = np.arange(len(part)) - np.repeat(np.cumsum(number) - number, number)
    wide = counts[part, 1]
    node = low[part] + np.column_stack([place // np.maximum(wide, 1), place % np.maximum(wide, 1)])
    x, y = (start + node @ steps).T
    kept = shapely.contains_xy(parts[part], x, y)
    return node[kept], owner[part[kept]]
