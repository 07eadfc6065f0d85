"""Plot centres: where they lie, and in which compartment."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import polars as pl
import shapely
from numpy.typing import NDArray
from pyproj import CRS

from plotmap.fielddata.convert import TypedTable
from plotmap.fielddata.elsewhere import most_elsewhere
from plotmap.fielddata.places import is_full, place_findings, without_position
from plotmap.fielddata.raw import RawTable
from plotmap.model.field_tables import ESTIMATED_STATES, MEASURED
from plotmap.model.findings import Findings, finding, findings_of
from plotmap.model.settings import AssignRule, EdgeRule, PlotsSection
from plotmap.spatial.crs import BallparkTransformError, transform_geometries, transform_points
from plotmap.spatial.locate import locate

_WGS84 = "EPSG:4326"
_APART_M = 5.0
"""Two positions of one plot that are farther apart than this are not one place written twice."""
_Floats = NDArray[np.float64]


def read_plots(
    typed: TypedTable,
    raw: RawTable | None,
    crs: CRS | None,
    compartments: gpd.GeoDataFrame,
    rules: PlotsSection,
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
    rules : PlotsSection
        Design, edge rule, and whether position or crew says which compartment a plot counts for.
    source : str
        File, for findings.

    Returns
    -------
    plots : geopandas.GeoDataFrame
        As `plotmap.model.survey.Survey.plots`. A centre on a shared boundary goes to the compartment the
        crew wrote if that is one of those touched, otherwise to the first by name.
    findings : Findings
        plot-without-position, plot-without-compartment, plot-position-differs, plots-elsewhere, those of
        `place_findings`, datum-ballpark.
    """
    table = typed.frame.with_columns(pl.col("state").fill_null(MEASURED))
    x, y, found = _coordinates(table, typed, raw, crs, source)
    points = np.full(len(x), None, dtype=object)
    known = np.isfinite(x) & np.isfinite(y)
    points[known] = shapely.points(x[known], y[known])
    frame = gpd.GeoDataFrame(table.to_pandas(), geometry=points, crs=crs)
    entering = pl.col("state").is_in(ESTIMATED_STATES)
    rows = table.with_columns(pl.Series("placed", known)).filter(entering)
    can_locate = crs is not None and len(compartments) > 0
    findings = [found, without_position(rows, rules, source, located=can_locate)]
    located = pl.Series("located_in", [None] * len(frame), dtype=pl.String)
    if crs is not None and len(compartments):
        rows = _located(table, points, compartments)
        located = rows["located_in"]
        names = set(compartments["compartment"].fillna("").astype(str))
        enters = rows["state"].is_in(ESTIMATED_STATES)
        elsewhere = Findings.none()
        if rules.assign is AssignRule.POSITION or rules.edge in {EdgeRule.INSIDE, EdgeRule.POSITIONS}:
            by_position = rows.select(enters & ~is_full(rules)).to_series()
            xy = (x[by_position.to_numpy()], y[by_position.to_numpy()])
            elsewhere = most_elsewhere(rows.filter(by_position), xy, compartments, crs, source)
        findings += [elsewhere, place_findings(rows.filter(enters), names, rules, source)]
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
    findings: list[Findings] = []
    try:
        lon, lat = table["lon"].to_numpy().astype(float), table["lat"].to_numpy().astype(float)
        if (np.isfinite(lon) & np.isfinite(lat)).any():
            moved = transform_points(lon, lat, CRS.from_user_input(_WGS84), crs)
            x, y, found = _either(table, (x, y), moved, ("easting and northing", "lon and lat"), source)
            findings.append(found)
        if raw is not None and raw.geometry is not None:
            moved_x, moved_y, found = _layer_points(x, y, typed, raw, crs, source)
            findings.append(found)
            moved = (moved_x, moved_y)
            x, y, found = _either(table, (x, y), moved, ("the columns", "the point of the layer"), source)
            findings.append(found)
    except BallparkTransformError as error:
        findings.append(finding("datum-ballpark", source, str(error)))
    return x, y, Findings.join(findings)


def _either(
    table: pl.DataFrame,
    first: tuple[_Floats, _Floats],
    second: tuple[_Floats, _Floats],
    names: tuple[str, str],
    source: str,
) -> tuple[_Floats, _Floats, Findings]:
    """Return the first position, the second where there is none, and plot-position-differs where both are."""
    apart = np.hypot(first[0] - second[0], first[1] - second[1])
    rows = table.with_columns(pl.Series("apart_m", apart).fill_nan(None)).filter(pl.col("apart_m") > _APART_M)
    message = pl.format(
        f"{names[0]} and {names[1]} are {{}} m apart; {names[0]} are used", pl.col("apart_m").round(1)
    )
    found = findings_of(
        "plot-position-differs", rows, source, message, plot="plot", compartment="compartment"
    )
    unknown = ~(np.isfinite(first[0]) & np.isfinite(first[1]))
    x, y = np.where(unknown, second[0], first[0]), np.where(unknown, second[1], first[1])
    return x, y, found


def _layer_points(
    x: _Floats, y: _Floats, typed: TypedTable, raw: RawTable, crs: CRS, source: str
) -> tuple[_Floats, _Floats, Findings]:
    """Return the coordinates of a point layer."""
    nothing = np.full(len(x), np.nan)
    if raw.geometry is None or not raw.crs:
        needed = not (np.isfinite(x) & np.isfinite(y)).all()
        said = "the layer of plots has points, but no CRS"
        found = finding("file-unreadable", source, said) if needed else Findings.none()
        return nothing, nothing, found
    shapes = raw.geometry[typed.kept.to_numpy()]
    shapes = np.where(shapely.get_type_id(shapes) == shapely.GeometryType.POINT, shapes, None)
    moved = transform_geometries(shapes, CRS.from_user_input(raw.crs), crs)
    return shapely.get_x(moved), shapely.get_y(moved), Findings.none()


def _located(
    table: pl.DataFrame, points: NDArray[np.object_], compartments: gpd.GeoDataFrame
) -> pl.DataFrame:
    """Add where each plot lies: ``located_in``, ``nearest_name``, ``distance_m``, ``on_boundary``, ``several``."""
    shapes = shapely.make_valid(
        compartments.geometry.to_numpy()
    )  # faults stop the run anyway: only to look on
    names = compartments["compartment"].fillna("").astype(str).to_numpy()
    found = locate(points, shapes, names, table["compartment"].to_numpy())
    labels = pl.Series("name", names.tolist(), dtype=pl.String)
    return table.with_columns(
        pl.Series("position", found["position"].to_numpy()).cast(pl.Int64),
        pl.Series("nearest", found["nearest"].to_numpy()).cast(pl.Int64),
        pl.Series("distance_m", found["distance_m"].to_numpy()),
        pl.Series("on_boundary", found["on_boundary"].to_numpy()),
        pl.Series("several", found["several"].to_numpy()),
    ).with_columns(
        pl.when(pl.col("position") >= 0).then(labels.gather(_safe(found["position"]))).alias("located_in"),
        pl.when(pl.col("nearest") >= 0).then(labels.gather(_safe(found["nearest"]))).alias("nearest_name"),
    )


def _safe(positions: object) -> pl.Series:
    """Return row numbers with −1 replaced by 0, for gathering."""
    return pl.Series(np.maximum(np.asarray(positions), 0))
