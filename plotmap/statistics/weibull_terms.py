"""Logarithms of Weibull densities and of their integrals, for sizes known exactly or between two limits."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Self

import numpy as np
import numpy.typing as npt
from scipy.special import gamma, gammainc, gammaincc

from plotmap.statistics.estimates import Floats, Indexes

_TINY = 1e-300


@dataclass(frozen=True, slots=True)
class Sizes:
    """Sizes of several samples, one row a size (or sizes that are alike), checked.

    Attributes
    ----------
    low, high : numpy.ndarray of float, shape (n,)
        Limits the size lies between, in any one unit; equal where it is known exactly. `high` may be infinite.
    weight : numpy.ndarray of float, shape (n,)
        How often the row counts, above 0.
    order : numpy.ndarray of int, shape (n,)
        0 where all sizes had one chance of getting into the sample, 2 where the chance went with the square.
    truncation : numpy.ndarray of float, shape (n,)
        Size below which nothing could get into the sample; 0 where there is none.
    sample : numpy.ndarray of int, shape (n,)
        Sample of each row, 0 to `n_samples` - 1.
    n_samples : int
        Number of samples.
    """

    low: Floats
    high: Floats
    weight: Floats
    order: Indexes
    truncation: Floats
    sample: Indexes
    n_samples: int

    @property
    def exact(self) -> npt.NDArray[np.bool_]:
        """Rows whose size is known exactly."""
        same: npt.NDArray[np.bool_] = self.low == self.high
        return same

    def of(self, rows: npt.NDArray[np.bool_]) -> Self:
        """Return some of the rows; samples keep their numbers."""
        return replace(
            self,
            low=self.low[rows],
            high=self.high[rows],
            weight=self.weight[rows],
            order=self.order[rows],
            truncation=self.truncation[rows],
            sample=self.sample[rows],
        )

    def joined(self, others: Self) -> Self:
        """Return these rows and those of others of the same samples."""
        return replace(
            self,
            low=np.concatenate([self.low, others.low]),
            high=np.concatenate([self.high, others.high]),
            weight=np.concatenate([self.weight, others.weight]),
            order=np.concatenate([self.order, others.order]),
            truncation=np.concatenate([self.truncation, others.truncation]),
            sample=np.concatenate([self.sample, others.sample]),
        )

    def sums(self, values: Floats) -> Floats:
        """Return the sum of values of the rows in each sample."""
        return np.bincount(self.sample, values, self.n_samples).astype(np.float64)


def sizes_of(
    low: npt.ArrayLike,
    high: npt.ArrayLike,
    *,
    weight: npt.ArrayLike = 1.0,
    order: npt.ArrayLike = 0,
    truncation: npt.ArrayLike = 0.0,
    sample: npt.ArrayLike = 0,
    n_samples: int = 1,
) -> Sizes:
    """Check columns and return them as sizes; single numbers hold for every row.

    Raises
    ------
    ValueError
        A limit is NaN or negative, `high` is below `low`, an exact size is not above 0 or lies below its
        truncation, a class ends at or below it, a weight is not above 0, an order is neither 0 nor 2, a
        sample is outside 0 to `n_samples` - 1, or lengths differ.
    """
    begin, end = np.asarray(low, dtype=float), np.asarray(high, dtype=float)
    _require(begin.ndim == 1 and begin.shape == end.shape, "low and high must be columns of one length")
    columns = []
    for name, given in (("weight", weight), ("order", order), ("truncation", truncation), ("sample", sample)):
        column = np.asarray(given, dtype=float)
        _require(column.ndim == 0 or column.shape == begin.shape, f"{name} must have one entry for each row")
        columns.append(np.broadcast_to(column, begin.shape).copy())
    weights, orders, cut, where = columns
    _require(bool(((begin >= 0) & (end >= begin) & np.isfinite(begin)).all()), "low must be 0 to high")
    exact = begin == end
    _require(bool((begin[exact] > 0).all()), "an exact size must be above 0")
    _require(bool(((cut >= 0) & np.isfinite(cut)).all()), "truncation must be 0 or more")
    inside = np.where(exact, begin >= cut, end > cut)
    _require(bool(inside.all()), "a size lies below the truncation, so it cannot be in the sample")
    _require(bool(((weights > 0) & np.isfinite(weights)).all()), "weight must be above 0")
    _require(bool(np.isin(orders, (0, 2)).all()), "order must be 0 or 2")
    _require(
        bool((np.isin(where, np.arange(n_samples))).all()) if len(where) else True,
        f"sample must be whole numbers from 0 to {n_samples - 1}",
    )
    return Sizes(begin, end, weights, orders.astype(np.intp), cut, where.astype(np.intp), n_samples)


def log_terms(sizes: Sizes, shape: Floats, scale: Floats, location: Floats | None = None) -> Floats:
    """Return the log-likelihood of each row, by parameters of its sample.

    With f the Weibull density, a row adds the logarithm of x^k f(x), or of its integral between the limits,
    less that of its integral from the truncation up; k is the order.

    Parameters
    ----------
    sizes : Sizes
        Rows.
    shape, scale, location : numpy.ndarray of float, shape (n_samples,)
        Parameters of each sample, shape and scale above 0; without `location` it is 0.

    Returns
    -------
    numpy.ndarray of float, shape (n,)
        Not multiplied by the weights; -inf where a size is impossible.
    """
    c, s = shape[sizes.sample], scale[sizes.sample]
    a = None if location is None else location[sizes.sample]
    exact = sizes.exact
    terms = np.empty(len(c))
    terms[exact] = log_density(sizes.of(exact), shape, scale, location)
    rest = ~exact
    if rest.any():
        begin = np.maximum(sizes.low, sizes.truncation)[rest]
        terms[rest] = log_mass(
            begin, sizes.high[rest], sizes.order[rest], c[rest], s[rest], None if a is None else a[rest]
        )
    cut = (sizes.truncation > 0) | (sizes.order > 0)
    if cut.any():
        whole = np.full(int(cut.sum()), np.inf)
        terms[cut] -= log_mass(
            sizes.truncation[cut], whole, sizes.order[cut], c[cut], s[cut], None if a is None else a[cut]
        )
    return terms


def log_density(sizes: Sizes, shape: Floats, scale: Floats, location: Floats | None = None) -> Floats:
    """Return ln of x^k f(x) of sizes known exactly, f being the Weibull density and k the order.

    Parameters
    ----------
    sizes : Sizes
        Rows; their weights, upper limits and truncations are not looked at.
    shape, scale, location : numpy.ndarray of float, shape (n_samples,)
        Parameters of each sample; without `location` it is 0.

    Returns
    -------
    numpy.ndarray of float, shape (n,)
        -inf where a size is impossible.
    """
    c, s, x = shape[sizes.sample], scale[sizes.sample], sizes.low
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        logs = np.log((x if location is None else x - location[sizes.sample]) / s)
        made = np.log(c / s) + (c - 1.0) * logs - np.exp(c * logs) + sizes.order * np.log(x)
    return np.where(np.isnan(made), -np.inf, made)


def log_mass(low: Floats, high: Floats, order: Indexes, c: Floats, s: Floats, a: Floats | None) -> Floats:
    """Return ln of the integral of x^k f(x) between two limits; -inf where nothing lies there.

    Parameters
    ----------
    low, high : numpy.ndarray of float, shape (n,)
        Limits; `high` may be infinite.
    order : numpy.ndarray of int, shape (n,)
        k, 0 or 2.
    c, s, a : numpy.ndarray of float, shape (n,)
        Shape, scale and location (0 where not given).
    """
    shift = 0.0 if a is None else a
    with np.errstate(over="ignore", divide="ignore", invalid="ignore"):
        begin = (np.maximum(low - shift, 0.0) / s) ** c
        end = (np.maximum(high - shift, 0.0) / s) ** c
        made = -begin + np.log(-np.expm1(-(end - begin)))
    by_square = order > 0
    if by_square.any():
        made[by_square] = _log_second_moment(
            begin[by_square],
            end[by_square],
            c[by_square],
            s[by_square],
            None if a is None else a[by_square],
        )
    return np.where(np.isnan(made), -np.inf, made)


def _log_second_moment(begin: Floats, end: Floats, c: Floats, s: Floats, a: Floats | None) -> Floats:
    """Return ln of the integral of x² f(x), limits given as ((x - a) / s)^c."""
    mass = s**2 * _part(2.0, begin, end, c)
    if a is not None:
        mass = mass + 2.0 * a * s * _part(1.0, begin, end, c) + a**2 * _part(0.0, begin, end, c)
    return np.log(np.maximum(mass, _TINY))


def _part(power: float, begin: Floats, end: Floats, c: Floats) -> Floats:
    """Return the part of the moment E[y^power] between two limits, from the tail where it is small."""
    p = 1.0 + power / c
    above = gammaincc(p, begin) - gammaincc(p, end)
    below = gammainc(p, end) - gammainc(p, begin)
    return np.asarray(gamma(p) * np.where(begin > p, above, below), dtype=np.float64)


def _require(holds: bool, message: str) -> None:  # noqa: FBT001
    """Raise ValueError with `message` unless the condition holds."""
    if not holds:
        raise ValueError(message)
