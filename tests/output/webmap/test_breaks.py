from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from plotmap.output.webmap.breaks import pretty_breaks, reaches


@pytest.mark.parametrize(
    ("low", "high", "edges"),
    [  # multiples of 1, 2, 2.5 or 5 times a power of ten, checked by hand: arithmetic, needs no source
        (3.0, 41.0, (0, 10, 20, 30, 40, 50)),
        (0.0, 50.0, (0, 10, 20, 30, 40, 50)),
        (212.0, 1180.0, (200, 400, 600, 800, 1000, 1200)),
        (0.11, 0.52, (0.1, 0.2, 0.3, 0.4, 0.5, 0.6)),
        (20.0, 32.5, (20, 22.5, 25, 27.5, 30, 32.5)),
    ],
)
def test_breaks_are_round_and_cover_the_values(low: float, high: float, edges: tuple[float, ...]) -> None:
    assert pretty_breaks(low, high) == edges


@pytest.mark.parametrize(
    ("value", "edges"), [(0.0, (0, 1)), (24.3, (20, 30)), (0.31, (0.3, 0.4)), (400.0, (400, 500))]
)
def test_a_single_value_gives_one_round_class(value: float, edges: tuple[float, float]) -> None:
    assert pretty_breaks(value, value) == edges


@given(st.floats(0, 1e6), st.floats(0, 1e6), st.integers(3, 7))
def test_breaks_rise_cover_and_are_neither_few_nor_many(one: float, other: float, classes: int) -> None:
    low, high = sorted((one, other))
    edges = pretty_breaks(low, high, classes)
    assert all(left < right for left, right in itertools.pairwise(edges))
    slack = 1e-8 * max(high, 1e-300)
    assert edges[0] <= low + slack
    assert edges[-1] >= high - slack
    assert 1 <= len(edges) - 1 <= 2 * classes


@pytest.mark.parametrize(("low", "high"), [(2.0, 1.0), (math.nan, 1.0), (0.0, math.inf)])
def test_missing_infinite_or_falling_ends_are_refused(low: float, high: float) -> None:
    with pytest.raises(ValueError, match="both must be finite and rising"):
        pretty_breaks(low, high)


def test_no_classes_are_refused() -> None:
    with pytest.raises(ValueError, match="classes is 0, but must be 1 or more"):
        pretty_breaks(0, 1, 0)


@pytest.mark.parametrize(
    ("low", "high", "narrowest", "edges"),
    [  # the least round step from 3 up is 5, from 5 up 5, from 5.1 up 10: arithmetic, needs no source
        (24.0, 26.5, 3.0, (20, 25, 30)),
        (24.0, 26.5, 5.0, (20, 25, 30)),
        (24.0, 26.5, 5.1, (20, 30)),
        (24.3, 24.3, 12.0, (20, 40)),
        (0.0, 0.0, 3.0, (0, 5)),
        (3.0, 41.0, 4.0, (0, 10, 20, 30, 40, 50)),
    ],
)
def test_no_class_is_narrower_than_asked(
    low: float, high: float, narrowest: float, edges: tuple[float, ...]
) -> None:
    assert pretty_breaks(low, high, narrowest=narrowest) == edges


@pytest.mark.parametrize("narrowest", [-1.0, math.nan, math.inf])
def test_a_least_width_that_is_none_is_refused(narrowest: float) -> None:
    with pytest.raises(ValueError, match="must be finite and 0 or more"):
        pretty_breaks(0, 1, narrowest=narrowest)


def test_an_edge_is_reached_in_spite_of_the_last_binary_digits() -> None:
    values = np.array([0.1 + 0.2, 0.3, 0.3 * (1 - 1e-12), 0.2999, np.nan])
    assert reaches(values, 0.3).tolist() == [True, True, True, False, False]
