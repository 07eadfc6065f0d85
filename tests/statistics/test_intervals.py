"""Intervals and sample sizes at their bounds."""

import numpy as np
import pytest
from scipy import stats

from plotmap.statistics import sampling_error_pct, t_half_width, t_interval


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
