"""Class breaks at round numbers."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

_STEPS = (1.0, 2.0, 2.5, 5.0, 10.0)
"""Step widths that read as round numbers, times a power of ten."""
_TOLERANCE = 1e-9


def pretty_breaks(low: float, high: float, classes: int = 5, narrowest: float = 0.0) -> tuple[float, ...]:
    """Return rising round edges that reach from `low` or below to `high` or above.

    Of the steps 1, 2, 2.5 and 5 times a power of ten, the one that gives the number of classes nearest to
    `classes`; of several, the one that reaches least beyond the values. Steps below `narrowest` are left out.

    Parameters
    ----------
    low, high : float
        Smallest and largest value, finite, `low` ≤ `high`; in the unit of the result. Values nearer to zero
        than 1e-9 count as zero.
    classes : int
        Number of classes aimed at, 1 or more.
    narrowest : float
        Least width of a class, finite, 0 or more; in the unit of the result.

    Returns
    -------
    tuple of float
        Two edges or more. 3 to 41 gives 0, 10, 20, 30, 40, 50; a single value gives one class.

    Raises
    ------
    ValueError
        `low`, `high` or `narrowest` is not finite, `low` is above `high`, `narrowest` is below 0, or `classes`
        is below 1.
    """
    if not (math.isfinite(low) and math.isfinite(high) and low <= high):
        raise ValueError(
            f"breaks from {low} to {high}: both must be finite and rising; leave out what is missing"
        )
    if classes < 1:
        raise ValueError(f"classes is {classes}, but must be 1 or more")
    if not 0 <= narrowest < math.inf:
        raise ValueError(f"narrowest is {narrowest}, but must be finite and 0 or more")
    low, high = (0.0 if abs(value) < _TOLERANCE else value for value in (low, high))
    span = high - low
    if span <= _TOLERANCE * max(abs(low), abs(high)):
        return _one_class(low, narrowest)
    power = 10.0 ** math.floor(math.log10(span / classes))
    steps = [power * step for step in reversed(_STEPS) if power * step >= narrowest * (1 - _TOLERANCE)]
    found = [_edges(low, high, step) for step in steps or [_round_step(narrowest)]]
    return min(found, key=lambda edges: (abs(len(edges) - 1 - classes), edges[-1] - edges[0]))


def reaches(values: NDArray[np.float64], edge: float) -> NDArray[np.bool_]:
    """Say which values belong above a class edge: the edge itself does, in spite of the last binary digits.

    Parameters
    ----------
    values : numpy.ndarray of float, shape (n,)
        NaN where missing.
    edge : float
        In the unit of `values`.

    Returns
    -------
    numpy.ndarray of bool, shape (n,)
        False where missing.
    """
    return np.asarray(values + np.abs(values) * _TOLERANCE >= edge)


def _round_step(least: float) -> float:
    """Return the smallest round step that is not below `least`, which is above zero."""
    power = 10.0 ** math.floor(math.log10(least))
    return next(power * step for step in _STEPS if power * step >= least * (1 - _TOLERANCE))


def _one_class(value: float, narrowest: float) -> tuple[float, ...]:
    """Return the one round class that holds `value`: 0 to 1 for zero."""
    step = 10.0 ** math.floor(math.log10(abs(value))) if value else 1.0
    if narrowest > step:
        step = _round_step(narrowest)
    return _clean(math.floor(value / step), step), _clean(math.floor(value / step) + 1, step)


def _edges(low: float, high: float, step: float) -> tuple[float, ...]:
    """Return the multiples of `step` from just below `low` to just above `high`."""
    first = math.floor(low / step + _TOLERANCE)
    last = max(math.ceil(high / step - _TOLERANCE), first + 1)
    return tuple(_clean(number, step) for number in range(first, last + 1))


def _clean(number: int, step: float) -> float:
    """Return number × step without the last binary digits: 0.3, not 0.30000000000000004."""
    return float(f"{number * step:.12g}")
