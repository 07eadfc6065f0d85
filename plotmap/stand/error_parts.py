"""What the sampling error of basal area is made of, and how many plots a target error needs."""

from __future__ import annotations

import math

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd
import polars as pl

from plotmap.frames import ordered_sums
from plotmap.model.field_tables import TAPE
from plotmap.model.plot_table import PlotValues
from plotmap.model.result_tables_errors import (
    BETTER_INSTRUMENT,
    ERROR_PART_RESULTS,
    MEASURE,
    MORE_PLOTS,
)
from plotmap.model.settings import Settings
from plotmap.model.survey import Survey
from plotmap.stand.scopes import ScopeOfSums, scopes_of_sums
from plotmap.statistics import plots_needed
from plotmap.units import M2_PER_CM2

_MM_PER_CM = 10.0
_EVEN = 0.8
"""Variance of the square about the middle of an evenly filled class, over its squared variance: (1/5 − 1/9) · 9."""
_FIGURE = "basal_area_m2_per_ha"
_SE = f"{_FIGURE}_se"
_Floats = npt.NDArray[np.float64]


def error_parts(
    survey: Survey,
    values: PlotValues,
    instrument_log: pl.DataFrame,
    compartments: gpd.GeoDataFrame,
    strata: pd.DataFrame,
    survey_total: pd.DataFrame,
) -> pl.DataFrame:
    """Split the standard error of basal area into plots, readings, checks and tallies.

    First-order propagation of independent errors (any textbook): with a_i = e_i · 2 · π/40 000 · d_i, what a stem's
    diameter d (cm) counts for in the estimate (m²/ha a cm) and e_i its stems per hectare over all plots,

    - readings: Σ a² var(d), from the random error of single readings. It makes plots differ, so that the
      standard error holds it already; between plots is what is left.
    - checks: of each check of an instrument with the random error s (cm), s² ((Σ a (1 − r/B))² + (Σ a r/B)² / m), r
      being the reading, B the bar and m the readings of it; s² (Σ a)² without a bar. All stems after it share it.
    - tallies: Σ over stems of e² · var(g) within the class or band, under the linear density of the tally.

    Parameters
    ----------
    survey : Survey
        Settings.
    values : PlotValues
        Plots that enter and the stems on them.
    instrument_log : polars.DataFrame
        Columns of `INSTRUMENT_LOG_RESULTS`.
    compartments, strata, survey_total
        As `plotmap.stand.estimate_stand` gives them.

    Returns
    -------
    polars.DataFrame
        Columns of `ERROR_PART_RESULTS`: the survey, strata, compartments, those that have a standard error.
    """
    covered = pd.DataFrame(compartments[compartments["n_plots"] > 0])
    stems = _stems(values, covered, instrument_log)
    scopes = scopes_of_sums(covered, strata, survey_total)
    parts = [_rows(scope, _variances(stems, scope), survey.settings) for scope in scopes]
    return pl.concat(parts).select(ERROR_PART_RESULTS.names)


def _stems(values: PlotValues, covered: pd.DataFrame, log: pl.DataFrame) -> pl.DataFrame:
    """Return stems and parts of tallies with what each counts for in the estimate of its compartment.

    ``of`` is the row of the compartment, ``per_ha`` stems per hectare, ``a`` m²/ha a cm of diameter.
    """
    places = pl.DataFrame(
        {"compartment": covered["compartment"].to_numpy(dtype=object), "of": np.arange(len(covered))},
        schema_overrides={"compartment": pl.String},
    )
    sampled = ordered_sums(values.units, ["compartment"], sampled_ha=pl.col("weight_ha"))
    checks = log.select(
        pl.col("source_row").alias("check_row"),
        (pl.col("random_error_mm") / _MM_PER_CM).alias("error_cm"),
        (pl.col("bar_mm") / _MM_PER_CM).alias("bar_cm"),
        "bar_readings",
        (pl.col("kind") == TAPE).alias("is_tape"),
    )
    per_ha = pl.col("stems") / pl.col("sampled_ha")
    return (
        values.standing.join(places, on="compartment", how="inner", maintain_order="left")
        .join(sampled, on="compartment", how="left", maintain_order="left")
        .join(checks, on="check_row", how="left", maintain_order="left")
        .with_columns(per_ha.alias("per_ha"), (per_ha * 2 * M2_PER_CM2 * pl.col("dbh_cm")).alias("a"))
    )


def _variances(stems: pl.DataFrame, scope: ScopeOfSums) -> dict[str, _Floats]:
    """Return the variances of the parts and the basal area measured, per hectare."""
    home, weight, n = scope.home, scope.weight, len(scope.table)
    hectares = np.bincount(home, weight, n)
    of = stems["of"].to_numpy()
    share = weight[of] / hectares[home[of]]
    rows = stems.with_columns(pl.Series("scope", home[of]), (pl.col("a", "per_ha") * pl.Series(share)))
    measured = rows.filter("measured")
    known = measured.filter(pl.col("error_cm") > 0)
    g = pl.col("per_ha") * pl.col("square_cm2") * M2_PER_CM2
    return {
        "readings": _sum(known, (pl.col("a").pow(2) * pl.col("dbh_variance_cm2")), n),
        "checks": _checks(known, n),
        "grouping": _grouping(rows.filter(~pl.col("measured")), n),
        "measured": _sum(measured, g, n),
        "known": _sum(known, g, n),
    }


