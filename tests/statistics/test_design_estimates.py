"""Estimates of designs against figures worked by hand, and against the estimators of one sample."""

from __future__ import annotations

import numpy as np
import pytest

from plotmap.statistics import Design, combine, mean, mean_estimate, ratio, ratio_of_means, total

_NAN = float("nan")
_Y = np.array([3.0, 0.0, 8.0, 4.5, 2.0, 7.0, 0.0])
_STRATA = np.array([0, 0, 0, 1, 1, 1, 1])


def _two(**given: object) -> Design:
    """Return a design of seven units in two strata."""
    return Design(_STRATA, ["valley", "slope"], **given)


def test_a_simple_sample_is_the_sample_of_the_textbook() -> None:
    """Cochran 1977, ch. 2: 2 4 6 8 of 40 has mean 5, s² = 20/3, variance (1 - 0.1) s² / 4."""
    found = mean(Design([0] * 4, stratum_sizes=[40]), [2.0, 4.0, 6.0, 8.0])
    assert (found.value[0], found.df[0], found.n_units[0]) == (5.0, 3.0, 4)
    assert found.se[0] == pytest.approx((0.9 * 20 / 3 / 4) ** 0.5)
    sums = total(Design([0] * 4, stratum_sizes=[40]), [2.0, 4.0, 6.0, 8.0])
    assert sums.value[0] == 200.0
    assert sums.se[0] == pytest.approx(40 * found.se[0])


def test_a_ratio_in_one_stratum_is_the_ratio_of_means_of_one_sample() -> None:
    x = np.array([1.0, 2.0, 0.5, 1.0, 1.5, 1.0, 3.0])
    found, alone = (
        ratio(Design([0] * 7, sampling_fraction=0.2), _Y, x),
        ratio_of_means(_Y, x, sampling_fraction=0.2),
    )
    assert found.value[0] == pytest.approx(alone.mean)
    assert found.se[0] == pytest.approx(alone.se)
    assert found.df[0] == pytest.approx(alone.df)


def test_a_stratified_mean_is_the_weighted_mean_of_its_strata_with_satterthwaites_degrees() -> None:
    """Cochran 1977, ch. 5, and Satterthwaite 1946, by the other route: each stratum alone, then combined."""
    sizes = np.array([30.0, 70.0])
    parts = [mean_estimate(_Y[h == _STRATA], sampling_fraction=(3, 4)[h] / sizes[h]) for h in (0, 1)]
    columns = [[float(getattr(part, name)) for part in parts] for name in ("mean", "se", "df")]
    value, se, df = combine(sizes / 100, *columns, [0, 0], 1)
    found = mean(_two(stratum_sizes=sizes), _Y)
    assert found.value[0] == pytest.approx(value[0])
    assert found.se[0] == pytest.approx(se[0])
    assert found.df[0] == pytest.approx(df[0])


def test_many_domains_at_once_give_what_each_gives_alone() -> None:
    place = np.array([0, 1, -1, 1, 2, 0, 2])
    x = np.linspace(1.0, 2.0, 7)
    groups = {"post_strata": [0, 1, 0, 1, 0, 1, 0], "post_stratum_sizes": [40, 60]}
    for design in (_two(), _two(clusters=[0, 0, 1, 0, 0, 1, 2]), _two(stratum_sizes=[9, 12], **groups)):
        together = ratio(design, _Y, x, place, 3), total(design, _Y, place, 3)
        for one in range(3):
            own = np.where(place == one, 0, -1)
            alone = ratio(design, _Y, x, own, 1), total(design, _Y, own, 1)
            for many, single in zip(together, alone, strict=True):
                assert many.value[one] == pytest.approx(single.value[0])
                assert many.se[one] == pytest.approx(single.se[0])
                assert many.df[one] == pytest.approx(single.df[0])


