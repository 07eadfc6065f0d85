"""Products of powers of totals against ratios of means, the jackknife and combined strata."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest

from plotmap.statistics import Strata, combine, product_of_totals, ratio_of_means

RNG = np.random.default_rng(11)
SIZE = RNG.uniform(0.02, 0.08, 12)
Y = SIZE * RNG.uniform(10, 30, 12)
X = SIZE * RNG.uniform(200, 900, 12)
PARTS = {"size": SIZE, "y": Y, "x": X}


def _strata(
    of_unit: Sequence[int], size: Sequence[float], group: Sequence[int], whole: Sequence[bool] | None = None
) -> Strata:
    """Return strata from lists; none counted whole unless said."""
    none = [False] * len(size)
    return Strata(
        np.array(of_unit),
        np.array(size, dtype=float),
        np.array(none if whole is None else whole),
        np.array(group),
        max(group) + 1,
    )


def test_a_ratio_of_two_totals_is_the_ratio_of_means() -> None:
    theta, se = product_of_totals(PARTS, {"y": 1, "x": -1}, "size", _strata([0] * 12, [3.0], [0]))
    expected = ratio_of_means(Y, X)  # Cochran 1977, ch. 6
    assert theta[0] == pytest.approx(float(expected.mean), rel=1e-12)
    assert se[0] == pytest.approx(float(expected.se), rel=1e-9)


def test_strata_add_up_as_independent_estimates_do() -> None:
    stratum, areas = np.array([0] * 5 + [1] * 7), np.array([4.0, 9.0])
    theta, se = product_of_totals(PARTS, {"y": 1}, "size", _strata([0] * 5 + [1] * 7, [4.0, 9.0], [0, 0]))
    means = [ratio_of_means(Y[stratum == h], SIZE[stratum == h]) for h in (0, 1)]
    expected = combine(
        areas, [float(m.mean) for m in means], [float(m.se) for m in means], [4, 6], [0, 0], 1
    )  # Cochran 1977, ch. 5
    assert (theta[0], se[0]) == pytest.approx(tuple(float(part[0]) for part in expected[:2]), rel=1e-9)


def test_the_error_of_a_product_of_powers_is_near_the_jackknife() -> None:
    size = np.full(200, 0.05)
    y, x = RNG.gamma(9, 0.1, 200), RNG.gamma(4, 5, 200)
    powers = {"y": 0.8, "x": 0.2, "size": -1.0}
    theta, se = product_of_totals(
        {"size": size, "y": y, "x": x}, powers, "size", _strata([0] * 200, [1.0], [0])
    )
    assert theta[0] == pytest.approx((y.sum() / 10) ** 0.8 * (x.sum() / 10) ** 0.2, rel=1e-12)
    left_out = ((y.sum() - y) / 9.95) ** 0.8 * ((x.sum() - x) / 9.95) ** 0.2
    jackknife = np.sqrt(199 / 200 * ((left_out - left_out.mean()) ** 2).sum())
    assert se[0] == pytest.approx(jackknife, rel=0.005)


def test_one_unit_has_no_error_and_none_has_no_figure() -> None:
    parts = {"size": [1.0], "y": [2.0]}
    theta, se = product_of_totals(parts, {"y": 1, "size": -1}, "size", _strata([0], [5.0, 5.0], [0, 1]))
    assert theta[0] == 2
    assert np.isnan([se[0], theta[1], se[1]]).all()


def test_units_that_are_all_alike_have_no_error() -> None:
    parts = {"size": [1.0, 2.0, 4.0], "y": [0.3, 0.6, 1.2]}
    theta, se = product_of_totals(parts, {"y": 1, "size": -1}, "size", _strata([0, 0, 0], [7.0], [0]))
    assert (theta[0], se[0]) == (pytest.approx(0.3, rel=1e-12), 0)


def test_a_total_of_zero_gives_no_ratio() -> None:
    parts = {"size": [1.0, 1.0], "y": [0.0, 1.0], "x": [0.0, 0.0]}
    theta, se = product_of_totals(parts, {"y": 1, "x": -1}, "size", _strata([0, 0], [1.0], [0]))
    assert np.isnan([theta[0], se[0]]).all()


@pytest.mark.parametrize(
    ("parts", "powers", "words"),
    [
        ({"size": [0.0], "y": [1.0]}, {"y": 1.0}, "size must be above zero"),
        ({"size": [1.0], "y": [-1.0]}, {"y": 1.0}, "y must be finite and 0 or more"),
        ({"size": [1.0], "y": [np.nan]}, {"y": 1.0}, "y must be finite and 0 or more"),
        ({"size": [1.0], "y": [1.0]}, {"z": 1.0}, "name z, but the parts are size, y"),
    ],
)
def test_parts_that_are_no_amounts_are_refused(
    parts: dict[str, list[float]], powers: dict[str, float], words: str
) -> None:
    with pytest.raises(ValueError, match=words):
        product_of_totals(parts, powers, "size", _strata([0], [1.0], [0]))


def test_a_stratum_counted_whole_adds_its_total_and_no_error() -> None:
    parts = {"size": [1.0, 1.0, 5.0], "y": [2.0, 4.0, 50.0]}
    alone = product_of_totals(
        {name: part[:2] for name, part in parts.items()}, {"y": 1}, "size", _strata([0, 0], [4.0], [0])
    )
    theta, se = product_of_totals(
        parts, {"y": 1}, "size", _strata([0, 0, 1], [4.0, 5.0], [0, 0], [False, True])
    )
    assert theta[0] == pytest.approx(alone[0][0] + 50, rel=1e-12)
    assert se[0] == pytest.approx(alone[1][0], rel=1e-12)
