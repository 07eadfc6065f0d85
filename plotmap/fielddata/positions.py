"""Plot centres: where they lie, and in which compartment."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import polars as pl
import shapely
from numpy.typing import NDArray
from pyproj import CRS

from plotmap.fielddata.convert import TypedTable
from plotmap.fielddata.raw import RawTable
from plotmap.model.field_tables import ESTIMATED_STATES, MEASURED
from plotmap.model.findings import Findings, finding, findings_of
from plotmap.model.settings import AssignRule
from plotmap.spatial.crs import BallparkTransformError, transform_geometries, transform_points
from plotmap.spatial.locate import locate

_WGS84 = "EPSG:4326"
_Floats = NDArray[np.float64]


def read_plots(
    typed: TypedTable,
    raw: RawTable | None,
    crs: CRS | None,
    compartments: gpd.GeoDataFrame,
    assign: AssignRule,
    source: str,
) -> tuple[gpd.GeoDataFrame, Findings]:
    """Return the plots as points with the compartment each lies in.

    Parameters
    ----------
    typed : TypedTable
        Cells of the plots table.
    raw : RawTable or None
        The file, for points of a layer.
    crs : pyproj.CRS or None
        CRS of the survey; without one nothing is located.
    compartments : geopandas.GeoDataFrame
        In `crs`.
    assign : AssignRule
        Whether position or crew says which compartment a plot counts for.
    source : str
        File, for findings.

    Returns
    -------
    plots : geopandas.GeoDataFrame
        As `plotmap.model.survey.Survey.plots`. A centre on a shared boundary goes to the compartment the
        crew wrote if that is one of those touched, otherwise to the first by name.
    findings : Findings
        plot-without-position, plot-outside, plot-on-boundary, plot-compartment-differs,
        plot-compartment-unknown, datum-ballpark.
    """
    table = typed.frame.with_columns(pl.col("state").fill_null(MEASURED))
    x, y, found = _coordinates(table, typed, raw, crs, source)
    points = np.full(len(x), None, dtype=object)
    known = np.isfinite(x) & np.isfinite(y)
    points[known] = shapely.points(x[known], y[known])
    frame = gpd.GeoDataFrame(table.to_pandas(), geometry=points, crs=crs)
    findings = [found]
    located = pl.Series("located_in", [None] * len(frame), dtype=pl.String)
    if crs is not None and len(compartments):
        located, place_findings = _locate(table, points, compartments, source)
        findings.append(place_findings)
        if assign is AssignRule.POSITION:
            findings.append(_without_position(table, known, source))
    frame["located_in"] = located.to_pandas().to_numpy()
    return frame, Findings.join(findings)


def _coordinates(
    table: pl.DataFrame, typed: TypedTable, raw: RawTable | None, crs: CRS | None, source: str
) -> tuple[_Floats, _Floats, Findings]:
    """Return coordinates in the survey's CRS: easting and northing, else lon and lat, else the layer's points."""
    x = table["easting"].to_numpy().astype(float)
    y = table["northing"].to_numpy().astype(float)
    unknown = ~(np.isfinite(x) & np.isfinite(y))
    x, y = np.where(unknown, np.nan, x), np.where(unknown, np.nan, y)
    if crs is None:
        return x, y, Findings.none()
    try:
        lon, lat = table["lon"].to_numpy().astype(float), table["lat"].to_numpy().astype(float)
        take = unknown & np.isfinite(lon) & np.isfinite(lat)
        if take.any():
            x[take], y[take] = transform_points(lon[take], lat[take], CRS.from_user_input(_WGS84), crs)
        take = unknown & ~take
        if raw is not None and raw.geometry is not None and take.any():
            return _layer_points(x, y, take, typed, raw, crs, source)
    except BallparkTransformError as error:
        return x, y, finding("datum-ballpark", source, str(error))
    return x, y, Findings.none()


def _layer_points(
    x: _Floats, y: _Floats, take: NDArray[np.bool_], typed: TypedTable, raw: RawTable, crs: CRS, source: str
) -> tuple[_Floats, _Floats, Findings]:
    """Fill in the coordinates of a point layer."""
    if raw.geometry is None or not raw.crs:
        return x, y, finding("file-unreadable", source, "the layer of plots has points, but no CRS")
    shapes = raw.geometry[typed.kept.to_numpy()][take]
    shapes = np.where(shapely.get_type_id(shapes) == shapely.GeometryType.POINT, shapes, None)
    moved = transform_geometries(shapes, CRS.from_user_input(raw.crs), crs)
    x[take], y[take] = shapely.get_x(moved), shapely.get_y(moved)
    return x, y, Findings.none()


def _without_position(table: pl.DataFrame, known: NDArray[np.bool_], source: str) -> Findings:
    """Return plot-without-position for plots that enter the estimates."""
    rows = table.filter(pl.Series(~known) & pl.col("state").is_in(ESTIMATED_STATES))
    message = (
        pl.when(pl.col("lon").is_not_null() & pl.col("lat").is_not_null())
        .then(pl.format("lon {} and lat {} lie where the survey's CRS cannot show them", "lon", "lat"))
        .otherwise(pl.lit("the plot has neither easting and northing nor lon and lat"))
    )
    return findings_of("plot-without-position", rows, source, message, plot="plot", compartment="compartment")


def _locate(
    table: pl.DataFrame, points: NDArray[np.object_], compartments: gpd.GeoDataFrame, source: str
) -> tuple[pl.Series, Findings]:
    """Return the compartment of each point and the findings about it."""
    shapes = shapely.make_valid(
        compartments.geometry.to_numpy()
    )  # faults stop the run anyway: only to look on
    names = compartments["compartment"].fillna("").astype(str).to_numpy()
    found = locate(points, shapes, names, table["compartment"].to_numpy())
    labels = pl.Series("name", names.tolist(), dtype=pl.String)
    rows = table.with_columns(
        pl.Series("position", found["position"].to_numpy()).cast(pl.Int64),
        pl.Series("nearest", found["nearest"].to_numpy()).cast(pl.Int64),
        pl.Series("distance_m", found["distance_m"].to_numpy()),
        pl.Series("on_boundary", found["on_boundary"].to_numpy()),
    ).with_columns(
        pl.when(pl.col("position") >= 0).then(labels.gather(_safe(found["position"]))).alias("located_in"),
        pl.when(pl.col("nearest") >= 0).then(labels.gather(_safe(found["nearest"]))).alias("nearest_name"),
    )
    rows = rows.filter(pl.col("state").is_in(ESTIMATED_STATES))
    located = pl.select(
        pl.when(pl.Series(found["position"].to_numpy()) >= 0).then(labels.gather(_safe(found["position"])))
    ).to_series()
    return located, _place_findings(rows, set(names), source)


def _safe(positions: object) -> pl.Series:
    """Return row numbers with −1 replaced by 0, for gathering."""
    return pl.Series(np.maximum(np.asarray(positions), 0))


def _place_findings(rows: pl.DataFrame, names: set[str], source: str) -> Findings:
    """Return the findings about where plots lie."""
    outside = rows.filter((pl.col("position") < 0) & pl.col("distance_m").is_finite())
    differs = rows.filter(
        pl.col("compartment").is_in(list(names)) & (pl.col("located_in") != pl.col("compartment"))
    )
    unknown = rows.filter(pl.col("compartment").is_not_null() & ~pl.col("compartment").is_in(list(names)))
    parts = (
        (
            "plot-outside", outside, None,
            pl.format("the plot lies outside all compartments, {} m from {}",
                      pl.col("distance_m").round(1), "nearest_name"),
        ),
        (
            "plot-on-boundary", rows.filter("on_boundary"), None,
            pl.format("the plot lies on a boundary; it is counted in {}", "located_in"),
        ),
        (
            "plot-compartment-differs", differs, "compartment",
            pl.format("the crew wrote {}, but the position lies in {}", "compartment", "located_in"),
        ),
        (
            "plot-compartment-unknown", unknown, "compartment",
            pl.format("the crew wrote {}, which is no compartment of the layer", "compartment"),
        ),
    )  # fmt: skip
    return Findings.join(
        findings_of(code, which, source, message, plot="plot", compartment="compartment",
                    column=column, value=column)
        for code, which, column, message in parts
    )  # fmt: skip
