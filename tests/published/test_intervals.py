"""Published limits of counts, and of what was not found; each test names its source."""

from __future__ import annotations

import numpy as np
import pytest

from plotmap.statistics import gamma_interval, poisson_limits

GARWOOD_95 = {
    0: (0.0, 3.69),
    1: (0.0253, 5.57),
    2: (0.242, 7.22),
    3: (0.619, 8.77),
    4: (1.09, 10.24),
    5: (1.62, 11.67),
    10: (4.80, 18.39),
    20: (12.22, 30.89),
    50: (37.11, 65.92),
}
"""Limits at 95 %, as printed."""
GARWOOD_99 = {0: (0.0, 5.30), 1: (0.00501, 7.43), 2: (0.103, 9.27), 5: (1.08, 14.15), 10: (3.72, 21.40)}
"""Limits at 99 %, as printed."""


@pytest.mark.parametrize(("confidence", "printed"), [(0.95, GARWOOD_95), (0.99, GARWOOD_99)])
def test_limits_of_a_poisson_count_are_those_of_the_tables(
    confidence: float, printed: dict[int, tuple[float, float]]
) -> None:
    """Garwood 1936; Pearson & Hartley, Biometrika Tables for Statisticians, table 40; from memory."""
    low, high = poisson_limits(list(printed), confidence)
    expected_low, expected_high = np.array(list(printed.values())).T
    np.testing.assert_allclose(low, expected_low, rtol=5e-3, atol=5e-5)
    np.testing.assert_allclose(high, expected_high, atol=6e-3)


def test_nothing_found_leaves_room_for_three_at_one_side() -> None:
    """The rule of three (Hanley & Lippman-Hand 1983, JAMA 249: 1743-1745, from memory): 3 / n at one-sided 95 %."""
    assert poisson_limits(0, 0.90)[1] == pytest.approx(3.0, abs=0.005)


def test_as_many_stems_each_on_its_own_have_the_limits_of_their_count() -> None:
    """Garwood's limits of 10, 4.80 to 18.39, for 10 stems on half a hectare: 9.6 to 36.8 stems per hectare."""
    low, high = gamma_interval(10 / 0.5, 10**0.5 / 0.5, np.inf, 0.95)
    assert low == pytest.approx(4.80 / 0.5, abs=0.02)
    assert high == pytest.approx(18.39 / 0.5, abs=0.02)
