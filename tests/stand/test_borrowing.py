"""Borrowed variances: one estimate used several times is still one estimate. Expected figures are worked by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from plotmap.stand.borrowing import lend_variance
from plotmap.statistics import combine

_NAN = float("nan")


def _total(
    area: list[float],
    se: list[float],
    n: list[int],
    sampled: list[float],
    stratum: list[int],
    group: list[int],
) -> tuple[np.ndarray, np.ndarray]:
    """Return standard errors and degrees of freedom of totals."""
    plots = np.array(n, dtype=float)
    df = np.where(plots > 1, plots - 1, np.nan)
    places = np.array(stratum), np.array(group)
    lent, freedom = lend_variance(np.array(area), np.array(se), df, np.array(sampled), *places)
    _, total_se, total_df = combine(area, np.zeros(len(area)), lent, freedom, group, max(group) + 1)
    return total_se, total_df


def test_six_compartments_that_rest_on_one_variance_have_its_one_degree_of_freedom() -> None:
    se = [10.0, *[_NAN] * 5]
    total_se, df = _total([4.0] * 6, se, [2, 1, 1, 1, 1, 1], [0.1, *[0.05] * 5], [0] * 6, [0] * 6)
    variance_of_a_plot = 10.0**2 * 2
    assert total_se.item() == pytest.approx(4 * math.sqrt(variance_of_a_plot / 2 + 5 * variance_of_a_plot))
    assert df.item() == pytest.approx(1)


def test_a_borrower_with_a_small_plot_varies_more() -> None:
    small, _ = _total([1.0, 1.0], [10.0, _NAN], [2, 1], [0.1, 0.005], [0, 0], [0, 0])
    assert small.item() ** 2 == pytest.approx(10.0**2 + 10.0**2 * 0.1 / 0.005)


def test_a_stratum_lends_before_the_survey_does() -> None:
    se, n, sampled = [10.0, _NAN, 30.0], [2, 1, 3], [0.1, 0.05, 0.15]
    total, _ = _total([1.0] * 3, se, n, sampled, [0, 0, 1], [0, 0, 1])
    assert total[0] ** 2 == pytest.approx(100 + 100 * 2)
    assert total[1] == pytest.approx(30)


def test_a_stratum_without_lenders_borrows_from_all_others() -> None:
    se, n, sampled = [10.0, 20.0, _NAN, _NAN], [2, 3, 1, 1], [0.1, 0.15, 0.05, 0.05]
    pooled = (1 * 100 * 0.1 + 2 * 400 * 0.15) / 3
    total, df = _total([1.0] * 4, se, n, sampled, [0, 0, 1, 1], [0, 0, 1, 1])
    assert total[1] ** 2 == pytest.approx(2 * pooled / 0.05)
    assert df[1] == pytest.approx(3)
    whole, _ = _total([1.0] * 4, se, n, sampled, [0, 0, 1, 1], [0] * 4)
    assert whole.item() ** 2 == pytest.approx(100 + 400 + 2 * pooled / 0.05)


def test_where_nobody_can_lend_or_nobody_needs_to_nothing_changes() -> None:
    for se in ([_NAN, _NAN], [1.0, 2.0]):
        df = np.array([3.0, 4.0])
        lent, freedom = lend_variance(
            np.ones(2), np.array(se), df, np.ones(2), np.zeros(2, int), np.zeros(2, int)
        )
        np.testing.assert_array_equal(lent, se)
        np.testing.assert_array_equal(freedom, df)
