"""Plots that lie outside all compartments in their majority: what would bring them in. Nothing is applied."""

from __future__ import annotations

from collections.abc import Iterator

import geopandas as gpd
import numpy as np
import polars as pl
import shapely
from numpy.typing import NDArray
from pyproj import CRS

from plotmap.fielddata.coarseness import written_step
from plotmap.model.findings import Findings, finding
from plotmap.spatial.crs import BallparkTransformError, transform_points

_WGS84 = "EPSG:4326"
_UTM_NORTH, _UTM_SOUTH, _ZONES = 32_600, 32_700, 60
_LEAST_PLOTS = 3
_FALSE_NORTHING_M = 10_000_000.0
_MINUTES = 60.0
_Floats = NDArray[np.float64]
_Cure = tuple[str, _Floats, _Floats]


def most_elsewhere(
    rows: pl.DataFrame,
    xy: tuple[_Floats, _Floats],
    compartments: gpd.GeoDataFrame,
    crs: CRS,
    source: str,
) -> Findings:
    """Return plots-elsewhere where more than half of the plots lie in no compartment.

    Parameters
    ----------
    rows : polars.DataFrame
        Plots that enter by their position: ``easting``, ``northing``, ``lon``, ``lat`` as written, and
        ``distance_m`` to the nearest compartment (NaN where inside).
    xy : tuple of array of float
        Their coordinates in `crs`, as they were read.
    compartments : geopandas.GeoDataFrame
        In `crs`.
    crs : pyproj.CRS
        Of the survey.
    source : str
        File of the plots.

    Returns
    -------
    Findings
        One finding, with the cure that brings in most plots, tried on all of them. Without a cure that brings
        in more than half, only from three plots on.
    """
    x, y = xy
    placed = np.isfinite(x) & np.isfinite(y)
    shapes = shapely.make_valid(compartments.geometry.to_numpy())
    n_plots = int(placed.sum())
    n_inside = _inside(x, y, shapes)
    if not n_plots or 2 * n_inside >= n_plots:
        return Findings.none()
    best, words = 0, ""
    for text, cured_x, cured_y in _cures(rows, x, y, shapely.total_bounds(shapes), crs):
        count = _inside(np.where(placed, cured_x, np.nan), cured_y, shapes)
        if count > best:
            best, words = count, text
    outside = n_plots - n_inside
    whole = "the plot lies" if n_plots == 1 else f"all {n_plots} plots lie"
    part = f"{outside} of {n_plots} plots lie"
    of_all = f"{part if n_inside else whole} outside all compartments"
    if 2 * best > n_plots:
        message = f"{of_all}; {_count(best, n_plots)} into compartments if {words}"
        return finding("plots-elsewhere", source, message, value=words)
    if n_plots < _LEAST_PLOTS:
        return Findings.none()
    return finding("plots-elsewhere", source, f"{of_all}{_few_decimals(rows)}")


def _count(n: int, n_plots: int) -> str:
    """Return how many plots would fall, with the verb."""
    if n == n_plots:
        return "the plot falls" if n == 1 else f"all {n} plots fall"
    return "1 plot falls" if n == 1 else f"{n} plots fall"


def _inside(x: _Floats, y: _Floats, shapes: NDArray[np.object_]) -> int:
    """Return how many points lie in or on a polygon."""
    known = np.isfinite(x) & np.isfinite(y)
    points = np.atleast_1d(np.asarray(shapely.points(x[known], y[known]), dtype=object))
    tree = shapely.STRtree(points)
    return int(np.unique(tree.query(shapes, predicate="intersects")[1]).size)


