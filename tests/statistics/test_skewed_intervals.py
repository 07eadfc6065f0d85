"""Intervals for skewed quantities: hand-worked cases, limits of ranges, and what is missing."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from plotmap.statistics import (
    IntervalKind,
    gamma_interval,
    log_interval,
    nonnegative_interval,
    poisson_limits,
)

T4 = 2.7764451
"""Student's t at 95 % with 4 degrees of freedom, any table."""


def test_the_log_interval_is_the_t_interval_of_the_logarithm() -> None:
    low, high = log_interval(20.0, 4.0, 4, 0.95)
    assert math.log(low) == pytest.approx(math.log(20) - T4 * 0.2, rel=1e-6)
    assert math.log(high) == pytest.approx(math.log(20) + T4 * 0.2, rel=1e-6)


def test_the_gamma_interval_has_the_effective_count_lessened_by_z_over_t() -> None:
    """Worked with scipy's gamma distribution: (20 / 4)² = 25, times (1.959964 / 2.776445)² = 12.4583."""
    k = 25 * (1.959964 / T4) ** 2
    low, high = gamma_interval(20.0, 4.0, 4, 0.95)
    assert low == pytest.approx(20 * stats.gamma.ppf(0.025, k) / k, rel=1e-5)
    assert high == pytest.approx(20 * stats.gamma.ppf(0.975, k + 1) / k, rel=1e-5)


def test_no_more_is_believed_than_the_count_gives() -> None:
    low, high = gamma_interval(30.0, 0.0, 4, 0.95, most=3.0)
    expected = poisson_limits(3.0, 0.95)
    assert (low, high) == (pytest.approx(10 * expected[0]), pytest.approx(10 * expected[1]))


def test_many_degrees_of_freedom_and_a_small_error_give_the_normal_interval() -> None:
    low, high = gamma_interval(1000.0, 1e-3, np.inf, 0.95)
    assert 1000 - low == pytest.approx(1.959964e-3, rel=1e-3)
    assert high - 1000 == pytest.approx(1.959964e-3, rel=1e-3)


def test_missing_errors_give_missing_limits_and_no_word() -> None:
    for kind in IntervalKind:
        low, high, word = nonnegative_interval(
            kind, [5.0, np.nan, 5.0], [np.nan, 1.0, 1.0], [4, 4, np.nan], 0.95
        )
        assert np.isnan(low).all()
        assert np.isnan(high).all()
        assert word.tolist() == ["none"] * 3


def test_no_error_is_no_width_and_no_word() -> None:
    for kind in IntervalKind:
        low, high, word = nonnegative_interval(kind, [5.0, 5.0], [0.0, 0.0], [4, np.inf], 0.95)
        assert low.tolist() == high.tolist() == [5.0, 5.0]
        assert word.tolist() == ["none", "none"]


def test_two_plots_get_students_interval_and_three_the_gamma_interval() -> None:
    low, high, word = nonnegative_interval(IntervalKind.AUTO, [5.0, 5.0], [0.1, 0.1], [1.99, 2.0], 0.95)
    assert word.tolist() == ["t", "gamma"]
    half = stats.t.ppf(0.975, 1.99) * 0.1
    assert (low[0], high[0]) == (pytest.approx(5 - half), pytest.approx(5 + half))
    assert high[1] - 5 > 5 - low[1]


def test_two_plots_that_agree_by_chance_do_not_prove_a_rare_class() -> None:
    """One stem on each of two plots: the exact limits of 2 are 0.242 and 7.22 (Garwood 1936)."""
    low, high, word = nonnegative_interval(IntervalKind.AUTO, 2.0, 0.0, 1, 0.95, most=2.0)
    assert (low, high) == (pytest.approx(0.2422, abs=1e-4), pytest.approx(7.2247, abs=1e-4))
    assert word == "t"


@pytest.mark.parametrize("kind", IntervalKind)
def test_a_negative_estimate_is_refused(kind: IntervalKind) -> None:
    with pytest.raises(ValueError, match="mean must be 0 or more"):
        nonnegative_interval(kind, -0.1, 1.0, 4, 0.95)


@pytest.mark.parametrize("kind", IntervalKind)
def test_a_negative_error_is_refused(kind: IntervalKind) -> None:
    with pytest.raises(ValueError, match="se must be 0 or more"):
        nonnegative_interval(kind, 1.0, -1.0, 4, 0.95)


def test_a_negative_error_of_the_gamma_interval_is_refused() -> None:
    with pytest.raises(ValueError, match="se must be 0 or more"):
        gamma_interval(1.0, -1.0, 4, 0.95)


def test_a_bound_of_no_count_is_refused() -> None:
    with pytest.raises(ValueError, match="most must be above 0"):
        gamma_interval(1.0, 1.0, 4, 0.95, most=0.0)


@pytest.mark.parametrize("confidence", [0.0, 1.0, math.nan])
def test_a_confidence_that_is_none_is_refused(confidence: float) -> None:
    for make in (lambda: poisson_limits(3, confidence), lambda: gamma_interval(1.0, 1.0, 4, confidence)):
        with pytest.raises(ValueError, match="must be above 0 and below 1"):
            make()


def test_a_negative_count_is_refused_and_missing_and_endless_ones_stay() -> None:
    with pytest.raises(ValueError, match="count must be 0 or more"):
        poisson_limits(-1, 0.95)
    low, high = poisson_limits([np.nan, np.inf], 0.95)
    assert np.isnan([low[0], high[0]]).all()
    assert low[1] == high[1] == np.inf
