"""Plots shared out over strata, and the error they will have."""

from __future__ import annotations

import math

import numpy as np
import pytest

from plotmap.statistics import (
    allocate,
    combine,
    plots_needed,
    stratified_error_pct,
    stratified_plots_needed,
    t_half_width,
)

SHARES, CVS = np.array([0.3, 0.1, 0.2, 0.4]), np.array([40.0, 65.0, 80.0, 35.0])


def test_fractions_go_to_the_largest_remainders_and_the_total_holds() -> None:
    # by hand: 10 plots at 5 : 3 : 2.9 are 4.587, 2.752, 2.661; 4 + 2 + 2 leave two for .752 and .661
    assert allocate(10, [5, 3, 2.9]).tolist() == [4, 3, 3]
    for total in range(60):
        assert allocate(total, SHARES * CVS).sum() == total


def test_fewest_and_most_plots_of_a_stratum_are_kept_and_the_others_make_up_for_it() -> None:
    assert allocate(10, [98, 1, 1], least=2).tolist() == [6, 2, 2]
    assert allocate(10, [98, 1, 1], most=[4, 9, 9]).tolist() == [4, 3, 3]
    assert allocate(99, [1, 1], most=[4, 9]).tolist() == [4, 9]
    assert allocate(0, [1.0]).tolist() == [0]


def test_a_stratum_without_weight_gets_its_least_only() -> None:
    assert allocate(9, [0, 1], least=2).tolist() == [2, 7]
    assert allocate(9, [0, 1], least=2, most=[8, 3]).tolist() == [2, 3]


@pytest.mark.parametrize(
    ("total", "weights", "keys", "words"),
    [
        (5, [0, 0], {}, "not 0 everywhere"),
        (5, [1, -1], {}, "must be 0 or more"),
        (5, [1, math.nan], {}, "must be 0 or more"),
        (5, [1, 1], {"least": 3}, "need 6 at least"),
        (5, [1, 1], {"least": 3, "most": 2}, "not above most"),
    ],
)
def test_what_cannot_be_shared_out_is_refused(total, weights, keys, words) -> None:
    with pytest.raises(ValueError, match=words):
        allocate(total, weights, **keys)


def test_one_stratum_has_the_error_of_a_random_sample() -> None:
    expected = t_half_width(50 * math.sqrt((1 - 20 / 300) / 20), 19, 0.95)
    assert stratified_error_pct([1.0], [50.0], [20], 0.95, population=300) == pytest.approx(float(expected))


def test_the_error_of_strata_is_the_one_that_the_estimates_give() -> None:
    # two routes: `combine` of the estimates, with the same variances of means and degrees of freedom
    n = np.array([21, 12, 28, 25])
    se = CVS / np.sqrt(n)
    _, error, df = combine(SHARES, np.full(4, 100.0), se, (n - 1).astype(float), np.zeros(4, int), 1)
    expected = t_half_width(error[0], df[0], 0.9)
    assert stratified_error_pct(SHARES, CVS, n, 0.9) == pytest.approx(float(expected))


def test_a_stratum_that_is_counted_whole_has_no_error_and_one_without_plots_leaves_none() -> None:
    half = [0.5, 0.5]
    alone = stratified_error_pct(half, [40, 60], [10, 3], 0.95, population=[1e9, 3.4])
    assert alone == pytest.approx(float(t_half_width(20 / math.sqrt(10), 9, 0.95)))
    assert stratified_error_pct(half, [40, 60], [7, 3], 0.95, population=[7.0, 3.4]) == 0
    assert math.isnan(stratified_error_pct(half, [40, 60], [10, 0], 0.95))
    assert math.isnan(stratified_error_pct(half, [40, 60], [10, 1], 0.95))
    assert not math.isnan(stratified_error_pct(half, [40, 60], [10, 1], 0.95, population=[1e9, 1.7]))
    assert math.isnan(stratified_error_pct(half, [40, math.nan], [10, 5], 0.95))


@pytest.mark.parametrize(
    ("error", "confidence", "whole"), [(10, 0.95, math.inf), (20, 0.9, 500), (3, 0.95, 900)]
)
def test_one_stratum_needs_what_a_random_sample_needs(error, confidence, whole) -> None:
    found = stratified_plots_needed([1.0], [50.0], error, confidence, weights=[1.0], population=whole)
    assert found.tolist() == [plots_needed(50.0, error, confidence, population=whole)]


@pytest.mark.parametrize("weights", [SHARES, SHARES * CVS])
def test_the_needed_plots_meet_the_target_and_one_less_does_not(weights) -> None:
    most = SHARES * 1000
    plots = stratified_plots_needed(SHARES, CVS, 10, 0.95, weights=weights, population=most)
    fewer = allocate(int(plots.sum()) - 1, weights, least=2, most=most)
    assert stratified_error_pct(SHARES, CVS, plots, 0.95, population=most) <= 10
    assert stratified_error_pct(SHARES, CVS, fewer, 0.95, population=most) > 10


def test_neymans_allocation_needs_fewer_plots_than_a_proportional_one() -> None:
    neyman = stratified_plots_needed(SHARES, CVS, 10, 0.95, weights=SHARES * CVS)
    proportional = stratified_plots_needed(SHARES, CVS, 10, 0.95, weights=SHARES)
    assert neyman.sum() < proportional.sum()


def test_a_target_out_of_reach_takes_everything_or_is_refused() -> None:
    # strata that hold 3.9 and 8 plots: 3 and 8 whole ones are all there is
    all_of_it = stratified_plots_needed(
        [0.5, 0.5], [90, 90], 0.01, 0.95, weights=[0.5, 0.5], population=[3.9, 8]
    )
    assert all_of_it.tolist() == [3, 8]
    with pytest.raises(ValueError, match="no number of plots meets"):
        stratified_plots_needed([1.0], [50.0], 1e-7, 0.95, weights=[1.0])
    with pytest.raises(ValueError, match="must be above 0 %"):
        stratified_plots_needed([1.0], [50.0], 0, 0.95, weights=[1.0])


def test_a_stratum_smaller_than_two_plots_gets_the_one_that_fits() -> None:
    plots = stratified_plots_needed([0.1, 0.9], [50, 50], 20, 0.95, weights=[0.1, 0.9], population=[1.5, 9e9])
    assert plots[0] == 1
    assert stratified_error_pct([0.1, 0.9], [50, 50], plots, 0.95, population=[1.5, 9e9]) <= 20


def test_shares_and_figures_that_cannot_be_are_refused() -> None:
    with pytest.raises(ValueError, match="add up to 1"):
        stratified_error_pct([0.5, 0.4], [10, 10], [5, 5], 0.95)
    with pytest.raises(ValueError, match="give one length"):
        stratified_error_pct([0.5, 0.5], [10], [5, 5], 0.95)
    with pytest.raises(ValueError, match="must be 0 or more"):
        stratified_error_pct([0.5, 0.5], [10, -1], [5, 5], 0.95)
