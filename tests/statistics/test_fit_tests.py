"""Chi-square and Anderson-Darling against scipy and published tables."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from plotmap.statistics import anderson_darling, cell_sums, chi_square, fit_weibull, pooled_cells, sizes_of
from plotmap.statistics.fit_tests import anderson_darling_p

SAMPLE = 27.0 * np.random.default_rng(11).weibull(2.3, 60)


def test_anderson_darling_is_that_of_scipy_for_the_logarithms() -> None:
    """Ln of a Weibull is Gumbel (scipy: gumbel_l); 1 + 0.2/√n: Stephens 1977."""
    by_scipy = stats.anderson(np.log(SAMPLE), "gumbel_l", method="interpolate")
    expected = by_scipy.statistic * (1 + 0.2 / np.sqrt(60))
    sizes = sizes_of(SAMPLE, SAMPLE)
    assert anderson_darling(sizes, fit_weibull(sizes))[0][0] == pytest.approx(expected, rel=1e-4)


def test_sizes_that_are_alike_may_be_one_row() -> None:
    rounded = np.round(SAMPLE)
    kinds, times = np.unique(rounded, return_counts=True)
    each, together = sizes_of(rounded, rounded), sizes_of(kinds, kinds, weight=times)
    one, other = (anderson_darling(sizes, fit_weibull(sizes)) for sizes in (each, together))
    assert one[0][0] == pytest.approx(other[0][0], rel=1e-6)


def test_p_values_meet_the_published_points() -> None:
    """Stephens 1977, as in D'Agostino & Stephens 1986, table 4.17, case 3: upper points of A* (from memory)."""
    points = np.array([0.474, 0.637, 0.757, 0.877, 1.038])
    assert anderson_darling_p(points) == pytest.approx([0.25, 0.10, 0.05, 0.025, 0.01], rel=0.03)


def test_anderson_darling_is_refused_for_classes_and_for_cut_off_sizes() -> None:
    for sizes in (
        sizes_of([10.0, 20, 30], [20.0, 30, 40], weight=5.0),
        sizes_of(SAMPLE + 9, SAMPLE + 9, truncation=9.0),
        sizes_of(SAMPLE, SAMPLE, weight=1.5),
    ):
        with pytest.raises(ValueError, match="sizes must be exact, of order 0, not truncated"):
            anderson_darling(sizes, fit_weibull(sizes))


def test_chi_square_is_that_of_scipy() -> None:
    observed, expected = np.array([[12.0, 30, 38, 20]]), np.array([[10.0, 35, 35, 20]])
    by_scipy = stats.chisquare(observed[0], expected[0], ddof=2)
    statistic, df, p = chi_square(observed, expected, 2, np.array([1.0]))
    assert [statistic[0], df[0], p[0]] == pytest.approx([by_scipy.statistic, 1, by_scipy.pvalue], rel=1e-12)
    halved = chi_square(observed, expected, 2, np.array([2.0]))
    assert halved[0][0] == statistic[0]
    assert halved[2][0] == pytest.approx(stats.chi2.sf(statistic[0] / 2, 1), rel=1e-12)


def test_chi_square_is_missing_without_a_degree_of_freedom() -> None:
    """Three cells less one less two parameters; four leave one."""
    three = chi_square(np.array([[10.0, 10, 10, 0]]), np.array([[9.0, 11, 10, 0]]), 2, np.array([1.0]))
    assert all(np.isnan(part[0]) for part in three)
    assert chi_square(np.full((1, 4), 10.0), np.full((1, 4), 9.0), 2, np.array([1.0]))[1][0] == 1


def test_cells_hold_at_least_five_and_the_rest_joins_the_last() -> None:
    """Worked by hand: 2 + 4 | 5 | 4.9 + 0.1 | 7 and the 3 left over."""
    expected = np.array([[2.0, 4, 5, 4.9, 0.1, 7, 3]])
    cells = pooled_cells(expected)
    assert cells.tolist() == [[0, 0, 1, 2, 2, 3, 3]]
    assert cell_sums(expected, cells)[0, :4] == pytest.approx([6, 5, 5, 10])
    assert pooled_cells(np.array([[1.0, 1.0]])).tolist() == [[0, 0]]
