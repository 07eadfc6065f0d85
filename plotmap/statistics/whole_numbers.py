"""Whole numbers that stand for fractions."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from plotmap.statistics.estimates import Floats

_DECIMALS = 9


def largest_remainder(values: Floats) -> npt.NDArray[np.int64]:
    """Return whole numbers whose sum is the rounded sum of the values.

    Every value is cut off, and the ones that are still missing go to the largest remainders (Hamilton's method of
    apportionment); of equal ones, to the first.

    Parameters
    ----------
    values : numpy.ndarray of float, shape (n,)
        0 or more.

    Returns
    -------
    numpy.ndarray of int, shape (n,)
        Each within 1 of its value.
    """
    exact = np.round(values, _DECIMALS)
    whole = np.floor(exact)
    missing = int(np.floor(exact.sum() + 0.5) - whole.sum())
    order = np.argsort(-(exact - whole), kind="stable")[:missing]
    whole[order] += 1
    return whole.astype(np.int64)


def small_fractions(shares: Floats, largest: int) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]:
    """Return the fraction of small numerator and denominator that is nearest to each share.

    Parameters
    ----------
    shares : numpy.ndarray of float, shape (n,)
        0 to 1.
    largest : int
        Largest denominator.

    Returns
    -------
    numerator, denominator : numpy.ndarray of int, shape (n,)
        In lowest terms; of two equally near ones the one of smaller denominator.
    """
    below, above = np.divmod(np.arange((largest + 1) ** 2), largest + 1)
    fit = (above >= 1) & (below <= above) & (np.gcd(below, above) == 1)
    below, above = below[fit], above[fit]
    order = np.lexsort((below, above))
    below, above = below[order], above[order]
    nearest = np.abs(np.round(shares[:, None] - below / above, _DECIMALS)).argmin(axis=1)
    return below[nearest].astype(np.int64), above[nearest].astype(np.int64)
