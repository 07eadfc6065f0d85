"""Figures that are products of powers of totals, by group, with their standard errors from plot to plot."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from plotmap.statistics.estimates import Floats, Indexes

_ROUND_OFF = 1e-12


@dataclass(frozen=True, slots=True)
class Strata:
    """Which units were sampled in which strata, and what the strata add up to.

    Attributes
    ----------
    of_unit : numpy.ndarray of int, shape (n,)
        Stratum of each unit, 0 to n_strata - 1.
    size : numpy.ndarray of float, shape (n_strata,)
        Size of each stratum, in the unit of the sizes of its units.
    whole : numpy.ndarray of bool, shape (n_strata,)
        Strata that were counted whole: they add no error.
    group : numpy.ndarray of int, shape (n_strata,)
        Group that each stratum adds to, 0 to `n_groups` - 1. Strata without units add nothing.
    n_groups : int
        Number of groups.
    """

    of_unit: Indexes
    size: Floats
    whole: npt.NDArray[np.bool_]
    group: Indexes
    n_groups: int


def product_of_totals(
    parts: Mapping[str, npt.ArrayLike], powers: Mapping[str, float], size: str, strata: Strata
) -> tuple[Floats, Floats]:
    """Estimate θ = Π T_j^p_j, where T_j are totals of groups of strata, from the units sampled in the strata.

    A stratum h of size A_h, of which units of sizes a_hi were sampled, gives the totals T_j = Σ_h A_h R_hj with
    R_hj = Σ_i y_hij / Σ_i a_hi. To first order θ varies as the total of

        e_hi = θ (A_h / Σ_i a_hi) Σ_j p_j (y_hij - R_hj a_hi) / T_j

    and se² = Σ_h n_h / (n_h - 1) Σ_i e_hi² (linearisation: Cochran 1977, Sampling Techniques, ch. 6, with
    strata as in ch. 5; Wolter 2007, Introduction to Variance Estimation, ch. 6, from memory). With one ratio,
    T_1 / T_2, and one stratum this is the ratio of means.

    Parameters
    ----------
    parts : mapping of str to array_like of float, shape (n,)
        What each unit holds of each total, 0 or more, zeros too; `size` is among them.
    powers : mapping of str to float
        Power of each total that goes into θ; of `size` too, where it goes in.
    size : str
        Part that is the size of a unit, above zero; its total is A_h, free of error.
    strata : Strata
        Where the units were sampled.

    Returns
    -------
    theta, se : numpy.ndarray of float, shape (n_groups,)
        `theta` is NaN where a total that goes in is not above zero, or nothing was sampled. `se` is NaN
        there and where a stratum of the group that was not counted whole has one unit.

    Raises
    ------
    ValueError
        A part is negative, NaN or infinite, a size is not above zero, or `powers` name no part.
    """
    where, into, sizes, n_groups = strata.of_unit, strata.group, strata.size, strata.n_groups
    held = {name: np.asarray(part, dtype=float) for name, part in parts.items()}
    _check(held, powers, size)
    n_strata = len(sizes)
    sampled = np.bincount(where, held[size], n_strata)
    n = np.bincount(where, minlength=n_strata).astype(float)
    scale = np.divide(sizes, sampled, out=np.zeros(n_strata), where=sampled > 0)
    some = np.bincount(into, n, n_groups) > 0
    theta = np.where(some, 1.0, np.nan)
    change = np.zeros(len(where))
    for name, power in powers.items():
        sums = np.bincount(where, held[name], n_strata)
        total = np.bincount(into, sums * scale, n_groups)
        total = np.where(total > 0, total, np.nan)
        theta = theta * total**power
        ratio = np.divide(sums, sampled, out=np.zeros(n_strata), where=sampled > 0)
        change += power * (held[name] - ratio[where] * held[size]) * scale[where] / total[into][where]
    factor = np.where(n > 1, n / np.maximum(n - 1, 1), np.where(n > 0, np.nan, 0.0))
    squares = np.bincount(where, change**2, n_strata)
    variance = factor * np.where(squares > _ROUND_OFF**2 * n, squares, 0.0)
    variance = np.where(strata.whole, 0.0, variance)
    return theta, theta * np.sqrt(np.bincount(into, variance, n_groups))


def _check(held: Mapping[str, Floats], powers: Mapping[str, float], size: str) -> None:
    """Refuse parts that are no amounts."""
    if unknown := sorted(({*powers, size}) - set(held)):
        raise ValueError(f"powers and size name {', '.join(unknown)}, but the parts are {', '.join(held)}")
    for name, part in held.items():
        if not (np.isfinite(part) & (part >= 0)).all():
            raise ValueError(f"{name} must be finite and 0 or more in every unit")
    if not (held[size] > 0).all():
        raise ValueError(f"{size} must be above zero in every unit")
