"""How many plots each stratum gets, and what error such a sample will have."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from plotmap.statistics.estimates import Floats
from plotmap.statistics.intervals import t_half_width

_MOST = 1e9
_ROUND_OFF = 1e-9
_SUM_OF_SHARES = 1e-6


def allocate(
    total: int, weights: npt.ArrayLike, *, least: npt.ArrayLike = 0, most: npt.ArrayLike = math.inf
) -> Floats:
    """Share a number of plots out over strata, so that the total holds.

    Every stratum gets λ · weight, not below `least` and not above `most`, with the one λ that makes the sum come out;
    fractions go to the largest remainders (Hamilton's rule; common practice, no source).

    Parameters
    ----------
    total : int
        Plots to be shared out, 0 or more.
    weights : array_like of float, shape (n,)
        Area for a proportional allocation, area times standard deviation for Neyman's (1934, J. Royal Stat. Soc.
        97: 558-625; Cochran 1977, ch. 5); 0 or more, not all 0.
    least, most : array_like of float
        Fewest and most plots of each stratum: whole numbers, `most` may be infinite.

    Returns
    -------
    numpy.ndarray of float, shape (n,)
        Whole numbers; their sum is `total`, or the sum of `most` where that is less.

    Raises
    ------
    ValueError
        An argument is outside its range, or `least` alone comes to more than `total`.
    """
    weight = np.asarray(weights, dtype=float)
    low, high = (np.broadcast_to(np.asarray(limit, dtype=float), weight.shape) for limit in (least, most))
    if weight.ndim != 1 or not ((weight >= 0) & np.isfinite(weight)).all() or not weight.any():
        raise ValueError(f"weights are {weight}, but must be 0 or more, and not 0 everywhere")
    if not ((low >= 0) & (low <= high)).all():
        raise ValueError(f"least is {low} and most is {high}, but least must be 0 or more and not above most")
    if low.sum() > total:
        raise ValueError(f"total is {total} plots, but the strata need {low.sum():.0f} at least")
    whole = min(float(total), float(np.where(weight > 0, high, low).sum()))
    exact = np.clip(_scale(whole, weight, low, high) * weight, low, high)
    plots = np.floor(exact + _ROUND_OFF)
    open_yet = (plots < high) & (weight > 0)
    by_remainder = np.argsort(np.where(open_yet, plots - exact, np.inf), kind="stable")
    plots[by_remainder[: max(0, round(whole - float(plots.sum())))]] += 1
    return np.asarray(plots, dtype=np.float64)


def _scale(total: float, weight: Floats, low: Floats, high: Floats) -> float:
    """Return λ with Σ clip(λ · weight, low, high) = total, by halving."""
    below, above = 0.0, 1.0
    while np.clip(above * weight, low, high).sum() < total - _ROUND_OFF:
        above *= 2
    for _ in range(200):
        middle = (below + above) / 2
        if np.clip(middle * weight, low, high).sum() < total:
            below = middle
        else:
            above = middle
    return above


def stratified_error_pct(
    shares: npt.ArrayLike,
    cv_pct: npt.ArrayLike,
    plots: npt.ArrayLike,
    confidence: float,
    *,
    population: npt.ArrayLike = math.inf,
) -> float:
    """Return the sampling error that a stratified sample will have.

    t · √(Σ (share · CV)² / n · (1 − n / N)) with Satterthwaite's degrees of freedom (Cochran 1977, Sampling
    Techniques, 5.9 to 5.16, where the standard deviation of each stratum is CV times the mean of the whole). With one
    stratum it is t(n − 1) · CV · √((1 − n / N) / n).

    Parameters
    ----------
    shares : array_like of float, shape (n,)
        Share of each stratum in the area, above 0, adding up to 1.
    cv_pct : array_like of float, shape (n,)
        Standard deviation within each stratum in % of the mean of the whole, 0 or more.
    plots : array_like of float, shape (n,)
        Plots of each stratum.
    confidence : float
        Above 0, below 1.
    population : array_like of float
        Plots N that would cover each stratum. A stratum with as many plots as whole ones fit into it is taken as
        counted whole; infinity leaves the correction out.

    Returns
    -------
    float
        Half the width of the confidence interval in % of the mean; NaN where a stratum has no plot, or a single one
        that does not count it whole, or `cv_pct` is missing.

    Raises
    ------
    ValueError
        Lengths differ, shares do not add up to 1, or something is negative.
    """
    share, cv, n = (np.asarray(part, dtype=float) for part in (shares, cv_pct, plots))
    whole = np.broadcast_to(np.asarray(population, dtype=float), share.shape)
    if not share.shape == cv.shape == n.shape or share.ndim != 1:
        raise ValueError(
            f"shares, cv_pct and plots have {share.shape}, {cv.shape} and {n.shape}: give one length"
        )
    if not (share > 0).all() or abs(share.sum() - 1) > _SUM_OF_SHARES:
        raise ValueError(f"shares are {share}, but must be above 0 and add up to 1")
    if (cv < 0).any() or (n < 0).any():
        raise ValueError(f"cv_pct is {cv} % and plots are {n}, but must be 0 or more")
    full = n >= np.maximum(np.floor(whole + _ROUND_OFF), 1.0)
    if (n < 1).any():
        return math.nan
    variance = np.where(full, 0.0, (share * cv) ** 2 / n * np.maximum(0.0, 1.0 - n / whole))
    varies = variance != 0  # NaN varies
    if not varies.any():
        return 0.0
    if (n[varies] < 2).any():  # noqa: PLR2004
        return math.nan
    freedom = variance[varies].sum() ** 2 / (variance[varies] ** 2 / (n[varies] - 1)).sum()
    return float(t_half_width(math.sqrt(variance.sum()), freedom, confidence))


def stratified_plots_needed(
    shares: npt.ArrayLike,
    cv_pct: npt.ArrayLike,
    error_pct: float,
    confidence: float,
    *,
    weights: npt.ArrayLike,
    population: npt.ArrayLike = math.inf,
    least: npt.ArrayLike = 2,
) -> Floats:
    """Return how many plots of each stratum bring the error of the whole down to a target.

    The total whose allocation (`allocate`) meets the target by its own t (`stratified_error_pct`), one plot less
    not meeting it; found by halving, since no iteration of t can swing then.

    Parameters
    ----------
    shares, cv_pct, population
        As in `stratified_error_pct`, none missing.
    error_pct : float
        Half the width of the confidence interval that is allowed, in % of the mean, above 0.
    confidence : float
        Above 0, below 1.
    weights : array_like of float, shape (n,)
        What plots are shared out by: `shares` for a proportional allocation, `shares` times `cv_pct` for Neyman's.
    least : array_like of float
        Fewest plots of a stratum; fewer where not so many fit into it.

    Returns
    -------
    numpy.ndarray of float, shape (n,)
        Whole numbers of plots, never more than fit into each stratum.

    Raises
    ------
    ValueError
        As in `stratified_error_pct` and `allocate`; the target is not above 0, or no number of plots meets it.
    """
    share, cv = np.asarray(shares, dtype=float), np.asarray(cv_pct, dtype=float)
    if not (error_pct > 0 and math.isfinite(error_pct)):
        raise ValueError(f"error_pct is {error_pct} %, but must be above 0 %")
    most = np.maximum(np.floor(np.broadcast_to(np.asarray(population, dtype=float), share.shape)), 1.0)
    low = np.minimum(np.asarray(least, dtype=float), most)
    full = float(most.sum())

    def shared(total: float) -> Floats:
        """Return the plots of each stratum at a total."""
        return allocate(round(total), weights, least=low, most=most) if total < full else most.copy()

    def suffices(total: float) -> bool:
        """Say whether a total meets the target."""
        found = stratified_error_pct(share, cv, shared(total), confidence, population=population)
        return bool(found <= error_pct)

    few = max(float(low.sum()), 1.0)
    if suffices(few):
        return shared(few)
    below, high = few, min(2 * few, full)
    while not suffices(high):
        if high >= min(full, _MOST):
            raise ValueError(f"error_pct is {error_pct} %, which no number of plots meets: allow more")
        below, high = high, min(2 * high, full)
    while high - below > 1:
        middle = float(math.floor((below + high) / 2))
        below, high = (below, middle) if suffices(middle) else (middle, high)
    return shared(high)
