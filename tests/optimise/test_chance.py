"""The chance that an even-flow band holds, against scipy's normal distribution of two variables."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import multivariate_normal, norm

from plotmap.errors import SettingsError
from plotmap.optimise import even_flow_chance


def two_periods(mean, error, band: float) -> float:
    """Return P(−b V1 ≤ V2 − V1 ≤ b V1) of independent normal sums: V2 − (1 + b) V1 ≤ 0 ≤ V2 − (1 − b) V1."""
    turn = np.array([[-(1 + band), 1.0], [(1 - band), -1.0]])
    centre, spread = turn @ np.array(mean), turn @ np.diag(np.square(error)) @ turn.T
    return float(multivariate_normal(centre, spread).cdf(np.zeros(2)))


@pytest.mark.parametrize(
    ("mean", "error", "band"),
    [((100, 100), (6, 6), 0.1), ((100, 108), (3, 9), 0.1), ((50, 70), (10, 5), 0.3)],
)
def test_the_chance_of_two_periods_is_that_of_the_normal_distribution(mean, error, band: float) -> None:
    # Outside check: scipy's distribution function of two normal variables.
    chance, simulated = even_flow_chance([0, 1], mean, error, n_periods=2, band=band)
    assert abs(chance - two_periods(mean, error, band)) < 4 * simulated + 1e-4


def test_eight_units_of_eighteen_per_cent_keep_ten_per_cent_in_three_of_four_cases() -> None:
    # By hand: each period has a coefficient of variation of 18 / √8 = 6.36 %; the difference of √2 × 6.36 = 9.0 %,
    # and P(|z| < 10 / 9.0) = 0.73.
    period = np.repeat([0, 1], 8)
    chance, _ = even_flow_chance(period, np.ones(16), np.full(16, 0.18), n_periods=2, band=0.1)
    by_hand = 2 * norm.cdf(0.1 / (0.18 / np.sqrt(8) * np.sqrt(2))) - 1
    assert by_hand == pytest.approx(0.73, abs=0.005)
    assert chance == pytest.approx(by_hand, abs=0.01)


def test_without_errors_the_band_holds_or_it_does_not() -> None:
    for second, expected in ((110.0, 1.0), (110.1, 0.0), (90.0, 1.0), (89.9, 0.0)):
        assert even_flow_chance([0, 1], [100.0, second], [0, 0], n_periods=2, band=0.1)[0] == expected
    assert even_flow_chance([0], [100.0], [50.0], n_periods=1, band=0.1)[0] == 1.0
    # Three periods of 100, 105, 110: steps of 5 %, and 5 % about the mean of 105.
    flows = ([0, 1, 2], [100.0, 105.0, 110.0], [0, 0, 0])
    assert even_flow_chance(*flows, n_periods=3, band=0.04, band_about="mean")[0] == 0.0
    assert even_flow_chance(*flows, n_periods=3, band=0.05, band_about="mean")[0] == 1.0


def test_units_that_are_not_cut_play_no_part_and_a_missing_error_makes_the_chance_missing() -> None:
    given = {"n_periods": 2, "band": 0.1, "draws": 2000}
    with_spare = even_flow_chance([0, 1, -1], [100, 100, np.nan], [5, 5, np.nan], **given)
    assert with_spare == even_flow_chance([0, 1], [100, 100], [5, 5], **given)
    assert np.isnan(even_flow_chance([0, 1], [100, 100], [5, np.nan], **given)).all()


@pytest.mark.parametrize(
    ("changes", "said"),
    [({"band": 1.0}, "band is 1.0"), ({"draws": 0}, "draws is 0"), ({"n_periods": 0}, "n_periods is 0")],
)
def test_settings_out_of_range_are_refused(changes, said: str) -> None:
    with pytest.raises(SettingsError, match=said):
        even_flow_chance([0], [1.0], [1.0], **{"n_periods": 1, "band": 0.1, **changes})


def test_a_negative_error_is_refused() -> None:
    with pytest.raises(SettingsError, match=r"a standard error is -1.0, but must be 0 or more"):
        even_flow_chance([0], [1.0], [-1.0], n_periods=1, band=0.1)