def test_a_domains_total_is_the_total_of_a_variable_that_is_zero_outside() -> None:
    """Cochran 1977, section 2.13: two routes to a domain."""
    place = np.array([0, 0, -1, 0, -1, -1, 0])
    design = _two(stratum_sizes=[30, 70], post_strata=[0, 1, 0, 1, 0, 1, 0], post_stratum_sizes=[40, 60])
    inside, zeros = total(design, _Y, place, 1), total(design, np.where(place == 0, _Y, 0.0))
    assert inside.value[0] == pytest.approx(zeros.value[0])
    assert inside.se[0] == pytest.approx(zeros.se[0])


def test_degrees_of_freedom_of_a_domain_are_those_of_the_strata_it_has_units_in() -> None:
    place = np.array([0, 0, 1, 1, 1, 1, 1])
    assert total(_two(), _Y, place, 2).df[0] == pytest.approx(2)
    clustered = _two(clusters=[0, 1, 2, 0, 0, 1, 2])
    np.testing.assert_array_equal(total(clustered, _Y, place, 2).df, [2, 4])


def test_clusters_vary_by_their_totals() -> None:
    """By hand: clusters of 3, 8 and 4 units of value, 2 drawn of them stand for 3 each: z 9 24 12, mean 15."""
    design = Design([0] * 5, clusters=[7, 7, 2, 2, 9], stratum_sizes=[9])
    found = total(design, [1.0, 2.0, 3.0, 5.0, 4.0])
    assert found.value[0] == 45.0
    assert found.se[0] ** 2 == pytest.approx((1 - 3 / 9) * 3 / 2 * (36 + 81 + 9))
    assert found.df[0] == 2


def test_post_strata_vary_about_their_own_means() -> None:
    """By hand: 1 3 | 5 9 with known sizes 20 and 40: total 20·2 + 40·7, z ±10 ±40, variance 4/3 Σ z²."""
    design = Design([0] * 4, post_strata=[0, 0, 1, 1], post_stratum_sizes=[20, 40])
    found = total(design, [1.0, 3.0, 5.0, 9.0])
    assert found.value[0] == 320.0
    assert found.se[0] ** 2 == pytest.approx(4 / 3 * (2 * 10**2 + 2 * 40**2))
    assert found.df[0] == 3


def test_a_stratum_with_one_unit_takes_the_pooled_variance_and_its_degrees_of_freedom() -> None:
    """By hand: 1 3 (weight 10, s² 2) and one unit of weight 20: 400 + 20²·2, all of it from one degree."""
    design = Design([0, 0, 1], ["a", "b"], weights=[10.0, 10.0, 20.0], single_unit="pooled")
    found = total(design, [1.0, 3.0, 5.0])
    assert found.value[0] == 140.0
    assert found.se[0] ** 2 == pytest.approx(400 + 800)
    assert found.df[0] == pytest.approx(1)


def test_a_pooled_variance_weighs_strata_by_their_degrees_of_freedom() -> None:
    """By hand: s² 2 with one degree and 9 with two; pooled 20/3; Satterthwaite over the two that were estimated."""
    y = [1.0, 3.0, 2.0, 5.0, 8.0, 4.0]
    design = Design([0, 0, 1, 1, 1, 2], ["a", "b", "c"], single_unit="pooled", sampling_fraction=[0, 0, 0.25])
    parts = np.array([2 * 2 + 0.75 * 2 / 3, 3 * 9 + 0.75 * 18 / 3])
    found = total(design, y)
    assert found.se[0] ** 2 == pytest.approx(parts.sum())
    assert found.df[0] == pytest.approx(parts.sum() ** 2 / (parts[0] ** 2 / 1 + parts[1] ** 2 / 2))


def test_a_post_stratum_with_one_unit_takes_the_pooled_variance() -> None:
    """By hand: 1 3 of size 20 and 5 of size 10: 3/2 · 2 · 10² of the first, 10² · 2 of the second."""
    design = Design([0] * 3, post_strata=[0, 0, 1], post_stratum_sizes=[20, 10], single_unit="pooled")
    assert total(design, [1.0, 3.0, 5.0]).se[0] ** 2 == pytest.approx(300 + 200)


