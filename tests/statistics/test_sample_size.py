"""Numbers of plots for a target error."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from plotmap.statistics import plots_needed, stratified_plots


@pytest.mark.parametrize(("cv", "error", "confidence"), [(50, 10, 0.95), (35, 7, 0.9), (120, 30, 0.99)])
def test_plots_needed_is_the_smallest_number_that_meets_the_target(cv, error, confidence) -> None:
    def half_width(n) -> float:
        return stats.t.ppf((1 + confidence) / 2, n - 1) * cv / n**0.5

    n = plots_needed(cv, error, confidence)
    assert half_width(n) <= error < half_width(n - 1)


def test_two_plots_are_the_fewest() -> None:
    assert plots_needed(0.0, 10, 0.95) == 2
    assert plots_needed(50, 500, 0.95) == 2


def test_a_finite_population_needs_fewer_plots_and_never_more_than_it_has() -> None:
    assert 2 < plots_needed(50, 10, 0.95, population=200) < plots_needed(50, 10, 0.95)
    assert plots_needed(50, 0.001, 0.95, population=40) == 40


def test_targets_and_variation_outside_their_range_are_refused() -> None:
    for cv in (-1.0, float("inf")):
        with pytest.raises(ValueError, match="cv_pct is"):
            plots_needed(cv, 10, 0.95)
    for error in (0.0, float("nan")):
        with pytest.raises(ValueError, match=r"error_pct is .* but must be above 0 %"):
            plots_needed(50, error, 0.95)
    for population in (1, float("nan")):
        with pytest.raises(ValueError, match="population is"):
            plots_needed(50, 10, 0.95, population=population)
    with pytest.raises(ValueError, match="which no number of plots meets"):
        plots_needed(50, 1e-9, 0.95)


def test_many_at_once_give_what_each_gives_alone_and_not_known_stays_so() -> None:
    cv = np.array([10.0, 50.0, np.nan, 120.0, 0.0])
    found = plots_needed(cv, 10, 0.95)
    assert np.isnan(found).tolist() == [False, False, True, False, False]
    for at in (0, 1, 3, 4):
        assert found[at] == plots_needed(cv[at], 10, 0.95)


def test_one_stratum_needs_what_the_whole_needs_and_more_variation_gets_more_plots() -> None:
    assert stratified_plots([1.0], [50], 10, 2).tolist() == [100]  # (t CV / E)²
    assert stratified_plots([0.5, 0.5], [30, 90], 10, 2).tolist() == [36, 108]


@pytest.mark.parametrize(
    ("shares", "cv", "error", "words"),
    [
        ([0.5, 0.4], [10, 10], 10, "add up to 1"),
        ([0.5, 0.5], [10], 10, "one for each cv_pct"),
        ([0.5, 0.5], [0, 0], 10, "not 0 % everywhere"),
        ([0.5, 0.5], [10, -1], 10, "must be 0 % or more"),
        ([0.5, 0.5], [10, 10], 0, "must be above 0"),
    ],
)
def test_strata_that_cannot_be_are_refused(shares, cv, error, words) -> None:
    with pytest.raises(ValueError, match=words):
        stratified_plots(shares, cv, error, 2)
