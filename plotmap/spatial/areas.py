"""Areas on the ellipsoid."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pyproj
import shapely

from plotmap.spatial.crs import Floats, Geometries, transform_points
from plotmap.units import M2_PER_HA


def geodesic_area_ha(geometries: Geometries, crs: pyproj.CRS) -> Floats:
    """Return areas on the ellipsoid of the reference system itself, not in its plane.

    Edges are geodesics between the vertices (Karney 2013, J. Geodesy 87: 43-55, by pyproj.Geod).

    Parameters
    ----------
    geometries : array_like of shapely geometries, shape (n,)
        Polygons and multi-polygons, with holes, of either orientation; also a GeoSeries. Other kinds have
        the area 0.
    crs : pyproj.CRS
        Reference system of the coordinates (x, y order), projected or geographic.

    Returns
    -------
    numpy.ndarray of float, shape (n,)
        In hectares; NaN where a geometry is missing or empty, or cannot be placed on the ellipsoid.

    Raises
    ------
    ValueError
        The reference system is not tied to the earth (a local engineering system).
    """
    geod, geographic = crs.get_geod(), crs.geodetic_crs
    if geod is None or geographic is None:
        raise ValueError(f"CRS {crs.name} is not tied to the earth: areas need a geographic or projected one")
    shapes = np.asarray(geometries, dtype=object)
    parts, owner = shapely.get_parts(shapes, return_index=True)
    rings, part_of_ring = shapely.get_rings(parts, return_index=True)
    first_of_part = np.diff(part_of_ring, prepend=-1) > 0
    sign = np.where(first_of_part, 1.0, -1.0)
    lon, lat = _degrees(shapely.get_coordinates(rings), crs, geographic)
    ends = np.concatenate(([0], np.cumsum(shapely.get_num_coordinates(rings))))
    # pyproj takes one ring a call
    ring_m2 = np.array(
        [geod.polygon_area_perimeter(lon[a:b], lat[a:b])[0] for a, b in pairwise(ends.tolist())], dtype=float
    )
    area_m2 = np.bincount(owner[part_of_ring], sign * np.abs(ring_m2), len(shapes))
    blank = shapely.is_missing(shapes) | shapely.is_empty(shapes)
    return np.where(blank, np.nan, area_m2 / M2_PER_HA)


def _degrees(vertices: Floats, crs: pyproj.CRS, geographic: pyproj.CRS) -> tuple[Floats, Floats]:
    """Return longitudes and latitudes in degrees on the system's own ellipsoid."""
    x, y = vertices[:, 0], vertices[:, 1]
    lon, lat = (x, y) if crs.is_geographic else transform_points(x, y, crs, geographic)
    factor = geographic.axis_info[0].unit_conversion_factor  # radians a unit; some systems are in grads
    return np.degrees(lon * factor), np.degrees(lat * factor)
