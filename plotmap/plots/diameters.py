"""The diameters behind the plot values: exact or between two limits, with what each row counts for."""

from __future__ import annotations

import polars as pl

from plotmap.model.plot_table import SIZE_SCHEMA
from plotmap.model.settings import Design, Settings
from plotmap.units import M2_PER_CM2

_ROW = ["plot", "compartment", "source_row"]


def diameters(measured: pl.DataFrame, tallied: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Return the diameters of all stems that stand for something.

    Parts of a tally row that was shared out over size classes are one row again, between the edges that were
    tallied.

    Parameters
    ----------
    measured, tallied : polars.DataFrame
        Stems with ``share`` and ``baf_level_m2_per_ha``, as `plotmap.plots.expansions.with_expansions` gives
        them.
    settings : Settings
        Smallest diameters of stems, rings, classes and bands.

    Returns
    -------
    polars.DataFrame
        Columns of `SIZE_SCHEMA`.
    """
    angle = pl.col("baf_level_m2_per_ha").is_not_null()
    each = pl.col("share") * pl.when(angle).then(pl.col("square_cm2") * M2_PER_CM2).otherwise(1.0)
    smallest = _smallest(settings)
    exact = measured.filter(pl.col("dbh_cm") > 0).select(
        "plot",
        "compartment",
        pl.col("dbh_cm").alias("low_cm"),
        pl.col("dbh_cm").alias("high_cm"),
        pl.min_horizontal(smallest, "dbh_cm").alias("smallest_cm"),
        pl.lit(1.0).alias("n_trees"),
        (pl.col("times") * each).alias("weight"),
        angle.alias("size_biased"),
        pl.lit(value=True).alias("one_class"),
    )
    between = (
        tallied.with_columns((pl.col("count") * each).alias("weight"), angle.alias("size_biased"))
        .group_by(_ROW, maintain_order=True)
        .agg(
            pl.col("from_cm").first().alias("low_cm"),
            pl.col("to_cm").first().alias("high_cm"),
            pl.min_horizontal(_lowest_tallied(settings, smallest).first(), pl.col("from_cm").first()).alias(
                "smallest_cm"
            ),
            pl.col("count").sum().alias("n_trees"),
            pl.col("weight").sum(),
            pl.col("size_biased").first(),
            (pl.len() == 1).alias("one_class"),
        )
    )
    between = between.filter(pl.col("high_cm") > pl.col("smallest_cm"))
    rows = pl.concat([part.select(*SIZE_SCHEMA) for part in (exact, between)])
    return rows.filter((pl.col("weight") > 0) & (pl.col("n_trees") > 0)).cast(SIZE_SCHEMA)  # type: ignore[arg-type]


def _smallest(settings: Settings) -> pl.Expr:
    """Return the diameter in cm from which stems were counted on the plot."""
    least = settings.stems.min_dbh_cm
    ring = settings.plots.nests[0].min_dbh_cm if settings.plots.nests else 0.0
    return pl.when(pl.col("design") == Design.NESTED).then(max(least, ring)).otherwise(least)


def _lowest_tallied(settings: Settings, smallest: pl.Expr) -> pl.Expr:
    """Return the diameter in cm from which stems were tallied: the lowest edge there is to tally in."""
    rule = settings.class_rule
    scale = rule.diameter_per_size
    bands = min((band.low_cm for band in settings.bands), default=0.0) * scale
    if rule.edges_cm:
        classes = pl.max_horizontal(pl.lit(rule.edges_cm[0] * scale), smallest)
    else:
        width = (rule.width_cm or 1.0) * scale
        classes = (smallest / width + 1e-9).floor() * width
    return (
        pl.when(pl.col("band_letter").is_not_null())
        .then(pl.max_horizontal(pl.lit(bands), smallest))
        .otherwise(classes)
    )
