"""What is odd about where plots lie: outside, on boundaries, elsewhere than the crew wrote."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import polars as pl
import shapely
from numpy.typing import NDArray

from plotmap.model.findings import Findings, findings_of
from plotmap.model.settings import AssignRule, Design, EdgeRule, PlotsSection
from plotmap.spatial.nearness import near_boundaries

_FAR_M = 10_000.0
"""Farther than this distances are told in kilometres."""
_FARTHEST_KM = 100_000.0
"""No two places on earth are this far apart; beyond it the coordinates are none."""


def place_findings(rows: pl.DataFrame, names: set[str], rules: PlotsSection, source: str) -> Findings:
    """Return the findings about where plots lie, worded by the rule that says what a plot counts for.

    Parameters
    ----------
    rows : polars.DataFrame
        Plots that enter the estimates: cells of the plots table, ``position`` (row of the compartment, −1 where
        in none), ``located_in``, ``nearest_name``, ``distance_m``, ``on_boundary`` and ``several``.
    names : set of str
        Compartments of the layer.
    rules : PlotsSection
        Design of plots that state none, and whose word counts.
    source : str
        File of the plots.

    Returns
    -------
    Findings
        plot-outside, plot-on-boundary, plot-in-overlap, plot-compartment-differs, plot-compartment-unknown.
    """
    known = pl.col("compartment").is_in(list(names)).fill_null(value=False)
    by_crew = (pl.lit(rules.assign is AssignRule.RECORDED) | is_full(rules)) & known
    crews = pl.format("it counts for {}, which the crew wrote", "compartment")
    counts_for = pl.when(by_crew).then(crews).otherwise(pl.format("it is counted in {}", "located_in"))
    aside = pl.when(by_crew).then(crews).otherwise(pl.lit("it is set aside"))
    differs = known & (pl.col("located_in") != pl.col("compartment"))
    parts = (
        (
            "plot-outside", (pl.col("position") < 0) & pl.col("distance_m").is_finite(), None,
            pl.format("the plot lies outside all compartments, {} from {}; {}",
                      _distance(), "nearest_name", aside),
        ),
        (
            "plot-on-boundary", pl.col("on_boundary"), None,
            pl.format("the plot lies on a boundary; {}", counts_for),
        ),
        (
            "plot-in-overlap", pl.col("several"), None,
            pl.format("the plot lies in two or more compartments that overlap; {}", counts_for),
        ),
        (
            "plot-compartment-differs", differs, "compartment",
            pl.format("the crew wrote {}, but the position lies in {}; {}", "compartment", "located_in",
                      counts_for),
        ),
        (
            "plot-compartment-unknown", pl.col("compartment").is_not_null() & ~known, "compartment",
            pl.format("the crew wrote {}, which is no compartment of the layer", "compartment"),
        ),
    )  # fmt: skip
    return Findings.join(
        findings_of(code, rows.filter(which), source, message, plot="plot", compartment="compartment",
                    column=column, value=column)
        for code, which, column, message in parts
    )  # fmt: skip


def without_position(
    rows: pl.DataFrame, rules: PlotsSection, source: str, *, located: bool = True, waypoints: str = ""
) -> Findings:
    """Return plot-without-position, plot-without-waypoint and plot-without-compartment.

    Parameters
    ----------
    rows : polars.DataFrame
        Plots that enter the estimates, with ``placed`` (whether there is a position) and ``named`` (whether a
        waypoint carries the name of the plot; true where there are no waypoints).
    rules : PlotsSection
        Positions are needed where they say the compartment, and where the edge rule computes with them; a full
        count needs neither.
    source : str
        File of the plots.
    located : bool
        False where the CRS could not be settled: then nothing is said about positions.
    waypoints : str
        GPX file beside the table; empty where there is none.
    """
    full = is_full(rules)
    recorded = rules.assign is AssignRule.RECORDED
    reached = rules.edge in {EdgeRule.INSIDE, EdgeRule.POSITIONS}
    round_plot = _design(rules).is_in([Design.CIRCLE, Design.NESTED])
    needs = ~full & (~pl.lit(recorded) | (pl.lit(reached) & round_plot))
    unseen = pl.col("lon").is_not_null() & pl.col("lat").is_not_null()
    nothing = "the plot has neither easting and northing nor lon and lat"
    why = f"{nothing}, which edge = '{rules.edge}' needs" if recorded else nothing
    message = (
        pl.when(unseen)
        .then(pl.format("lon {} and lat {} lie where the survey's CRS cannot show them", "lon", "lat"))
        .otherwise(pl.lit(why))
    )
    cells = {"plot": "plot", "compartment": "compartment"}
    lost = rows.filter(needs & ~pl.col("placed")) if located else rows.clear()
    no_waypoint = pl.format(f"{why}, and no waypoint of {waypoints} is called {{}}", "plot")
    homeless = (pl.lit(recorded) | (full & ~pl.col("placed"))) & pl.col("compartment").is_null()
    asked = (
        pl.when(pl.lit(recorded))
        .then(pl.lit("the crew wrote no compartment, and assign = 'recorded' counts plots by it"))
        .otherwise(pl.lit("the plot is a full count, but nothing says of which compartment"))
    )
    return Findings.join(
        [
            findings_of("plot-without-position", lost.filter("named"), source, message, **cells),
            findings_of("plot-without-waypoint", lost.filter(~pl.col("named")), source, no_waypoint, **cells),
            findings_of("plot-without-compartment", rows.filter(homeless), source, asked, plot="plot",
                        column="compartment"),
        ]
    )  # fmt: skip


def near_boundary(
    rows: pl.DataFrame,
    points: NDArray[np.object_],
    compartments: gpd.GeoDataFrame,
    rules: PlotsSection,
    source: str,
) -> Findings:
    """Return plot-near-boundary where a plot is closer to its compartment's boundary than positions are good.

    Parameters
    ----------
    rows : polars.DataFrame
        Plots whose position counts, in the order of `points`: ``position`` (row of the compartment, −1 where in
        none), ``on_boundary``, ``several``, ``located_in``. Those on a boundary or in an overlap are told already.
    points : array of shapely points
        In metres; None where there is no position.
    compartments : geopandas.GeoDataFrame
        In the same CRS.
    rules : PlotsSection
        ``position_error_m``; nothing is told where it is 0.
    source : str
        File of the plots.
    """
    limit_m = rules.position_error_m
    if not limit_m:
        return Findings.none()
    told = rows["on_boundary"] | rows["several"]
    own = np.where(told, -1, rows["position"].to_numpy())
    found = near_boundaries(points, own, shapely.make_valid(compartments.geometry.to_numpy()), limit_m)
    names = pl.Series("neighbour", compartments["compartment"].fillna("without a name").astype(str).tolist())
    near = rows[found["point"].to_numpy()].with_columns(
        pl.Series("boundary_m", found["boundary_m"].to_numpy()).round(1),
        pl.Series("edge_m", found["edge_m"].to_numpy()).round(1),
        pl.Series("neighbour_m", found["neighbour_m"].to_numpy()).round(1),
        names.gather(np.maximum(found["neighbour"].to_numpy(), 0)),
    )
    beside = pl.when(pl.col("neighbour_m").is_finite()).then(
        pl.format("{} m from {} and ", "neighbour_m", "neighbour")
    ).otherwise(pl.lit(""))  # fmt: skip
    message = pl.format(
        "the plot lies in {}, but {}{} m from the outer edge of all compartments; positions are good to {} m",
        "located_in", beside, "edge_m", pl.lit(f"{limit_m:g}"),
    )  # fmt: skip
    return findings_of("plot-near-boundary", near, source, message, plot="plot", compartment="located_in",
                       value=pl.format("{} m", "boundary_m"))  # fmt: skip


def is_full(rules: PlotsSection) -> pl.Expr:
    """Return whether a plot is a full count of its compartment, by its own design or that of the settings."""
    return _design(rules) == Design.FULL


def _design(rules: PlotsSection) -> pl.Expr:
    """Return the design of a plot: its own, else that of the settings."""
    return pl.col("design").fill_null(str(rules.design))


def _distance() -> pl.Expr:
    """Return the distance in m, in km where it is far."""
    metres = pl.format("{} m", pl.col("distance_m").round(1))
    kilometres = pl.format(
        "{} km", (pl.col("distance_m") / 1000).round(0).clip(upper_bound=_FARTHEST_KM).cast(pl.Int64)
    )
    far = pl.when(pl.col("distance_m") > _FARTHEST_KM * 1000).then(pl.lit("more than 100000 km"))
    return far.when(pl.col("distance_m") > _FAR_M).then(kilometres).otherwise(metres)
