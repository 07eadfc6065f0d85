"""What the differences of checked stems come to: bias, scatter, share within, missed, confused classes."""

from __future__ import annotations

import math

import polars as pl

from plotmap.frames import ordered_sums
from plotmap.model.check_table import (
    ALL,
    BAND,
    BY_COUNTS,
    BY_PAIRS,
    BY_TALLY,
    CLASS,
    CONFUSION_SCHEMA,
    CREW,
    EXTRA,
    INSTRUMENT,
    MISSED,
    NO_PAIRS,
    NOT_KNOWN,
    ONE_PAIR,
    PAIR,
    SIZE,
    SUMMARY_SCHEMA,
)
from plotmap.model.field_tables import NO_SPECIES
from plotmap.model.result_tables import ESTIMATED
from plotmap.statistics.intervals import t_interval

AGREEMENT_SDS = 1.96
"""Standard deviations that the limits of agreement lie from the mean difference."""
_MM_PER_CM = 10.0
_KEY = ["order", "group", "value"]


def summarise(differences: pl.DataFrame, confidence: float) -> pl.DataFrame:
    """Sum the differences up: in all, by crew, by instrument of the crew, by size class and by band.

    With d = crew less check of n pairs, in mm: the bias is the mean of d, with Student's t on n − 1 degrees
    of freedom (a paired t interval); the scatter is their standard deviation s (divisor n − 1); limits of
    agreement are the bias ± 1.96 s (Bland & Altman 1986, Lancet 327: 307-310). Pairs are taken as
    independent. Basal area: to first order twice the bias over the mean diameter; exactly Σ crew² / Σ check².

    Parameters
    ----------
    differences : polars.DataFrame
        Columns of `plotmap.model.check_table.DIFFERENCE_SCHEMA` and ``basis``.
    confidence : float
        Of the interval, above 0 and below 1.

    Returns
    -------
    polars.DataFrame
        Columns of `plotmap.model.check_table.SUMMARY_SCHEMA`. What a group cannot tell is missing, and
        ``status`` says why.
    """
    is_missed = pl.col("outcome") == MISSED
    known_class = pl.coalesce("check_class", "class")
    groups = [
        (ALL, differences, pl.lit(ALL)),
        (CREW, differences, pl.col("crew").fill_null(NOT_KNOWN)),
        (
            INSTRUMENT,
            differences.filter((pl.col("basis") == BY_PAIRS) & ~is_missed),
            pl.col("instrument").fill_null(NOT_KNOWN),
        ),
        (CLASS, differences.filter(pl.col("basis") == BY_PAIRS), known_class),
        (BAND, differences.filter(pl.col("basis") == BY_COUNTS), known_class),
    ]
    long = pl.concat(
        rows.with_columns(pl.lit(group).alias("group"), value.alias("value"), pl.lit(order).alias("order"))
        for order, (group, rows, value) in enumerate(groups)
    )
    sums = _with_statistics(_sums(long), confidence)
    return sums.select(SUMMARY_SCHEMA.names()).cast(SUMMARY_SCHEMA)


