"""Positions as the survey writes them: easting and northing in its own CRS."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

if TYPE_CHECKING:
    import geopandas as gpd
    from pyproj import CRS

PER_UNIT = 10
"""Steps per unit of the CRS: a step is 0.1 m where the unit is the metre."""
_NAMES = {"east": "Easting", "north": "Northing", "west": "Westing", "south": "Southing"}


def positions(rows: gpd.GeoDataFrame) -> dict[str, Any] | None:
    """Return the positions of plots in the survey's projected CRS.

    Parameters
    ----------
    rows : geopandas.GeoDataFrame
        Points, none missing, with a CRS.

    Returns
    -------
    dict or None
        ``crs`` (name), ``unit``, ``x_name``, ``y_name``, ``per_unit``, and ``x`` and ``y``: arrays of whole steps of
        1/`PER_UNIT` of the unit. None where the CRS is in degrees.
    """
    if not len(rows) or rows.crs is None or not rows.crs.is_projected:
        return None
    steps = np.round(shapely.get_coordinates(rows.geometry.to_numpy()) * PER_UNIT).astype(np.int64)
    return {
        **axes_of(rows.crs),
        "per_unit": PER_UNIT,
        "x": steps[:, 0],
        "y": steps[:, 1],
    }


def axes_of(crs: CRS) -> dict[str, str]:
    """Return name, unit and names of the axes of a projected CRS, as ``crs``, ``unit``, ``x_name``, ``y_name``."""
    directions = [axis.direction for axis in crs.axis_info[:2]]
    unit = crs.axis_info[0].unit_name
    return {
        "crs": crs.name,
        "unit": "m" if unit == "metre" else unit,
        "x_name": next((_NAMES[word] for word in directions if word in {"east", "west"}), "x"),
        "y_name": next((_NAMES[word] for word in directions if word in {"north", "south"}), "y"),
    }
