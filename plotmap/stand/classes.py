"""Size classes and species of each compartment, with their errors."""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from plotmap.model.class_rule import ClassRule
from plotmap.model.plot_table import PlotValues
from plotmap.model.result_tables import CLASS_RESULTS, CLASS_TOTAL_RESULTS, SPECIES_TOTAL_RESULTS
from plotmap.model.result_tables_structure import SHARE
from plotmap.stand.domains import ESTIMATE_COLUMNS, estimate_domains, unit_sums
from plotmap.stand.limits import INTERVAL, Limits, largest_stem_m2
from plotmap.statistics import IntervalWord

_SPECIES_COLUMNS = [name for name in SPECIES_TOTAL_RESULTS.names if name not in {part.name for part in SHARE}]
"""Shares of basal area are added by `plotmap.stand.sums`."""


@dataclass(frozen=True, slots=True)
class ClassTables:
    """The three tables of classes and species.

    Attributes
    ----------
    classes, class_totals, species_totals : polars.DataFrame
        Columns of `CLASS_RESULTS`, `CLASS_TOTAL_RESULTS` and `SPECIES_TOTAL_RESULTS`, sorted by
        compartment, species and size. `estimate_classes` leaves the shares of basal area out.
    """

    classes: pl.DataFrame
    class_totals: pl.DataFrame
    species_totals: pl.DataFrame


def estimate_classes(values: PlotValues, rule: ClassRule, limits: Limits) -> ClassTables:
    """Estimate stems and basal area of every class and species of each compartment.

    A class without stems between two that have some stays, with zeros and the upper limit of what could
    still stand there: that of the stems by `Limits.not_found`, that of basal area as if they all were as thick
    as the upper edge of the class.

    Parameters
    ----------
    values : PlotValues
        Plots that enter, and what stands on them.
    rule : ClassRule
        Names and edges of the classes.
    limits : Limits
        How the limits are made.

    Returns
    -------
    ClassTables
        Errors and limits are missing where a compartment has one plot.
    """
    tables = []
    for by in (["species"], []):
        made = estimate_domains(values.cells, values.units, [*by, "class_index"], limits)
        labelled = _labelled(_with_gaps(made, values.units, ["compartment", *by]), rule)
        tables.append(_with_unseen(labelled, rule, limits))
    species = estimate_domains(values.cells, values.units, ["species"], limits)
    return ClassTables(
        tables[0].select(CLASS_RESULTS.names),
        tables[1].select(CLASS_TOTAL_RESULTS.names),
        species.select(_SPECIES_COLUMNS).sort("compartment", "species"),
    )


def _with_gaps(domains: pl.DataFrame, units: pl.DataFrame, key: list[str]) -> pl.DataFrame:
    """Add the classes between the smallest and the largest one that hold nothing, still without upper limits."""
    ranges = (
        domains.lazy()
        .group_by(key)
        .agg(pl.col("class_index").min().alias("first"), pl.col("class_index").max().alias("last"))
        .select(*key, pl.int_ranges("first", pl.col("last") + 1, dtype=pl.Int32).alias("class_index"))
        .explode("class_index")
    )
    several = (pl.col("n_plots") > 1) | pl.col("full_count")
    filled = [
        pl.when(several | ~pl.lit(name.endswith(("_se", "_low"))))
        .then(pl.col(name).fill_null(0.0))
        .otherwise(name)
        .alias(name)
        for name in ("n_trees", *ESTIMATE_COLUMNS)
        if not name.endswith("_high")
    ]
    return (
        ranges.join(domains.lazy(), on=[*key, "class_index"], how="left")
        .join(unit_sums(units).lazy(), on="compartment")
        .with_columns(filled)
        .sort(*key, "class_index")
        .collect()
    )


def _with_unseen(domains: pl.DataFrame, rule: ClassRule, limits: Limits) -> pl.DataFrame:
    """Add the upper limits of the classes that hold nothing."""
    high = pl.Series("unseen", limits.not_found(domains["searched_ha"].to_numpy())).fill_nan(None)
    empty = (pl.col("n_trees") == 0) & pl.col(INTERVAL).is_null()
    open_to_doubt = empty & (pl.col("n_plots") > 1) & ~pl.col("full_count")
    limit = pl.when(~empty).then("stems_per_ha_high").when(open_to_doubt).then("unseen")
    basal_area = pl.col("unseen") * largest_stem_m2(rule, pl.col("high_cm"))
    counted = pl.when(empty & pl.col("full_count")).then(0.0)
    return domains.with_columns(high).with_columns(
        pl.coalesce(limit, counted).alias("stems_per_ha_high"),
        pl.when(open_to_doubt)
        .then(basal_area)
        .otherwise(pl.coalesce("basal_area_m2_per_ha_high", counted))
        .alias("basal_area_m2_per_ha_high"),
        pl.when(open_to_doubt & pl.col("unseen").is_not_null())
        .then(pl.lit(str(IntervalWord.POISSON)))
        .otherwise(pl.col(INTERVAL).fill_null(str(IntervalWord.NONE)))
        .alias(INTERVAL),
    )


def _labelled(domains: pl.DataFrame, rule: ClassRule) -> pl.DataFrame:
    """Add label and edges of each class."""
    labels = rule.frame(domains["class_index"].unique())
    return domains.join(labels, on="class_index", how="left", maintain_order="left")