def test_a_merged_post_stratum_is_one_with_the_other_in_the_estimate_too() -> None:
    names = {"post_stratum_names": ["p", "q"], "single_unit": "merge", "merge_into": {"q": "p"}}
    design = Design([0] * 3, post_strata=[0, 0, 1], post_stratum_sizes=[20, 10], **names)
    found, plain = total(design, [1.0, 3.0, 5.0]), mean_estimate([1.0, 3.0, 5.0])
    assert found.value[0] == pytest.approx(30 * 3)
    assert found.se[0] == pytest.approx(30 * plain.se)


def test_a_stratum_sampled_whole_adds_no_variance() -> None:
    whole = total(_two(stratum_sizes=[3, 70]), _Y)
    alone = total(Design([0] * 4, stratum_sizes=[70]), _Y[3:])
    assert whole.se[0] == pytest.approx(alone.se[0])
    assert whole.df[0] == pytest.approx(3)
    counted = Design([0, 1, 1], ["one", "two"], stratum_sizes=[1, 4])
    assert total(counted, [5.0, 1.0, 3.0]).se[0] == pytest.approx(4 * (0.5 * 2 / 2) ** 0.5)


def test_a_domain_that_no_unit_is_in_is_missing_and_zeros_are_zero() -> None:
    found = mean(_two(), _Y, np.zeros(7, int), 2)
    assert np.isnan([found.value[1], found.se[1], found.df[1]]).all()
    zeros = total(_two(), np.zeros(7))
    assert (zeros.value[0], zeros.se[0], zeros.df[0]) == (0.0, 0.0, 5.0)


def test_a_ratio_over_nothing_is_missing_and_over_less_than_nothing_refused() -> None:
    x = np.array([0.0, 0.0, 1.0, 1.0, 1.0, 1.0, 1.0])
    place = np.array([0, 0, 1, 1, 1, 1, 1])
    found = ratio(_two(), _Y, x, place, 2)
    assert np.isnan([found.value[0], found.se[0], found.df[0]]).all()
    assert np.isfinite([found.value[1], found.se[1], found.df[1]]).all()
    with pytest.raises(ValueError, match="the total of x in domain 1 is below zero"):
        ratio(_two(), _Y, -x, place, 2)


def test_values_and_domains_that_do_not_fit_are_refused() -> None:
    wrong = _Y.copy()
    wrong[4] = _NAN
    with pytest.raises(ValueError, match="stratum slope: y of unit 4 is nan, but must be finite"):
        total(_two(), wrong)
    with pytest.raises(ValueError, match="stratum slope: x of unit 4 is nan"):
        ratio(_two(), _Y, wrong)
    with pytest.raises(ValueError, match=r"y has shape \(2,\)"):
        total(_two(), [1.0, 2.0])
    with pytest.raises(ValueError, match="domain and n_domains go together"):
        total(_two(), _Y, np.zeros(7, int))
    with pytest.raises(ValueError, match=r"domain has shape \(1,\)"):
        total(_two(), _Y, [0], 1)
    for place in (1, -2):
        with pytest.raises(ValueError, match="domain must be whole numbers from 0 to 0, or -1"):
            total(_two(), _Y, [place] * 7, 1)


def test_the_order_of_the_units_changes_nothing() -> None:
    rng = np.random.default_rng(3)
    order = rng.permutation(7)
    x, groups, clusters = (
        np.linspace(1, 2, 7),
        np.array([0, 1, 0, 1, 0, 1, 0]),
        np.array([0, 0, 1, 0, 0, 1, 2]),
    )
    sizes = {"post_stratum_sizes": [40, 60]}
    a = Design(_STRATA, ["v", "s"], clusters=clusters, post_strata=groups, **sizes)
    b = Design(_STRATA[order], ["v", "s"], clusters=clusters[order], post_strata=groups[order], **sizes)
    first, second = ratio(a, _Y, x), ratio(b, _Y[order], x[order])
    assert first.value[0] == pytest.approx(second.value[0])
    assert first.se[0] == pytest.approx(second.se[0])
