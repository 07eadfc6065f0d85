"""How large each plot is: level areas of plots and rings, and what is wrong about them."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
import polars as pl

from plotmap.model.field_tables import ESTIMATED_STATES
from plotmap.model.findings import Findings, findings_of
from plotmap.model.settings import Design, PlotsSection, SlopeRule
from plotmap.units import M2_PER_HA

_SIZE_TOLERANCE = 0.005
"""A radius and an area that agree this closely are one size, rounded."""
_ASKED_FOR = {
    Design.CIRCLE: "radius_m or area_m2",
    Design.RECTANGLE: "area_m2, or length_m and width_m",
    Design.STRIP: "area_m2, or length_m and width_m",
    Design.NESTED: "nests",
    Design.ANGLE_COUNT: "baf_m2_per_ha",
    Design.FULL: "the compartment",
}
_SIZE_COLUMNS = {
    Design.CIRCLE: ("radius_m", "area_m2"),
    Design.RECTANGLE: ("area_m2", "length_m", "width_m"),
    Design.STRIP: ("area_m2", "length_m", "width_m"),
    Design.NESTED: (),
    Design.ANGLE_COUNT: ("baf_m2_per_ha",),
    Design.FULL: (),
}
"""Columns of the plots table that give a plot of each design its size."""
_SIZES = ("radius_m", "area_m2", "length_m", "width_m", "baf_m2_per_ha")


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


def with_sizes(plots: pl.DataFrame, rules: PlotsSection, compartments: pl.DataFrame) -> pl.DataFrame:
    """Add the level size of each plot.

    Parameters
    ----------
    plots : polars.DataFrame
        ``design``, ``home``, ``radius_m``, ``area_m2``, ``length_m``, ``width_m``, ``baf_m2_per_ha`` and
        ``slope_pct`` of each plot.
    rules : PlotsSection
        Sizes of plots that have none of their own, and the slope rule.
    compartments : polars.DataFrame
        ``compartment`` and ``area_ha``: the size of a full count.

    Returns
    -------
    polars.DataFrame
        With ``level`` (level area of one unit of area as laid out), ``level_m2`` (level area of the plot, of
        the widest ring of a nested one; missing for an angle count and without size) and
        ``baf_level_m2_per_ha`` (basal area per level hectare that a stem stands for; angle counts only).
    """
    cosine = pl.Series("level", level_share(plots["slope_pct"].to_numpy()))
    ground = rules.slope is SlopeRule.GROUND
    design = pl.col("design")
    common = pl.lit(rules.area_m2, dtype=pl.Float64)
    circle = pl.coalesce(
        _circle_m2(pl.col("radius_m")), "area_m2", _circle_m2(pl.lit(rules.radius_m)), common
    )
    width = pl.coalesce("width_m", pl.lit(rules.width_m, dtype=pl.Float64))
    widest = rules.nests[-1].radius_m if rules.nests else None
    laid_out = (
        pl.when(design == Design.CIRCLE)
        .then(circle)
        .when(design.is_in([Design.RECTANGLE, Design.STRIP]))
        .then(pl.coalesce("area_m2", pl.col("length_m") * width, common))
        .when(design == Design.NESTED)
        .then(_circle_m2(pl.lit(widest)))
    )
    areas = compartments.select(
        pl.col("compartment").alias("home"), (pl.col("area_ha") * M2_PER_HA).alias("whole_m2")
    )
    baf = pl.coalesce("baf_m2_per_ha", pl.lit(rules.baf_m2_per_ha, dtype=pl.Float64))
    return (
        plots.with_columns(cosine if ground else pl.lit(1.0).alias("level"))
        .join(areas.unique("home", keep="first"), on="home", how="left", maintain_order="left")
        .with_columns(
            pl.when(design == Design.FULL)
            .then("whole_m2")
            .otherwise(laid_out * pl.col("level"))
            .alias("level_m2"),
            pl.when(design == Design.ANGLE_COUNT).then(baf / pl.col("level")).alias("baf_level_m2_per_ha"),
        )
        .drop("whole_m2")
    )


def ring_areas(plots: pl.DataFrame, rules: PlotsSection) -> pl.DataFrame:
    """Return the level area of every ring: the rings of nested plots, one for any other plot with an area.

    Parameters
    ----------
    plots : polars.DataFrame
        ``plot``, ``design``, ``level`` and ``level_m2``.
    rules : PlotsSection
        Rings of nested plots.

    Returns
    -------
    polars.DataFrame
        ``plot``, ``min_dbh_cm`` (0 but for rings) and ``ring_m2``.
    """
    single = plots.filter((pl.col("design") != Design.NESTED) & pl.col("level_m2").is_not_null()).select(
        "plot", pl.lit(0.0).alias("min_dbh_cm"), pl.col("level_m2").alias("ring_m2")
    )
    nests = pl.DataFrame(
        {
            "min_dbh_cm": [nest.min_dbh_cm for nest in rules.nests],
            "laid_out_m2": [math.pi * nest.radius_m**2 for nest in rules.nests],
        },
        schema={"min_dbh_cm": pl.Float64, "laid_out_m2": pl.Float64},
    )
    nested = plots.filter(pl.col("design") == Design.NESTED).select("plot", "level").join(nests, how="cross")
    rings = nested.select("plot", "min_dbh_cm", (pl.col("laid_out_m2") * pl.col("level")).alias("ring_m2"))
    return pl.concat([single, rings])


def size_findings(plots: pl.DataFrame, rules: PlotsSection, source: str) -> Findings:
    """Return plot-without-size, plot-size-twice and slope-missing.

    Parameters
    ----------
    plots : polars.DataFrame
        After `with_sizes`, with ``state`` and ``source_row``.
    rules : PlotsSection
        Slope rule.
    source : str
        File of the plots.
    """
    needed = plots.filter(pl.col("state").is_in(ESTIMATED_STATES))
    asked = pl.col("design").replace_strict(
        {str(key): text for key, text in _ASKED_FOR.items()}, default="a size"
    )
    nothing = pl.col("level_m2").is_null() & pl.col("baf_level_m2_per_ha").is_null()
    without = findings_of(
        "plot-without-size",
        needed.filter(nothing & ((pl.col("design") != Design.FULL) | pl.col("home").is_not_null())),
        source,
        pl.format("the plot has no size: neither the row nor [plots] gives {}", asked),
        plot="plot",
        column=pl.col("design").replace_strict(
            {str(design): columns[0] for design, columns in _SIZE_COLUMNS.items() if columns},
            default="design",
        ),
    )
    findings = [without, *_two_sizes(plots, rules, source), *_other_sizes(plots, source)]
    if rules.slope is SlopeRule.GROUND:
        flat = needed.filter(pl.col("slope_pct").is_null() & (pl.col("design") != Design.FULL))
        message = pl.lit("the plot has no slope; it is taken as level")
        findings.append(findings_of("slope-missing", flat, source, message, plot="plot", column="slope_pct"))
    return Findings.join(findings)


def _two_sizes(plots: pl.DataFrame, rules: PlotsSection, source: str) -> list[Findings]:
    """Return plot-size-twice: a radius, or length and width, that do not come to the area of the row."""
    circle = _circle_m2(pl.col("radius_m"))
    width = pl.coalesce("width_m", pl.lit(rules.width_m, dtype=pl.Float64))
    sides = pl.col("length_m") * width
    given = [
        ("radius_m", circle, pl.format("radius_m is {} ({} m²)", "radius_m", circle.round(1))),
        (
            "length_m",
            sides,
            pl.format("length_m is {} and width_m is {} ({} m²)", "length_m", width, sides.round(1)),
        ),
    ]
    return [
        findings_of(
            "plot-size-twice",
            plots.filter(
                _of(column) & _of("area_m2") & ((size / pl.col("area_m2") - 1).abs() > _SIZE_TOLERANCE)
            ),
            source,
            pl.format("{}, but area_m2 is {}", words, "area_m2"),
            plot="plot",
            column=column,
            value=column,
        )
        for column, size, words in given
    ]


def _other_sizes(plots: pl.DataFrame, source: str) -> list[Findings]:
    """Return plot-size-twice: a size that plots of this design do not have, and so was not used."""
    return [
        findings_of(
            "plot-size-twice",
            plots.filter(pl.col(column).is_not_null() & ~_of(column)),
            source,
            pl.format(f"{column} is {{}}, but the design is {{}}", column, "design"),
            plot="plot",
            column=column,
            value=column,
        )
        for column in _SIZES
    ]


def _of(column: str) -> pl.Expr:
    """Say whether plots of this design get their size from a column."""
    return pl.col("design").is_in(
        [str(design) for design, columns in _SIZE_COLUMNS.items() if column in columns]
    )


def _circle_m2(radius_m: pl.Expr) -> pl.Expr:
    """Return the area of a circle."""
    return math.pi * radius_m.cast(pl.Float64) ** 2
