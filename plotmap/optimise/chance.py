"""The chance that an even-flow band holds: flows are sums of estimates, and estimates have errors."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from plotmap.errors import SettingsError
from plotmap.optimise.problem import BandAbout

_AT_ONCE = 20_000


def even_flow_chance(  # noqa: PLR0913 - keywords
    period: npt.ArrayLike,
    amount: npt.ArrayLike,
    standard_error: npt.ArrayLike,
    *,
    n_periods: int,
    band: float,
    band_about: BandAbout | str = BandAbout.PREVIOUS,
    draws: int = 100_000,
    seed: int = 1,
) -> tuple[float, float]:
    """Return the chance that the even-flow band holds, from the standard errors of the units' amounts.

    Amounts of units are independent and normal about their estimates. The sum of each period is then normal too,
    with the sum of the variances, and periods are independent, since no unit is cut twice: only the sums are drawn.
    Errors that units share, such as those of a height curve or a tape, do not average out and are not in it.

    Parameters
    ----------
    period : array_like of int, shape (n,)
        From 0; −1 where not cut.
    amount : array_like of float, shape (n,)
        Estimate for each unit in the period it is cut; those of units that are not cut are not used.
    standard_error : array_like of float, shape (n,)
        Of `amount`, in the same unit, 0 or more.
    n_periods : int
        1 or more; with one period there is nothing to differ, and the chance is 1.
    band : float
        Share by which periods may differ, above 0 and below 1.
    band_about : BandAbout or str
        From the ``previous`` period, or from the ``mean`` of all.
    draws : int
        1 or more.
    seed : int
        The same seed gives the same chance.

    Returns
    -------
    chance : float
        0 to 1.
    standard_error : float
        Of the simulation: sqrt(chance (1 − chance) / draws). NaN for both where an amount or error of a unit that
        is cut is missing.

    Raises
    ------
    SettingsError
        A standard error is negative, or `band`, `n_periods` or `draws` is out of range.
    """
    when = np.asarray(period, dtype=np.intp)
    mean, error = np.asarray(amount, dtype=float), np.asarray(standard_error, dtype=float)
    if not 0 < band < 1:
        raise SettingsError(f"the even-flow band is {band}, but must be above 0 and below 1")
    if n_periods < 1 or draws < 1:
        raise SettingsError(f"n_periods is {n_periods} and draws is {draws}, but both must be 1 or more")
    cut = when >= 0
    if np.any(error[cut] < 0):
        raise SettingsError(f"a standard error is {float(error[cut].min())}, but must be 0 or more")
    if not (np.isfinite(mean[cut]).all() and np.isfinite(error[cut]).all()):
        return float("nan"), float("nan")
    centre = np.bincount(when[cut], weights=mean[cut], minlength=n_periods)
    spread = np.sqrt(np.bincount(when[cut], weights=error[cut] ** 2, minlength=n_periods))
    rng = np.random.default_rng(seed)
    held = 0
    for first in range(0, draws, _AT_ONCE):
        flow = rng.normal(centre, spread, size=(min(_AT_ONCE, draws - first), n_periods))
        held += int(_holds(flow, band, BandAbout(band_about)).sum())
    chance = held / draws
    return chance, float(np.sqrt(chance * (1.0 - chance) / draws))


def _holds(flow: npt.NDArray[np.float64], band: float, about: BandAbout) -> npt.NDArray[np.bool_]:
    """Say for each row of flows whether the band holds."""
    if about is BandAbout.MEAN:
        centre, rest = flow.mean(axis=1, keepdims=True), flow
    else:
        centre, rest = flow[:, :-1], flow[:, 1:]
    return np.asarray((np.abs(rest - centre) <= band * centre * (1 + 1e-12)).all(axis=1))
