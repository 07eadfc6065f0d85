"""Variance of a systematic sample from differences between neighbours on its grid."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from plotmap.statistics.estimates import Floats, Indexes

_CORNERS = ((0, 0, 1.0), (0, 1, -1.0), (1, 0, -1.0), (1, 1, 1.0))
"""The four nodes of a square of neighbours, and the signs of Matérn's difference."""


@dataclass(frozen=True, slots=True)
class LocalVariance:
    """What the differences between neighbours say about sums of residuals.

    Attributes
    ----------
    variance : numpy.ndarray of float, shape (n_scopes,) or (n_scopes, k)
        Variance of the sum of the values of each scope, in their squared unit and in their shape; NaN where a
        sample of the scope has one unit only, and where the scope has no units.
    n_units : numpy.ndarray of int, shape (n_scopes,)
        Units of each scope.
    n_with_neighbours : numpy.ndarray of int, shape (n_scopes,)
        Units with another unit of the scope in one of the squares they belong to.
    """

    variance: Floats
    n_units: Indexes
    n_with_neighbours: Indexes


def local_variance(
    values: npt.ArrayLike,
    sample: npt.ArrayLike,
    node: npt.ArrayLike,
    scope: npt.ArrayLike,
    n_scopes: int,
) -> LocalVariance:
    """Estimate the variance of sums of residuals by Matérn's differences.

    For every square of four neighbouring nodes T = v₁ − v₂ − v₃ + v₄, with 0 at nodes without a unit; the
    variance of the sum is Σ T² / 4 over all squares that hold a unit (B. Matérn, Spatial variation, 1960, ch. 6;
    the form with residuals of a ratio and zeros outside: J. Heikkinen in A. Kangas & M. Maltamo, Forest
    inventory, 2006, ch. 10; both from memory). The values of each sample are multiplied beforehand by
    1 / sqrt(1 − q / 4n²), with n its units and q the sum over squares of its squared sums of signs: then the
    mean of the result over all orders of the values within the samples is exactly the variance
    n / (n − 1) Σ v² of simple random samples, so that the two differ by the pattern alone.

    Parameters
    ----------
    values : array_like of float, shape (n,) or (n, k)
        Residuals of one quantity or k, which sum to 0 in each sample, each times what one unit of it counts for.
    sample : array_like of int, shape (n,)
        Sample within which each residual was taken, from 0.
    node : array_like of int, shape (n, 2)
        Node of the grid that each unit lies on.
    scope : array_like of int, shape (n,)
        Sum that each unit goes into, 0 to `n_scopes` - 1. Only units of one scope are neighbours, and a sample
        must lie whole in one scope.
    n_scopes : int
        Number of scopes.

    Returns
    -------
    LocalVariance
        One row a scope.

    Raises
    ------
    ValueError
        Lengths differ, a value is not finite, or a scope is outside 0 to `n_scopes` - 1.
    """
    value, kin, nodes, where = (np.asarray(part) for part in (values, sample, node, scope))
    if not (len(value) == len(kin) == len(nodes) == len(where)) or nodes.shape != (len(value), 2):
        raise ValueError("values, sample, node and scope must have one length, and node two columns")
    if not np.isfinite(value).all():
        raise ValueError("values must be finite: leave units without a residual out")
    if len(where) and not 0 <= where.min() <= where.max() < n_scopes:
        raise ValueError(f"scope must be whole numbers from 0 to {n_scopes - 1}")
    square, sign, unit = _squares(nodes, where)
    factor = _factors(square, sign, kin[unit], kin)
    home = np.zeros(int(square.max()) + 1 if len(square) else 0, dtype=np.intp)
    home[square] = where[unit]
    columns = [
        np.bincount(home, np.bincount(square, sign * (column * factor)[unit]) ** 2, n_scopes) / 4.0
        for column in (value.T if value.ndim > 1 else [value])
    ]
    variance = np.stack(columns, axis=1) if value.ndim > 1 else columns[0]
    counts = np.bincount(where, minlength=n_scopes)
    together = np.bincount(square) > 1
    accompanied = np.unique(unit[together[square]])
    return LocalVariance(
        np.where((counts > 0).reshape(-1, *[1] * (value.ndim - 1)), variance, np.nan),
        counts,
        np.bincount(where[accompanied], minlength=n_scopes),
    )


def _squares(nodes: npt.NDArray[np.int64], scope: Indexes) -> tuple[Indexes, Floats, Indexes]:
    """Return square, sign and unit of each of the four places that every unit has in squares."""
    n = len(nodes)
    origin = nodes - nodes.min(axis=0) + 1 if n else nodes
    width = origin.max(axis=0) + 1 if n else np.ones(2, dtype=np.int64)
    corner = [
        (scope * width[0] + origin[:, 0] - down) * width[1] + origin[:, 1] - right
        for down, right, _ in _CORNERS
    ]
    square = np.unique(np.concatenate(corner), return_inverse=True)[1]
    sign = np.repeat([sign for *_, sign in _CORNERS], n)
    return square, sign, np.tile(np.arange(n), len(_CORNERS))


def _factors(square: Indexes, sign: Floats, kin: Indexes, sample: Indexes) -> Floats:
    """Return for each unit what makes the differences of its sample as large as chance would; NaN alone."""
    n_samples = int(sample.max()) + 1 if len(sample) else 0
    place, part = np.unique(square * max(n_samples, 1) + kin, return_inverse=True)
    signs = np.bincount(part, sign, len(place))
    q = np.bincount(place % max(n_samples, 1), signs**2, n_samples)
    n = np.bincount(sample, minlength=n_samples).astype(float)
    left = 1.0 - q / (4.0 * np.maximum(n, 1.0) ** 2)
    factor = np.divide(1.0, np.sqrt(np.maximum(left, 0.0)), out=np.full(n_samples, np.nan), where=n > 1)
    return np.asarray(factor[sample], dtype=np.float64)
