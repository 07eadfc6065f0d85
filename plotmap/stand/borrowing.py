"""Samples with one plot: their variance is borrowed from their likes, where the settings say so."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from plotmap.statistics import pooled_variance

_Ints = npt.NDArray[np.intp]
_Floats = npt.NDArray[np.float64]


def lend_variance(
    area_ha: _Floats,
    se: _Floats,
    df: _Floats,
    sampled_ha: _Floats,
    stratum: _Ints,
    group: _Ints,
    fraction: _Floats | float = 0.0,
) -> tuple[_Floats, _Floats]:
    """Return errors and degrees of freedom with which totals come out as if every compartment had its own.

    What is lent is the variance between plots for one hectare of plot, se² × sampled area, pooled over the
    compartments of the stratum that have two plots or more, or over all where the stratum has none. A
    borrower's variance is the pooled one over its own plot's area: a small plot varies more. A variance that
    was estimated once and is used several times is still one estimate, so the borrowed part is put on the
    lenders, each with its own degrees of freedom, and Satterthwaite's formula then runs over what was
    estimated, not over what was copied (Satterthwaite 1946, Biometrics Bulletin 2: 110-114; pooling: common
    practice, no source).

    Parameters
    ----------
    area_ha : numpy.ndarray of float, shape (n,)
        Areas of the compartments, in ha: their weights in the total.
    se, df : numpy.ndarray of float, shape (n,)
        Standard errors per hectare and their degrees of freedom; missing for compartments with one plot, and
        0 with infinite degrees of freedom for those counted whole, which neither lend nor borrow.
    sampled_ha : numpy.ndarray of float, shape (n,)
        Area of the plots of each compartment, in ha.
    stratum : numpy.ndarray of int, shape (n,)
        Stratum of each compartment, from 0.
    group : numpy.ndarray of int, shape (n,)
        Total each compartment goes into: its stratum, or one for all.
    fraction : numpy.ndarray of float, shape (n,), or float
        Sampling fraction that `se` is corrected by, and a borrowed variance too; 0 for none.

    Returns
    -------
    se, df : numpy.ndarray of float, shape (n,)
        For `plotmap.statistics.combine` with the weights `area_ha`; not the errors of single compartments.
        Unchanged where nobody can lend.
    """
    borrows = np.isnan(se)
    lends = ~borrows & np.isfinite(df)
    if not borrows.any() or not lends.any():
        return se, df
    left = 1.0 - np.broadcast_to(np.asarray(fraction, dtype=float), se.shape)
    per_ha = np.divide(se**2 * sampled_ha, left, out=np.full(len(se), np.nan), where=lends)
    wanted = np.where(borrows, area_ha**2 / sampled_ha * left, 0.0)
    variance = np.where(lends, (area_ha * se) ** 2, 0.0)
    freedom = np.where(lends, df, np.inf)
    in_stratum = np.where(_any_lender(lends, stratum), wanted, 0.0)
    in_group = np.where(_any_lender(lends, group), wanted - in_stratum, 0.0)
    everyone = np.zeros_like(stratum)
    variance += _lent(in_stratum, per_ha, df, stratum) + _lent(in_group, per_ha, df, everyone)
    elsewhere = wanted - in_stratum - in_group
    if elsewhere.any():  # no lender goes into the same total: its first borrower carries the part of all
        pooled, pooled_df = pooled_variance(per_ha, df, everyone, 1)
        first = np.unique(np.where(elsewhere > 0, group, -1), return_index=True)[1]
        first = first[elsewhere[first] > 0]
        variance[first] = np.bincount(group, elsewhere)[group[first]] * pooled
        freedom[first] = pooled_df
    return np.sqrt(variance) / area_ha, freedom


def _any_lender(lends: npt.NDArray[np.bool_], likes: _Ints) -> npt.NDArray[np.bool_]:
    """Say for each compartment whether any of its likes can lend."""
    return (np.bincount(likes[lends], minlength=int(likes.max()) + 1) > 0)[likes]


def _lent(wanted: _Floats, per_ha: _Floats, df: _Floats, likes: _Ints) -> _Floats:
    """Return what each lender's variance adds to the total for the borrowers among its likes."""
    lends = np.isfinite(per_ha)
    freedom = np.bincount(likes[lends], df[lends], int(likes.max()) + 1)[likes]
    asked = np.bincount(likes, wanted)[likes]
    return np.divide(asked * df * per_ha, freedom, out=np.zeros_like(wanted), where=lends & (freedom > 0))
