from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from plotmap.statistics import chance_above, plots_to_decide


@pytest.mark.parametrize("df", [1, 3, 20, np.inf])
def test_the_chance_is_that_of_scipy(df: float) -> None:
    expected = stats.norm.cdf(0.75) if np.isinf(df) else stats.t.cdf(0.75, df)
    assert float(chance_above(23, 4, df, 20)) == pytest.approx(expected)


def test_without_error_it_is_known_and_the_trigger_itself_counts() -> None:
    assert chance_above([20, 19.99], 0, np.inf, 20).tolist() == [1, 0]


def test_what_is_not_known_stays_missing() -> None:
    assert np.isnan(chance_above([np.nan, 20, 20], [1, np.nan, 1], [5, 5, np.nan], 19)).all()


@pytest.mark.parametrize(("margin", "sd", "sure"), [(2.4, 5.48, 0.9), (1, 3, 0.95), (5, 5, 0.8)])
def test_plots_to_decide_are_the_fewest_that_do(margin: float, sd: float, sure: float) -> None:
    fits = [n for n in range(2, 500) if stats.t.ppf(sure, n - 1) * sd / np.sqrt(n) <= margin]
    assert plots_to_decide(20 + margin, sd / 2, 4, 20, sure) == fits[0]
    assert plots_to_decide(20 - margin, sd / 2, 4, 20, sure) == fits[0]


def test_on_the_trigger_no_number_of_plots_tells() -> None:
    assert np.isnan(plots_to_decide([20, 20.0001], 2, 4, 20, 0.9)).all()
    assert np.isnan(plots_to_decide(22, 2, 4, 20, 0.5))
    assert np.isnan(plots_to_decide(22, np.nan, 4, 20, 0.9))
