"""Behaviour of the estimators, on samples whose answers can be worked out by hand."""

import numpy as np
import pytest

from plotmap.statistics import combine, mean_estimate, pooled_variance, ratio_estimate, ratio_of_means


def test_the_mean_of_four_plots_has_the_standard_error_of_the_textbook() -> None:
    """Arithmetic: 2 4 6 8 has mean 5, s² = 20/3, se = sqrt(s²/4)."""
    estimate = mean_estimate([2.0, 4.0, 6.0, 8.0])
    assert estimate.mean == 5.0
    assert estimate.se == pytest.approx((20 / 3 / 4) ** 0.5)
    assert estimate.df == 3.0


def test_a_mean_comes_as_arrays_without_dimensions() -> None:
    estimate = mean_estimate([2.0, 4.0])
    assert [part.shape for part in (estimate.mean, estimate.se, estimate.df)] == [(), (), ()]


def test_half_the_population_sampled_takes_half_the_variance_away() -> None:
    """Cochran 1977, ch. 2: variance × (1 - f)."""
    full, half = mean_estimate([1.0, 5.0, 3.0]), mean_estimate([1.0, 5.0, 3.0], sampling_fraction=0.5)
    assert half.se**2 == pytest.approx(full.se**2 / 2)


def test_one_plot_has_a_mean_and_no_error() -> None:
    estimate = mean_estimate([7.0])
    assert estimate.mean == 7.0
    assert np.isnan(estimate.se)
    assert np.isnan(estimate.df)


def test_no_plot_has_nothing_at_all() -> None:
    for estimate in (mean_estimate([]), ratio_of_means([], [])):
        assert np.isnan([estimate.mean, estimate.se, estimate.df]).all()


def test_plots_that_are_all_zero_have_a_mean_and_an_error_of_zero() -> None:
    estimate = mean_estimate([0.0, 0.0, 0.0])
    assert (estimate.mean, estimate.se, estimate.df) == (0.0, 0.0, 2.0)


def test_a_ratio_over_equal_sizes_is_the_mean_of_a_simple_random_sample() -> None:
    """Cochran 1977, ch. 2 and 6: with equal x the two estimators are one."""
    y = np.array([3.0, 0.0, 8.0, 4.5, 2.0])
    ratio = ratio_of_means(y, np.full(5, 0.05), sampling_fraction=0.2)
    mean = mean_estimate(y / 0.05, sampling_fraction=0.2)
    assert ratio.mean == pytest.approx(mean.mean)
    assert ratio.se == pytest.approx(mean.se)
    assert ratio.df == mean.df


def test_many_samples_at_once_give_what_each_gives_alone() -> None:
    y = [np.array([4.0, 9.0, 0.0]), np.array([2.0]), np.array([]), np.array([5.0, 5.5])]
    x = [np.array([1.0, 2.0, 0.5]), np.array([3.0]), np.array([]), np.array([1.0, 1.5])]
    ratios = [b.sum() / a.sum() if len(a) else 0.0 for a, b in zip(x, y, strict=True)]
    together = ratio_estimate(
        [3, 1, 0, 2],
        [part.sum() for part in y],
        [part.sum() for part in x],
        [((b - r * a) ** 2).sum() for a, b, r in zip(x, y, ratios, strict=True)],
    )
    alone = [ratio_of_means(b, a) for a, b in zip(x, y, strict=True)]
    for part in ("mean", "se", "df"):
        np.testing.assert_allclose(getattr(together, part), [getattr(one, part) for one in alone])


def test_empty_samples_are_missing_whatever_their_sums_are() -> None:
    estimate = ratio_estimate([0, 0], [0.0, np.nan], [0.0, np.nan], [0.0, np.nan])
    assert np.isnan([estimate.mean, estimate.se, estimate.df]).all()


