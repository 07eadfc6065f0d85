from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from plotmap.statistics import largest_remainder, small_fractions


def test_what_is_missing_goes_to_the_largest_remainders() -> None:
    # worked by hand: 1.2 + 2.5 + 0.6 = 4.3, so 4; floors make 3, and 0.6 has the largest remainder
    assert largest_remainder(np.array([1.2, 2.5, 0.6])).tolist() == [1, 2, 1]


def test_of_equal_remainders_the_first_is_taken() -> None:
    assert largest_remainder(np.array([0.5, 0.5, 0.5, 0.5])).tolist() == [1, 1, 0, 0]


def test_whole_numbers_stay_what_they_are() -> None:
    assert largest_remainder(np.array([3.0, 0.0, 2.9999999999999])).tolist() == [3, 0, 3]
    assert largest_remainder(np.zeros(0)).tolist() == []


@pytest.mark.parametrize("share", [0.0, 0.06, 0.07, 0.366, 0.5, 0.807, 0.231, 0.95, 1.0])
def test_the_fraction_is_that_of_the_standard_library(share: float) -> None:
    above, below = small_fractions(np.array([share]), 8)
    assert Fraction(int(above[0]), int(below[0])) == Fraction(share).limit_denominator(8)