def _sum(rows: pl.DataFrame, value: pl.Expr, n: int) -> _Floats:
    """Return the sum of a value over each scope."""
    return np.bincount(rows["scope"].to_numpy(), rows.select(value).to_series().to_numpy(), n).astype(float)


def _checks(known: pl.DataFrame, n: int) -> _Floats:
    """Return the variance that checks share out to all stems corrected by them."""
    turn = pl.when("is_tape").then(1 / math.pi).otherwise(1.0)
    at_bar = (pl.col("dbh_cm") / turn / pl.col("bar_cm")).fill_null(0.0)
    by_check = ordered_sums(
        known,
        ["scope", "check_row", "error_cm", "bar_readings"],
        zero=pl.col("a") * turn * (1 - at_bar),
        bar=pl.col("a") * turn * at_bar,
    )
    number = pl.max_horizontal(pl.col("bar_readings"), pl.lit(1))
    variance = pl.col("error_cm").pow(2) * (pl.col("zero").pow(2) + pl.col("bar").pow(2) / number)
    return _sum(by_check, variance, n)


def _grouping(tallied: pl.DataFrame, n: int) -> _Floats:
    """Return the variance of tallied stems within their class or band, over all the parts of a row."""
    spread = (pl.col("square_cm2") - pl.col("dbh_cm").pow(2)).clip(lower_bound=0.0)
    within = 4 * pl.col("dbh_cm").pow(2) * spread + _EVEN * spread.pow(2)
    number = pl.col("n_trees")
    of_rows = ordered_sums(
        tallied,
        ["scope", "of", "plot", "source_row"],
        number=number,
        per_ha=pl.col("per_ha"),
        mean=number * pl.col("square_cm2"),
        square=number * (within + pl.col("square_cm2").pow(2)),
    )
    mean = pl.col("mean") / pl.col("number")
    variance = (pl.col("square") / pl.col("number") - mean.pow(2)).clip(lower_bound=0.0)
    of_one = pl.col("per_ha") / pl.col("number")
    return _sum(of_rows, pl.col("number") * of_one.pow(2) * variance * M2_PER_CM2**2, n)


def _rows(scope: ScopeOfSums, part: dict[str, _Floats], settings: Settings) -> pl.DataFrame:
    """Return the rows of one kind of scope that have a standard error."""
    table = scope.table
    se, mean = (table[name].to_numpy(dtype=float) for name in (_SE, _FIGURE))
    n_plots = table["n_plots"].to_numpy(dtype=float)
    told = part["known"] > 0
    readings = np.where(told, np.minimum(part["readings"], se**2), np.nan)
    between = np.maximum(se**2 - np.nan_to_num(readings), 0.0)
    instrument = np.nan_to_num(readings) + np.where(told, part["checks"], 0.0)
    largest = np.argmax([between, instrument, part["grouping"]], axis=0)
    everything = se**2 + np.where(told, part["checks"], 0.0) + part["grouping"]
    needed = _needed(se, mean, n_plots, settings)
    columns = {
        "n_plots": n_plots,
        _SE: se,
        f"{_SE}_between_plots": np.sqrt(between),
        f"{_SE}_readings": np.sqrt(readings),
        f"{_SE}_checks": np.sqrt(np.where(told, part["checks"], np.nan)),
        f"{_SE}_grouping": np.sqrt(part["grouping"]),
        f"{_SE}_all": np.sqrt(everything),
        "known_pct": _share_pct(part["known"], part["measured"]),
        "target_error_pct": np.full(len(se), settings.estimates.target_error_pct),
        "n_plots_needed": needed,
        "n_plots_more": np.maximum(needed - n_plots, 0.0),
    }
    words = [(MORE_PLOTS, BETTER_INSTRUMENT, MEASURE)[at] for at in largest]
    frame = pl.DataFrame(columns).with_columns(
        pl.lit(scope.word).alias("scope"),
        pl.Series("name", scope.names, dtype=pl.String),
        pl.when(pl.Series(everything > 0)).then(pl.Series(words, dtype=pl.String)).alias("helps_most"),
    )
    frame = frame.with_columns(pl.col(pl.Float64).fill_nan(None)).with_columns(
        pl.col("n_plots", "n_plots_needed", "n_plots_more").cast(pl.Int64)
    )
    return frame.filter(pl.col(_SE).is_not_null()).select(ERROR_PART_RESULTS.names)


def _share_pct(part: _Floats, whole: _Floats) -> _Floats:
    """Return a share in per cent; NaN of nothing."""
    share = np.full(len(whole), np.nan)
    np.divide(100 * part, whole, out=share, where=whole > 0)
    return share


def _needed(se: _Floats, mean: _Floats, n_plots: _Floats, settings: Settings) -> _Floats:
    """Return the plots that reach the target error; NaN where there is nothing to relate the error to."""
    some = (mean > 0) & (se > 0)
    cv_pct = np.divide(100 * se * np.sqrt(n_plots), mean, out=np.full(len(se), np.nan), where=some)
    return plots_needed(cv_pct, settings.estimates.target_error_pct, settings.survey.confidence)
