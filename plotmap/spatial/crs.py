"""Reference systems: which are fit for plots, and moving coordinates between them without surprises."""

from __future__ import annotations

import math
from collections.abc import Iterator
from contextlib import contextmanager

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pyproj
import shapely
from pyproj.exceptions import ProjError
from pyproj.network import is_network_enabled, set_network_enabled  # type: ignore[attr-defined]

from plotmap.errors import PlotmapError

Floats = npt.NDArray[np.float64]
Geometries = npt.NDArray[np.object_]

_PSEUDO_MERCATOR_METHODS = frozenset({"1024", "1026"})
"""EPSG codes of Popular Visualisation Pseudo Mercator and of Mercator (Spherical)."""


class BallparkTransformError(PlotmapError):
    """PROJ knows no datum shift between two reference systems, only leaving coordinates as they are."""


def is_metric(crs: pyproj.CRS) -> bool:
    """Say whether plain distances and areas in a reference system are metres on the ground, near enough.

    Parameters
    ----------
    crs : pyproj.CRS
        Any reference system; of a compound one the horizontal part is looked at.

    Returns
    -------
    bool
        True for a projected system with axes in metres that is no Mercator on a sphere (Web Mercator:
        EPSG:3857, ESRI:102100 and their older kin), which stretches lengths by 1 / cos(latitude).
    """
    if crs.is_compound:
        return is_metric(crs.sub_crs_list[0])
    if crs.is_bound and crs.source_crs is not None:
        return is_metric(crs.source_crs)
    if not crs.is_projected:
        return False
    metres = all(math.isclose(axis.unit_conversion_factor, 1.0) for axis in crs.axis_info)
    return metres and not _is_pseudo_mercator(crs)


def _is_pseudo_mercator(crs: pyproj.CRS) -> bool:
    """Say whether a projected system is a Mercator computed on a sphere."""
    operation = crs.coordinate_operation
    if operation is None:
        return False
    name = operation.method_name.lower()
    sphere = crs.ellipsoid is not None and crs.ellipsoid.inverse_flattening == 0
    on_sphere = sphere and name.startswith("mercator")
    return on_sphere or "pseudo" in name or operation.method_code in _PSEUDO_MERCATOR_METHODS