def test_round_off_below_zero_in_the_sum_of_squares_counts_as_zero() -> None:
    assert ratio_estimate(2, 10.0, 2.0, -1e-15).se == 0.0
    with pytest.raises(ValueError, match="squared_residuals must be 0 or more"):
        ratio_estimate(2, 10.0, 2.0, -0.1)


@pytest.mark.parametrize("fraction", [-0.01, 1.0, 1.5, float("nan")])
def test_a_sampling_fraction_outside_its_range_is_refused(fraction) -> None:
    with pytest.raises(ValueError, match=r"sampling_fraction is .* but must be 0 to less than 1"):
        mean_estimate([1.0, 2.0], sampling_fraction=fraction)


@pytest.mark.parametrize("fraction", [0.0, 0.999])
def test_a_sampling_fraction_inside_its_range_is_taken(fraction) -> None:
    assert mean_estimate([1.0, 3.0], sampling_fraction=fraction).se == pytest.approx((1 - fraction) ** 0.5)


def test_samples_that_are_no_samples_are_refused() -> None:
    with pytest.raises(ValueError, match="values holds 1 NaN"):
        mean_estimate([1.0, float("nan")])
    with pytest.raises(ValueError, match="values must be one-dimensional"):
        mean_estimate([[1.0, 2.0]])
    with pytest.raises(ValueError, match="y has 2 units and x has 1"):
        ratio_of_means([1.0, 2.0], [1.0])
    with pytest.raises(ValueError, match="x must be above zero"):
        ratio_of_means([1.0, 2.0], [1.0, 0.0])
    with pytest.raises(ValueError, match="x holds 1 NaN"):
        ratio_of_means([1.0, 2.0], [1.0, float("nan")])


def test_sums_that_are_no_sums_are_refused() -> None:
    with pytest.raises(ValueError, match="total_x must be above zero"):
        ratio_estimate([1], [1.0], [0.0], [0.0])
    with pytest.raises(ValueError, match="total_y is NaN"):
        ratio_estimate([1], [np.nan], [1.0], [0.0])
    with pytest.raises(ValueError, match="squared_residuals must be"):
        ratio_estimate([2], [1.0], [1.0], [np.nan])
    for n in (-1, 1.5, np.nan):
        with pytest.raises(ValueError, match="n must be whole numbers"):
            ratio_estimate([n], [1.0], [1.0], [0.0])
    with pytest.raises(ValueError, match="broadcast"):
        ratio_estimate([1, 2], [1.0, 2.0, 3.0], [1.0, 1.0], [0.0, 0.0])


def test_totals_add_areas_times_means_and_squared_areas_times_variances() -> None:
    """Arithmetic: 3·10 + 4·5 = 50; se² = 9·4 + 16·1 = 52."""
    total, se, df = combine([3.0, 4.0], [10.0, 5.0], [2.0, 1.0], [5.0, 8.0], [0, 0], 1)
    assert total[0] == 50.0
    assert se[0] == pytest.approx(52**0.5)
    assert df[0] == pytest.approx(52**2 / (36**2 / 5 + 16**2 / 8))


def test_a_row_without_error_leaves_its_group_without_error_and_no_other() -> None:
    total, se, df = combine(
        [1.0, 1.0, 2.0], [10.0, 5.0, 3.0], [np.nan, 1.0, 1.0], [np.nan, 3, 4], [0, 0, 1], 2
    )
    np.testing.assert_array_equal(total, [15.0, 6.0])
    np.testing.assert_array_equal(se, [np.nan, 2.0])
    np.testing.assert_allclose(df, [np.nan, 4.0])


def test_degrees_of_freedom_without_an_error_are_not_passed_on() -> None:
    _, se, df = combine([2.0], [10.0], [np.nan], [3.0], [0], 1)
    assert np.isnan([se[0], df[0]]).all()


def test_a_row_of_weight_zero_says_nothing() -> None:
    total, se, df = combine([0.0, 2.0], [99.0, 3.0], [np.nan, 1.0], [np.nan, 4.0], [0, 0], 1)
    assert (total[0], se[0], df[0]) == (6.0, 2.0, 4.0)


