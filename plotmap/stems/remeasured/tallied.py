"""Checked plots that were tallied: the classes and bands of the crew, and those the check finds."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import polars as pl

from plotmap.model.check_table import COUNT
from plotmap.model.class_rule import ClassEdge, ClassMeasure
from plotmap.stems.remeasured.pairing import choose

if TYPE_CHECKING:
    from plotmap.model.settings import Settings

OUTSIDE = "outside the bands"
"""Class of a stem of the check that is in none of the painted bands."""
_DECIMALS = 6
_MM_PER_CM = 10.0
_OTHER_CLASS_COST = 1e-6
"""What a stem costs in another class than its own at least: one on the edge of both goes to its own."""
_TALLY_SCHEMA = pl.Schema(
    {
        "row": pl.Int64,
        "plot": pl.String,
        "class": pl.String,
        "is_band": pl.Boolean,
        "low_cm": pl.Float64,
        "high_cm": pl.Float64,
        "count": pl.Int64,
    }
)


def tallied_classes(tallied: pl.DataFrame, plots: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Return what the crew counted on the checked plots, all species together.

    Parameters
    ----------
    tallied : polars.DataFrame
        Columns of `plotmap.model.stem_table.TALLIED_SCHEMA`.
    plots : polars.DataFrame
        ``plot`` of every checked plot.
    settings : Settings
        Class rule and bands.

    Returns
    -------
    polars.DataFrame
        One row a plot and class or band: ``row`` (a number), ``plot``, ``class`` (label, or name of the band),
        ``is_band``, ``low_cm`` and ``high_cm`` (diameters; infinite where open) and ``count``.
    """
    rule = settings.class_rule
    to_diameter = 1 / math.pi if rule.on is ClassMeasure.GIRTH else 1.0
    bands = pl.DataFrame(
        [(band.letter, band.name, band.low_cm, band.high_cm) for band in settings.bands],
        schema={"band_letter": pl.String, "band": pl.String, "band_low": pl.Float64, "band_high": pl.Float64},
        orient="row",
    )
    on_plots = tallied.join(plots, on="plot", how="semi", maintain_order="left")
    classes = rule.frame(on_plots["class_index"].drop_nulls().unique())
    named = (
        on_plots.join(bands.with_columns(pl.lit(value=True).alias("is_band")), on="band_letter", how="left")
        .join(classes, on="class_index", how="left")
        .with_columns(pl.col("is_band").fill_null(value=False))
    )
    is_band = pl.col("is_band")
    counted = named.group_by(
        "plot",
        pl.when(is_band).then("band").otherwise("class").alias("class"),
        is_band,
        pl.when(is_band).then("band_low").otherwise(pl.col("low_cm").fill_null(-math.inf)).alias("low_cm"),
        pl.when(is_band).then("band_high").otherwise(pl.col("high_cm").fill_null(math.inf)).alias("high_cm"),
    ).agg(pl.col("count").sum().round())
    return (
        counted.filter(pl.col("count") > 0)
        .sort("plot", "is_band", "low_cm")
        .with_columns(pl.col("low_cm", "high_cm") * to_diameter)
        .with_row_index("row")
        .select(_TALLY_SCHEMA.names())
        .cast(_TALLY_SCHEMA)
    )


def with_own_class(check: pl.DataFrame, tallied: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Add ``class``, the size class, ``tally_class`` and ``is_tallied``, whether the plot was tallied.

    ``tally_class`` is a painted band where the crew tallied the plot in bands, the size class otherwise.
    """
    rule = settings.class_rule
    to_measure = math.pi if rule.on is ClassMeasure.GIRTH else 1.0
    size = (pl.col("dbh_cm") * to_measure).round(_DECIMALS)
    lower = rule.edge is ClassEdge.LOWER
    inside = [
        pl.when(
            (size >= band.low_cm) & (size < band.high_cm)
            if lower
            else (size > band.low_cm) & (size <= band.high_cm)
        ).then(pl.lit(band.name))
        for band in settings.bands
    ]
    schemes = tallied.group_by("plot").agg(
        pl.col("is_band").any().alias("in_bands"), (~pl.col("is_band")).any().alias("in_classes")
    )
    labels = rule.frame(check["class_index"].unique().sort()).select("class_index", "class")
    by_class = pl.when(pl.col("in_classes")).then("class").otherwise(pl.lit(OUTSIDE))
    return (
        check.join(labels, on="class_index", how="left", maintain_order="left")
        .join(schemes, on="plot", how="left", maintain_order="left")
        .with_columns(
            pl.when("in_bands").then(pl.coalesce(*inside, by_class)).otherwise("class").alias("tally_class"),
            pl.col("in_bands").is_not_null().alias("is_tallied"),
        )
        .drop("in_bands", "in_classes")
    )


def pair_tallied(tallied: pl.DataFrame, check: pl.DataFrame, match_mm: float) -> pl.DataFrame:
    """Put stems of the check in the classes and bands that the crew counted them in.

    A stem costs nothing in its own class and (distance / `match_mm`)² in another, by the distance of its
    diameter from the nearer edge; a stem or a count that is left costs 1. Each class takes as many stems as
    the crew counted. The tally does not say which stem was which: this is how the crew erred least.

    Parameters
    ----------
    tallied : polars.DataFrame
        As `tallied_classes` returns it.
    check : polars.DataFrame
        Stems without a partner so far, after `with_own_class`.
    match_mm : float
        Largest distance from the edges, in mm; it is allowed itself.

    Returns
    -------
    polars.DataFrame
        ``check_node``, ``row`` (of `tallied`) and ``compared_by``, no node twice.
    """
    size = pl.col("dbh_cm")
    beyond = pl.max_horizontal(pl.col("low_cm") - size, size - pl.col("high_cm"), pl.lit(0.0))
    cost = (pl.col("distance") / match_mm).pow(2)
    near = (
        check.select("plot", pl.col("node").alias("check_node"), "dbh_cm", "tally_class")
        .join(tallied, on="plot")
        .with_columns((beyond * _MM_PER_CM).round(_DECIMALS).alias("distance"))
        .filter(pl.col("distance") <= match_mm)
        .with_columns(
            pl.when(pl.col("tally_class") == pl.col("class"))
            .then(0.0)
            .otherwise(cost.clip(_OTHER_CLASS_COST, 1.0))
            .alias("cost"),
            pl.min_horizontal(pl.col("count"), pl.len().over("row").cast(pl.Int64)).alias("places"),
        )
    )
    places = (
        near.unique("row")
        .sort("row")
        .select("row", pl.int_ranges(0, "places").alias("place"))
        .explode("place")
        .with_row_index("node")
        .select("row", pl.col("node").cast(pl.Int64))
    )
    chosen = choose(near.select("row", "check_node", "cost").join(places, on="row"))
    return chosen.join(places, on="node", maintain_order="left").select(
        "check_node", "row", pl.lit(COUNT).alias("compared_by")
    )
