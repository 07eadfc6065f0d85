"""How many plots a target error needs."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from plotmap.statistics.estimates import Floats
from plotmap.statistics.intervals import t_half_width

_MOST = 2.0**53
_SUM_OF_SHARES = 1e-6


def plots_needed(
    cv_pct: npt.ArrayLike,
    error_pct: npt.ArrayLike,
    confidence: float,
    *,
    population: npt.ArrayLike = math.inf,
) -> Floats:
    """Return how many plots bring the sampling error down to a target.

    The answer is the smallest n, 2 or more, that its own t allows: t(n - 1)·CV·sqrt((1 - n/N) / n) is at
    most the target. It is where iterating n = t²CV² / E² comes to rest (Cochran 1977, Sampling Techniques,
    ch. 4), found by halving, since the error falls as n grows and the iteration itself may swing.

    Parameters
    ----------
    cv_pct : array_like of float
        Coefficient of variation between plots, in % of the mean, 0 or more; NaN where not known.
    error_pct : array_like of float
        Half the width of the confidence interval that is allowed, in % of the mean, above 0.
    confidence : float
        Above 0, below 1.
    population : array_like of float
        Number of plots N that would cover everything, 2 or more; infinity leaves the finite-population
        correction out.

    Returns
    -------
    numpy.ndarray of float
        Whole numbers of plots, at least 2 and at most `population` rounded up, of the shape to which the arguments
        broadcast; NaN where `cv_pct` is.

    Raises
    ------
    ValueError
        An argument is outside its range, or the target is so small that no number of plots below 2**53 meets it.
    """
    cv, target, whole = np.broadcast_arrays(
        *(np.asarray(part, dtype=float) for part in (cv_pct, error_pct, population))
    )
    _check(cv, target, whole)
    known = ~np.isnan(cv)
    needed = np.full(cv.shape, np.nan)
    needed[known] = _smallest(cv[known], target[known], whole[known], confidence)
    return needed


def _check(cv: Floats, target: Floats, whole: Floats) -> None:
    """Raise ValueError where an argument is outside its range."""
    if ((cv < 0) | np.isinf(cv)).any():
        raise ValueError(f"cv_pct is {cv} %, but must be 0 % or more, or NaN where not known")
    if not ((target > 0) & np.isfinite(target)).all():
        raise ValueError(f"error_pct is {target} %, but must be above 0 %")
    if not (whole >= 2).all():  # noqa: PLR2004
        raise ValueError(f"population is {whole} plots, but must be 2 or more")


def _smallest(cv: Floats, target: Floats, whole: Floats, confidence: float) -> Floats:
    """Return the smallest number of plots for each, by doubling and halving."""

    def suffices(n: Floats) -> npt.NDArray[np.bool_]:
        """Say where n plots meet the target."""
        left = np.maximum(0.0, 1.0 - n / whole)
        return np.asarray(t_half_width(cv * np.sqrt(left / n), n - 1, confidence) <= target)

    high = np.full(cv.shape, 2.0)
    while not (enough := suffices(high)).all():
        high = np.where(enough, high, 2 * high)
        if (high >= _MOST).any():
            raise ValueError(
                f"error_pct is {target[high >= _MOST].min()} %, which no number of plots meets: allow more"
            )
    low = high / 2
    while (high - low > 1).any():
        middle = np.floor((low + high) / 2)
        enough = suffices(middle)
        open_yet = high - low > 1
        high, low = np.where(enough & open_yet, middle, high), np.where(~enough & open_yet, middle, low)
    return high


def stratified_plots(
    shares: npt.ArrayLike, cv_pct: npt.ArrayLike, error_pct: float, t: float, *, population: float = math.inf
) -> Floats:
    """Return how many plots of each stratum bring the error of the whole down to a target.

    n = 1 / (1/N + (E / (t·CV))²) with the weighted CV = Σ share · CV, shared out in proportion to share · CV (Neyman
    1934; USDA Forest Service Handbook 2409.12, 2000): the optimum where a
    plot costs the same in every stratum and the means are alike.

    Parameters
    ----------
    shares : array_like of float, shape (n,)
        Share of each stratum in the whole, above 0, adding up to 1.
    cv_pct : array_like of float, shape (n,)
        Coefficient of variation within each stratum, in %, 0 or more, not all 0.
    error_pct : float
        Half the width of the interval that is allowed, in % of the mean, above 0.
    t : float
        Student's t or the normal quantile of the confidence, above 0.
    population : float
        Number of plots N that would cover everything; infinity leaves the finite-population correction out.

    Returns
    -------
    numpy.ndarray of float, shape (n,)
        Whole numbers of plots; their sum is the number for the whole, to the nearest (largest remainders).

    Raises
    ------
    ValueError
        An argument is outside its range.
    """
    share, cv = np.asarray(shares, dtype=float), np.asarray(cv_pct, dtype=float)
    if (
        share.shape != cv.shape
        or share.ndim != 1
        or not (share > 0).all()
        or abs(share.sum() - 1) > _SUM_OF_SHARES
    ):
        raise ValueError(f"shares are {share}, but must be one for each cv_pct, above 0, and add up to 1")
    if not ((cv >= 0) & np.isfinite(cv)).all() or not cv.any():
        raise ValueError(f"cv_pct is {cv} %, but must be 0 % or more, and not 0 % everywhere")
    if not (error_pct > 0 and t > 0 and population > 0):
        raise ValueError(f"error_pct {error_pct} %, t {t} and population {population} must be above 0")
    weighted = share * cv
    whole = np.rint(1.0 / (1.0 / population + (error_pct / (t * weighted.sum())) ** 2))
    exact = whole * weighted / weighted.sum()
    plots = np.floor(exact)
    largest = np.argsort(plots - exact, kind="stable")[: int(whole - plots.sum())]
    plots[largest] += 1
    return np.asarray(plots, dtype=np.float64)
