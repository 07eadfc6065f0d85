"""Where each plot counts and with what area: design, slope, edges and compartment."""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from plotmap.model.field_tables import ESTIMATED_STATES, SOURCE_ROW
from plotmap.model.findings import Findings, finding, findings_of
from plotmap.model.settings import AssignRule, Design, EdgeRule, PlotsSection, fitting_designs
from plotmap.model.survey import Survey
from plotmap.plots.edges import Circles, shares_inside, with_parts
from plotmap.plots.sizes import ring_areas, size_findings, with_sizes
from plotmap.units import M2_PER_HA

_INSIDE_TOLERANCE = 1e-9
OUTSIDE = "outside all compartments"
NOT_IN_LAYER = "compartment not in the layer"
NOT_RECORDED = "no compartment recorded"
NOT_REACHED = "in a compartment that its plot does not reach"
NONE_INSIDE = "no part of the plot in its compartment"
_COLUMNS = [
    "plot", "compartment", "state", "design", "radius_m", "area_m2", "length_m", "width_m", "baf_m2_per_ha",
    "slope_pct", "located_in", SOURCE_ROW,
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Layout:
    """How the plots lie.

    Attributes
    ----------
    table : polars.DataFrame
        One row a plot of the file, in its order: ``plot``, ``compartment`` (the one it counts for; of its
        centre under the edge rule positions), ``state``, ``design``, ``set_aside`` (reason, missing where
        the plot enters), ``area_m2`` (level area stems are divided by, of the widest ring; missing where
        set aside and for angle counts), ``share_inside`` (missing for what is no circle, and where there is
        no position), ``level``, ``baf_level_m2_per_ha`` and ``source_row``.
    parts : polars.DataFrame
        One row a plot that enters and compartment it counts for: ``plot``, ``compartment``, ``weight_m2``
        (by which the plot weighs in the compartment), ``part_m2`` (level area of the part; missing for angle
        counts) and ``full_count``.
    rings : polars.DataFrame
        ``plot``, ``compartment``, ``min_dbh_cm`` and ``ring_m2``: the level area that stems from this
        diameter on are divided by. No row for angle counts.
    whole_rings : polars.DataFrame
        The same before the edge rule.
    findings : Findings
        Of sizes, slopes, edges and full counts.
    """

    table: pl.DataFrame
    parts: pl.DataFrame
    rings: pl.DataFrame
    whole_rings: pl.DataFrame
    findings: Findings


def lay_out(survey: Survey) -> Layout:
    """Return design, size and compartments of each plot.

    Slope is corrected once: with ``slope = "horizontal"`` radii and areas are level already, with
    ``"ground"`` areas are multiplied by the cosine of the slope (and basal area factors divided by it).
    Edges: ``whole`` and ``mirage`` keep the area; with ``inside`` it is the part of the circle (of every
    ring) inside the plot's compartment; with ``positions`` every compartment gets its part of the circle. A
    circle laid out along the slope is taken as a circle of the same level area there. Plots of one
    compartment weigh by their areas; where designs are mixed, and for angle counts, they weigh alike, a circle
    that is cut by its share.

    Parameters
    ----------
    survey : Survey
        Plots, compartments and settings.

    Returns
    -------
    Layout
        Table, parts, rings and findings.
    """
    rules = survey.settings.plots
    source = survey.sources.get("plots", "plots")
    areas = _compartment_areas(survey)
    plots = pl.from_pandas(survey.plots[_COLUMNS]).cast({"design": pl.String, "located_in": pl.String})
    plots = plots.with_columns(pl.col("design").fill_null(str(rules.design)))
    plots = with_sizes(plots.with_columns(_home(rules, areas["compartment"].to_list())), rules, areas)
    findings = [size_findings(plots, rules, source)]
    circles = Circles.of(survey, plots)
    plots = plots.with_columns(pl.Series("share_inside", shares_inside(circles, plots)).fill_nan(None))
    if rules.edge is EdgeRule.INSIDE:
        none = pl.col("set_aside").is_null() & (pl.col("share_inside") <= 0)
        plots = plots.with_columns(
            pl.coalesce("set_aside", pl.when(none).then(pl.lit(NONE_INSIDE))).alias("set_aside")
        )
    whole = _entering(ring_areas(plots, rules), plots)
    parts, rings = with_parts(circles, plots, whole, rules.edge)
    findings += [
        _crossing(plots, rules, source),
        _not_for(plots, rules, source),
        _full_and_plots(plots, source),
    ]
    if survey.crs and len(survey.compartments):
        findings.append(_none_left(plots, source))
    return Layout(_table(plots, parts), _weights(parts, plots), rings, whole, Findings.join(findings))


def _compartment_areas(survey: Survey) -> pl.DataFrame:
    """Return identifier and area (ha) of every compartment, from the register or the map as the settings say."""
    frame: pl.DataFrame = pl.from_pandas(survey.compartments[["compartment", "area_ha", "area_geodesic_ha"]])
    register = (
        pl.col("area_ha") if survey.settings.survey.areas == "register" else pl.lit(None, dtype=pl.Float64)
    )
    return frame.filter(pl.col("compartment").is_not_null()).select(
        pl.col("compartment").cast(pl.String), pl.coalesce(register, "area_geodesic_ha").alias("area_ha")
    )


def _home(rules: PlotsSection, names: list[str]) -> list[pl.Expr]:
    """Return the compartment a plot counts for, and why it is set aside where it is."""
    recorded = pl.when(pl.col("compartment").is_in(names)).then("compartment")
    located = pl.col("located_in")
    by_position = (
        pl.when(pl.col("design") == Design.FULL).then(pl.coalesce(recorded, located)).otherwise(located)
    )
    of_recorded = (
        pl.when(pl.col("compartment").is_null()).then(pl.lit(NOT_RECORDED)).otherwise(pl.lit(NOT_IN_LAYER))
    )
    is_recorded = rules.assign is AssignRule.RECORDED
    home: pl.Expr = recorded if is_recorded else by_position
    why = of_recorded if is_recorded else pl.lit(OUTSIDE)
    aside = (
        pl.when(~pl.col("state").is_in(ESTIMATED_STATES)).then("state").when(home.is_null()).then(why)
    )  # fmt: skip
    return [home.alias("home"), aside.alias("set_aside")]


def _entering(rings: pl.DataFrame, plots: pl.DataFrame) -> pl.DataFrame:
    """Return the rings of plots that enter, with the compartment each counts for; of a plot that comes twice, one."""
    enters = plots.filter(pl.col("set_aside").is_null() & pl.col("plot").is_not_null())
    homes = enters.unique("plot", keep="first", maintain_order=True)
    return (
        rings.unique(["plot", "min_dbh_cm"], keep="first", maintain_order=True)
        .join(homes.select("plot", pl.col("home").alias("compartment")), on="plot", maintain_order="left")
        .select("plot", "compartment", "min_dbh_cm", "ring_m2")
    )


def _table(plots: pl.DataFrame, parts: pl.DataFrame) -> pl.DataFrame:
    """Return one row a plot of the file."""
    measured = parts.filter(pl.col("part_m2").is_not_null())
    inside = measured.group_by("plot").agg(pl.col("part_m2").sum())
    enters = pl.col("set_aside").is_null()
    return plots.join(inside, on="plot", how="left", maintain_order="left").select(
        "plot",
        pl.when(enters).then("home").alias("compartment"),
        "state",
        "design",
        "set_aside",
        pl.when(enters).then("part_m2").alias("area_m2"),
        "share_inside",
        "level",
        "baf_level_m2_per_ha",
        SOURCE_ROW,
    )


def _weights(parts: pl.DataFrame, plots: pl.DataFrame) -> pl.DataFrame:
    """Return the parts with their weights: areas in compartments of one design.

    Where there are several designs, 1 ha each, and its share of 1 ha for the part of a plot.
    """
    designs = plots.select("plot", "design", "level_m2").unique("plot", keep="first")
    known = parts.join(designs, on="plot", how="left", maintain_order="left")
    kinds = known.group_by("compartment").agg(
        pl.col("design").n_unique().alias("kinds"), (pl.col("design") == Design.FULL).sum().alias("n_full")
    )
    full = pl.col("design") == Design.FULL
    alike = (pl.col("kinds") > 1) | pl.col("part_m2").is_null()
    weight = (
        pl.when(full)
        .then(pl.col("part_m2") / pl.col("n_full"))
        .when(alike)
        .then(M2_PER_HA * (pl.col("part_m2") / pl.col("level_m2")).fill_null(1.0))
        .otherwise("part_m2")
    )
    return known.join(kinds, on="compartment", how="left", maintain_order="left").select(
        "plot", "compartment", weight.alias("weight_m2"), "part_m2", full.alias("full_count")
    )


def _crossing(plots: pl.DataFrame, rules: PlotsSection, source: str) -> Findings:
    """Return plot-crosses-boundary, under the edge rule whole only."""
    if rules.edge is not EdgeRule.WHOLE:
        return Findings.none()
    rows = plots.filter(pl.col("share_inside") < 1 - _INSIDE_TOLERANCE)
    beyond = (100 * (1 - pl.col("share_inside"))).round(1)
    message = pl.format("{} % of the plot lies beyond the boundary of {}", beyond, "home")
    return findings_of("plot-crosses-boundary", rows, source, message, plot="plot", compartment="home")


def _not_for(plots: pl.DataFrame, rules: PlotsSection, source: str) -> Findings:
    """Return edge-not-for-design, one a design that the edge rule of the settings knows no area for."""
    others = plots.filter(
        pl.col("set_aside").is_null()
        & (pl.col("design") != Design.FULL)
        & ~pl.col("design").is_in([str(design) for design in fitting_designs(rules.edge)])
    )
    found = (
        others.sort(SOURCE_ROW)
        .group_by("design", maintain_order=True)
        .agg(pl.len().alias("plots"), pl.col("plot", SOURCE_ROW).first())
    )
    message = pl.format(
        f"edge = '{rules.edge}' does not fit design = '{{}}'; its plots are taken as whole (plots: {{}})",
        "design",
        "plots",
    )
    return findings_of(
        "edge-not-for-design", found, source, message, plot="plot", column="design", value="design"
    )


def _full_and_plots(plots: pl.DataFrame, source: str) -> Findings:
    """Return full-count-with-plots for the plots of compartments that were counted whole."""
    enters = plots.filter(pl.col("set_aside").is_null())
    whole = enters.filter(pl.col("design") == Design.FULL).select("home").unique()
    rows = enters.filter(pl.col("design") != Design.FULL).join(whole, on="home")
    message = pl.format("compartment {} was counted whole, but the plot ({}) lies in it", "home", "design")
    return findings_of(
        "full-count-with-plots", rows, source, message, plot="plot", compartment="home", value="design"
    )


def _none_left(plots: pl.DataFrame, source: str) -> Findings:
    """Return no-plots-left where every plot of the file is set aside."""
    if not plots.height or plots["set_aside"].null_count():
        return Findings.none()
    reasons = plots.group_by("set_aside").len().sort("len", "set_aside", descending=[True, False])
    if plots.height == 1:
        return finding("no-plots-left", source, f"the only plot is set aside: {reasons['set_aside'].item()}")
    words = ", ".join(f"{count} {reason}" for reason, count in reasons.rows())
    return finding("no-plots-left", source, f"all {plots.height} plots are set aside: {words}")
