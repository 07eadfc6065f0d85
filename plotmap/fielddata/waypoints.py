"""Waypoints of a GPX file: as the plots themselves, or as the positions of plots that a table names."""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from pathlib import Path

import geopandas as gpd
import numpy as np
import polars as pl
import pyogrio
import shapely
from numpy.typing import NDArray
from pyproj import CRS

from plotmap.fielddata.raw import LAYER_FIRST_ROW, RawTable, UnreadableFileError, unreadable_where_refused
from plotmap.model.findings import Findings, finding, findings_of

WGS84 = CRS.from_epsg(4326)
_NAME, _TIME = "name", "time"
_OTHERS = ("tracks", "routes")
_MOST_LON, _MOST_LAT = 180.0, 90.0
_PLACE, _N, _ROW, _ALIKE = "_place", "_n", "source_row", "_alike"


@dataclass(frozen=True, slots=True)
class Waypoints:
    """The waypoints of a GPX file that lies beside a table of plots.

    Attributes
    ----------
    raw : RawTable
        As `read_waypoints` gives them.
    source : str
        File, for findings.
    """

    raw: RawTable
    source: str


def read_waypoints(path: Path, _part: str, source: str, _wanted: object = None) -> RawTable:
    """Read the waypoints of a GPX file: names under the heading plot, days under date, points on WGS 84.

    Parameters
    ----------
    path : Path
        The file.
    _part : str
        Not used: a GPX file holds one set of waypoints.
    source : str
        File, for findings: value-out-of-range for degrees that are none.
    _wanted : object
        Not used: a GPX file has no headings.

    Returns
    -------
    RawTable
        A row a waypoint, the first being row 1. The day is that of the time as it is written, mostly in UTC.
        Waypoints whose degrees are out of range have no point.

    Raises
    ------
    UnreadableFileError
        The file is no GPX, or holds tracks and routes only.
    """
    with unreadable_where_refused("the file is no GPX that can be read"), warnings.catch_warnings():
        warnings.simplefilter("ignore")  # GDAL's own remarks
        meta, _, geometry, fields = pyogrio.raw.read(path, layer="waypoints", columns=[_TIME, _NAME])
        cells = dict(zip([str(name) for name in meta["fields"]], fields, strict=True))
        others = {} if len(geometry) else {name: _count(path, name) for name in _OTHERS}
        shapes = gpd.GeoSeries.from_wkb(geometry).to_numpy()
    if not len(geometry):
        counts = " and ".join(_counted(n, name) for name, n in others.items() if n) or "nothing else either"
        raise UnreadableFileError(
            f"it has no waypoints ({counts}), and positions are read from waypoints only"
        )
    names = pl.Series("c0", [None if name is None else str(name) for name in cells[_NAME]], dtype=pl.String)
    days = pl.Series("c1", cells[_TIME].astype("datetime64[ms]"))
    frame = pl.DataFrame([names, days])
    found, shapes = _on_earth(names, shapes, source)
    return RawTable(("plot", "date"), frame, LAYER_FIRST_ROW, found, shapely.force_2d(shapes), WGS84.to_wkt())


def _on_earth(
    names: pl.Series, shapes: NDArray[np.object_], source: str
) -> tuple[Findings, NDArray[np.object_]]:
    """Return value-out-of-range for waypoints whose degrees are none, and the points without these."""
    lon, lat = shapely.get_x(shapes), shapely.get_y(shapes)
    good = (np.abs(lon) <= _MOST_LON) & (np.abs(lat) <= _MOST_LAT)
    rows = pl.DataFrame([names.alias("plot"), pl.Series("lon", lon), pl.Series("lat", lat)])
    rows = rows.with_row_index(_PLACE).with_columns(
        (pl.col(_PLACE).cast(pl.Int64) + LAYER_FIRST_ROW).alias(_ROW)
    )
    message = pl.format("lat is {} and lon is {}, but must be -90 to 90° and -180 to 180°", "lat", "lon")
    value = pl.format("{}, {}", "lat", "lon")
    bad = rows.filter(~pl.Series(good))
    hint = "Correct the waypoint. A layer must be brought to WGS 84 before it is saved as GPX."
    found = findings_of(
        "value-out-of-range", bad, source, message, plot="plot", column="lat", value=value, hint=hint
    )
    placed = shapes.copy()
    placed[~good] = None
    return found, placed


