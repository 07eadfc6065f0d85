"""The model of areas, against populations drawn from it and against formulas worked by hand."""

from __future__ import annotations

import numpy as np
import pytest

from plotmap.statistics import area_model

_Y = np.array([20.0, 26.0, 31.0, 17.0])
_V = np.array([4.0, 1.0, 2.0, 8.0])
_ONE = np.zeros(4, dtype=int)


def test_mean_and_variance_between_areas_are_the_moments_worked_by_hand() -> None:
    # Prasad & Rao 1990 with a common mean: (130.0 - 3/4 * 15) / 3; weights 1 / (between + v)
    model = area_model(_Y, _V, _ONE, 1)
    between = (((_Y - 23.5) ** 2).sum() - 0.75 * 15) / 3
    assert ((_Y - 23.5) ** 2).sum() == pytest.approx(117.0)
    assert model.between[0] == pytest.approx(between, rel=1e-12)
    weight = 1 / (between + _V)
    assert model.mean[0] == pytest.approx((weight * _Y).sum() / weight.sum(), rel=1e-12)
    assert model.mean_variance[0] == pytest.approx(1 / weight.sum(), rel=1e-12)
    assert model.n_areas[0] == 4


def test_areas_that_differ_less_than_their_errors_do_not_differ() -> None:
    model = area_model([10.0, 10.1, 9.9], [4.0, 4.0, 4.0], np.zeros(3, int), 1)
    assert model.between[0] == 0
    estimate, _, weight = model.composite([13.0], [4.0], [0])
    assert weight[0] == 0
    assert estimate[0] == pytest.approx(10.0)


def test_an_own_estimate_without_error_keeps_nearly_all_its_weight() -> None:
    estimate, se, weight = area_model(_Y, _V, _ONE, 1).composite([35.0], [1e-9], [0])
    assert weight[0] == pytest.approx(1, abs=1e-9)
    assert estimate[0] == pytest.approx(35.0)
    assert se[0] == pytest.approx(0, abs=1e-4)


def test_errors_are_those_of_areas_drawn_from_the_model() -> None:
    # 20 areas about 25 with variance 16, own errors of variance 9: what the estimates miss the truth by
    rng = np.random.default_rng(5)
    missed, told = {"synthetic": [], "composite": []}, {"synthetic": [], "composite": []}
    for _ in range(3000):
        truth = 25 + rng.normal(0, 4, 21)
        seen = truth + rng.normal(0, 3, 21)
        model = area_model(seen[:20], np.full(20, 9.0), np.zeros(20, int), 1)
        estimate, se = model.synthetic([0])
        missed["synthetic"].append(estimate[0] - truth[20])
        told["synthetic"].append(se[0] ** 2)
        estimate, se, _ = model.composite(seen[:1], [9.0], [0])
        missed["composite"].append(estimate[0] - truth[0])
        told["composite"].append(se[0] ** 2)
    for method, errors in missed.items():
        assert np.mean(told[method]) == pytest.approx(np.mean(np.square(errors)), rel=0.08), method
    assert np.mean(told["composite"]) < 9 < np.mean(told["synthetic"])


def test_groups_do_not_see_each_other_and_two_areas_are_too_few() -> None:
    group = np.array([0, 0, 0, 0, 1, 1])
    model = area_model([*_Y, 50.0, 60.0], [*_V, 1.0, 1.0], group, 3)
    assert model.mean[0] == area_model(_Y, _V, _ONE, 1).mean[0]
    assert np.isnan(model.mean[1:]).all()
    assert model.n_areas.tolist() == [4, 2, 0]


@pytest.mark.parametrize(
    ("means", "variances", "group", "words"),
    [
        ([1.0, np.nan, 2.0], [1.0, 1.0, 1.0], [0, 0, 0], "means must be finite"),
        ([1.0, 3.0, 2.0], [1.0, -1.0, 1.0], [0, 0, 0], "0 or more"),
        ([1.0, 3.0], [1.0, 1.0, 1.0], [0, 0], "one length"),
        ([1.0, 3.0], [1.0, 1.0], [0, 1], "whole numbers from 0 to 0"),
    ],
)
def test_wrong_areas_are_refused(means, variances, group, words) -> None:
    with pytest.raises(ValueError, match=words):
        area_model(means, variances, np.array(group), 1)
