"""Confidence intervals for quantities that are never negative, and may be skewed or mostly zero."""

from __future__ import annotations

from enum import StrEnum

import numpy as np
import numpy.typing as npt
from scipy.special import ndtri, stdtrit

from plotmap.statistics.count_limits import poisson_limits
from plotmap.statistics.estimates import Floats
from plotmap.statistics.intervals import t_half_width, t_interval

FEWEST_DF = 2.0
"""Degrees of freedom below which the gamma interval says no more than t, at many times its length."""
Words = npt.NDArray[np.str_]


class IntervalKind(StrEnum):
    """Which interval is asked for."""

    AUTO = "auto"
    T = "t"
    LOG = "log"


class IntervalWord(StrEnum):
    """Which interval was made; ``none`` where there is no interval, or one without width."""

    T = "t"
    LOG = "log"
    GAMMA = "gamma"
    POISSON = "Poisson"
    NONE = "none"


def log_interval(
    mean: npt.ArrayLike, se: npt.ArrayLike, df: npt.ArrayLike, confidence: float
) -> tuple[Floats, Floats]:
    """Return the two ends of Student's t interval of the logarithm, carried back.

    mean · exp(∓t · se / mean): the standard error of the logarithm is se / mean by the delta method (common
    practice; as for log-transformed totals in Särndal, Swensson & Wretman 1992, Model Assisted Survey
    Sampling, ch. 5, from memory). Right where the logarithm is nearer to normal than the quantity.

    Parameters
    ----------
    mean, se : array_like of float
        Estimates, 0 or more, and their standard errors, in one unit.
    df : array_like of float
        Degrees of freedom.
    confidence : float
        Above 0, below 1.

    Returns
    -------
    low, high : numpy.ndarray of float
        In the unit of `mean`; both equal to `mean` where `se` is 0, NaN where any of the three is NaN or the
        mean is 0 and `se` is not. `high` may be infinite.

    Raises
    ------
    ValueError
        `confidence` is not between 0 and 1, or a mean or `se` is negative.
    """
    centre, half = _not_negative(mean), t_half_width(se, df, confidence)
    centre, half = np.broadcast_arrays(centre, half)
    flat = half == 0
    share = np.full(half.shape, np.nan)
    np.divide(half, centre, out=share, where=centre > 0)
    with np.errstate(over="ignore"):
        low, high = centre * np.exp(-share), centre * np.exp(share)
    return np.where(flat, centre, low), np.where(flat, centre, high)


def gamma_interval(
    mean: npt.ArrayLike,
    se: npt.ArrayLike,
    df: npt.ArrayLike,
    confidence: float,
    *,
    most: npt.ArrayLike = np.inf,
) -> tuple[Floats, Floats]:
    """Return exact Poisson limits of the count that would be as uncertain as the estimate.

    A Poisson count k has the coefficient of variation 1 / √k, so that an estimate is worth the effective
    count k = (mean / se)². Its limits are those of Garwood 1936 for k, times mean / k: gamma quantiles, as
    Fay & Feuer 1997 (Statistics in Medicine 16: 791-801) take them for weighted counts. Since `se` is itself
    estimated, k is made smaller by (z / t)², the quantiles of the normal and of Student's t (Korn & Graubard
    1998, Survey Methodology 24: 193-201, do so for proportions).

    Parameters
    ----------
    mean, se : array_like of float
        Estimates, 0 or more, and their standard errors, in one unit.
    df : array_like of float
        Degrees of freedom of `se`.
    confidence : float
        Above 0, below 1.
    most : array_like of float
        Largest effective count to be believed, above 0: what the things counted would give if each stood on
        its own. Infinity for no bound.

    Returns
    -------
    low, high : numpy.ndarray of float
        In the unit of `mean`, 0 < low ≤ mean ≤ high. Both are equal to `mean` where `se` is 0 and `most` is
        infinite, and where the mean is 0; NaN where any argument is NaN.

    Raises
    ------
    ValueError
        `confidence` is not between 0 and 1, a mean or `se` is negative, or `most` is not above 0.

    Examples
    --------
    Three stems counted, as if each stood on its own, on 0.1 ha; the exact limits of 3 are 0.619 and 8.767:

    >>> low, high = gamma_interval(30.0, 30.0 / 3**0.5, float("inf"), 0.95)
    >>> round(low.item(), 2), round(high.item(), 2)
    (6.19, 87.67)
    """
    centre, error = _not_negative(mean), np.asarray(se, dtype=float)
    freedom, bound = np.asarray(df, dtype=float), np.asarray(most, dtype=float)
    if (error < 0).any():
        raise ValueError("se must be 0 or more, or NaN where not known")
    if not (bound[~np.isnan(bound)] > 0).all():
        raise ValueError("most must be above 0, or NaN where not known")
    centre, error, freedom, bound = np.broadcast_arrays(centre, error, freedom, bound)
    student = stdtrit(np.where(freedom > 0, freedom, np.nan), (1.0 + confidence) / 2.0)
    root = np.full(centre.shape, np.inf)
    np.divide(centre, error, out=root, where=error != 0)
    with np.errstate(over="ignore", invalid="ignore"):
        count = np.minimum((root * ndtri((1.0 + confidence) / 2.0) / student) ** 2, bound)
    low, high = poisson_limits(count, confidence)
    finite = np.isfinite(count) & (count > 0)
    flat = np.isinf(count) | (centre == 0)
    below, above = (
        np.divide(end, count, out=np.full(count.shape, np.nan), where=finite) for end in (low, high)
    )
    known = ~(np.isnan(freedom) | np.isnan(error))
    low, high = (np.where(flat & known, centre, centre * end) for end in (below, above))
    return np.minimum(low, centre), np.maximum(high, centre)


