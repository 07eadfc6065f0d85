"""On which side of a trigger the truth lies, and how many plots would tell."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from scipy import special

from plotmap.statistics.estimates import Floats
from plotmap.statistics.sample_size import plots_needed

_MOST = 10_000.0


def chance_above(
    estimate: npt.ArrayLike, se: npt.ArrayLike, df: npt.ArrayLike, trigger: npt.ArrayLike
) -> Floats:
    """Return how sure it is that the truth is the trigger or more: F((estimate − trigger) / se) of Student's t.

    It is one less the P value of a one-sided t test (Student 1908, Biometrika 6: 1-25), read as the confidence in the
    decision.

    Parameters
    ----------
    estimate, se, df, trigger : array_like of float
        Estimate, its standard error (0 or more), degrees of freedom (above 0; infinity is the normal) and trigger.

    Returns
    -------
    numpy.ndarray of float
        0 to 1, of the shape to which the arguments broadcast; 0 or 1 where the error is 0; NaN where anything is NaN.
    """
    parts = np.broadcast_arrays(*(np.asarray(part, dtype=float) for part in (estimate, se, df, trigger)))
    value, error, freedom, limit = parts
    with np.errstate(divide="ignore", invalid="ignore"):
        t = (value - limit) / error
        chance = np.where(np.isinf(freedom), special.ndtr(t), special.stdtr(freedom, t))
    chance = np.where(error == 0, np.where(value >= limit, 1.0, 0.0), chance)
    known = ~np.any([np.isnan(part) for part in parts], axis=0)
    return np.where(known, chance, np.nan)


def plots_to_decide(
    estimate: npt.ArrayLike, se: npt.ArrayLike, n: npt.ArrayLike, trigger: npt.ArrayLike, sure: npt.ArrayLike
) -> Floats:
    """Return with how many plots in all a decision would be sure, if estimate and spread stay as they are.

    The smallest n for which t(sure, n − 1) · s / √n is at most the distance of the estimate from the trigger; s is
    the standard error times √n of the plots there are.

    Parameters
    ----------
    estimate, se, n, trigger, sure : array_like of float
        Estimate, standard error, plots it rests on, trigger, and how sure the decision must be (above 0.5).

    Returns
    -------
    numpy.ndarray of float
        Whole numbers; NaN where anything is NaN, where `sure` is 0.5 or less, or where more than 10 000 plots would
        be needed, because the estimate lies on the trigger.
    """
    value, error, plots, limit, level = np.broadcast_arrays(
        *(np.asarray(part, dtype=float) for part in (estimate, se, n, trigger, sure))
    )
    margin = np.abs(value - limit)
    with np.errstate(divide="ignore", invalid="ignore"):
        cv_pct = 100.0 * error * np.sqrt(plots) / margin
    needed = np.full(value.shape, np.nan)
    fit = np.isfinite(cv_pct) & (cv_pct <= 100.0 * _MOST) & (level > 0.5)  # noqa: PLR2004
    for one in np.unique(level[fit]):
        here = fit & (level == one)
        needed[here] = plots_needed(cv_pct[here], 100.0, 2.0 * float(one) - 1.0)
    return np.where(needed <= _MOST, needed, np.nan)
