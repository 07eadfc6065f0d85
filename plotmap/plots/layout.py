"""Size, slope, edges and compartment of each plot: the level area its stems are divided by."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import polars as pl

from plotmap.model.field_tables import ESTIMATED_STATES, SOURCE_ROW
from plotmap.model.findings import Findings, finding, findings_of
from plotmap.model.settings import AssignRule, Design, EdgeRule, PlotsSection, SlopeRule
from plotmap.model.survey import Survey
from plotmap.spatial.circle_overlap import circle_overlap_m2

_SIZE_TOLERANCE = 0.005
"""A radius and an area that agree this closely are one size, rounded."""
_INSIDE_TOLERANCE = 1e-9
OUTSIDE = "outside all compartments"
NOT_IN_LAYER = "compartment not in the layer"
NONE_INSIDE = "no part of the plot in its compartment"


@dataclass(frozen=True, slots=True)
class Layout:
    """How the plots lie.

    Attributes
    ----------
    table : polars.DataFrame
        One row a plot of the file, in its order: ``plot``, ``compartment`` (the one it counts for),
        ``state``, ``set_aside`` (reason, missing where the plot enters), ``area_m2`` (level area stems are
        divided by; missing where set aside or without size), ``share_inside`` (missing for what is no
        circle, and where there is no position) and ``source_row``.
    findings : Findings
        plot-without-size, plot-size-twice, slope-missing, plot-crosses-boundary.
    """

    table: pl.DataFrame
    findings: Findings


def level_share(slope_pct: npt.ArrayLike) -> npt.NDArray[np.float64]:
    """Return the level area of a patch of one unit of area measured along the slope, cos(atan(slope)).

    Parameters
    ----------
    slope_pct : array_like of float
        Rise over run in per cent; missing (NaN) is taken as level.

    Returns
    -------
    numpy.ndarray of float
        1 on level ground, 0.957826 at 30 %. Geometry, needs no source.
    """
    slope = np.nan_to_num(np.asarray(slope_pct, dtype=float)) / 100
    return np.asarray(1 / np.sqrt(1 + slope**2), dtype=np.float64)


def lay_out(survey: Survey) -> Layout:
    """Return size and compartment of each plot.

    Slope is corrected once: with ``slope = "horizontal"`` radii and areas are level already, with
    ``"ground"`` the area is multiplied by the cosine of the slope. With ``edge = "inside"`` the area is the
    part of the circle inside the plot's compartment; a circle laid out along the slope is taken as a circle
    of the same level area there.

    Parameters
    ----------
    survey : Survey
        Plots, compartments and settings.

    Returns
    -------
    Layout
        Table and findings.
    """
    rules = survey.settings.plots
    source = survey.sources.get("plots", "plots")
    columns = ["plot", "compartment", "state", "radius_m", "area_m2", "slope_pct", "located_in", SOURCE_ROW]
    plots = pl.from_pandas(survey.plots[columns]).with_columns(_home(rules, _names(survey)))
    plots, findings = _sizes(plots, rules, source)
    share = _share_inside(plots, survey)
    plots = plots.with_columns(pl.Series("share_inside", share).fill_nan(None))
    findings.append(_crossing(plots, rules, source))
    if rules.edge is EdgeRule.INSIDE:
        plots = plots.with_columns(pl.col("level_m2") * pl.col("share_inside").fill_null(1.0))
        none = pl.when(pl.col("set_aside").is_null() & (pl.col("level_m2") <= 0)).then(pl.lit(NONE_INSIDE))
        plots = plots.with_columns(pl.coalesce("set_aside", none).alias("set_aside"))
    enters = pl.col("set_aside").is_null()
    if survey.crs and len(survey.compartments):
        findings.append(_none_left(plots, source))
    table = plots.select(
        "plot",
        pl.when(enters).then("home").alias("compartment"),
        "state",
        "set_aside",
        pl.when(enters).then("level_m2").alias("area_m2"),
        "share_inside",
        SOURCE_ROW,
    )
    return Layout(table, Findings.join(findings))


def _none_left(plots: pl.DataFrame, source: str) -> Findings:
    """Return no-plots-left where every plot of the file is set aside."""
    if not plots.height or plots["set_aside"].null_count():
        return Findings.none()
    reasons = plots.group_by("set_aside").len().sort("len", "set_aside", descending=[True, False])
    words = ", ".join(f"{count} {reason}" for reason, count in reasons.rows())
    return finding("no-plots-left", source, f"all {plots.height} plots are set aside: {words}")


def _names(survey: Survey) -> list[str]:
    """Return the identifiers of the compartments."""
    return [str(name) for name in survey.compartments["compartment"].dropna()]


def _home(rules: PlotsSection, names: list[str]) -> list[pl.Expr]:
    """Return the compartment a plot counts for, and why it is set aside where it is."""
    if rules.assign is AssignRule.RECORDED:
        home, why = pl.when(pl.col("compartment").is_in(names)).then("compartment"), NOT_IN_LAYER
    else:
        home, why = pl.when(pl.col("located_in").is_not_null()).then("located_in"), OUTSIDE
    aside = (
        pl.when(~pl.col("state").is_in(ESTIMATED_STATES))
        .then("state")
        .when(home.is_null())
        .then(pl.lit(why))
        .alias("set_aside")
    )
    return [home.alias("home"), aside]


def _sizes(plots: pl.DataFrame, rules: PlotsSection, source: str) -> tuple[pl.DataFrame, list[Findings]]:
    """Add ``level_m2``: the level area of each whole plot."""
    circle = rules.design is Design.CIRCLE
    area_of_radius = math.pi * pl.col("radius_m") ** 2 if circle else pl.lit(None, dtype=pl.Float64)
    own = pl.coalesce(area_of_radius, "area_m2")
    common = rules.area_m2 if rules.radius_m is None else math.pi * rules.radius_m**2
    cosine = pl.Series("cosine", level_share(plots["slope_pct"].to_numpy()))
    along = pl.lit(cosine) if rules.slope is SlopeRule.GROUND else pl.lit(1.0)
    sized = plots.with_columns(
        pl.coalesce(own, pl.lit(common, dtype=pl.Float64)).alias("laid_out_m2")
    ).with_columns((pl.col("laid_out_m2") * along).alias("level_m2"))
    needed = sized.filter(pl.col("state").is_in(ESTIMATED_STATES))
    either = "radius_m or area_m2" if circle else "area_m2"
    without = findings_of(
        "plot-without-size",
        needed.filter(pl.col("laid_out_m2").is_null()),
        source,
        pl.lit(f"the plot has no size: neither the row nor [plots] gives {either}"),
        plot="plot",
        column=either.split(" or ", maxsplit=1)[0],
    )
    apart = (area_of_radius / pl.col("area_m2") - 1).abs() > _SIZE_TOLERANCE
    twice = findings_of(
        "plot-size-twice",
        sized.filter(apart if circle else pl.lit(value=False)),
        source,
        pl.format(
            "radius_m is {} ({} m²), but area_m2 is {}", "radius_m", area_of_radius.round(1), "area_m2"
        ),
        plot="plot",
        column="radius_m",
        value="radius_m",
    )
    findings = [without, twice, _radius_of_rectangle(sized, rules, source)]
    if rules.slope is SlopeRule.GROUND:
        findings.append(
            findings_of(
                "slope-missing",
                needed.filter(pl.col("slope_pct").is_null()),
                source,
                pl.lit("the plot has no slope; it is taken as level"),
                plot="plot",
                column="slope_pct",
            )
        )
    return sized, findings


def _radius_of_rectangle(plots: pl.DataFrame, rules: PlotsSection, source: str) -> Findings:
    """Return plot-size-twice for a rectangle that the row gives a radius for."""
    if rules.design is Design.CIRCLE:
        return Findings.none()
    message = pl.format(
        "radius_m is {}, but the design of the settings is {}", "radius_m", pl.lit(str(rules.design))
    )
    rows = plots.filter(pl.col("radius_m").is_not_null())
    return findings_of(
        "plot-size-twice", rows, source, message, plot="plot", column="radius_m", value="radius_m"
    )


def _share_inside(plots: pl.DataFrame, survey: Survey) -> npt.NDArray[np.float64]:
    """Return the share of each circle that lies in the compartment it counts for; NaN where not known."""
    share = np.full(plots.height, np.nan)
    if survey.settings.plots.design is not Design.CIRCLE or not len(survey.compartments):
        return share
    x, y = (np.asarray(axis, dtype=float) for axis in (survey.plots.geometry.x, survey.plots.geometry.y))
    area = plots["level_m2"].to_numpy()
    names = survey.compartments["compartment"].astype(object).to_numpy()
    rows = {name: row for row, name in reversed(list(enumerate(names)))}
    home = np.array([rows.get(name, -1) for name in plots["home"].to_list()], dtype=np.intp)
    known = (
        np.isfinite(x) & np.isfinite(y) & (area > 0) & (home >= 0) & plots["set_aside"].is_null().to_numpy()
    )
    polygons = survey.compartments.geometry.to_numpy()[home[known]]
    radius = np.sqrt(area[known] / math.pi)
    share[known] = np.clip(circle_overlap_m2(x[known], y[known], radius, polygons) / area[known], 0, 1)
    return share


def _crossing(plots: pl.DataFrame, rules: PlotsSection, source: str) -> Findings:
    """Return plot-crosses-boundary, under the edge rule whole only."""
    if rules.edge is not EdgeRule.WHOLE:
        return Findings.none()
    rows = plots.filter(pl.col("share_inside") < 1 - _INSIDE_TOLERANCE)
    beyond = (100 * (1 - pl.col("share_inside"))).round(1)
    message = pl.format("{} % of the plot lies beyond the boundary of {}", beyond, "home")
    return findings_of("plot-crosses-boundary", rows, source, message, plot="plot", compartment="home")
