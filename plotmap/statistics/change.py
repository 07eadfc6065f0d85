"""The error of a change between two occasions, with the covariance of units visited on both."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from plotmap.statistics.estimates import Floats, Indexes


@dataclass(frozen=True, slots=True)
class ChangeError:
    """Errors of changes and what they rest on; arrays of shape (n_groups,).

    Attributes
    ----------
    se : numpy.ndarray of float
        Standard error of new less old; NaN where either occasion has one unit only, or none.
    df : numpy.ndarray of float
        Degrees of freedom of `se`; NaN where `se` is.
    n_old, n_new, n_paired : numpy.ndarray of int
        Units of the old occasion, of the new one, and on both.
    """

    se: Floats
    df: Floats
    n_old: Indexes
    n_new: Indexes
    n_paired: Indexes


def change_error(old: npt.ArrayLike, new: npt.ArrayLike, group: npt.ArrayLike, n_groups: int) -> ChangeError:
    """Estimate the standard error of changes from the residuals of both occasions.

    With v = n / (n − 1) Σ e² on each occasion, se² = v_old + v_new − 2 cov and
    cov = r √v_old √v_new · n_paired / √(n_old n_new), r being the correlation of the residuals of the paired units
    about their own means (Cochran 1977, Sampling Techniques, section 12.10, for samples that overlap in part). Where
    all units are paired this is n / (n − 1) Σ (e_new − e_old)², the error of the mean difference.

    Parameters
    ----------
    old, new : array_like of float, shape (n,)
        Residuals of each unit, divided by what the estimate divides by, so that they sum to 0 within a group;
        NaN where the unit was not visited on that occasion.
    group : array_like of int, shape (n,)
        Group of each unit, 0 to `n_groups` - 1.
    n_groups : int
        Number of groups.

    Returns
    -------
    ChangeError
        Degrees of freedom: n − 1 where all units are paired, those of Welch and Satterthwaite where none are, the
        smaller n − 1 where some are. Two pairs at least are needed for a correlation; with fewer it counts as 0.

    Raises
    ------
    ValueError
        Lengths differ, a residual is infinite, or a group is outside 0 to `n_groups` - 1.
    """
    before, after, where = np.asarray(old, dtype=float), np.asarray(new, dtype=float), np.asarray(group)
    if not before.shape == after.shape == where.shape or before.ndim != 1:
        raise ValueError("old, new and group must be one-dimensional and of one length")
    if np.isinf(before).any() or np.isinf(after).any():
        raise ValueError("residuals must be finite, or NaN where a unit was not visited")
    if len(where) and not 0 <= where.min() <= where.max() < n_groups:
        raise ValueError(f"group must be whole numbers from 0 to {n_groups - 1}")
    where = where.astype(np.intp)
    n_old, v_old = _variance(before, where, n_groups)
    n_new, v_new = _variance(after, where, n_groups)
    paired = ~(np.isnan(before) | np.isnan(after))
    n_paired = np.bincount(where[paired], minlength=n_groups)
    correlation = _correlation(before[paired], after[paired], where[paired], n_groups)
    share = n_paired / np.sqrt(np.maximum(n_old * n_new, 1))
    both = np.sqrt(v_old * v_new)
    se = np.sqrt(np.maximum(v_old + v_new - 2.0 * correlation * both * share, 0.0))
    return ChangeError(se, _freedom(v_old, v_new, n_old, n_new, n_paired), n_old, n_new, n_paired)


def _variance(residual: Floats, where: Indexes, n_groups: int) -> tuple[Indexes, Floats]:
    """Return units and n / (n − 1) Σ e² of each group; NaN below two units."""
    there = ~np.isnan(residual)
    n = np.bincount(where[there], minlength=n_groups)
    squares = np.bincount(where[there], residual[there] ** 2, n_groups)
    factor = np.divide(n, n - 1.0, out=np.full(n_groups, np.nan), where=n > 1)
    return n, factor * squares


def _correlation(old: Floats, new: Floats, where: Indexes, n_groups: int) -> Floats:
    """Return the correlation within each group, 0 below two pairs or where one occasion does not vary."""
    n = np.maximum(np.bincount(where, minlength=n_groups), 1)
    x = old - (np.bincount(where, old, n_groups) / n)[where]
    y = new - (np.bincount(where, new, n_groups) / n)[where]
    xy, xx, yy = (np.bincount(where, part, n_groups) for part in (x * y, x * x, y * y))
    spread = np.sqrt(xx * yy)
    found = np.divide(xy, spread, out=np.zeros(n_groups), where=spread > 0)
    return np.asarray(np.clip(found, -1.0, 1.0), dtype=np.float64)


def _freedom(v_old: Floats, v_new: Floats, n_old: Indexes, n_new: Indexes, n_paired: Indexes) -> Floats:
    """Return the degrees of freedom by how the occasions overlap."""
    fewer = np.minimum(n_old, n_new) - 1.0
    parts = v_old**2 / np.maximum(n_old - 1.0, 1.0) + v_new**2 / np.maximum(n_new - 1.0, 1.0)
    welch = np.divide((v_old + v_new) ** 2, parts, out=n_old + n_new - 2.0, where=parts > 0)
    df = np.where(n_paired > 0, fewer, welch)
    return np.where(np.isnan(v_old) | np.isnan(v_new), np.nan, df)
