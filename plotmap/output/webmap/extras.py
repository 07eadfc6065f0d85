"""Layers of the user's own for the page: lines and points as whole numbers, without attributes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import geopandas as gpd
import numpy as np
import shapely

from plotmap.output.webmap.geometry import DEGREE

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

    from plotmap.model.survey import MapLayer

SIMPLIFY_M = 1.0
_WGS84 = 4326
_POINT, _LINE, _RING, _POLYGON = 0, 1, 2, 3


def extras(layers: Iterable[MapLayer], crs: str) -> list[dict[str, Any]]:
    """Return the layers as the page draws them.

    Parameters
    ----------
    layers : iterable of MapLayer
        Shapes in `crs`.
    crs : str
        CRS of the survey.

    Returns
    -------
    list of dict
        ``name``; ``lines`` with ``lon``, ``lat`` (steps of 1/`DEGREE` degree from the vertex before, the first from
        zero) and ``vertices`` (of each line; polygons are their closed rings), simplified by up to `SIMPLIFY_M`;
        ``points`` with ``lon``, ``lat``.
    """
    return [{"name": layer.name, **_parts(layer.shapes, crs)} for layer in layers]


def _parts(shapes: NDArray[np.object_], crs: str) -> dict[str, Any]:
    """Return lines and points of shapes of any kind."""
    single = _single(shapes)
    kind = shapely.get_type_id(single)
    rings = shapely.get_rings(single[kind == _POLYGON])
    lines = np.concatenate([single[np.isin(kind, (_LINE, _RING))], rings])
    drawn = _in_degrees(shapely.simplify(lines, SIMPLIFY_M), crs)
    at = _in_degrees(single[kind == _POINT], crs)
    return {
        "lines": {**_steps(drawn), "vertices": shapely.get_num_coordinates(drawn).tolist()},
        "points": _steps(at),
    }


def _single(shapes: NDArray[np.object_]) -> NDArray[np.object_]:
    """Return the single lines, polygons and points of shapes, collections of collections too."""
    parts = shapes
    while len(parts) and (shapely.get_type_id(parts) > _POLYGON).any():
        parts = shapely.get_parts(parts)
    return parts[~shapely.is_empty(parts)] if len(parts) else parts


def _in_degrees(shapes: NDArray[np.object_], crs: str) -> NDArray[np.object_]:
    """Return shapes in WGS 84."""
    return np.asarray(gpd.GeoSeries(shapes, crs=crs).to_crs(_WGS84).to_numpy())


def _steps(shapes: NDArray[np.object_]) -> dict[str, list[int]]:
    """Return longitude and latitude of all vertices as steps."""
    steps = np.round(shapely.get_coordinates(shapes) * DEGREE).astype(np.int64)
    return {
        "lon": np.diff(steps[:, 0], prepend=0).tolist(),
        "lat": np.diff(steps[:, 1], prepend=0).tolist(),
    }