def _cures(rows: pl.DataFrame, x: _Floats, y: _Floats, bounds: _Floats, crs: CRS) -> Iterator[_Cure]:
    """Yield what is tried: in words, and the coordinates of all plots that it gives."""
    lon, lat = (rows[name].to_numpy().astype(float) for name in ("lon", "lat"))
    east, north = (rows[name].to_numpy().astype(float) for name in ("easting", "northing"))
    if np.isfinite(lon).any() and np.isfinite(lat).any():
        tried = (
            ("lon and lat are exchanged", lat, lon),
            ("lon is west (a minus is missing, or one too many)", -lon, lat),
            ("lat is south (a minus is missing, or one too many)", lon, -lat),
            ("lon and lat are degrees and minutes typed as decimals", _minutes(lon), _minutes(lat)),
            (
                "lon and lat are degrees, minutes and seconds typed as decimals",
                _minutes_seconds(lon),
                _minutes_seconds(lat),
            ),
        )
        for words, degrees_east, degrees_north in tried:
            yield words, *_from_degrees(degrees_east, degrees_north, crs)
    if not (np.isfinite(east) & np.isfinite(north)).any():
        return
    yield "easting and northing are exchanged", north, east
    if np.nanmax(np.abs(np.stack((east, north)))) <= 180:  # noqa: PLR2004 - degrees go no farther
        yield "easting and northing are lon and lat in degrees", *_from_degrees(east, north, crs)
        yield "easting and northing are lat and lon in degrees", *_from_degrees(north, east, crs)
    try:
        yield from _other_zones(x, y, bounds, crs)
    except BallparkTransformError:  # no way into this CRS from WGS 84
        return


def _other_zones(x: _Floats, y: _Floats, bounds: _Floats, crs: CRS) -> Iterator[_Cure]:
    """Yield the coordinates read as those of the UTM zones around, or of the other side of the equator."""
    own = crs.to_epsg() or 0
    is_utm = any(base < own <= base + _ZONES for base in (_UTM_NORTH, _UTM_SOUTH))
    west, south, east, north = bounds
    lon, lat = transform_points([(west + east) / 2], [(south + north) / 2], crs, CRS.from_user_input(_WGS84))
    if not np.isfinite(lat[0]):
        return
    base = _UTM_NORTH if lat[0] >= 0 else _UTM_SOUTH
    zones = [int((lon[0] + 180) // 6) + 1] + ([own - base] if is_utm else [])
    codes = [base + (zone - 1 + step) % _ZONES + 1 for zone in zones for step in (0, -1, 1)]
    for code in dict.fromkeys(codes):
        if code != own:
            moved = transform_points(x, y, CRS.from_epsg(code), crs)
            yield f"they are in EPSG:{code} (UTM zone {code - base})", *moved
    if is_utm:
        south = _FALSE_NORTHING_M if own > _UTM_SOUTH else -_FALSE_NORTHING_M
        yield "northing is counted from the other side of the equator (10 000 km)", x, y + south


def _from_degrees(lon: _Floats, lat: _Floats, crs: CRS) -> tuple[_Floats, _Floats]:
    """Return degrees on WGS 84 in the survey's CRS; nothing where they are none."""
    possible = (np.abs(lon) <= 180) & (np.abs(lat) <= 90)  # noqa: PLR2004
    try:
        return transform_points(
            np.where(possible, lon, np.nan), np.where(possible, lat, np.nan), CRS.from_user_input(_WGS84), crs
        )
    except BallparkTransformError:
        return np.full(len(lon), np.nan), np.full(len(lat), np.nan)


def _minutes(value: _Floats) -> _Floats:
    """Return 22.7550 taken as 22° 75.50'; NaN where minutes go beyond 60."""
    whole = np.floor(np.abs(value) + 1e-9)
    minutes = (np.abs(value) - whole) * 100
    return np.where(minutes < _MINUTES, np.sign(value) * (whole + minutes / 60), np.nan)


def _minutes_seconds(value: _Floats) -> _Floats:
    """Return 22.4530 taken as 22°45'30"; NaN where minutes or seconds go beyond 60."""
    whole = np.floor(np.abs(value) + 1e-9)
    hundredths = np.round((np.abs(value) - whole) * 100, 7)
    minutes = np.floor(hundredths + 1e-7)
    seconds = np.round((hundredths - minutes) * 100, 5)
    degrees = np.sign(value) * (whole + minutes / 60 + seconds / 3600)
    return np.where((minutes < _MINUTES) & (seconds < _MINUTES), degrees, np.nan)


def _few_decimals(rows: pl.DataFrame) -> str:
    """Return, for messages, that the degrees are too coarse for how far out the plots lie; else nothing."""
    lon, lat = rows["lon"].drop_nulls(), rows["lat"].drop_nulls()
    metres = rows["distance_m"].fill_nan(None).drop_nulls().median()
    if not len(lon) or not len(lat) or not isinstance(metres, float):
        return ""
    step = written_step(lon, lat)
    if step is None or metres > step.metres:
        return ""
    ground = f"which is {step.metres:,.0f} m on the ground"
    return f"; lon and lat {step.words}, {ground}: five decimals or more are needed"