def test_a_group_without_rows_is_missing_and_not_zero() -> None:
    for part in combine([1.0, 0.0], [2.0, 2.0], [0.5, 0.5], [3.0, 3.0], [1, 2], 3):
        np.testing.assert_array_equal(np.isnan(part), [True, False, True])


def test_estimates_without_any_variation_have_error_zero_and_all_degrees_of_freedom() -> None:
    _, se, df = combine([1.0, 1.0], [2.0, 3.0], [0.0, 0.0], [3.0, 4.0], [0, 0], 1)
    assert (se[0], df[0]) == (0.0, 7.0)


def test_an_error_whose_degrees_of_freedom_are_not_known_gives_no_degrees_of_freedom() -> None:
    for unknown in (np.nan, 0.0):
        _, se, df = combine([1.0, 1.0], [2.0, 3.0], [1.0, 1.0], [3.0, unknown], [0, 0], 1)
        assert se[0] == pytest.approx(2**0.5)
        assert np.isnan(df[0])


def test_errors_known_for_certain_stay_so_when_combined() -> None:
    _, _, df = combine([1.0, 1.0], [2.0, 3.0], [1.0, 1.0], [np.inf, np.inf], [0, 0], 1)
    assert df[0] == np.inf


def test_wrong_rows_are_refused() -> None:
    good = {"weights": [1.0], "means": [1.0], "ses": [1.0], "dfs": [1.0], "group": [0], "n_groups": 1}
    for change, message in (
        ({"means": [np.nan]}, "means hold NaN"),
        ({"weights": [-1.0]}, "weights must be finite and 0 or more"),
        ({"weights": [np.nan]}, "weights must be finite and 0 or more"),
        ({"ses": [-1.0]}, "ses must be finite and 0 or more"),
        ({"ses": [np.inf]}, "ses must be finite and 0 or more"),
        ({"ses": [1.0, 2.0]}, "must have one length"),
        ({"group": [1]}, "group must be whole numbers from 0 to 0"),
        ({"group": [-1]}, "group must be whole numbers from 0 to 0"),
        ({"group": [0.0]}, "group must be whole numbers"),
        ({"group": [0, 0]}, "group has shape"),
    ):
        with pytest.raises(ValueError, match=message):
            combine(**{**good, **change})


def test_pooled_variance_weighs_by_degrees_of_freedom() -> None:
    """Arithmetic: (4·3 + 1·9) / 5 = 4.2."""
    variance, df = pooled_variance([3.0, 9.0, np.nan, 5.0], [4.0, 1.0, np.nan, 0.0], [0, 0, 0, 1], 3)
    np.testing.assert_allclose(variance, [4.2, np.nan, np.nan])
    np.testing.assert_allclose(df, [5.0, np.nan, np.nan])


def test_pooled_variance_of_all_values_equals_the_residual_variance_of_groups() -> None:
    """Two routes: pooled by groups, and residuals about group means with n - g degrees of freedom."""
    groups = [np.array([1.0, 4.0, 2.0]), np.array([8.0, 6.0]), np.array([5.0])]
    variances = [part.var(ddof=1) if len(part) > 1 else np.nan for part in groups]
    pooled, df = pooled_variance(variances, [len(part) - 1 for part in groups], [0, 0, 0], 1)
    residuals = np.concatenate([part - part.mean() for part in groups])
    assert df[0] == len(residuals) - len(groups)
    assert pooled[0] == pytest.approx((residuals**2).sum() / df[0])


def test_variances_that_cannot_be_are_refused() -> None:
    with pytest.raises(ValueError, match="variances must be finite and 0 or more"):
        pooled_variance([-1.0], [2.0], [0], 1)
    with pytest.raises(ValueError, match="dfs must be finite and 0 or more"):
        pooled_variance([1.0], [np.inf], [0], 1)
