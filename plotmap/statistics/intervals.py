"""Confidence intervals by Student's t."""

from __future__ import annotations

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
