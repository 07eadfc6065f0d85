"""Confidence intervals by Student's t, and how many plots a target error needs."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
from scipy.special import stdtrit

from plotmap.statistics.estimates import Floats


def t_half_width(se: npt.ArrayLike, df: npt.ArrayLike, confidence: float) -> Floats:
    """Return half the width of the confidence interval by Student's t.

    Parameters
    ----------
    se : array_like of float
        Standard errors, in the unit of the estimate.
    df : array_like of float
        Degrees of freedom, not necessarily whole numbers; infinity stands for the normal distribution.
    confidence : float
        Above 0, below 1; 0.95 for 95 %.

    Returns
    -------
    numpy.ndarray of float
        In the unit of `se`; NaN where `se` or `df` is NaN or `df` is not above 0.

    Raises
    ------
    ValueError
        `confidence` is not between 0 and 1, or an `se` is negative.
    """
    if not 0 < confidence < 1:
        raise ValueError(f"confidence is {confidence}, but must be above 0 and below 1 (0.95 for 95 %)")
    error = np.asarray(se, dtype=float)
    if (error < 0).any():
        raise ValueError("se must be 0 or more, or NaN where not known")
    freedom = np.asarray(df, dtype=float)
    student = stdtrit(np.where(freedom > 0, freedom, np.nan), (1.0 + confidence) / 2.0)
    return np.asarray(student * error, dtype=np.float64)


def t_interval(
    mean: npt.ArrayLike, se: npt.ArrayLike, df: npt.ArrayLike, confidence: float, *, floor: float = 0.0
) -> tuple[Floats, Floats]:
    """Return the two ends of the confidence interval by Student's t.

    Parameters
    ----------
    mean, se : array_like of float
        Estimates and their standard errors, in one unit.
    df : array_like of float
        Degrees of freedom.
    confidence : float
        Above 0, below 1.
    floor : float
        Smallest value the quantity can have: the lower end is not below it. ``-inf`` for none. A mean
        below it is its own lower end.

    Returns
    -------
    low, high : numpy.ndarray of float
        In the unit of `mean`; both NaN where any of `mean`, `se` and `df` is NaN.

    Raises
    ------
    ValueError
        `confidence` is not between 0 and 1, or an `se` is negative.

    Examples
    --------
    >>> low, high = t_interval(34.7, 6.77 / 10**0.5, 9, 0.95)
    >>> round(low.item(), 3), round(high.item(), 3)
    (29.857, 39.543)
    """
    centre = np.asarray(mean, dtype=float)
    half = t_half_width(se, df, confidence)
    low = np.maximum(centre - half, np.minimum(floor, centre))
    return np.asarray(low, dtype=float), np.asarray(centre + half, dtype=float)


def sampling_error_pct(
    mean: npt.ArrayLike, se: npt.ArrayLike, df: npt.ArrayLike, confidence: float
) -> Floats:
    """Return half the width of the confidence interval in per cent of the mean.

    Parameters
    ----------
    mean, se : array_like of float
        Estimates and their standard errors, in one unit.
    df : array_like of float
        Degrees of freedom.
    confidence : float
        Above 0, below 1.

    Returns
    -------
    numpy.ndarray of float
        In %; NaN where the mean is 0, or any of `mean`, `se` and `df` is NaN.

    Raises
    ------
    ValueError
        `confidence` is not between 0 and 1, or an `se` is negative.
    """
    centre, half = np.broadcast_arrays(np.asarray(mean, dtype=float), t_half_width(se, df, confidence))
    error_pct = np.full(centre.shape, np.nan)
    np.divide(100.0 * half, np.abs(centre), out=error_pct, where=centre != 0)
    return error_pct


def plots_needed(cv_pct: float, error_pct: float, confidence: float, *, population: float = math.inf) -> int:
    """Return how many plots bring the sampling error down to a target.

    The answer is the smallest n, 2 or more, that its own t allows: t(n - 1)·CV·sqrt((1 - n/N) / n) is at
    most the target. It is where iterating n = t²CV² / E² comes to rest (Cochran 1977, Sampling Techniques,
    ch. 4), found by halving, since the error falls as n grows and the iteration itself may swing.

    Parameters
    ----------
    cv_pct : float
        Coefficient of variation between plots, in % of the mean, 0 or more.
    error_pct : float
        Half the width of the confidence interval that is allowed, in % of the mean, above 0.
    confidence : float
        Above 0, below 1.
    population : float
        Number of plots N that would cover everything, 2 or more; infinity leaves the finite-population
        correction out.

    Returns
    -------
    int
        Number of plots, at least 2 and at most `population`, rounded up.

    Raises
    ------
    ValueError
        An argument is outside its range or NaN, or the target is so small that no number of plots below
        2**53 meets it.
    """
    if not 0 <= cv_pct < math.inf:
        raise ValueError(f"cv_pct is {cv_pct} %, but must be 0 % or more")
    if not 0 < error_pct < math.inf:
        raise ValueError(f"error_pct is {error_pct} %, but must be above 0 %")
    if not population >= 2:  # noqa: PLR2004
        raise ValueError(f"population is {population} plots, but must be 2 or more")

    def suffices(n: int) -> bool:
        """Say whether n plots meet the target."""
        left = max(0.0, 1.0 - n / population)
        return float(t_half_width(cv_pct * math.sqrt(left / n), n - 1, confidence)) <= error_pct

    high = 2
    while not suffices(high):
        high *= 2
        if high >= 2**53:
            raise ValueError(f"error_pct is {error_pct} %, which no number of plots meets: allow more")
    low = high // 2
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if suffices(middle) else (middle, high)
    return high
