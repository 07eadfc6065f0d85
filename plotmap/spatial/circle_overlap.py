"""Exact area of a circle that lies in a polygon."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt
import shapely

from plotmap.spatial.crs import Floats, Geometries

_BLOCK_VERTICES = 500_000
"""Vertices worked on at once; about 100 bytes each."""
_BLOCK_CIRCLES = 50_000
_CORNERS = 16
_POLYGON_TYPES = (int(shapely.GeometryType.POLYGON), int(shapely.GeometryType.MULTIPOLYGON))

_NO_LENGTH2 = 1e-100
"""Edges shorter than the square root of this are points; dividing by their length would overflow."""


def circle_overlap_m2(
    x: npt.ArrayLike, y: npt.ArrayLike, radius_m: npt.ArrayLike, polygons: Geometries
) -> Floats:
    """Return the area of each circle that lies in its polygon.

    Exact, not by a polygon in place of the circle: for each edge of the polygon the signed area common to
    the circle and the triangle of edge and centre is a triangle, a sector, or both; their sum round each
    ring is the overlap with the ring (geometry, needs no source). Holes are taken off.

    Parameters
    ----------
    x, y : array_like of float, shape (n,)
        Centres, in metres in the plane of `polygons`. NaN where missing.
    radius_m : array_like of float, shape (n,) or ()
        Radii, in metres, above 0.
    polygons : array_like of shapely geometries, shape (n,)
        Valid polygons or multi-polygons, one for each circle; the same object may come many times. They
        are prepared in place. None where missing.

    Returns
    -------
    numpy.ndarray of float, shape (n,)
        In m², 0 to π·radius², to about 1e-9 of the circle; NaN where the centre is missing or the polygon
        is missing or empty.

    Raises
    ------
    ValueError
        A radius is not above 0 or is NaN, lengths differ, or a geometry is no polygon.
    """
    shapes = np.asarray(polygons, dtype=object)
    east, north = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    radius = np.broadcast_to(np.asarray(radius_m, dtype=float), east.shape)
    _check(east, north, radius, shapes)
    known = np.isfinite(east) & np.isfinite(north) & ~(shapely.is_missing(shapes) | shapely.is_empty(shapes))
    overlap = np.full(east.shape, np.nan)
    rows = np.flatnonzero(known)
    shapely.prepare(shapes[rows])
    for start in range(0, len(rows), _BLOCK_CIRCLES):
        block = rows[start : start + _BLOCK_CIRCLES]
        overlap[block] = _overlap(east[block], north[block], radius[block], shapes[block])
    return overlap


def circle_parts(
    x: npt.ArrayLike, y: npt.ArrayLike, radius_m: npt.ArrayLike, polygons: Geometries
) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.intp], Floats]:
    """Return every part that circles and polygons have in common.

    Parameters
    ----------
    x, y : array_like of float, shape (n,)
        Centres, in m.
    radius_m : array_like of float, shape (n,)
        Radii in m, above 0.
    polygons : array of shapely geometries, shape (m,)
        Polygons or multi-polygons in the same reference system; missing ones have no part.

    Returns
    -------
    circle, polygon : numpy.ndarray of int, shape (k,)
        Rows of the circles and polygons that overlap, by circle, then polygon.
    area_m2 : numpy.ndarray of float, shape (k,)
        What they have in common, in m², above 0.

    Raises
    ------
    ValueError
        As `circle_overlap_m2`.
    """
    east, north, radius = (np.asarray(values, dtype=float) for values in (x, y, radius_m))
    boxes = shapely.box(east - radius, north - radius, east + radius, north + radius)
    circle, polygon = shapely.STRtree(polygons).query(boxes)
    area = circle_overlap_m2(east[circle], north[circle], radius[circle], np.asarray(polygons)[polygon])
    order = np.lexsort((polygon, circle))
    order = order[area[order] > 0]
    return circle[order], polygon[order], area[order]


def _check(x: Floats, y: Floats, radius: Floats, shapes: Geometries) -> None:
    """Raise ValueError unless circles and polygons are what they must be."""
    if x.ndim != 1 or not x.shape == y.shape == shapes.shape:
        raise ValueError(
            f"x, y and polygons must be of one length, but have {x.shape}, {y.shape}, {shapes.shape}"
        )
    if not (np.isfinite(radius) & (radius > 0)).all():
        raise ValueError("radius_m must be above 0 m in every circle")
    kinds = shapely.get_type_id(shapes)
    if not np.isin(kinds[~shapely.is_missing(shapes)], _POLYGON_TYPES).all():
        raise ValueError("polygons must hold polygons and multi-polygons only")


def _overlap(x: Floats, y: Floats, radius: Floats, shapes: Geometries) -> Floats:
    """Return overlaps of one block of circles, working out only those that an edge may cross."""
    hull = _hulls(x, y, radius)
    whole = shapely.contains_properly(shapes, hull)
    apart = ~whole & shapely.disjoint(shapes, hull)
    area = np.where(whole, np.pi * radius**2, 0.0)
    crossed = np.flatnonzero(~(whole | apart))
    for part in _blocks(shapely.get_num_coordinates(shapes[crossed])):
        rows = crossed[part]
        area[rows] = _crossed(x[rows], y[rows], radius[rows], shapes[rows])
    return area


def _hulls(x: Floats, y: Floats, radius: Floats) -> Geometries:
    """Return a regular polygon round each circle, a little larger than it."""
    angle = np.arange(_CORNERS) * (2.0 * np.pi / _CORNERS)
    reach = radius[:, np.newaxis] * (1.0 + 1e-9) / np.cos(np.pi / _CORNERS)
    corners_x = x[:, np.newaxis] + reach * np.cos(angle)
    corners_y = y[:, np.newaxis] + reach * np.sin(angle)
    return np.asarray(shapely.polygons(np.stack((corners_x, corners_y), axis=-1)), dtype=object)


def _blocks(vertices: npt.NDArray[np.integer]) -> Iterator[slice]:
    """Return consecutive slices with about as many vertices each as are worked on at once."""
    block = np.cumsum(vertices) // _BLOCK_VERTICES
    starts = np.flatnonzero(np.diff(block, prepend=-1))
    for start, end in zip(starts, [*starts[1:], len(vertices)], strict=False):
        yield slice(int(start), int(end))


def _crossed(x: Floats, y: Floats, radius: Floats, shapes: Geometries) -> Floats:
    """Return overlaps by going round every ring of every polygon."""
    parts, circle_of_part = shapely.get_parts(shapes, return_index=True)
    rings, part_of_ring = shapely.get_rings(parts, return_index=True)
    sign = np.where(np.diff(part_of_ring, prepend=-1) > 0, 1.0, -1.0)
    circle_of_ring = circle_of_part[part_of_ring]
    vertices, ring = shapely.get_coordinates(rings, return_index=True)
    circle = circle_of_ring[ring]
    vertices -= np.column_stack((x[circle], y[circle]))
    edge = np.flatnonzero(ring[1:] == ring[:-1])
    pieces = _edge_areas(vertices[edge], vertices[edge + 1], radius[circle[edge]])
    in_ring = np.abs(np.bincount(ring[edge], pieces, len(rings)))
    area = np.bincount(circle_of_ring, sign * in_ring, len(x))
    return np.clip(area, 0.0, np.pi * radius**2)


def _edge_areas(begin: Floats, end: Floats, radius: Floats) -> Floats:
    """Return signed areas common to a circle round the origin and the triangle of each edge with it."""
    along = end - begin
    length2 = np.einsum("ij,ij->i", along, along)
    cross = begin[:, 0] * along[:, 1] - begin[:, 1] * along[:, 0]
    safe = np.where(length2 > _NO_LENGTH2, length2, 1.0)
    nearest = -np.einsum("ij,ij->i", begin, along) / safe
    half = np.sqrt(np.maximum(radius**2 - cross**2 / safe, 0.0) / safe)
    enter = np.clip(nearest - half, 0.0, 1.0)
    leave = np.clip(nearest + half, 0.0, 1.0)
    in_point = begin + enter[:, np.newaxis] * along
    out_point = begin + leave[:, np.newaxis] * along
    before = np.arctan2(enter * cross, np.einsum("ij,ij->i", begin, in_point))
    after = np.arctan2((1.0 - leave) * cross, np.einsum("ij,ij->i", out_point, end))
    areas: Floats = 0.5 * (radius**2 * (before + after) + (leave - enter) * cross)
    return areas