def _count(path: Path, layer: str) -> int:
    """Return how many features a layer has."""
    return int(pyogrio.read_info(path, layer=layer, force_feature_count=True)["features"])


def _counted(n: int, name: str) -> str:
    """Return a count with its noun."""
    return f"{n} {name.removesuffix('s') if n == 1 else name}"


def match_waypoints(
    table: pl.DataFrame, waypoints: Waypoints
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.bool_], Findings]:
    """Return longitude and latitude of each plot by the waypoint that carries its name.

    Parameters
    ----------
    table : polars.DataFrame
        Plots: ``plot``.
    waypoints : Waypoints
        What the GPX file holds.

    Returns
    -------
    lon, lat : numpy.ndarray of float
        Degrees on WGS 84; NaN for plots without a waypoint, or with two.
    named : numpy.ndarray of bool
        Whether a waypoint, or more than one, carries the name of the plot.
    findings : Findings
        waypoint-twice, waypoint-without-plot.
    """
    points = waypoints.raw.geometry
    assert points is not None  # noqa: S101 - for the type checker: waypoints are points
    cells = waypoints.raw.cells
    names = cells["c0"].str.strip_chars().replace("", None)
    rows = pl.DataFrame([names.alias("plot")]).with_row_index(_PLACE)
    rows = rows.with_columns(
        (pl.col(_PLACE).cast(pl.Int64) + waypoints.raw.first_row).alias(_ROW), _spelling("plot").alias(_ALIKE)
    )
    plots = table["plot"].drop_nulls().unique().to_list()
    named = rows.filter(pl.col("plot").is_in(plots)).with_columns(pl.len().over("plot").alias(_N))
    once = named.filter(pl.col(_N) == 1)
    joined = table.select("plot").join(once, on="plot", how="left", maintain_order="left")[_PLACE]
    place = joined.fill_null(0).to_numpy()
    known = joined.is_not_null().to_numpy()
    lon = np.where(known, shapely.get_x(points)[place], np.nan)
    lat = np.where(known, shapely.get_y(points)[place], np.nan)
    strange = rows.filter(~pl.col("plot").is_in(plots).fill_null(value=False))
    found = Findings.join([_twice(named, waypoints.source), _without_plot(strange, table, waypoints.source)])
    is_named = table["plot"].is_in(named["plot"].implode()).fill_null(value=False)
    return lon, lat, is_named.to_numpy(), found


def _spelling(column: str) -> pl.Expr:
    """Return a name without capitals, signs, blanks and leading zeros, to tell slips of the pen."""
    plain = pl.col(column).str.to_lowercase().str.replace_all(r"[^\p{L}\p{N}]", "")
    return plain.str.replace_all(r"^0+|(\p{L})0+", "$1")


def _twice(named: pl.DataFrame, source: str) -> Findings:
    """Return waypoint-twice."""
    again = named.filter(pl.col(_N) > 1).with_columns(pl.col(_ROW).first().over("plot").alias("_first"))
    again = again.filter(pl.col(_ROW) != pl.col("_first"))
    message = pl.format("waypoint {} comes again; it is first in row {}", "plot", "_first")
    return findings_of("waypoint-twice", again, source, message, plot="plot", value="plot")


def _without_plot(strange: pl.DataFrame, table: pl.DataFrame, source: str) -> Findings:
    """Return waypoint-without-plot, with the plot that is spelled nearly so."""
    plots = (
        table.select(pl.col("plot").alias("_meant"), _spelling("plot").alias(_ALIKE))
        .drop_nulls()
        .unique(_ALIKE, keep="none", maintain_order=True)
    )
    rows = strange.join(plots, on=_ALIKE, how="left", maintain_order="left")
    meant = pl.coalesce(pl.format("; {} may be meant", "_meant"), pl.lit(""))
    message = pl.when(pl.col("plot").is_null()).then(pl.lit("the waypoint has no name")).otherwise(
        pl.format("there is no plot {}{}", "plot", meant)
    )  # fmt: skip
    return findings_of("waypoint-without-plot", rows, source, message, value="plot")


def both_given(n_both: int, source: str, waypoints: Waypoints) -> Findings:
    """Return positions-twice where plots have coordinates of their own and a waypoint too."""
    if not n_both:
        return Findings.none()
    plots = "1 plot has" if n_both == 1 else f"{n_both} plots have"
    message = f"{plots} a position here and a waypoint in {waypoints.source}; the position here is used"
    return finding("positions-twice", source, message)