def utm_zone(lon: float, lat: float) -> pyproj.CRS:
    """Return the WGS 84 / UTM zone a place lies in.

    Parameters
    ----------
    lon, lat : float
        Degrees east and north on WGS 84; -180 to 180 and -80 to 84.

    Returns
    -------
    pyproj.CRS
        EPSG:32601 to 32660 north of the equator and on it, EPSG:32701 to 32760 south of it. Zones are the
        plain six degrees; the wider zones of Norway and Svalbard are not made.

    Raises
    ------
    ValueError
        The place is outside the range of UTM, or NaN.
    """
    if not -180 <= lon <= 180:  # noqa: PLR2004
        raise ValueError(f"lon is {lon}°, but must be -180° to 180°")
    if not -80 <= lat <= 84:  # noqa: PLR2004
        raise ValueError(f"lat is {lat}°, but UTM covers -80° to 84°: choose a polar reference system")
    zone = int((lon + 180) // 6) % 60 + 1
    return pyproj.CRS.from_epsg((32600 if lat >= 0 else 32700) + zone)


def transform_points(
    x: npt.ArrayLike, y: npt.ArrayLike, source: pyproj.CRS, target: pyproj.CRS
) -> tuple[Floats, Floats]:
    """Move points from one reference system to another, by grids and shifts on this computer only.

    Parameters
    ----------
    x, y : array_like of float, one shape
        Easting and northing, or longitude and latitude, in this order whatever the system's own axis
        order is; in the units of `source`. NaN where missing.
    source, target : pyproj.CRS
        From and to.

    Returns
    -------
    x, y : numpy.ndarray of float
        In the units of `target`, in the same order. NaN where missing, or where the point is outside what
        the projection can show.

    Raises
    ------
    BallparkTransformError
        PROJ has only a "ballpark" operation: it would leave out the shift between the two datums, often
        hundreds of metres.
    """
    east, north = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    with without_network():
        transformer = exact_transformer(source, target)
        moved_x, moved_y = transformer.transform(east, north)
    lost = ~(np.isfinite(moved_x) & np.isfinite(moved_y) & np.isfinite(east) & np.isfinite(north))
    return np.where(lost, np.nan, moved_x), np.where(lost, np.nan, moved_y)


def transform_geometries(
    geometries: gpd.GeoSeries | Geometries, source: pyproj.CRS, target: pyproj.CRS
) -> gpd.GeoSeries | Geometries:
    """Move geometries from one reference system to another; see `transform_points`.

    Parameters
    ----------
    geometries : geopandas.GeoSeries or numpy.ndarray of shapely geometries
        Coordinates in the order easting, northing or longitude, latitude, in the units of `source`. None
        where missing. Heights are dropped.
    source, target : pyproj.CRS
        From and to; a CRS that the series itself carries is not looked at.

    Returns
    -------
    geopandas.GeoSeries or numpy.ndarray of shapely geometries
        What was given, in `target`. None where missing, or where any vertex is outside what the
        projection can show.

    Raises
    ------
    BallparkTransformError
        PROJ has only a "ballpark" operation.
    """
    shapes = np.asarray(geometries, dtype=object)

    def move(vertices: Floats) -> Floats:
        """Move vertices, one a row."""
        return np.column_stack(transform_points(vertices[:, 0], vertices[:, 1], source, target))

    moved = np.asarray(shapely.transform(shapes, move), dtype=object)
    vertices, index = shapely.get_coordinates(moved, return_index=True)
    moved[np.unique(index[np.isnan(vertices).any(axis=1)])] = None
    if isinstance(geometries, gpd.GeoSeries):
        return gpd.GeoSeries(moved, index=geometries.index, crs=target, name=geometries.name)
    return moved


def true_north_deg(x: npt.ArrayLike, y: npt.ArrayLike, crs: pyproj.CRS) -> Floats:
    """Return the direction of true north on the grid: what is added to a true azimuth to get a grid azimuth.

    Parameters
    ----------
    x, y : array_like of float, shape (n,)
        Places in a projected reference system.
    crs : pyproj.CRS
        That system.

    Returns
    -------
    numpy.ndarray of float, shape (n,)
        Degrees clockwise from grid north: the meridian convergence with its sign reversed. NaN where a place
        is missing. Measured on a step of a hundred-thousandth of a degree to the north (geometry, needs no
        source).
    """
    geographic = crs.geodetic_crs
    if geographic is None:
        raise ValueError(f"{name_of(crs)} has no geographic system to find true north by")
    lon, lat = transform_points(x, y, crs, geographic)
    step = 1e-5 * np.where(lat > 0, -1.0, 1.0)  # towards the equator, so that no step leaves the pole behind
    east, north = transform_points(lon, lat + step, geographic, crs)
    turn = np.sign(step)
    return np.asarray(
        np.degrees(np.arctan2((east - np.asarray(x)) * turn, (north - np.asarray(y)) * turn)), dtype=float
    )


def exact_transformer(source: pyproj.CRS, target: pyproj.CRS) -> pyproj.Transformer:
    """Return the operation between two systems, never a ballpark one.

    Parameters
    ----------
    source, target : pyproj.CRS
        From and to; longitude or easting comes first.

    Raises
    ------
    BallparkTransformError
        PROJ has only a "ballpark" operation.
    """
    try:
        return pyproj.Transformer.from_crs(source, target, always_xy=True, allow_ballpark=False)
    except ProjError as error:
        raise BallparkTransformError(
            f"From {name_of(source)} to {name_of(target)} PROJ knows no datum shift, only a ballpark operation that "
            "leaves coordinates where they are and may be hundreds of metres off: give the data in a "
            "reference system with a known shift, or with the shift stated (+towgs84 or a grid)"
        ) from error


def name_of(crs: pyproj.CRS) -> str:
    """Return a system's code and name for messages."""
    authority = crs.to_authority()
    return f"{':'.join(authority)} ({crs.name})" if authority else crs.name


@contextmanager
def without_network() -> Iterator[None]:
    """Keep PROJ from fetching grids, and put its setting back afterwards."""
    enabled = is_network_enabled()
    set_network_enabled(active=False)
    try:
        yield
    finally:
        set_network_enabled(active=enabled)
