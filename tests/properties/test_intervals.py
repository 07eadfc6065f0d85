"""What must hold for the limits of every estimate that is never negative."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from plotmap.statistics import IntervalKind, nonnegative_interval

KINDS = st.sampled_from(list(IntervalKind))
ROWS = st.lists(
    st.tuples(
        st.floats(0.01, 1e4),
        st.floats(1e-3, 2.0),
        st.sampled_from([1.0, 1.5, 2.0, 4.0, 29.0, np.inf]),
        st.floats(0.5, 1e4),
    ),
    min_size=1,
    max_size=8,
)
"""Estimates, coefficients of variation, degrees of freedom and largest effective counts."""


def _columns(rows: list[tuple[float, float, float, float]]) -> tuple[np.ndarray, ...]:
    """Return estimates, standard errors, degrees of freedom and largest counts."""
    mean, cv, df, most = np.array(rows).T
    return mean, mean * cv, df, most


@settings(deadline=None)
@given(KINDS, ROWS, st.floats(0.5, 0.999))
def test_limits_enclose_the_estimate_and_are_never_negative(kind, rows, confidence) -> None:
    mean, se, df, most = _columns(rows)
    low, high, word = nonnegative_interval(kind, mean, se, df, confidence, most=most)
    assert (low >= 0).all()
    assert (low <= mean).all()
    assert (mean < high).all()
    assert set(word) <= {"t", "log", "gamma"}


@settings(deadline=None)
@given(KINDS, ROWS, st.floats(0.5, 0.98), st.floats(0.001, 0.015))
def test_more_confidence_is_a_wider_interval(kind, rows, confidence, more) -> None:
    mean, se, df, most = _columns(rows)
    low, high, _ = nonnegative_interval(kind, mean, se, df, confidence, most=most)
    lower, higher, _ = nonnegative_interval(kind, mean, se, df, confidence + more, most=most)
    assert (lower <= low).all()
    assert (higher > high).all() or np.isinf(high[higher <= high]).all()


@settings(deadline=None)
@given(KINDS, ROWS, st.floats(1e-3, 1e3))
def test_another_unit_changes_nothing_but_the_unit(kind, rows, factor) -> None:
    mean, se, df, most = _columns(rows)
    ends = nonnegative_interval(kind, mean, se, df, 0.95, most=most)
    scaled = nonnegative_interval(kind, factor * mean, factor * se, df, 0.95, most=most)
    for end, other in zip(ends[:2], scaled[:2], strict=True):
        np.testing.assert_allclose(other, factor * end, rtol=1e-6, atol=1e-9 * factor)


@settings(deadline=None)
@given(KINDS, ROWS, st.randoms())
def test_the_order_of_the_estimates_changes_nothing(kind, rows, random) -> None:
    order = list(range(len(rows)))
    random.shuffle(order)
    mean, se, df, most = _columns(rows)
    ends = nonnegative_interval(kind, mean, se, df, 0.95, most=most)
    shuffled = nonnegative_interval(kind, mean[order], se[order], df[order], 0.95, most=most[order])
    for end, other in zip(ends, shuffled, strict=True):
        assert end[order].tolist() == other.tolist()


@settings(deadline=None)
@given(ROWS)
def test_a_larger_error_reaches_farther_up(rows) -> None:
    mean, se, df, most = _columns(rows)
    for kind in IntervalKind:
        _, high, _ = nonnegative_interval(kind, mean, se, df, 0.95, most=most)
        _, higher, _ = nonnegative_interval(kind, mean, 2 * se, df, 0.95, most=most)
        assert (higher >= high * (1 - 1e-12)).all()
