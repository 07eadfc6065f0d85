"""Plot centres: where they lie, and in which compartment."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import polars as pl
import shapely
from numpy.typing import NDArray
from pyproj import CRS

from plotmap.fielddata.coarseness import coarse_positions
from plotmap.fielddata.convert import TypedTable
from plotmap.fielddata.coordinates import find_coordinates
from plotmap.fielddata.elsewhere import most_elsewhere
from plotmap.fielddata.places import is_full, near_boundary, place_findings, without_position
from plotmap.fielddata.raw import RawTable
from plotmap.fielddata.waypoints import Waypoints
from plotmap.model.field_tables import ESTIMATED_STATES, MEASURED
from plotmap.model.findings import Findings
from plotmap.model.settings import AssignRule, EdgeRule, PlotsSection
from plotmap.spatial.locate import locate


def read_plots(
    typed: TypedTable,
    raw: RawTable | None,
    crs: CRS | None,
    compartments: gpd.GeoDataFrame,
    rules: PlotsSection,
    source: str,
    waypoints: Waypoints | None = None,
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
    waypoints : Waypoints, optional
        Of the GPX file beside the table.

    Returns
    -------
    plots : geopandas.GeoDataFrame
        As `plotmap.model.survey.Survey.plots`. A centre on a shared boundary goes to the compartment the
        crew wrote if that is one of those touched, otherwise to the first by name.
    findings : Findings
        plot-without-position, plot-without-waypoint, plot-without-compartment, plots-elsewhere, positions-coarse,
        plot-near-boundary, those of `place_findings` and of `find_coordinates`.
    """
    table = typed.frame.with_columns(pl.col("state").fill_null(MEASURED))
    where = find_coordinates(typed, raw, waypoints, crs, source)
    x, y, known = where.x, where.y, where.known
    points = np.full(len(x), None, dtype=object)
    points[known] = shapely.points(x[known], y[known])
    frame = gpd.GeoDataFrame(table.to_pandas(), geometry=points, crs=crs)
    entering = pl.col("state").is_in(ESTIMATED_STATES)
    rows = table.with_columns(pl.Series("placed", known), pl.Series("named", where.named)).filter(entering)
    can_locate = crs is not None and len(compartments) > 0
    beside = waypoints.source if waypoints is not None else ""
    findings = [where.findings, without_position(rows, rules, source, located=can_locate, waypoints=beside)]
    located = pl.Series("located_in", [None] * len(frame), dtype=pl.String)
    if crs is not None and len(compartments):
        rows = _located(table, points, compartments)
        located = rows["located_in"]
        names = set(compartments["compartment"].fillna("").astype(str))
        enters = rows["state"].is_in(ESTIMATED_STATES)
        if rules.assign is AssignRule.POSITION or rules.edge in {EdgeRule.INSIDE, EdgeRule.POSITIONS}:
            by_position = rows.select(enters & ~is_full(rules)).to_series().to_numpy()
            counted = rows.filter(by_position)
            xy = (x[by_position], y[by_position])
            elsewhere = most_elsewhere(counted, xy, compartments, crs, source)
            findings += [elsewhere, near_boundary(counted, points[by_position], compartments, rules, source)]
            if not len(elsewhere):
                coarse = by_position & where.by_degrees
                findings.append(
                    coarse_positions(rows.filter(coarse), points[coarse], _shapes(compartments), source)
                )
        findings.append(place_findings(rows.filter(enters), names, rules, source))
    frame["located_in"] = located.to_pandas().to_numpy()
    return frame, Findings.join(findings)


def _located(
    table: pl.DataFrame, points: NDArray[np.object_], compartments: gpd.GeoDataFrame
) -> pl.DataFrame:
    """Add where each plot lies: ``located_in``, ``nearest_name``, ``distance_m``, ``on_boundary``, ``several``."""
    shapes = _shapes(compartments)
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


def _shapes(compartments: gpd.GeoDataFrame) -> NDArray[np.object_]:
    """Return the polygons made valid: faults stop the run anyway, this is only to look on."""
    return np.asarray(shapely.make_valid(compartments.geometry.to_numpy()), dtype=object)


def _safe(positions: object) -> pl.Series:
    """Return row numbers with −1 replaced by 0, for gathering."""
    return pl.Series(np.maximum(np.asarray(positions), 0))