def _sums(long: pl.DataFrame) -> pl.DataFrame:
    """Return counts of stems, means and spread of the differences by group, added up in the order of rows."""
    is_pair, is_tallied = pl.col("outcome") == PAIR, pl.col("outcome") == BY_TALLY
    stems, size, crew_size = pl.col("n_stems"), pl.col("check_dbh_cm"), pl.col("dbh_cm")
    recorded = (pl.col("species") != NO_SPECIES) & (pl.col("check_species") != NO_SPECIES)
    same = (is_pair | is_tallied) & (pl.col("class") == pl.col("check_class"))
    sums = ordered_sums(
        long,
        _KEY,
        n_pairs=is_pair,
        n_by_size=pl.col("compared_by") == SIZE,
        n_tallied=pl.when(is_tallied).then(stems),
        n_same_class=pl.when(same).then(stems),
        n_species_differ=is_pair & recorded & (pl.col("species") != pl.col("check_species")),
        n_missed=pl.when(pl.col("outcome") == MISSED).then(stems),
        n_extra=pl.when(pl.col("outcome") == EXTRA).then(stems),
        n_within=pl.col("within") == "yes",
        difference_mm=pl.col("difference_mm"),
        size_cm=pl.when(is_pair).then(size),
        crew_cm2=pl.when(is_pair).then(crew_size.pow(2)),
        check_cm2=pl.when(is_pair).then(size.pow(2)),
    )
    means = sums.with_columns((pl.col("difference_mm") / _pairs_or_missing()).alias("bias_mm"))
    off = long.join(means.select(*_KEY, "bias_mm"), on=_KEY, how="left", maintain_order="left")
    squares = ordered_sums(off, _KEY, squares=(pl.col("difference_mm") - pl.col("bias_mm")).pow(2))
    smallest = long.group_by(_KEY).agg(size.min().fill_null(crew_size.min()).alias("smallest_cm"))
    in_order = pl.when(pl.col("group").is_in([CLASS, BAND])).then("smallest_cm")
    return (
        means.join(squares, on=_KEY, maintain_order="left")
        .join(smallest, on=_KEY, maintain_order="left")
        .with_columns(pl.when(pl.col("group") != INSTRUMENT).then("n_missed"), in_order.alias("smallest_cm"))
        .sort("order", "smallest_cm", "value", nulls_last=True)
    )


def _pairs_or_missing() -> pl.Expr:
    """Return the number of pairs, missing where there is none."""
    return pl.when(pl.col("n_pairs") > 0).then("n_pairs")


def _with_statistics(sums: pl.DataFrame, confidence: float) -> pl.DataFrame:
    """Add interval, limits of agreement, shares in per cent, effect on basal area and status."""
    freedom = pl.when(pl.col("n_pairs") > 1).then(pl.col("n_pairs") - 1)
    sums = sums.with_columns((pl.col("squares") / freedom).sqrt().alias("sd_mm"))
    n = sums["n_pairs"]
    se = (sums["sd_mm"] / n.sqrt()).fill_null(math.nan).to_numpy()
    low, high = t_interval(
        sums["bias_mm"].fill_null(math.nan).to_numpy(), se, (n - 1).to_numpy(), confidence, floor=-math.inf
    )
    bias, spread = pl.col("bias_mm"), AGREEMENT_SDS * pl.col("sd_mm")
    has_pairs = pl.col("n_pairs") > 0
    return sums.with_columns(
        pl.Series("bias_low_mm", low).fill_nan(None),
        pl.Series("bias_high_mm", high).fill_nan(None),
        (bias - spread).alias("agreement_low_mm"),
        (bias + spread).alias("agreement_high_mm"),
        (100 * pl.col("n_within") / _pairs_or_missing()).alias("within_pct"),
        pl.when(has_pairs)
        .then(200 * pl.col("difference_mm") / (pl.col("size_cm") * _MM_PER_CM))
        .alias("basal_area_first_order_pct"),
        pl.when(has_pairs).then(100 * (pl.col("crew_cm2") / pl.col("check_cm2") - 1)).alias("basal_area_pct"),
        pl.when(pl.col("n_pairs") > 1)
        .then(pl.lit(ESTIMATED))
        .when(has_pairs)
        .then(pl.lit(ONE_PAIR))
        .otherwise(pl.lit(NO_PAIRS))
        .alias("status"),
    )


def confusion(differences: pl.DataFrame) -> pl.DataFrame:
    """Count the stems by class or band of the crew and of the check.

    Parameters
    ----------
    differences : polars.DataFrame
        Columns of `plotmap.model.check_table.DIFFERENCE_SCHEMA` and ``basis``.

    Returns
    -------
    polars.DataFrame
        Columns of `plotmap.model.check_table.CONFUSION_SCHEMA`, by crew, basis and size.
    """
    key = ["crew", "basis", "class", "check_class"]
    low = pl.min_horizontal("dbh_cm", "check_dbh_cm").min().alias("smallest_cm")
    counted = differences.group_by(key, maintain_order=True).agg(pl.col("n_stems").sum(), low)
    ordered = counted.sort(
        "crew",
        "basis",
        "smallest_cm",
        "class",
        "check_class",
        nulls_last=True,
        descending=[False, True, *3 * [False]],
    )
    return ordered.select(CONFUSION_SCHEMA.names()).cast(CONFUSION_SCHEMA)
