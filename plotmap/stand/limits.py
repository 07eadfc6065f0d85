"""Confidence limits of domains: skewed ones, rare ones, and those of which nothing was found."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd
import polars as pl

from plotmap.frames import ordered_sums
from plotmap.model.class_rule import ClassRule
from plotmap.model.result_tables import FULL_COUNT
from plotmap.model.settings import Settings
from plotmap.statistics import IntervalKind, IntervalWord, nonnegative_interval, poisson_limits
from plotmap.units import M2_PER_CM2

INTERVAL = "interval"
"""Column with the word for the kind of the limits."""
NOT_FOUND = "not_found_stems_per_ha_high"
"""Upper limit of the stems per hectare of any class or species of which no stem was found."""
_ROUND_OFF = 1e-12
_Floats = npt.NDArray[np.float64]
_Ints = npt.NDArray[np.intp]
_Words = npt.NDArray[np.str_]


@dataclass(frozen=True, slots=True)
class Limits:
    """How limits are made.

    Attributes
    ----------
    confidence : float
        Above 0, below 1.
    kind : IntervalKind
        Kind of the intervals.
    """

    confidence: float
    kind: IntervalKind = IntervalKind.AUTO

    def of_domains(
        self, sums: pl.DataFrame, figure: str, mean: _Floats, se: _Floats, df: _Floats
    ) -> tuple[_Floats, _Floats, _Words]:
        """Return the limits of one figure of many domains, and the word for their kind.

        A domain is believed to no more than its count over (1 - q), q being its share of the stems counted in
        the compartment: a class taken at random out of stems, however evenly these stand, varies at least as
        a binomial count does. Where nothing was found the upper limit of stems is `not_found`, and that of
        everything else is missing.

        Parameters
        ----------
        sums : polars.DataFrame
            ``compartment``, ``n_trees``, ``n_plots``, ``full_count``, ``searched_ha``; the domains of a
            compartment hold each of its stems once.
        figure : str
            Name of the figure per hectare.
        mean, se, df : numpy.ndarray of float, shape (n,)
            Estimates per hectare.

        Returns
        -------
        low, high : numpy.ndarray of float, shape (n,)
            In the unit of `mean`; NaN where there is no error.
        word : numpy.ndarray of str, shape (n,)
            Of `IntervalWord`.
        """
        counted = sums["n_trees"].to_numpy()
        low, high, word = nonnegative_interval(
            self.kind, mean, se, df, self.confidence, most=_most(sums, counted)
        )
        none_found = (mean == 0) & (sums["n_plots"].to_numpy() > 1) & ~sums["full_count"].to_numpy()
        unseen = self.not_found(sums["searched_ha"].to_numpy())
        high = np.where(none_found, unseen if figure == "stems_per_ha" else np.nan, high)
        return low, high, np.where(none_found & ~np.isnan(high), str(IntervalWord.POISSON), word)

    def not_found(self, searched_ha: _Floats) -> _Floats:
        """Return the upper limit of stems per hectare where none was found on so many hectares, NaN on none."""
        stems = poisson_limits(0.0, self.confidence)[1]
        limit = np.full(searched_ha.shape, np.nan)
        np.divide(stems, searched_ha, out=limit, where=searched_ha > 0)
        return limit


def limits_of(settings: Settings) -> Limits:
    """Return how the settings have limits made."""
    return Limits(settings.survey.confidence, IntervalKind(settings.estimates.interval))


def first_words(words: list[_Words]) -> _Words:
    """Return the word of the first figure that has limits of some width, for each domain."""
    found = np.full(words[0].shape, str(IntervalWord.NONE))
    for word in reversed(words):
        found = np.where(word == str(IntervalWord.NONE), found, word)
    return found


def unseen_stems(rows: pd.DataFrame, group: _Ints, n_groups: int) -> _Floats:
    """Return the upper limit of the stems on each group of compartments where none was found in any.

    Of all densities λ with which nothing at all is found on the hectares a with the probability of the limit,
    Σ a λ = m, the one that puts all stems where m A / a is largest makes the largest Σ A λ (algebra).

    Parameters
    ----------
    rows : pandas.DataFrame
        ``area_ha``, `NOT_FOUND` and ``status`` of compartments that have plots.
    group : numpy.ndarray of int, shape (n,)
        Group of each row.
    n_groups : int
        Number of groups.

    Returns
    -------
    numpy.ndarray of float, shape (n_groups,)
        A number of stems; 0 where all was counted, NaN where the area searched is not known.
    """
    stems = (rows["area_ha"] * rows[NOT_FOUND]).where(rows["status"] != FULL_COUNT, 0.0)
    largest = np.zeros(n_groups)
    known = stems.notna().to_numpy()
    np.maximum.at(largest, group[known], stems.to_numpy(dtype=float)[known])
    largest[group[~known]] = np.nan
    return largest


def with_unseen(
    high: _Floats, word: _Words, total: str, mean: _Floats, se: _Floats, unseen: _Floats
) -> tuple[_Floats, _Words]:
    """Return upper limits and words with what could still stand there in place of the limits of nothing."""
    nothing = (mean == 0) & (se == 0) & ~(unseen == 0)
    high = np.where(nothing, unseen if total == "stems_total" else np.nan, high)
    return high, np.where(nothing & (high > 0), str(IntervalWord.POISSON), word)


def largest_stem_m2(rule: ClassRule, high_cm: pl.Expr) -> pl.Expr:
    """Return the cross-section at the upper edge of a class (m²); missing where it is open above."""
    return (high_cm * rule.diameter_per_size) ** 2 * M2_PER_CM2


def _most(sums: pl.DataFrame, counted: _Floats) -> _Floats:
    """Return the effective count of stems that would each stand on their own; infinity where all are meant."""
    totals = ordered_sums(sums, ["compartment"], of_compartment=pl.col("n_trees"))
    joined = sums.select("compartment").join(totals, on="compartment", how="left", maintain_order="left")
    whole = joined["of_compartment"].to_numpy()
    others = (whole - counted) / np.where(whole > 0, whole, 1.0)
    most = np.full(counted.shape, np.inf)
    np.divide(counted, others, out=most, where=(counted > 0) & (others > _ROUND_OFF))
    return most
