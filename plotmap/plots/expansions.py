"""How many stems per hectare each stem stands for, by the design of its plot."""

from __future__ import annotations

import polars as pl

from plotmap.model.findings import Findings, findings_of
from plotmap.model.settings import Design
from plotmap.model.survey import Survey
from plotmap.plots.layout import Layout
from plotmap.units import M2_PER_CM2, M2_PER_HA

_DECIMALS = 6


def seen_cm() -> pl.Expr:
    """Return the diameter by which a crew took a stem: over bark; on the basis of the results where not known."""
    return pl.coalesce("over_bark_cm", "dbh_cm")


def with_expansions(stems: pl.DataFrame, layout: Layout) -> pl.DataFrame:
    """Add what each stem stands for; stems that stand for nothing are left out.

    Parameters
    ----------
    stems : polars.DataFrame
        ``plot``, ``compartment``, ``dbh_cm``, ``over_bark_cm`` (not of tallied stems), ``square_cm2`` and
        ``baf_level_m2_per_ha`` of stems on plots that enter.
    layout : Layout
        Parts and rings.

    Returns
    -------
    polars.DataFrame
        With ``per_ha`` (stems per hectare) and ``share`` (`per_ha` times the plot's weight in ha: 1 on a plot
        of one fixed area and in a full count). Left out are stems outside all compartments, and stems thinner
        than the smallest ring.
    """
    weighed = stems.join(
        layout.parts.select("plot", "compartment", "weight_m2", "full_count"),
        on=["plot", "compartment"],
        maintain_order="left",
    )
    ringed = _with_ring(weighed, layout.rings, ["plot", "compartment"])
    # the gauge sees the stem over bark; random error is taken off that square in the same proportion
    square = pl.when(pl.col("square_cm2") > 0).then("square_cm2").otherwise(pl.col("dbh_cm").pow(2))
    seen = square * (seen_cm() / pl.col("dbh_cm")).pow(2) if "over_bark_cm" in stems.columns else square
    by_count = pl.col("baf_level_m2_per_ha") / (seen * M2_PER_CM2)
    angle = pl.col("baf_level_m2_per_ha").is_not_null()
    return (
        ringed.with_columns(
            pl.when(angle).then(by_count).otherwise(M2_PER_HA / pl.col("ring_m2")).alias("per_ha"),
            pl.when(angle)
            .then(by_count * pl.col("weight_m2") / M2_PER_HA)
            .when("full_count")  # the sheets of one count share its area, but every stem is one stem
            .then(1.0)
            .otherwise(pl.col("weight_m2") / pl.col("ring_m2"))
            .alias("share"),
        )
        .filter(pl.col("per_ha").is_not_null())
        .drop("ring_m2", "weight_m2", "full_count")
    )


def _with_ring(stems: pl.DataFrame, rings: pl.DataFrame, on: list[str]) -> pl.DataFrame:
    """Add ``ring_m2``: the level area of the ring that a stem's diameter belongs to; missing where there is none."""
    if not (rings["min_dbh_cm"] > 0).any():
        return stems.join(rings.select(*on, "ring_m2"), on=on, how="left", maintain_order="left")
    size = seen_cm() if "over_bark_cm" in stems.columns else pl.col("dbh_cm")
    placed = stems.with_row_index("_place").with_columns(size.round(_DECIMALS).alias("_size"))
    return (
        placed.sort("_size")
        .join_asof(
            rings.sort("min_dbh_cm"),
            left_on="_size",
            right_on="min_dbh_cm",
            by=on,
            strategy="backward",
            check_sortedness=False,
        )
        .sort("_place")
        .drop("_place", "_size", "min_dbh_cm")
    )


def with_whole_ring(stems: pl.DataFrame, layout: Layout) -> pl.DataFrame:
    """Add ``ring_m2``, the level area of the whole ring, before any edge rule: how far out a stem may stand.

    Parameters
    ----------
    stems : polars.DataFrame
        ``plot``, ``dbh_cm`` and ``over_bark_cm`` of stems on plots that enter.
    layout : Layout
        Reads ``whole_rings``.
    """
    return _with_ring(stems, layout.whole_rings.drop("compartment"), ["plot"])


def bark_findings(stems: pl.DataFrame, file: str) -> Findings:
    """Return over-bark-unknown, one a design.

    Parameters
    ----------
    stems : polars.DataFrame
        ``plot``, ``design``, ``over_bark_cm`` and ``source_row`` of measured stems on plots that enter.
    file : str
        File they come from.
    """
    by_size = pl.col("design").is_in([Design.NESTED, Design.ANGLE_COUNT])
    found = (
        stems.filter(by_size & pl.col("over_bark_cm").is_null())
        .sort("source_row")
        .group_by("design", maintain_order=True)
        .agg(pl.len().alias("stems"), pl.col("plot", "source_row").first())
    )
    return findings_of(
        "over-bark-unknown",
        found,
        file,
        pl.format(
            "stems of design {} were read under bark, and neither bark_mm nor a bark_factor of their species is "
            "given; what they stand for goes by the size under bark (stems: {})",
            "design",
            "stems",
        ),
        plot="plot",
        column="bark_mm",
    )


def ring_findings(
    before: pl.DataFrame,
    measured: pl.DataFrame,
    tallied: pl.DataFrame,
    survey: Survey,
    files: tuple[str, str],
) -> Findings:
    """Return stem-below-rings and tally-across-rings.

    Parameters
    ----------
    before, measured : polars.DataFrame
        Measured stems on plots that enter, and those of them that stand for something.
    tallied : polars.DataFrame
        Tallied stems that stand for something.
    survey : Survey
        Rings and class rule.
    files : tuple of str
        Files of trees and tallies.
    """
    rules = survey.settings.plots
    if not rules.nests:
        return Findings.none()
    nested = pl.col("design") == Design.NESTED
    left = before.filter(nested & pl.col("compartment").is_not_null()).join(
        measured.select("source_row"), on="source_row", how="anti"
    )
    smallest = rules.nests[0].min_dbh_cm
    thin = findings_of(
        "stem-below-rings",
        left,
        files[0],
        pl.format(
            f"the diameter is {{}} cm, but the smallest ring counts from {smallest:g} cm",
            seen_cm().round(1),
        ),
        plot="plot",
        value=seen_cm().round(1),
    )
    edges = survey.settings.class_rule.frame(tallied["class_index"].drop_nulls().unique())
    parts = tallied.filter(nested).join(edges, on="class_index", how="left", maintain_order="left")
    inside = pl.any_horizontal(
        *(
            (pl.col("low_cm") < nest.min_dbh_cm) & (pl.col("high_cm") > nest.min_dbh_cm)
            for nest in rules.nests
        )
    )
    limits = ", ".join(f"{nest.min_dbh_cm:g}" for nest in rules.nests)
    across = findings_of(
        "tally-across-rings",
        parts.filter(inside).unique("source_row", maintain_order=True),
        files[1],
        pl.format(f"class {{}} holds sizes of two rings; they begin at {limits} cm", "class"),
        plot="plot",
        column="class",
        value="tallied_as",
    )
    return Findings.join([thin, across])
