"""Areas with few units or none, estimated with the help of their likes by a model of how areas differ."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from plotmap.statistics.estimates import Floats, Indexes

FEWEST_AREAS = 3
"""Fewer areas of a kind do not tell how areas differ."""


@dataclass(frozen=True, slots=True)
class AreaModel:
    """How the areas of each kind differ: a common mean and a variance between areas. Arrays of shape (n_groups,).

    Attributes
    ----------
    mean : numpy.ndarray of float
        Weighted mean of the areas' estimates; NaN below `FEWEST_AREAS` areas.
    mean_variance : numpy.ndarray of float
        Variance of `mean`.
    between : numpy.ndarray of float
        Variance of the areas' true means about their common mean, 0 or more.
    between_variance : numpy.ndarray of float
        Variance of the estimate `between`.
    n_areas : numpy.ndarray of int
        Areas it rests on.
    """

    mean: Floats
    mean_variance: Floats
    between: Floats
    between_variance: Floats
    n_areas: Indexes

    def synthetic(self, group: npt.ArrayLike) -> tuple[Floats, Floats]:
        """Return estimate and standard error of areas without a unit of their own, by their group.

        The error holds the variance between areas: an area of which nothing is known may be any of its kind.
        """
        of = np.asarray(group, dtype=np.intp)
        return self.mean[of], np.sqrt(self.between[of] + self.mean_variance[of])

    def composite(
        self, own: npt.ArrayLike, variance: npt.ArrayLike, group: npt.ArrayLike
    ) -> tuple[Floats, Floats, Floats]:
        """Return estimate, standard error and weight of the own estimate of areas with few units.

        γ y + (1 − γ) μ with γ = between / (between + variance); the squared error is γ v + (1 − γ)² var(μ) +
        2 v² / (v + between)³ var(between) (Prasad & Rao 1990, Journal of the American Statistical Association 85:
        163-171).

        Parameters
        ----------
        own, variance : array_like of float, shape (n,)
            Estimates of the areas and their variances, above 0.
        group : array_like of int, shape (n,)
            Group of each area.
        """
        of = np.asarray(group, dtype=np.intp)
        y, v = np.asarray(own, dtype=float), np.asarray(variance, dtype=float)
        between = self.between[of]
        weight = between / (between + v)
        squared = (
            weight * v
            + (1.0 - weight) ** 2 * self.mean_variance[of]
            + 2.0 * v**2 / (v + between) ** 3 * self.between_variance[of]
        )
        return weight * y + (1.0 - weight) * self.mean[of], np.sqrt(squared), weight


def area_model(
    means: npt.ArrayLike, variances: npt.ArrayLike, group: npt.ArrayLike, n_groups: int
) -> AreaModel:
    """Estimate how the areas of each group differ from their estimates and the variances of these.

    The area-level model of Fay & Herriot 1979 (Journal of the American Statistical Association 74: 269-277) with a
    common mean: estimate = mean + between areas + error. The variance between areas is the moment estimator of Prasad
    & Rao 1990, (Σ (y − ȳ)² − (1 − 1/m) Σ v) / (m − 1), not below 0; the mean is weighted by 1 / (between + v).

    Parameters
    ----------
    means, variances : array_like of float, shape (n,)
        Estimates of the areas and their variances, 0 or more.
    group : array_like of int, shape (n,)
        Group of each area, 0 to `n_groups` - 1.
    n_groups : int
        Number of groups.

    Returns
    -------
    AreaModel
        NaN for groups of fewer than `FEWEST_AREAS` areas, and where nothing varies at all.

    Raises
    ------
    ValueError
        Lengths differ; an estimate or a variance is not finite, a variance is negative, or a group is outside 0 to
        `n_groups` - 1.
    """
    y, v, of = np.asarray(means, dtype=float), np.asarray(variances, dtype=float), np.asarray(group)
    if not y.shape == v.shape == of.shape or y.ndim != 1:
        raise ValueError("means, variances and group must be one-dimensional and of one length")
    if not (np.isfinite(y) & np.isfinite(v) & (v >= 0)).all():
        raise ValueError("means must be finite, and variances finite and 0 or more: leave other areas out")
    if len(of) and not 0 <= of.min() <= of.max() < n_groups:
        raise ValueError(f"group must be whole numbers from 0 to {n_groups - 1}")
    where = of.astype(np.intp)

    def add(values: Floats) -> Floats:
        """Sum over the areas of each group."""
        return np.bincount(where, values, n_groups).astype(float)

    m = np.bincount(where, minlength=n_groups)
    enough = m >= FEWEST_AREAS
    number = np.where(enough, m, np.nan)
    plain = add(y) / number
    spread = np.bincount(where, (y - plain[where]) ** 2, n_groups)
    between = np.maximum((spread - (1 - 1 / number) * add(v)) / (number - 1), 0.0)
    whole = between[where] + v
    weight = np.divide(1.0, whole, out=np.full(len(y), np.nan), where=whole > 0)
    total = np.where(enough, add(weight), np.nan)
    squares = 2.0 * add(whole**2) / number**2
    return AreaModel(add(weight * y) / total, 1.0 / total, between, squares, m)
