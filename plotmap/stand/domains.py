"""Per-hectare estimates of domains: compartments, and species and classes in them. Zeros count, but take no room."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import polars as pl

from plotmap.frames import ordered_sums
from plotmap.model.plot_table import COUNT_DECIMALS, QUANTITIES
from plotmap.stand.limits import INTERVAL, Limits, first_words
from plotmap.statistics import ratio_estimate

SAMPLING_FRACTION = "sampling_fraction"
"""Share of a sample's land that lies on plots: column of units and of compartments."""
_SUFFIXES = ("", "_se", "_low", "_high")
ESTIMATE_COLUMNS = [figure + suffix for figure in QUANTITIES.values() for suffix in _SUFFIXES]


def unit_sums(units: pl.DataFrame) -> pl.DataFrame:
    """Return for each compartment its number of plots and the sums of their weights, squared weights and areas.

    Parameters
    ----------
    units : polars.DataFrame
        Plots that enter, columns of `plotmap.model.plot_table.UNIT_SCHEMA`; where variances are to be corrected
        for a finite population also `SAMPLING_FRACTION`, the same in all rows of a compartment.

    Returns
    -------
    polars.DataFrame
        ``compartment``, ``n_plots``, ``sampled_ha``, ``sampled_ha2`` (ha²), ``searched_ha`` (0 where there are
        angle counts only), ``full_count`` and ``sampling_fraction``, which is 0 where no finite-population correction
        is made.
    """
    weight = pl.col("weight_ha")
    corrected = SAMPLING_FRACTION in units.columns
    sums = ordered_sums(
        units,
        ["compartment"],
        n_plots=pl.lit(1),
        fractions=pl.col(SAMPLING_FRACTION).fill_null(0.0) if corrected else pl.lit(0.0),
        sampled_ha=weight,
        sampled_ha2=weight**2,
        searched_ha=pl.col("searched_ha").fill_null(0.0),
        n_full=pl.col("full_count").cast(pl.Float64),
    )
    return sums.with_columns(
        pl.col("n_plots").cast(pl.Int64),
        (pl.col("n_full") > 0).alias("full_count"),
        (pl.col("fractions") / pl.col("n_plots")).alias(SAMPLING_FRACTION),
    ).drop("n_full", "fractions")


def estimate_domains(
    cells: pl.DataFrame,
    units: pl.DataFrame,
    by: list[str],
    limits: Limits,
    quantities: Mapping[str, str] = QUANTITIES,
) -> pl.DataFrame:
    """Estimate stems and basal area, or other sums, per hectare of every domain that has stems.

    Plots are taken as a simple random sample of their compartment, and the estimate is the ratio of means
    Σy / Σa, which is the mean where plot areas are equal (Cochran 1977, ch. 2, 6 and, for domains,
    2.13). A plot without a stem of the domain is a zero: only its area enters, by the sums over the whole
    compartment, so that no table of plots × species × classes is ever made.

    Parameters
    ----------
    cells : polars.DataFrame
        Columns of `plotmap.model.plot_table.CELL_SCHEMA`, or at least plot, compartment, `by`, ``n_trees`` and
        those of `quantities`.
    units : polars.DataFrame
        Columns of `plotmap.model.plot_table.UNIT_SCHEMA`.
    by : list of str
        What names a domain within its compartment: any of species and class_index; may be empty.
    limits : Limits
        How the limits are made.
    quantities : mapping of str to str
        Columns of `cells` that are summed, and the names of their figures per hectare.

    Returns
    -------
    polars.DataFrame
        ``compartment``, `by`, ``n_trees``, for each of `quantities` its figure per hectare with ``_se``,
        ``_low`` and ``_high`` (`ESTIMATE_COLUMNS`), and ``interval``, the word for the kind of the limits. Errors
        and limits are missing where the compartment has fewer than two plots; a compartment that was counted
        whole has no sampling error: its errors are 0.
    """
    key = ["compartment", *by]
    figures = {name: pl.col(name) for name in ("n_trees", *quantities)}
    values = ordered_sums(cells, [*key, "plot"], **figures).join(
        units.select("plot", "compartment", "weight_ha"), on=["plot", "compartment"], maintain_order="left"
    )
    weight = pl.col("weight_ha")
    domains = (
        ordered_sums(values, key, **figures, own_ha2=weight**2)
        .join(unit_sums(units), on="compartment", maintain_order="left")
        .with_columns(
            (pl.col(name) / pl.col("sampled_ha")).alias(figure) for name, figure in quantities.items()
        )
    )
    residuals = ordered_sums(
        values.join(domains.select(*key, *quantities.values()), on=key, maintain_order="left"),
        key,
        **{
            f"{name}_squares": (pl.col(name) - pl.col(figure) * weight) ** 2
            for name, figure in quantities.items()
        },
    )
    zeros = (pl.col("sampled_ha2") - pl.col("own_ha2")).clip(lower_bound=0)
    sums = domains.join(residuals, on=key, maintain_order="left").with_columns(
        (pl.col(f"{name}_squares") + pl.col(figure) ** 2 * zeros).alias(f"{name}_squares")
        for name, figure in quantities.items()
    )
    sums = sums.with_columns(pl.col("n_trees").round(COUNT_DECIMALS))
    wanted = [figure + suffix for figure in quantities.values() for suffix in _SUFFIXES]
    return _with_errors(sums, limits, quantities).select(*key, "n_trees", *wanted, INTERVAL)


def _with_errors(sums: pl.DataFrame, limits: Limits, quantities: Mapping[str, str]) -> pl.DataFrame:
    """Add estimates, standard errors and limits from the sums over plots."""
    made: list[pl.Series] = []
    words = []
    whole = sums["full_count"].to_numpy()
    for name, figure in quantities.items():
        estimate = ratio_estimate(
            sums["n_plots"].to_numpy(),
            sums[name].to_numpy(),
            sums["sampled_ha"].to_numpy(),
            sums[f"{name}_squares"].to_numpy(),
            sampling_fraction=np.where(whole, 0.0, sums[SAMPLING_FRACTION].to_numpy()),
        )
        se, df = np.where(whole, 0.0, estimate.se), np.where(whole, np.inf, estimate.df)
        low, high, word = limits.of_domains(sums, figure, estimate.mean, se, df)
        words.append(word)
        made += [
            pl.Series(figure + suffix, array).fill_nan(None)
            for suffix, array in zip(_SUFFIXES, (estimate.mean, se, low, high), strict=True)
        ]
    return sums.with_columns(*made, pl.Series(INTERVAL, first_words(words)))