def nonnegative_interval(
    kind: IntervalKind,
    mean: npt.ArrayLike,
    se: npt.ArrayLike,
    df: npt.ArrayLike,
    confidence: float,
    *,
    most: npt.ArrayLike = np.inf,
) -> tuple[Floats, Floats, Words]:
    """Return the interval that is asked for, and which one it is.

    ``auto`` is the gamma interval, which came nearest to its nominal coverage in the study of
    docs/methods.md; below `FEWEST_DF` degrees of freedom (two plots), where no interval holds, it is
    Student's t, made no shorter than exact Poisson limits of `most`.

    Parameters
    ----------
    kind : IntervalKind
        What is asked for.
    mean, se, df : array_like of float
        Estimates, 0 or more, standard errors in the same unit, and degrees of freedom.
    confidence : float
        Above 0, below 1.
    most : array_like of float
        As in `gamma_interval`; not looked at by ``t`` and ``log``.

    Returns
    -------
    low, high : numpy.ndarray of float
        In the unit of `mean`, 0 ≤ low ≤ mean ≤ high; NaN where any of `mean`, `se` and `df` is NaN.
    word : numpy.ndarray of str
        Of `IntervalWord`: ``none`` where there are no limits, or both are equal to the mean.

    Raises
    ------
    ValueError
        As `gamma_interval`.
    """
    if kind is IntervalKind.LOG:
        low, high = log_interval(mean, se, df, confidence)
        made = np.full(low.shape, str(IntervalWord.LOG))
    else:
        low, high = t_interval(_not_negative(mean), se, df, confidence)
        made = np.full(low.shape, str(IntervalWord.T))
    if kind is IntervalKind.AUTO:
        by_gamma = gamma_interval(mean, se, df, confidence, most=most)
        alone = gamma_interval(mean, 0.0, np.inf, confidence, most=most)
        few = np.broadcast_to(np.asarray(df, dtype=float) < FEWEST_DF, low.shape)
        low = np.where(few, np.minimum(low, alone[0]), by_gamma[0])
        high = np.where(few, np.maximum(high, alone[1]), by_gamma[1])
        made = np.where(few, made, str(IntervalWord.GAMMA))
    return low, high, np.where(low < high, made, str(IntervalWord.NONE))


def _not_negative(mean: npt.ArrayLike) -> Floats:
    """Return the estimates after checking that none is below zero."""
    centre = np.asarray(mean, dtype=float)
    if (centre < 0).any():
        raise ValueError("mean must be 0 or more, or NaN where not known")
    return centre
