"""The compartments with their figures per hectare and in total."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import polars as pl

from plotmap.frames import ordered_sums
from plotmap.model.plot_table import QUANTITIES, PlotValues
from plotmap.model.result_tables import COMPARTMENT_RESULTS, ESTIMATED, FULL_COUNT, NO_PLOTS, ONE_PLOT
from plotmap.model.survey import Survey
from plotmap.stand.domains import (
    ESTIMATE_COLUMNS,
    SAMPLING_FRACTION,
    estimate_domains,
    unit_sums,
)
from plotmap.stand.limits import INTERVAL, NOT_FOUND, Limits, limits_of
from plotmap.stand.sizes import quadratic_mean_cm
from plotmap.statistics import IntervalWord, sampling_error_pct

TOTAL_OF = {"stems_per_ha": "stems_total", "basal_area_m2_per_ha": "basal_area_m2_total"}
"""Figures per hectare and the totals they become."""
DBH_SUM = "dbh_sum_cm_per_ha"
"""Extra column: sum of diameters per hectare, from which totals take their mean diameter."""
SAMPLED_HA = "sampled_ha"
"""Extra column: area of the compartment's plots, by which variances are lent and borrowed."""


def estimate_compartments(survey: Survey, values: PlotValues) -> gpd.GeoDataFrame:
    """Estimate each compartment's per-hectare means and totals, with sampling error.

    Plots are taken as a simple random sample of their compartment (Cochran 1977, ch. 2); where plot areas
    differ, as a ratio of means (ch. 6). Totals are area × mean.

    Parameters
    ----------
    survey : Survey
        Compartments with their areas; settings.
    values : PlotValues
        Plots that enter, and what stands on them; units with `SAMPLING_FRACTION` where errors are to be corrected
        for a finite population.

    Returns
    -------
    geopandas.GeoDataFrame
        Columns of `COMPARTMENT_RESULTS`, `DBH_SUM` and `SAMPLED_HA`, one row a compartment in the order of the layer.
        Everything estimated is missing where there are no plots, errors and limits where there is one;
        ``status`` says so.
    """
    confidence = survey.settings.survey.confidence
    figures = figures_of(values, limits_of(survey.settings))
    table = (
        areas_of(survey)
        .join(figures, on="compartment", how="left", maintain_order="left")
        .with_columns(pl.col("n_plots").fill_null(0), pl.col("n_trees").fill_null(0.0))
    )
    table = table.with_columns(
        (pl.col("area_ha") * pl.col(per_ha + suffix)).alias(total + suffix)
        for per_ha, total in TOTAL_OF.items()
        for suffix in ("", "_se", "_low", "_high")
    )
    status = (
        pl.when(pl.col("n_plots") == 0)
        .then(pl.lit(NO_PLOTS))
        .when(pl.col("full_count"))
        .then(pl.lit(FULL_COUNT))
        .when(pl.col("n_plots") == 1)
        .then(pl.lit(ONE_PLOT))
        .otherwise(pl.lit(ESTIMATED))
    )
    error = sampling_error_pct(
        table["basal_area_m2_per_ha"].to_numpy(),
        table["basal_area_m2_per_ha_se"].to_numpy(),
        np.where(
            table["full_count"].fill_null(value=False), np.inf, np.maximum(table["n_plots"].to_numpy() - 1, 0)
        ),
        confidence,
    )
    table = table.with_columns(
        quadratic_mean_cm("basal_area_m2_per_ha", "stems_per_ha").alias("dg_cm"),
        pl.when(pl.col("stems_per_ha") > 0)
        .then(pl.col(DBH_SUM) / pl.col("stems_per_ha"))
        .alias("mean_dbh_cm"),
        pl.Series("sampling_error_pct", error).fill_nan(None),
        status.alias("status"),
        pl.col(INTERVAL).fill_null(str(IntervalWord.NONE)),
    )
    frame = table.select(*COMPARTMENT_RESULTS.names, DBH_SUM, SAMPLED_HA).to_pandas()
    return gpd.GeoDataFrame(
        frame, geometry=survey.compartments.geometry.to_numpy(), crs=survey.compartments.crs
    )


