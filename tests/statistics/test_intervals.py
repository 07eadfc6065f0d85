"""Intervals and sample sizes at their bounds."""

import numpy as np
import pytest
from scipy import stats

from plotmap.statistics import plots_needed, sampling_error_pct, t_half_width, t_interval


def test_half_widths_are_those_of_the_t_distribution() -> None:
    """Against scipy.stats, a general-purpose library; table value t(0.975, 9) = 2.262."""
    df = np.array([1.0, 2.5, 9.0, 120.0])
    np.testing.assert_allclose(t_half_width(2.0, df, 0.9), 2.0 * stats.t.ppf(0.95, df))
    assert t_half_width(1.0, 9, 0.95) == pytest.approx(2.262, abs=5e-4)


def test_infinite_degrees_of_freedom_mean_the_normal_distribution() -> None:
    """The 97.5 % point of the normal distribution, 1.959964, from any table."""
    assert t_half_width(1.0, np.inf, 0.95) == pytest.approx(1.959964, abs=1e-6)


def test_an_interval_without_error_or_degrees_of_freedom_is_missing() -> None:
    low, high = t_interval([5.0, 5.0, 5.0, np.nan], [np.nan, 1.0, 1.0, 1.0], [3.0, np.nan, 0.0, 3.0], 0.95)
    assert np.isnan(low).all()
    assert np.isnan(high).all()


def test_the_lower_end_stops_at_the_floor() -> None:
    low, high = t_interval(1.0, 1.0, 3, 0.95)
    assert low == 0.0
    assert high == pytest.approx(1.0 + stats.t.ppf(0.975, 3))
    assert t_interval(1.0, 1.0, 3, 0.95, floor=-np.inf)[0] == pytest.approx(1.0 - stats.t.ppf(0.975, 3))


def test_a_mean_below_the_floor_is_its_own_lower_end() -> None:
    assert t_interval(-2.0, 1.0, 3, 0.95)[0] == -2.0


@pytest.mark.parametrize("confidence", [0.0, 1.0, 95, float("nan")])
def test_a_confidence_that_is_no_probability_is_refused(confidence) -> None:
    with pytest.raises(ValueError, match=r"confidence is .* but must be above 0 and below 1"):
        t_half_width(1.0, 3, confidence)


def test_a_negative_standard_error_is_refused() -> None:
    with pytest.raises(ValueError, match="se must be 0 or more"):
        t_interval(1.0, -0.1, 3, 0.95)


def test_sampling_error_is_missing_where_there_is_no_mean_to_relate_it_to() -> None:
    error = sampling_error_pct([0.0, 50.0, 50.0, np.nan], [0.0, 1.0, np.nan, 1.0], [3, 3, 3, 3], 0.95)
    np.testing.assert_allclose(error, [np.nan, 2 * stats.t.ppf(0.975, 3), np.nan, np.nan])


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
    for cv in (-1.0, float("nan"), float("inf")):
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
