"""Strata and the whole survey: sums over the samples, with what is left out stated."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd
import polars as pl

from plotmap.model.plot_table import QUANTITIES
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
from plotmap.stand.domains import SAMPLING_FRACTION
from plotmap.stand.limits import INTERVAL, first_words, limits_of, unseen_stems, with_unseen
from plotmap.stand.merging import Parts, merge_parts, one_sample
from plotmap.stand.samples import Samples
from plotmap.statistics import combine, nonnegative_interval, sampling_error_pct
from plotmap.units import M2_PER_CM2

_Ints = npt.NDArray[np.intp]
_Floats = npt.NDArray[np.float64]
_SUM_OF = {figure: name for name, figure in QUANTITIES.items()}


def total_strata(samples: Samples, settings: Settings) -> pd.DataFrame:
    """Add up the samples of each stratum; one row a stratum.

    Parameters
    ----------
    samples : Samples
        As `plotmap.stand.samples.samples_of` gives them.
    settings : Settings
        Confidence, and what is done about samples with one plot.

    Returns
    -------
    pandas.DataFrame
        Columns of `STRATUM_RESULTS`, sorted by stratum; the method is that of `total_survey`. A stratum's own
        figures rest on its own plots also where the survey is one sample.
    """
    group, names = pd.factorize(samples.table["stratum"], sort=True)
    table = _totals(samples, group, len(names), settings)
    table.insert(0, "stratum", names)
    return table[STRATUM_RESULTS.names]


def total_survey(samples: Samples, settings: Settings) -> pd.DataFrame:
    """Add up all samples; one row.

    Parameters
    ----------
    samples : Samples
        As `plotmap.stand.samples.samples_of` gives them.
    settings : Settings
        Confidence, and what is done about samples with one plot.

    Returns
    -------
    pandas.DataFrame
        Columns of `SURVEY_RESULTS`: totals over the samples that have plots, Σ area × mean, with the variance
        Σ area² × se² (Cochran 1977, Sampling Techniques, ch. 5) and degrees of freedom by Satterthwaite; where the
        survey is one sample the variance and degrees of freedom of the post-stratified total instead (Särndal,
        Swensson & Wretman 1992, ch. 7). Counted compartments add no sampling error. Figures per hectare are
        these totals over the hectares covered. Errors are missing where a sample has one plot, unless the settings
        have its variance pooled or merged.
    """
    group = np.zeros(len(samples.table), dtype=np.intp)
    whole = settings.estimates.sample_of == "survey"
    return _totals(samples, group, 1, settings, whole=whole)[SURVEY_RESULTS.names]


def _totals(
    samples: Samples, group: _Ints, n_groups: int, settings: Settings, *, whole: bool = False
) -> pd.DataFrame:
    """Return the totals of each group of samples; `whole`: all of them are one sample."""
    rows = samples.table
    covered = rows["n_plots"].to_numpy() > 0
    area = rows["area_ha"].to_numpy(dtype=float)

    def add(values: npt.ArrayLike, where: npt.NDArray[np.bool_]) -> _Floats:
        """Sum values over the samples of each group that fulfil a condition."""
        return np.bincount(group[where], np.asarray(values, dtype=float)[where], n_groups).astype(float)

    table = pd.DataFrame(
        {
            "area_ha": add(area, covered),
            "area_left_out_ha": add(area, ~covered),
            "area_source": _area_sources(add(rows["register"], covered), add(rows["geodesic"], covered)),
            "n_compartments": add(rows["n_compartments"], covered).astype(int),
            "n_without_plots": add(rows["n_without_plots"], covered).astype(int),
            "n_left_out": add(rows["n_compartments"], ~covered).astype(int),
            "n_one_plot": add(rows["status"] == ONE_PLOT, covered).astype(int),
            "n_plots": add(rows["n_plots"], covered).astype(int),
            "n_trees": add(rows["n_trees"], covered),
        }
    )
    hectares = np.where(table["area_ha"] > 0, table["area_ha"], np.nan)
    confidence = settings.survey.confidence
    limits = limits_of(settings)
    unseen = unseen_stems(rows[covered], group[covered], n_groups)
    words = []
    for per_ha, total in TOTAL_OF.items():
        parts = _parts(rows, samples.units, per_ha, group)
        mean, se, df = _sum_up(parts, n_groups, settings, whole=whole)
        low, high, word = nonnegative_interval(limits.kind, mean, se, df, confidence)
        high, word = with_unseen(high, word, total, mean, se, unseen)
        words.append(word)
        for suffix, values in (("", mean), ("_se", se), ("_low", low), ("_high", high)):
            table[total + suffix] = values
            table[per_ha + suffix] = values / hectares
        if total == "basal_area_m2_total":
            table["sampling_error_pct"] = sampling_error_pct(mean, se, df, confidence)
    table[INTERVAL] = first_words(words)
    return _with_sizes_and_status(table, add(area * rows[DBH_SUM].to_numpy(dtype=float), covered))


def _parts(rows: pd.DataFrame, units: pl.DataFrame, per_ha: str, group: _Ints) -> Parts:
    """Return one figure of the samples that have plots, and of the plots on them, as arrays."""
    covered = rows["n_plots"].to_numpy() > 0
    n = rows["n_plots"].to_numpy(dtype=float)
    counted = (rows["status"] == FULL_COUNT).to_numpy()
    df = np.where(counted, np.inf, np.where(n > 1, n - 1, np.nan))
    place = np.cumsum(covered) - 1
    return Parts(
        names=rows["sample"][covered].tolist(),
        area_ha=rows["area_ha"].to_numpy(dtype=float)[covered],
        mean=rows[per_ha].to_numpy(dtype=float)[covered],
        se=rows[f"{per_ha}_se"].to_numpy(dtype=float)[covered],
        df=df[covered],
        sampled_ha=rows[SAMPLED_HA].to_numpy(dtype=float)[covered],
        fraction=np.where(counted, 0.0, rows[SAMPLING_FRACTION].fillna(0.0).to_numpy(dtype=float))[covered],
        stratum=pd.factorize(rows["stratum"][covered])[0].astype(np.intp),
        group=group[covered],
        unit_part=place[units["sample"].to_numpy()],
        unit_area_ha=units["weight_ha"].to_numpy(),
        unit_sum=units[_SUM_OF[per_ha]].to_numpy(),
    )


def _sum_up(
    parts: Parts, n_groups: int, settings: Settings, *, whole: bool
) -> tuple[_Floats, _Floats, _Floats]:
    """Return total, standard error and degrees of freedom of one figure for each group."""
    policy = settings.estimates.one_plot_variance
    if whole:
        return one_sample(parts, policy, settings.estimates.merge_into)
    if policy == "merge":
        parts = merge_parts(parts, settings.estimates.merge_into)
    se, df = parts.se, parts.df
    if policy == "pooled":
        columns = (parts.sampled_ha, parts.stratum, parts.group, parts.fraction)
        se, df = lend_variance(parts.area_ha, se, df, *columns)
    return combine(parts.area_ha, parts.mean, se, df, parts.group, n_groups)


def _area_sources(register: _Floats, geodesic: _Floats) -> list[str | None]:
    """Return whose areas each group was summed over."""
    words = np.select(
        [(register > 0) & (geodesic > 0), register > 0, geodesic > 0], ["both", "register", "geodesic"], ""
    )
    return [str(word) or None for word in words]


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