def areas_of(survey: Survey) -> pl.DataFrame:
    """Return the compartments with the areas that totals are taken over.

    Parameters
    ----------
    survey : Survey
        Compartments, and whose areas count.

    Returns
    -------
    polars.DataFrame
        ``compartment``, ``name``, ``stratum``, ``area_ha``, ``area_geodesic_ha`` and ``area_source``, in the order of
        the layer.
    """
    own = ["compartment", "name", "stratum", "area_ha", "area_geodesic_ha"]
    frame: pl.DataFrame = pl.from_pandas(pd.DataFrame(survey.compartments[own]))
    return frame.with_columns(_areas(register_first=survey.settings.survey.areas == "register"))


def _areas(*, register_first: bool) -> list[pl.Expr]:
    """Return area and its source: the register's where asked for and given, else the geodesic one."""
    register = pl.col("area_ha").is_not_null() & pl.lit(register_first)
    return [
        pl.when(register).then("area_ha").otherwise("area_geodesic_ha").alias("area_ha"),
        pl.when(register).then(pl.lit("register")).otherwise(pl.lit("geodesic")).alias("area_source"),
    ]


def figures_of(values: PlotValues, limits: Limits) -> pl.DataFrame:
    """Estimate all compartments with plots, those where nothing stands too.

    Parameters
    ----------
    values : PlotValues
        Plots that enter, and what stands on them.
    limits : Limits
        How the limits are made.

    Returns
    -------
    polars.DataFrame
        ``compartment``, ``n_plots``, ``n_trees``, columns of `ESTIMATE_COLUMNS`, `INTERVAL`, `NOT_FOUND`,
        `DBH_SUM`, `SAMPLED_HA`, ``full_count`` and `SAMPLING_FRACTION`, which is missing where no
        correction is asked for or possible.
    """
    plots = unit_sums(values.units)
    bare = plots.join(values.cells, on="compartment", how="anti")
    zeros = [pl.lit(0.0).alias(name) for name in ("n_trees", *QUANTITIES, "dbh_sum_cm")]
    nothing = [pl.lit(None, pl.String).alias("species"), pl.lit(None, pl.Int32).alias("class_index")]
    empty = values.units.join(bare, on="compartment", how="semi").with_columns(*nothing, *zeros)
    cells = pl.concat([values.cells, empty.select(values.cells.columns)])
    sums = ordered_sums(cells, ["compartment"], dbh_sum_cm=pl.col("dbh_sum_cm"))
    unseen = pl.Series(NOT_FOUND, limits.not_found(plots["searched_ha"].to_numpy())).fill_nan(None)
    plots = plots.with_columns(pl.when(~pl.col("full_count")).then(unseen).alias(NOT_FOUND))
    corrected = SAMPLING_FRACTION in values.units.columns
    fraction = pl.first(SAMPLING_FRACTION) if corrected else pl.lit(None, pl.Float64).alias(SAMPLING_FRACTION)
    fractions = values.units.group_by("compartment").agg(fraction)
    return (
        plots.drop(SAMPLING_FRACTION)
        .join(fractions, on="compartment")
        .join(estimate_domains(cells, values.units, [], limits), on="compartment")
        .join(sums, on="compartment")
        .with_columns((pl.col("dbh_sum_cm") / pl.col("sampled_ha")).alias(DBH_SUM))
        .select(
            "compartment",
            "n_plots",
            "n_trees",
            *ESTIMATE_COLUMNS,
            INTERVAL,
            NOT_FOUND,
            DBH_SUM,
            SAMPLED_HA,
            "full_count",
            SAMPLING_FRACTION,
        )
    )
