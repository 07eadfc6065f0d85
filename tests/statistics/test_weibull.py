"""Weibull fits against scipy's densities, distribution functions and optimisers."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from scipy import optimize, stats

from plotmap.statistics import Sizes, fit_weibull, log_mass, sizes_of, weibull_scores
from plotmap.statistics.weibull import ALL_ALIKE, NO_MAXIMUM, TOO_FEW, TOO_FEW_CLASSES
from plotmap.statistics.weibull_terms import log_terms

C, S = np.array([2.3]), np.array([27.0])
SAMPLE = 27.0 * np.random.default_rng(11).weibull(2.3, 240)


def best(log_likelihood, start=(2.0, 25.0)) -> np.ndarray:
    """Return shape and scale at the maximum, by Nelder and Mead's method."""
    found = optimize.minimize(
        lambda p: -log_likelihood(*p),
        start,
        method="Nelder-Mead",
        options={"xatol": 1e-9, "fatol": 1e-12, "maxiter": 5000},
    )
    return np.asarray(found.x)


def test_exact_sizes_give_the_parameters_of_scipy() -> None:
    shape, _, scale = stats.weibull_min.fit(SAMPLE, floc=0)
    fit = fit_weibull(sizes_of(SAMPLE, SAMPLE))
    assert [fit.shape[0], fit.scale[0]] == pytest.approx([shape, scale], rel=1e-4)
    assert fit.log_likelihood[0] == pytest.approx(
        stats.weibull_min.logpdf(SAMPLE, fit.shape[0], scale=fit.scale[0]).sum(), rel=1e-12
    )
    assert fit.log_likelihood[0] >= stats.weibull_min.logpdf(SAMPLE, shape, scale=scale).sum()


def test_three_parameters_are_those_of_scipy() -> None:
    sizes = 9.0 + 20.0 * np.random.default_rng(5).weibull(2.6, 500)
    fit = fit_weibull(sizes_of(sizes, sizes), three_parameters=True)
    shape, location, scale = stats.weibull_min.fit(sizes, 2.5, loc=8.0, scale=20.0)
    assert [fit.shape[0], fit.location[0], fit.scale[0]] == pytest.approx([shape, location, scale], rel=2e-3)
    assert (fit.se[0] > 0).all()


def test_classes_truncated_below_give_the_maximum_of_the_interval_likelihood_of_scipy() -> None:
    edges = np.array([10.0, 15, 20, 22, 30, 45, np.inf])
    counts = np.array([np.sum((low <= SAMPLE) & (high > SAMPLE)) for low, high in pairwise(edges)])
    fit = fit_weibull(sizes_of(edges[:-1], edges[1:], weight=counts, truncation=10.0))

    def likelihood(c: float, s: float) -> float:
        f = stats.weibull_min(c, scale=s)
        return float((counts * np.log(np.diff(f.cdf(edges)) / f.sf(10.0))).sum())

    assert [fit.shape[0], fit.scale[0]] == pytest.approx(best(likelihood), rel=1e-5)


def test_mixed_exact_and_grouped_sizes_give_the_maximum_of_both_likelihoods() -> None:
    exact = SAMPLE[(SAMPLE > 12) & (SAMPLE < 25)]
    low = np.concatenate([exact, [25.0, 35.0]])
    high = np.concatenate([exact, [35.0, 60.0]])
    weight = np.concatenate([np.full(len(exact), 1.5), [50.0, 20.0]])
    fit = fit_weibull(sizes_of(low, high, weight=weight, truncation=12.0))

    def likelihood(c: float, s: float) -> float:
        f = stats.weibull_min(c, scale=s)
        parts = (
            1.5 * f.logpdf(exact).sum()
            + 50 * np.log(f.cdf(35) - f.cdf(25))
            + 20 * np.log(f.cdf(60) - f.cdf(35))
        )
        return float(parts - weight.sum() * f.logsf(12.0))

    assert [fit.shape[0], fit.scale[0]] == pytest.approx(best(likelihood), rel=1e-5)


@pytest.mark.parametrize("low", [8.0, 21.0, 95.0])
def test_sizes_drawn_by_their_squares_follow_the_generalised_gamma_distribution(low: float) -> None:
    """Gove & Patil 1998: x² f(x) / E[x²] of a Weibull; (X/s)^c is then Gamma(1 + 2/c), in scipy `gengamma`."""
    by_square = stats.gengamma(1 + 2 / C[0], C[0], scale=S[0])
    exact = log_terms(sizes_of([low], [low], order=2), C, S)
    assert exact[0] == pytest.approx(by_square.logpdf(low), rel=1e-10)
    between = log_terms(sizes_of([low], [low + 5.0], order=2, truncation=7.0), C, S)
    expected = np.log((by_square.sf(low) - by_square.sf(low + 5.0)) / by_square.sf(7.0))
    assert between[0] == pytest.approx(expected, rel=1e-9)


def test_the_second_moment_with_a_location_is_that_of_numerical_integration() -> None:
    density = stats.weibull_min(2.3, loc=6.0, scale=27.0).pdf
    expected = stats.weibull_min(2.3, loc=6.0, scale=27.0).expect(lambda x: x**2, lb=15.0, ub=40.0)
    found = log_mass(np.array([15.0]), np.array([40.0]), np.array([2]), C, S, np.array([6.0]))
    assert np.exp(found[0]) == pytest.approx(expected, rel=1e-8)
    assert density(5.0) == 0


