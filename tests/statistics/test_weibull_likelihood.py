"""The likelihood of many Weibull samples against scipy's densities, and its derivatives against differences of it."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from plotmap.statistics import sizes_of
from plotmap.statistics.weibull_likelihood import Likelihood

SIZES = 8.0 + 20.0 * np.random.default_rng(3).weibull(2.2, 60)
LOW = np.concatenate([SIZES, [20.0, 30.0, 9.0]])
HIGH = np.concatenate([SIZES, [25.0, np.inf, 12.0]])
WEIGHT = np.linspace(0.5, 1.5, len(LOW))
SAMPLE = np.arange(len(LOW)) % 2
THETA = {2: np.log([[2.0, 22.0], [1.7, 25.0]]), 3: np.log([[2.0, 18.0, 3.0], [1.4, 21.0, 5.0]])}


def likelihood(parameters: int, order: int = 0, truncation: float = 7.0) -> Likelihood:
    """Return that of two samples with exact sizes and classes."""
    sizes = sizes_of(LOW, HIGH, weight=WEIGHT, order=order, truncation=truncation, sample=SAMPLE, n_samples=2)
    return Likelihood.of_sizes(sizes, np.array([9.0, 10.0]) if parameters == 3 else None)


@pytest.mark.parametrize("parameters", [2, 3])
def test_the_value_is_that_of_scipy(parameters: int) -> None:
    made = likelihood(parameters)
    shape, scale, location = made.parameters(THETA[parameters])
    for sample in (0, 1):
        f = stats.weibull_min(shape[sample], loc=location[sample], scale=scale[sample])
        mine = sample == SAMPLE
        low, high = LOW[mine], HIGH[mine]
        logs = np.where(low == high, f.logpdf(low), np.log(f.cdf(high) - f.cdf(low) + (low == high)))
        expected = np.sum(WEIGHT[mine] * (logs - f.logsf(7.0)))
        assert made.value(THETA[parameters])[sample] == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("order", [0, 2])
@pytest.mark.parametrize("truncation", [0.0, 7.0])
@pytest.mark.parametrize("parameters", [2, 3])
def test_derivatives_are_the_limits_of_differences(parameters: int, truncation: float, order: int) -> None:
    made, theta = likelihood(parameters, order, truncation), THETA[parameters]
    value, slope, curve = made.derivatives(theta)
    assert value == pytest.approx(made.value(theta), rel=1e-12)
    step = 1e-5
    for i in range(parameters):
        move = step * np.eye(parameters)[i]
        ends = [made.derivatives(theta + sign * move) for sign in (1, -1)]
        assert slope[:, i] == pytest.approx((ends[0][0] - ends[1][0]) / (2 * step), rel=1e-5, abs=1e-4)
        assert curve[:, i] == pytest.approx((ends[0][1] - ends[1][1]) / (2 * step), rel=1e-3, abs=5e-3)


def test_samples_that_are_left_out_get_zero_and_the_others_what_they_had() -> None:
    made, theta = likelihood(2), THETA[2]
    part = made.of(np.array([False, True]))
    assert part.value(theta)[0] == 0.0
    assert part.value(theta)[1] == made.value(theta)[1]


def test_a_size_below_the_location_is_impossible() -> None:
    sizes = sizes_of([5.0, 20.0], [5.0, 20.0])
    made = Likelihood.of_sizes(sizes, np.array([9.0]))
    assert made.value(np.log([[2.0, 20.0, 1.0]]))[0] == -np.inf
