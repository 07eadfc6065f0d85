"""The error of a change: that of paired and of independent samples at the ends, and between them otherwise."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from plotmap.statistics import change_error

_OLD = np.array([20.0, 31.0, 17.0, 25.0, 40.0, 22.0])
_NEW = np.array([24.0, 33.0, 22.0, 27.0, 47.0, 25.0])
_NONE = np.full(6, np.nan)


def _residuals(values: np.ndarray) -> np.ndarray:
    """Return residuals of a mean, each divided by the number of units."""
    return (values - np.nanmean(values)) / np.isfinite(values).sum()


def test_units_all_visited_twice_give_the_error_of_the_paired_t_test() -> None:
    # scipy.stats.ttest_rel: mean difference over its standard error
    found = change_error(_residuals(_OLD), _residuals(_NEW), np.zeros(6, int), 1)
    expected = stats.ttest_rel(_NEW, _OLD)
    assert found.se[0] == pytest.approx((_NEW - _OLD).mean() / expected.statistic, rel=1e-12)
    assert found.df[0] == expected.df
    assert (found.n_old[0], found.n_new[0], found.n_paired[0]) == (6, 6, 6)


def test_units_never_visited_twice_give_the_error_and_freedom_of_welch() -> None:
    # scipy.stats.ttest_ind with unequal variances (Welch 1947)
    new = np.concatenate([_NONE, _NEW[:4], [np.nan] * 2])
    old = np.concatenate([_OLD, _NONE])
    found = change_error(_residuals(old), _residuals(new), np.zeros(12, int), 1)
    expected = stats.ttest_ind(_NEW[:4], _OLD, equal_var=False)
    assert found.se[0] == pytest.approx((_NEW[:4].mean() - _OLD.mean()) / expected.statistic, rel=1e-12)
    assert found.df[0] == pytest.approx(expected.df, rel=1e-12)


def test_some_units_visited_twice_gain_by_their_share_of_both_samples() -> None:
    # Cochran 1977, section 12.10: cov = n_paired s_xy / (n_old n_new), worked by hand with r of the four pairs
    old, new = np.append(_OLD, np.nan), np.append(_NEW, 30.0)
    new[4:6] = np.nan
    found = change_error(_residuals(old), _residuals(new), np.zeros(7, int), 1)
    r = np.corrcoef(_OLD[:4], _NEW[:4])[0, 1]
    after = np.append(_NEW[:4], 30.0)
    variances = _OLD.var(ddof=1) / 6, after.var(ddof=1) / 5
    covariance = r * _OLD.std(ddof=1) * after.std(ddof=1) * 4 / (6 * 5)
    assert found.se[0] == pytest.approx(np.sqrt(sum(variances) - 2 * covariance), rel=1e-12)
    assert found.df[0] == 4
    assert found.n_paired[0] == 4


def test_many_groups_at_once_give_what_each_gives_alone() -> None:
    rng = np.random.default_rng(3)
    group = np.repeat([0, 1, 2], [5, 3, 7])
    old, new = rng.normal(30, 5, (2, 15))
    for of in range(3):
        inside = group == of
        old[inside], new[inside] = _residuals(old[inside]), _residuals(new[inside])
    together = change_error(old, new, group, 3)
    for of in range(3):
        inside = group == of
        alone = change_error(old[inside], new[inside], np.zeros(inside.sum(), int), 1)
        assert together.se[of] == pytest.approx(alone.se[0], rel=1e-12)


@pytest.mark.parametrize(("n_old", "n_new"), [(1, 3), (3, 1), (0, 3)])
def test_one_unit_or_none_on_an_occasion_gives_no_error(n_old, n_new) -> None:
    old = np.where(np.arange(3) < n_old, [0.1, -0.2, 0.1], np.nan)
    new = np.where(np.arange(3) < n_new, [0.2, -0.1, -0.1], np.nan)
    found = change_error(old, new, np.zeros(3, int), 1)
    assert np.isnan(found.se[0])
    assert np.isnan(found.df[0])


def test_units_that_do_not_vary_have_an_error_of_zero() -> None:
    found = change_error(np.zeros(4), np.zeros(4), np.zeros(4, int), 1)
    assert found.se[0] == 0
    assert found.df[0] == 3


@pytest.mark.parametrize(
    ("old", "new", "group", "words"),
    [
        ([0.0, np.inf], [0.0, 0.0], [0, 0], "residuals must be finite"),
        ([0.0], [0.0, 0.0], [0, 0], "one length"),
        ([0.0, 0.0], [0.0, 0.0], [0, 1], "whole numbers from 0 to 0"),
    ],
)
def test_wrong_residuals_are_refused(old, new, group, words) -> None:
    with pytest.raises(ValueError, match=words):
        change_error(old, new, group, 1)
