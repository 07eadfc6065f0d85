"""What is odd about where plots lie: outside, on boundaries, elsewhere than the crew wrote."""

from __future__ import annotations

import polars as pl

from plotmap.model.findings import Findings, findings_of
from plotmap.model.settings import AssignRule, Design, EdgeRule, PlotsSection

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
    rows: pl.DataFrame, rules: PlotsSection, source: str, *, located: bool = True
) -> Findings:
    """Return plot-without-position and plot-without-compartment.

    Parameters
    ----------
    rows : polars.DataFrame
        Plots that enter the estimates, with ``placed`` (whether there is a position).
    rules : PlotsSection
        Positions are needed where they say the compartment, and where the edge rule computes with them; a full
        count needs neither.
    source : str
        File of the plots.
    located : bool
        False where the CRS could not be settled: then nothing is said about positions.
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
    homeless = (pl.lit(recorded) | (full & ~pl.col("placed"))) & pl.col("compartment").is_null()
    asked = (
        pl.when(pl.lit(recorded))
        .then(pl.lit("the crew wrote no compartment, and assign = 'recorded' counts plots by it"))
        .otherwise(pl.lit("the plot is a full count, but nothing says of which compartment"))
    )
    return Findings.join(
        [
            findings_of("plot-without-position", lost, source, message, **cells),
            findings_of("plot-without-compartment", rows.filter(homeless), source, asked, plot="plot",
                        column="compartment"),
        ]
    )  # fmt: skip


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
