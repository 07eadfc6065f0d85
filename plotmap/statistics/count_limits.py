"""Exact limits for counts of things that stand independently of each other."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from scipy.special import gammainccinv, gammaincinv

from plotmap.statistics.estimates import Floats


def poisson_limits(count: npt.ArrayLike, confidence: float) -> tuple[Floats, Floats]:
    """Return the limits of the expectation of a Poisson count.

    The exact limits of Garwood 1936 (Biometrika 28: 437-442): the lower one is the α/2 quantile of the
    gamma distribution of shape `count`, the upper one the 1 - α/2 quantile of that of shape `count` + 1.
    They hold the expectation in `confidence` of all samples or more often.

    Parameters
    ----------
    count : array_like of float
        Counted, 0 or more; not necessarily whole: an effective count where things stand in clumps.
    confidence : float
        Above 0, below 1; 0.95 for 95 %.

    Returns
    -------
    low, high : numpy.ndarray of float
        In the unit of `count`; `low` is 0 for a count of 0. NaN where `count` is NaN, infinite where it is
        infinite.

    Raises
    ------
    ValueError
        `confidence` is not between 0 and 1, or a count is negative.

    Examples
    --------
    >>> low, high = poisson_limits(0, 0.95)
    >>> low.item(), round(high.item(), 3)
    (0.0, 3.689)
    """
    if not 0 < confidence < 1:
        raise ValueError(f"confidence is {confidence}, but must be above 0 and below 1 (0.95 for 95 %)")
    counted = np.asarray(count, dtype=float)
    if (counted < 0).any():
        raise ValueError("count must be 0 or more, or NaN where not known")
    tail = (1.0 - confidence) / 2.0
    finite = np.isfinite(counted)
    usual = np.where(finite, counted, 0.0)
    some = usual > 0
    low = np.where(some, gammaincinv(np.where(some, usual, 1.0), tail), 0.0)
    high = gammainccinv(usual + 1.0, tail)
    return np.where(finite, low, counted), np.where(finite, high, counted)
