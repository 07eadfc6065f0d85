"""Coordinates of plots in the survey's CRS, from columns, points of a layer and waypoints."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import polars as pl
import shapely
from numpy.typing import NDArray
from pyproj import CRS

from plotmap.fielddata.convert import TypedTable
from plotmap.fielddata.datums import Floats, datum_note
from plotmap.fielddata.raw import RawTable
from plotmap.fielddata.waypoints import WGS84, Waypoints, both_given, match_waypoints
from plotmap.model.findings import Findings, finding, findings_of
from plotmap.spatial.crs import BallparkTransformError, transform_points

_APART_M = 5.0
"""Two positions of one plot that are farther apart than this are not one place written twice."""


@dataclass(frozen=True, slots=True)
class Coordinates:
    """Where plots lie, in the order of their table.

    Attributes
    ----------
    x, y : numpy.ndarray of float
        Easting and northing in the survey's CRS; NaN where there is no position.
    by_degrees : numpy.ndarray of bool
        Whether the position is that of lon and lat.
    named : numpy.ndarray of bool
        Whether any waypoint carries the name of the plot; true for all where no GPX file lies beside the table.
    findings : Findings
        plot-position-differs, positions-twice, datum-shift, datum-ballpark, file-unreadable, and those of waypoints.
    """

    x: Floats
    y: Floats
    by_degrees: NDArray[np.bool_]
    named: NDArray[np.bool_]
    findings: Findings

    @property
    def known(self) -> NDArray[np.bool_]:
        """Whether there is a position."""
        return np.isfinite(self.x) & np.isfinite(self.y)


@dataclass(frozen=True, slots=True)
class _Offer:
    """Positions as one source has them: how they are called, singular and plural, and where they are, in its CRS."""

    name: str
    names: str
    places: tuple[Floats, Floats]
    crs: CRS


def find_coordinates(
    typed: TypedTable, raw: RawTable | None, waypoints: Waypoints | None, crs: CRS | None, source: str
) -> Coordinates:
    """Return the coordinates of plots: easting and northing, else lon and lat, else the layer's points or waypoints.

    Parameters
    ----------
    typed : TypedTable
        Cells of the plots table.
    raw : RawTable or None
        The file, for points of a layer.
    waypoints : Waypoints or None
        Of the GPX file beside the table.
    crs : pyproj.CRS or None
        CRS of the survey; without one only easting and northing are taken.
    source : str
        File of the plots, for findings.
    """
    table = typed.frame
    x, y = (table[name].to_numpy().astype(float) for name in ("easting", "northing"))
    unknown = ~(np.isfinite(x) & np.isfinite(y))
    x, y = np.where(unknown, np.nan, x), np.where(unknown, np.nan, y)
    every = np.full(len(x), fill_value=True)
    found = Coordinates(x, y, ~every, every, Findings.none())
    if crs is None:
        return found
    lon, lat = (table[name].to_numpy().astype(float) for name in ("lon", "lat"))
    found, filled = _add(
        found,
        _Offer("lon and lat", "lon and lat", (lon, lat), WGS84),
        "easting and northing",
        table,
        crs,
        source,
    )
    found = replace(found, by_degrees=filled)
    if raw is not None and raw.geometry is not None:
        found = _with_layer_points(found, typed, raw, crs, source)
    if waypoints is None:
        return found
    lon, lat, named, told = match_waypoints(table, waypoints)
    twice = both_given(int((found.known & np.isfinite(lon)).sum()), source, waypoints)
    found = replace(found, named=named, findings=Findings.join([found.findings, told, twice]))
    offer = _Offer("the waypoint", "the waypoints", (lon, lat), WGS84)
    return _add(found, offer, "the table's own position", table, crs, source, waypoints.source)[0]


def _with_layer_points(
    found: Coordinates, typed: TypedTable, raw: RawTable, crs: CRS, source: str
) -> Coordinates:
    """Add the points of a layer."""
    if raw.geometry is None or not raw.crs:
        said = finding("file-unreadable", source, "the layer of plots has points, but no CRS")
        return found if found.known.all() else replace(found, findings=Findings.join([found.findings, said]))
    shapes = raw.geometry[typed.kept.to_numpy()]
    shapes = np.where(shapely.get_type_id(shapes) == shapely.GeometryType.POINT, shapes, None)
    places = (shapely.get_x(shapes), shapely.get_y(shapes))
    offer = _Offer("the point of the layer", "the points of the layer", places, CRS.from_user_input(raw.crs))
    return _add(found, offer, "the columns", typed.frame, crs, source)[0]


def _add(
    found: Coordinates,
    offer: _Offer,
    first: str,
    table: pl.DataFrame,
    crs: CRS,
    source: str,
    file: str | None = None,
) -> tuple[Coordinates, NDArray[np.bool_]]:
    """Fill in positions where there are none; say where both differ, how the datum changed, and which were filled."""
    lacking = ~found.known
    offered = np.isfinite(offer.places[0]) & np.isfinite(offer.places[1])
    if not offered.any():
        return found, offered
    x, y = (np.where(offered, values, np.nan) for values in offer.places)
    try:
        moved = transform_points(x, y, offer.crs, crs)
        used = (np.where(lacking, x, np.nan), np.where(lacking, y, np.nan))
        shift = datum_note(offer.names, used, offer.crs, crs, file or source)
    except BallparkTransformError as error:
        told = finding("datum-ballpark", file or source, str(error))
        return replace(found, findings=Findings.join([found.findings, told])), offered & False
    differs = _differs(table, np.hypot(found.x - moved[0], found.y - moved[1]), (first, offer.name), source)
    filled = lacking & np.isfinite(moved[0]) & np.isfinite(moved[1])
    return replace(
        found,
        x=np.where(lacking, moved[0], found.x),
        y=np.where(lacking, moved[1], found.y),
        findings=Findings.join([found.findings, shift, differs]),
    ), filled


def _differs(table: pl.DataFrame, apart_m: Floats, names: tuple[str, str], source: str) -> Findings:
    """Return plot-position-differs where two positions of a plot are apart."""
    rows = table.with_columns(pl.Series("apart_m", apart_m).fill_nan(None)).filter(
        pl.col("apart_m") > _APART_M
    )
    first, second = names
    verb = "is" if first.endswith("position") else "are"
    message = pl.format(
        f"{first} and {second} are {{}} m apart; {first} {verb} used", pl.col("apart_m").round(1)
    )
    return findings_of("plot-position-differs", rows, source, message, plot="plot", compartment="compartment")
