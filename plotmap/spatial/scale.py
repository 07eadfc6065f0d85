"""How far lengths on a map are from lengths on the ground."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pyproj

from plotmap.spatial.crs import transform_points


def worst_scale(crs: pyproj.CRS, x: npt.ArrayLike, y: npt.ArrayLike) -> float:
    """Return the scale factor that is farthest from 1 at some places of a projected system.

    Both the scale along the meridian and that along the parallel are looked at (J. P. Snyder, Map projections:
    a working manual, USGS Professional Paper 1395, 1987, h and k); PROJ computes them.

    Parameters
    ----------
    crs : pyproj.CRS
        A projected system.
    x, y : array_like of float, shape (n,)
        Places, in the units of `crs`.

    Returns
    -------
    float
        1 where lengths are true, 1.05 where they are 5 % too long on the map; infinite where the projection
        cannot show one of the places. 1 where there are no places.
    """
    geographic = crs.geodetic_crs
    east, north = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    if geographic is None or not east.size:
        return 1.0
    lon, lat = transform_points(east, north, crs, geographic)
    if not (np.isfinite(lon) & np.isfinite(lat)).all():
        return float("inf")
    flat = crs.sub_crs_list[0] if crs.is_compound else crs
    factors = pyproj.Proj(flat).get_factors(lon, lat, errcheck=False)
    scales = np.concatenate([np.atleast_1d(factors.meridional_scale), np.atleast_1d(factors.parallel_scale)])
    if not np.isfinite(scales).all() or (scales <= 0).any():
        return float("inf")
    return float(scales[np.argmax(np.abs(scales - 1))])
