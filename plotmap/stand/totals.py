"""Strata and the whole survey: sums over compartments, with what is left out stated."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd

from plotmap.model.result_tables import (
    ESTIMATED,
    FULL_COUNT,
    NO_PLOTS,
    ONE_PLOT,
    STRATUM_RESULTS,
    SURVEY_RESULTS,
    TOTAL_PARTLY,
)
from plotmap.model.settings import Settings
from plotmap.stand.borrowing import lend_variance
from plotmap.stand.compartments import DBH_SUM, SAMPLED_HA, TOTAL_OF
from plotmap.stand.limits import INTERVAL, NOT_FOUND, first_words, limits_of
from plotmap.statistics import IntervalWord, combine, nonnegative_interval, sampling_error_pct
from plotmap.units import M2_PER_CM2

_Ints = npt.NDArray[np.intp]
_Floats = npt.NDArray[np.float64]


def total_strata(compartments: pd.DataFrame, settings: Settings) -> pd.DataFrame:
    """Add up the compartments of each stratum.

    Parameters
    ----------
    compartments : pandas.DataFrame
        As `plotmap.stand.compartments.estimate_compartments` gives it.
    settings : Settings
        Confidence, and what is done about compartments with one plot.

    Returns
    -------
    pandas.DataFrame
        Columns of `STRATUM_RESULTS`, sorted by stratum.
    """
    group, names = pd.factorize(compartments["stratum"], sort=True)
    table = _totals(compartments, group, len(names), settings)
    table.insert(0, "stratum", names)
    return table[STRATUM_RESULTS.names]


def total_survey(compartments: pd.DataFrame, settings: Settings) -> pd.DataFrame:
    """Add up all compartments; one row, columns of `SURVEY_RESULTS`.

    Parameters
    ----------
    compartments : pandas.DataFrame
        As `plotmap.stand.compartments.estimate_compartments` gives it.
    settings : Settings
        Confidence, and what is done about compartments with one plot.

    Returns
    -------
    pandas.DataFrame
        Totals over the compartments that have plots: Σ area × mean, variance Σ area² × se² (Cochran 1977,
        ch. 5), degrees of freedom by Satterthwaite. Figures per hectare are these totals over the
        hectares covered. Errors are missing where a compartment has one plot, unless the settings have its
        variance taken from the pooled variance of the others in its stratum, or failing that in the survey.
    """
    group = np.zeros(len(compartments), dtype=np.intp)
    return _totals(compartments, group, 1, settings)[SURVEY_RESULTS.names]


def _totals(compartments: pd.DataFrame, group: _Ints, n_groups: int, settings: Settings) -> pd.DataFrame:
    """Return the totals of each group of compartments."""
    covered = compartments["n_plots"].to_numpy() > 0
    area = compartments["area_ha"].to_numpy(dtype=float)

    def add(values: _Floats, where: npt.NDArray[np.bool_]) -> _Floats:
        """Sum values over the compartments of each group that fulfil a condition."""
        return np.bincount(group[where], values[where], n_groups).astype(float)

    ones = np.ones(len(compartments))
    table = pd.DataFrame(
        {
            "area_ha": add(area, covered),
            "area_left_out_ha": add(area, ~covered),
            "area_source": _area_sources(compartments, group, n_groups, covered),
            "n_compartments": add(ones, covered).astype(int),
            "n_left_out": add(ones, ~covered).astype(int),
            "n_one_plot": add(ones, compartments["status"].to_numpy() == ONE_PLOT).astype(int),
            "n_plots": add(compartments["n_plots"].to_numpy(dtype=float), covered).astype(int),
            "n_trees": add(compartments["n_trees"].to_numpy(dtype=float), covered),
        }
    )
    hectares = np.where(table["area_ha"] > 0, table["area_ha"], np.nan)
    confidence = settings.survey.confidence
    unseen = _unseen_stems(compartments[covered], group[covered], n_groups)
    words = []
    for per_ha, total in TOTAL_OF.items():
        mean, se, df = _sum_up(compartments[covered], per_ha, group, covered, n_groups, settings)
        limits = limits_of(settings)
        low, high, word = nonnegative_interval(limits.kind, mean, se, df, confidence)
        high, word = _with_unseen(high, word, total, mean, se, unseen)
        words.append(word)
        for suffix, values in (("", mean), ("_se", se), ("_low", low), ("_high", high)):
            table[total + suffix] = values
            table[per_ha + suffix] = values / hectares
        if total == "basal_area_m2_total":
            table["sampling_error_pct"] = sampling_error_pct(mean, se, df, confidence)
    table[INTERVAL] = first_words(words)
    return _with_sizes_and_status(table, add(area * compartments[DBH_SUM].to_numpy(dtype=float), covered))


def _unseen_stems(rows: pd.DataFrame, group: _Ints, n_groups: int) -> _Floats:
    """Return the upper limit of the stems of each group of compartments of which none was found in any.

    Of all densities λ with which nothing at all is found on the hectares a with the probability of the limit,
    Σ a λ = m, the one that puts all stems where m A / a is largest makes the largest Σ A λ (algebra).
    """
    stems = (rows["area_ha"] * rows[NOT_FOUND]).where(rows["status"] != FULL_COUNT, 0.0)
    largest = np.zeros(n_groups)
    known = stems.notna().to_numpy()
    np.maximum.at(largest, group[known], stems.to_numpy(dtype=float)[known])
    largest[group[~known]] = np.nan  # the area searched is not known
    return largest


def _with_unseen(
    high: _Floats, word: npt.NDArray[np.str_], total: str, mean: _Floats, se: _Floats, unseen: _Floats
) -> tuple[_Floats, npt.NDArray[np.str_]]:
    """Put what could still stand there in place of the upper limits of totals of nothing."""
    nothing = (mean == 0) & (se == 0) & ~(unseen == 0)
    high = np.where(nothing, unseen if total == "stems_total" else np.nan, high)
    return high, np.where(nothing & (high > 0), str(IntervalWord.POISSON), word)


def _sum_up(
    rows: pd.DataFrame,
    per_ha: str,
    group: _Ints,
    covered: npt.NDArray[np.bool_],
    n_groups: int,
    settings: Settings,
) -> tuple[_Floats, _Floats, _Floats]:
    """Return total, standard error and degrees of freedom of one figure for each group."""
    n = rows["n_plots"].to_numpy(dtype=float)
    area = rows["area_ha"].to_numpy(dtype=float)
    se = rows[f"{per_ha}_se"].to_numpy(dtype=float)
    df = np.where(rows["status"] == FULL_COUNT, np.inf, np.where(n > 1, n - 1, np.nan))
    if settings.estimates.one_plot_variance == "pooled":
        stratum = pd.factorize(rows["stratum"])[0].astype(np.intp)
        sampled = rows[SAMPLED_HA].to_numpy(dtype=float)
        se, df = lend_variance(area, se, df, sampled, stratum, group[covered])
    return combine(area, rows[per_ha].to_numpy(dtype=float), se, df, group[covered], n_groups)


def _area_sources(
    compartments: pd.DataFrame, group: _Ints, n_groups: int, covered: npt.NDArray[np.bool_]
) -> list[str | None]:
    """Return whose areas each group was summed over."""
    sources = compartments["area_source"].to_numpy()
    words: list[str | None] = []
    some = {
        word: np.bincount(group[covered & (sources == word)], minlength=n_groups) > 0
        for word in ("register", "geodesic")
    }
    for register, geodesic in zip(some["register"], some["geodesic"], strict=True):
        both = "both" if register and geodesic else None
        words.append(both or ("register" if register else "geodesic" if geodesic else None))
    return words


def _with_sizes_and_status(table: pd.DataFrame, dbh_sum_cm: _Floats) -> pd.DataFrame:
    """Add mean sizes and the word for what the figures rest on."""
    stems = table["stems_total"].to_numpy()
    some = np.where(stems > 0, stems, np.nan)
    table["dg_cm"] = np.sqrt(table["basal_area_m2_total"].to_numpy() / some / M2_PER_CM2)
    table["mean_dbh_cm"] = dbh_sum_cm / some
    without = table["n_compartments"] == 0
    partly = ~without & table["basal_area_m2_total_se"].isna()
    table["status"] = np.select([without, partly], [NO_PLOTS, TOTAL_PARTLY], ESTIMATED)
    return table
