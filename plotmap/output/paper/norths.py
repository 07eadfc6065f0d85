"""How the grid lies on the earth at a place: scale factor, and the angle between grid north and true north."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pyproj

from plotmap.spatial import transform_points


@dataclass(frozen=True, slots=True)
class GridAtPlace:
    """A projection at one place.

    Attributes
    ----------
    convergence_deg : float
        Angle from true north to grid north, clockwise positive: grid azimuth + convergence = true azimuth. NaN
        where the projection cannot say.
    scale_factor : float
        Length on the grid for each length on the ellipsoid: 0.9996 on the central meridian of UTM. Mean of
        that along the meridian and that along the parallel, which are equal for conformal projections. NaN where
        the projection cannot say.
    """

    convergence_deg: float
    scale_factor: float


def grid_at(crs: str, easting_m: float, northing_m: float) -> GridAtPlace:
    """Return scale factor and meridian convergence at a place; PROJ computes both.

    Parameters
    ----------
    crs : str
        Projected reference system, as WKT or authority code.
    easting_m, northing_m : float
        The place, in that system.
    """
    system = pyproj.CRS.from_user_input(crs)
    flat = system.sub_crs_list[0] if system.is_compound else system
    geographic = flat.geodetic_crs
    if geographic is None:
        return GridAtPlace(float("nan"), float("nan"))
    lon, lat = transform_points([easting_m], [northing_m], flat, geographic)
    factors = pyproj.Proj(flat).get_factors(lon, lat, errcheck=False)
    scale = float(np.mean([factors.meridional_scale, factors.parallel_scale]))
    turn = float(np.ravel(factors.meridian_convergence)[0])
    if not (np.isfinite(scale) and np.isfinite(turn)):
        return GridAtPlace(float("nan"), float("nan"))
    return GridAtPlace(turn, scale)