def test_an_angle_count_of_a_weibull_stand_gives_its_parameters_back_where_the_plain_fit_does_not() -> None:
    drawn = stats.gengamma(1 + 2 / 2.3, 2.3, scale=27.0).rvs(4000, random_state=2)
    fit = fit_weibull(sizes_of(drawn, drawn, order=2))
    assert np.abs((fit.shape[0] - 2.3) / fit.se[0, 0]) < 3
    assert np.abs((fit.scale[0] - 27.0) / fit.se[0, 1]) < 3
    plain = fit_weibull(sizes_of(drawn, drawn))
    assert (plain.scale[0] - 27.0) / plain.se[0, 1] > 10


def test_many_samples_at_once_give_what_each_gives_alone() -> None:
    parts = np.array_split(SAMPLE, 4)
    sample = np.repeat(np.arange(4), [len(part) for part in parts])
    together = fit_weibull(sizes_of(SAMPLE, SAMPLE, sample=sample, n_samples=4))
    for number, part in enumerate(parts):
        alone = fit_weibull(sizes_of(part, part))
        assert together.shape[number] == pytest.approx(alone.shape[0], rel=1e-8)
        assert together.covariance[number] == pytest.approx(alone.covariance[0], rel=1e-5)


def test_scores_add_up_to_zero_at_the_maximum_and_their_squares_to_the_information() -> None:
    sizes = sizes_of(SAMPLE, SAMPLE, truncation=2.0 * (SAMPLE > 2))
    fit = fit_weibull(sizes)
    scores = weibull_scores(sizes, fit)
    assert scores.sum(axis=0) == pytest.approx([0, 0], abs=1e-3)
    squares = scores.T @ scores
    assert np.diag(squares @ fit.covariance[0]) == pytest.approx([1, 1], abs=0.35)  # both estimate the same


@pytest.mark.parametrize(
    ("low", "high", "word"),
    [
        ([20.0, 30.0], [20.0, 30.0], TOO_FEW),
        ([20.0] * 5, [20.0] * 5, ALL_ALIKE),
        ([10.0] * 5, [20.0] * 5, ALL_ALIKE),
        ([10.0, 10, 20, 20], [20.0, 20, 30, 30], TOO_FEW_CLASSES),
    ],
)
def test_samples_that_cannot_be_fitted_are_missing_with_a_word(low, high, word) -> None:
    fit = fit_weibull(sizes_of(low, high))
    assert fit.why_not == (word,)
    assert np.isnan([fit.shape[0], fit.scale[0], fit.log_likelihood[0], *fit.se[0]]).all()


def test_three_exact_sizes_are_enough_and_a_sample_without_any_is_too_few() -> None:
    fit = fit_weibull(sizes_of([10.0, 20, 40], [10.0, 20, 40], sample=[1, 1, 1], n_samples=2))
    assert fit.why_not == (TOO_FEW, "")
    assert np.isnan(fit.shape[0])
    assert fit.shape[1] == pytest.approx(stats.weibull_min.fit([10, 20, 40], floc=0)[0], rel=1e-4)


def test_no_location_is_given_where_the_likelihood_runs_into_its_pole() -> None:
    sizes = stats.weibull_min(0.7, scale=20).ppf(np.arange(0.5, 200) / 200)  # shape below 1
    fit = fit_weibull(sizes_of(sizes, sizes), three_parameters=True)
    assert fit.why_not == (NO_MAXIMUM,)
    assert np.isnan(fit.location[0])


def test_errors_of_a_location_are_missing_where_the_shape_is_two_or_less() -> None:
    """Smith 1985: with shapes of 2 or less the usual errors do not hold."""
    quantiles = np.arange(0.5, 400) / 400
    for shape, told in ((1.6, False), (2.8, True)):
        sizes = stats.weibull_min(shape, loc=10, scale=20).ppf(quantiles)
        fit = fit_weibull(sizes_of(sizes, sizes), three_parameters=True)
        assert fit.shape[0] == pytest.approx(shape, rel=0.1)
        assert np.isfinite(fit.se[0]).all() == told


@pytest.mark.parametrize(
    ("given", "match"),
    [
        ({"low": [5.0], "high": [4.0]}, "low must be 0 to high"),
        ({"low": [np.nan], "high": [4.0]}, "low must be 0 to high"),
        ({"low": [0.0], "high": [0.0]}, "an exact size must be above 0"),
        ({"low": [5.0], "high": [5.0], "truncation": 6.0}, "a size lies below the truncation"),
        ({"low": [5.0], "high": [6.0], "truncation": 6.0}, "a size lies below the truncation"),
        ({"low": [5.0], "high": [6.0], "weight": 0.0}, "weight must be above 0"),
        ({"low": [5.0], "high": [6.0], "weight": [1.0, 2.0]}, "weight must have one entry for each row"),
        ({"low": [5.0], "high": [6.0], "order": 1}, "order must be 0 or 2"),
        ({"low": [5.0], "high": [6.0], "sample": [1]}, "sample must be whole numbers from 0 to 0"),
        ({"low": [5.0], "high": [6.0], "truncation": -1.0}, "truncation must be 0 or more"),
        ({"low": [5.0], "high": [6.0, 7.0]}, "low and high must be columns of one length"),
    ],
)
def test_wrong_columns_are_refused(given, match) -> None:
    with pytest.raises(ValueError, match=match):
        sizes_of(**given)


def test_sizes_at_their_truncation_are_allowed() -> None:
    made = sizes_of([6.0, 5.0], [6.0, 7.0], truncation=6.0)
    assert isinstance(made, Sizes)
    assert made.exact.tolist() == [True, False]
