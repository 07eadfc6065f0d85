"""Outlines and points as whole numbers: WGS 84, a millionth of a degree, each the step from the one before."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from plotmap.output.webmap.simplify import simplified

if TYPE_CHECKING:
    import geopandas as gpd
    from numpy.typing import NDArray

DEGREE = 1_000_000
"""Steps per degree: one step is 0.11 m on the meridian."""
_WGS84 = 4326
_WEB_MERCATOR = 3857
"""The plane the page draws on, in m at the equator."""
_POLYGON, _MULTIPOLYGON = 3, 6
_PRECISION = 100.0
"""The middle of a compartment is found to this part of its extent."""


@dataclass(frozen=True, slots=True)
class Outlines:
    """Rings of all compartments, one after the other.

    Attributes
    ----------
    lon, lat : numpy.ndarray of int64, shape (n_vertices,)
        Steps of 1/`DEGREE` degree from the vertex before; the first from zero.
    vertices : numpy.ndarray of int64, shape (n_rings,)
        Vertices of each ring, the closing one left out.
    rings : numpy.ndarray of int64, shape (n_polygons,)
        Rings of each polygon, the outer one first.
    polygons : numpy.ndarray of int64, shape (n_compartments,)
        Polygons of each compartment, 0 where it has no area.
    anchor_lon, anchor_lat : numpy.ndarray of float, shape (n_compartments,)
        Middle of the largest circle inside each compartment in 1/`DEGREE` degree, NaN where it has no area.
    room : numpy.ndarray of float, shape (n_compartments,)
        Radius of that circle in the plane the page draws on (spherical Mercator, m at the equator), NaN
        where there is none.
    moved_m : float
        Largest distance in m by which an outline was moved to have fewer vertices, 0 where none was.
    """

    lon: NDArray[np.int64]
    lat: NDArray[np.int64]
    vertices: NDArray[np.int64]
    rings: NDArray[np.int64]
    polygons: NDArray[np.int64]
    anchor_lon: NDArray[np.float64]
    anchor_lat: NDArray[np.float64]
    room: NDArray[np.float64]
    moved_m: float


def outlines(layer: gpd.GeoDataFrame) -> Outlines:
    """Return the outlines of a polygon layer.

    They are simplified as `plotmap.output.webmap.simplify` says.

    Parameters
    ----------
    layer : geopandas.GeoDataFrame
        Polygons and multipolygons, with or without holes, with a CRS.

    Returns
    -------
    Outlines
        In the order of `layer`.
    """
    fewer = simplified(layer)
    drawn = fewer.layer.to_crs(_WGS84)
    shapes = drawn.geometry.to_numpy()
    parts, home = shapely.get_parts(shapes, return_index=True)
    is_polygon = shapely.get_type_id(parts) == _POLYGON
    parts, home = parts[is_polygon], home[is_polygon]
    rings, ring_home = shapely.get_rings(parts, return_index=True)
    xy, vertex_home = shapely.get_coordinates(rings, return_index=True)
    closing = np.append(vertex_home[1:] != vertex_home[:-1], True)[: len(xy)]
    steps = np.round(xy[~closing] * DEGREE).astype(np.int64)
    anchor_lon, anchor_lat, room = _middles(drawn)
    return Outlines(
        lon=np.diff(steps[:, 0], prepend=0),
        lat=np.diff(steps[:, 1], prepend=0),
        vertices=np.bincount(vertex_home[~closing], minlength=len(rings)),
        rings=np.bincount(ring_home, minlength=len(parts)),
        polygons=np.bincount(home, minlength=len(layer)),
        anchor_lon=np.round(anchor_lon * DEGREE),
        anchor_lat=np.round(anchor_lat * DEGREE),
        room=np.round(room, 1),
        moved_m=fewer.moved_m,
    )


def _middles(
    layer: gpd.GeoDataFrame,
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Return longitude and latitude in degrees and radius in m of the largest circle inside each polygon."""
    shapes = layer.geometry.to_crs(_WEB_MERCATOR).to_numpy()
    areas = np.isin(shapely.get_type_id(shapes), (_POLYGON, _MULTIPOLYGON)) & ~shapely.is_empty(shapes)
    bounds = shapely.bounds(shapes[areas])
    extents = np.hypot(bounds[:, 2] - bounds[:, 0], bounds[:, 3] - bounds[:, 1])
    circles = shapely.maximum_inscribed_circle(shapes[areas], extents / _PRECISION)
    middles = type(layer.geometry)(shapely.get_point(circles, 0), crs=_WEB_MERCATOR).to_crs(_WGS84)
    found = np.full((3, len(shapes)), np.nan)
    found[:, areas] = [middles.x, middles.y, shapely.length(circles)]
    return found[0], found[1], found[2]


def points(layer: gpd.GeoDataFrame) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.bool_]]:
    """Return positions as steps, and which rows have one.

    Parameters
    ----------
    layer : geopandas.GeoDataFrame
        Points with a CRS; missing or empty where there is no position.

    Returns
    -------
    lon, lat : numpy.ndarray of int64, shape (n_placed,)
        Steps of 1/`DEGREE` degree from the point before, of the rows that have a position.
    placed : numpy.ndarray of bool, shape (n,)
        Whether the row has a position.
    """
    shapes = layer.geometry.to_numpy()
    placed = ~(shapely.is_missing(shapes) | shapely.is_empty(shapes))
    at = layer.geometry[placed]
    xy = shapely.get_coordinates((at.to_crs(_WGS84) if len(at) else at).to_numpy())
    steps = np.round(xy * DEGREE).astype(np.int64)
    return np.diff(steps[:, 0], prepend=0), np.diff(steps[:, 1], prepend=0), placed
