"""Checked plots that were tallied: the classes and bands of the crew, and those the check finds."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from plotmap.model.check_table import COUNT
from plotmap.model.class_rule import ClassEdge
from plotmap.stems.remeasured.pairing import choose
from plotmap.stems.tally_classes import BANDS, labels, to_diameter

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
    """Return what the crew counted on the checked plots, all species together, by the edges as they are named.

    A zero found later moves the edges for the estimates; here the name counts, so that what a wrong caliper
    did to the bands is seen.

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
    scale = to_diameter(rule)
    on_plots = tallied.join(plots, on="plot", how="semi", maintain_order="left")
    names = {band.letter: band.name for band in settings.bands}
    written = labels(on_plots["tallied_as"], settings).rename({"class": "tallied_as"})
    inside = (pl.col("low_cm") + pl.min_horizontal("high_cm", pl.col("low_cm") + 1.0)) / 2
    known = written.drop("band_letter").with_columns(
        (pl.col("scheme") == BANDS).alias("is_band"), rule.index(inside * scale).alias("own_index")
    )
    own = rule.frame(known["own_index"].unique().sort()).select(own_index="class_index", size_class="class")
    named = on_plots.join(known.join(own, on="own_index"), on="tallied_as")
    by_letter = pl.col("band_letter").replace_strict(names, default=None, return_dtype=pl.String)
    counted = named.group_by(
        "plot", "is_band", pl.coalesce(by_letter, "size_class").alias("class"), "low_cm", "high_cm"
    ).agg(pl.col("count").sum().round())
    return (
        counted.filter(pl.col("count") > 0)
        .sort("plot", "is_band", "low_cm")
        .with_columns(pl.col("low_cm", "high_cm") * scale)
        .with_row_index("row")
        .select(_TALLY_SCHEMA.names())
        .cast(_TALLY_SCHEMA)
    )


def with_own_class(check: pl.DataFrame, tallied: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Add ``class``, the size class, ``tally_class`` and ``is_tallied``, whether the plot was tallied.

    ``tally_class`` is a painted band where the crew tallied the plot in bands, the size class otherwise.
    """
    rule = settings.class_rule
    size = (pl.col("dbh_cm") / to_diameter(rule)).round(_DECIMALS)
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
