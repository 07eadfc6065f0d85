"""Means, ratios and totals from samples, with their standard errors and degrees of freedom.

Plain arrays in and out. A missing value is NaN; a figure that a sample cannot give is NaN, never zero.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Indexes = npt.NDArray[np.intp]

_ROUND_OFF = 1e-9
"""Sums of squares taken by difference may fall below zero by this share of the squared total."""


@dataclass(frozen=True, slots=True)
class Estimate:
    """Estimates of one or many samples; the three arrays have one shape.

    Attributes
    ----------
    mean : numpy.ndarray of float
        In the unit of the values (of y per unit of x for a ratio). NaN where nothing was sampled.
    se : numpy.ndarray of float
        Standard error, in the same unit. NaN where fewer than two units were sampled.
    df : numpy.ndarray of float
        Degrees of freedom of `se`. NaN where fewer than two units were sampled.
    """

    mean: Floats
    se: Floats
    df: Floats


def ratio_estimate(
    n: npt.ArrayLike,
    total_y: npt.ArrayLike,
    total_x: npt.ArrayLike,
    squared_residuals: npt.ArrayLike,
    *,
    sampling_fraction: npt.ArrayLike = 0.0,
) -> Estimate:
    """Estimate ratios of means, R = Σy / Σx, from the sums of many samples at once.

    The standard error is ``sqrt(n / (n - 1) * (1 - f) * Σ(y - R x)²) / Σx`` (Cochran 1977, Sampling
    Techniques, ch. 6, with the sample's own mean of x). Where every x is the same, R x is the mean of y,
    and this is the mean of a simple random sample (ch. 2): se of R x = sqrt((1 - f) s² / n).

    Parameters
    ----------
    n : array_like of int
        Units sampled, those where y is zero too.
    total_y, total_x : array_like of float
        Sums of y and of x over the units sampled. `total_x` is not looked at where `n` is 0.
    squared_residuals : array_like of float
        Σ (y - R x)² over the units sampled, zeros too. Not looked at where `n` is below 2.
    sampling_fraction : array_like of float
        Share f of the population that was sampled, 0 to less than 1; 0 leaves the finite-population
        correction out.

    Returns
    -------
    Estimate
        Of the shape to which the arguments broadcast.

    Raises
    ------
    ValueError
        `n` is negative or no whole number; `total_x` is not above zero, or a sum is NaN, where something
        was sampled; `squared_residuals` is below zero by more than round-off; `sampling_fraction` is
        outside 0 to less than 1; shapes do not broadcast.

    Examples
    --------
    Two plots of 2 and 1 units of area with 30 and 12 stems:

    >>> ratio_estimate(2, 42.0, 3.0, (30 - 28) ** 2 + (12 - 14) ** 2).mean.item()
    14.0
    """
    count, y, x, squares, fraction = np.broadcast_arrays(
        *(np.asarray(part, dtype=float) for part in (n, total_y, total_x, squared_residuals)),
        _fraction(sampling_fraction),
    )
    _require(bool(((count >= 0) & (count == np.floor(count))).all()), "n must be whole numbers, 0 or more")
    some, several = count > 0, count > 1
    _require(bool((x[some] > 0).all()), "total_x must be above zero wherever something was sampled")
    _require(not np.isnan(y[some]).any(), "total_y is NaN where something was sampled: leave such units out")
    below = squares[several] >= -_ROUND_OFF * y[several] ** 2
    _require(bool(below.all()), "squared_residuals must be 0 or more wherever two or more units were sampled")
    mean, se, df = (np.full(count.shape, np.nan) for _ in range(3))
    np.divide(y, x, out=mean, where=some)
    spread = np.where(several, np.maximum(squares, 0.0) * (1.0 - fraction), np.nan)
    factor = np.divide(count, count - 1.0, out=np.full(count.shape, np.nan), where=several)
    np.divide(np.sqrt(factor * spread), x, out=se, where=several)
    np.copyto(df, count - 1.0, where=several)
    return Estimate(mean, se, df)


def mean_estimate(values: npt.ArrayLike, *, sampling_fraction: float = 0.0) -> Estimate:
    """Estimate the mean of one simple random sample (Cochran 1977, ch. 2).

    Parameters
    ----------
    values : array_like of float, shape (n,)
        One value a unit, zeros too. May be empty: then all figures are NaN.
    sampling_fraction : float
        Share of the population that was sampled, 0 to less than 1. The variance has divisor n - 1, so
        the finite-population correction is 1 - f.

    Returns
    -------
    Estimate
        Arrays without dimensions, in the unit of `values`.

    Raises
    ------
    ValueError
        `values` hold NaN or are not one-dimensional; `sampling_fraction` is outside 0 to less than 1.
    """
    sample = _sample(values, "values")
    return ratio_of_means(sample, np.ones_like(sample), sampling_fraction=sampling_fraction)


def ratio_of_means(y: npt.ArrayLike, x: npt.ArrayLike, *, sampling_fraction: float = 0.0) -> Estimate:
    """Estimate the ratio of means Σy / Σx of one sample (Cochran 1977, ch. 6).

    Parameters
    ----------
    y : array_like of float, shape (n,)
        What is wanted, one value a unit, zeros too. May be empty: then all figures are NaN.
    x : array_like of float, shape (n,)
        Size of each unit, above zero.
    sampling_fraction : float
        Share of the population that was sampled, 0 to less than 1.

    Returns
    -------
    Estimate
        Arrays without dimensions, in the unit of `y` per unit of `x`.

    Raises
    ------
    ValueError
        `y` and `x` differ in length, hold NaN or are not one-dimensional; an x is not above zero;
        `sampling_fraction` is outside 0 to less than 1.
    """
    wanted, size = _sample(y, "y"), _sample(x, "x")
    _require(
        len(wanted) == len(size), f"y has {len(wanted)} units and x has {len(size)}: they must be the same"
    )
    _require(bool((size > 0).all()), "x must be above zero in every unit")
    total_y, total_x = wanted.sum(), size.sum()
    residuals = wanted - (total_y / total_x if len(size) else 0.0) * size
    return ratio_estimate(
        len(size), total_y, total_x, (residuals**2).sum(), sampling_fraction=sampling_fraction
    )


def combine(
    weights: npt.ArrayLike,
    means: npt.ArrayLike,
    ses: npt.ArrayLike,
    dfs: npt.ArrayLike,
    group: npt.ArrayLike,
    n_groups: int,
) -> tuple[Floats, Floats, Floats]:
    """Add up independent estimates within groups: strata to a mean, compartments to a total.

    The total is Σ w·mean and its variance Σ w²·se² (Cochran 1977, Sampling Techniques, ch. 5). The degrees
    of freedom are Satterthwaite's, (Σ w²se²)² / Σ((w²se²)² / df) (Satterthwaite 1946, Biometrics Bulletin
    2: 110-114).

    Parameters
    ----------
    weights : array_like of float, shape (n,)
        0 or more. Shares of the population give a mean, areas in hectares a total. Rows of weight 0 say
        nothing.
    means, ses, dfs : array_like of float, shape (n,)
        Estimates with their standard errors and degrees of freedom. A `ses` of NaN means that the error
        is not known; one of 0 that there is none.
    group : array_like of int, shape (n,)
        Group of each row, 0 to `n_groups` - 1.
    n_groups : int
        Number of groups.

    Returns
    -------
    total, se, df : numpy.ndarray of float, shape (n_groups,)
        `se` and `df` are NaN where a row of the group with a weight above 0 has no `ses`; `df` is NaN where
        such a row has an error but no `dfs`. Where every error is 0, `se` is 0 and `df` is the sum of
        `dfs`. All three are NaN for a group without rows of a weight above 0.

    Raises
    ------
    ValueError
        A mean or a weight is NaN or infinite, a weight is negative, an error is negative or infinite, a
        group is outside 0 to `n_groups` - 1, or lengths differ.

    Examples
    --------
    Two strata of 60 and 40 % of the area:

    >>> total, se, df = combine([0.6, 0.4], [20.0, 10.0], [1.0, 0.0], [9.0, 4.0], [0, 0], 1)
    >>> total.item(), se.item(), df.item()
    (16.0, 0.6, 9.0)
    """
    weight, mean, error, freedom = _columns(weights=weights, means=means, ses=ses, dfs=dfs)
    where = _groups(group, n_groups, len(weight))
    if not np.isfinite(mean).all():
        raise ValueError("means hold NaN or infinity: leave rows without an estimate out, and say so")
    if not (np.isfinite(weight) & (weight >= 0)).all():
        raise ValueError("weights must be finite and 0 or more")
    if ((error < 0) | np.isinf(error)).any():
        raise ValueError("ses must be finite and 0 or more, or NaN where not known")
    counts = weight > 0
    empty = np.bincount(where[counts], minlength=n_groups) == 0
    variance = np.where(counts, (weight * error) ** 2, 0.0)
    total = _sums(where, weight * mean, n_groups)
    of_group = _sums(where, variance, n_groups)
    df = _satterthwaite(variance, np.where(counts, freedom, 0.0), of_group, where)
    blank = empty | np.isnan(of_group)
    return (
        np.where(empty, np.nan, total),
        np.where(blank, np.nan, np.sqrt(of_group)),
        np.where(blank, np.nan, df),
    )


def _satterthwaite(variance: Floats, freedom: Floats, of_group: Floats, where: Indexes) -> Floats:
    """Return the degrees of freedom of each group; those of all rows together where nothing varies."""
    share = np.divide(variance, of_group[where], out=np.zeros_like(variance), where=variance > 0)
    known = np.where(freedom > 0, freedom, np.nan)
    parts = np.divide(share**2, known, out=np.zeros_like(share), where=share > 0)
    divisor = _sums(where, parts, len(of_group))
    df = _sums(where, freedom, len(of_group))
    varies = _sums(where, share, len(of_group)) > 0
    with np.errstate(divide="ignore"):  # all degrees of freedom infinite
        return np.divide(1.0, divisor, out=df, where=varies)


def pooled_variance(
    variances: npt.ArrayLike, dfs: npt.ArrayLike, group: npt.ArrayLike, n_groups: int
) -> tuple[Floats, Floats]:
    """Pool variances within groups: Σ(df·s²) / Σdf, with Σdf degrees of freedom.

    Common practice where a sample of one unit has to borrow the variance of its likes (Snedecor & Cochran,
    Statistical Methods, pooled variance; from memory).

    Parameters
    ----------
    variances, dfs : array_like of float, shape (n,)
        Variances and their degrees of freedom. Rows where either is NaN or the degrees of freedom are 0
        are passed over.
    group : array_like of int, shape (n,)
        Group of each row, 0 to `n_groups` - 1.
    n_groups : int
        Number of groups.

    Returns
    -------
    variance, df : numpy.ndarray of float, shape (n_groups,)
        Both NaN for a group where no row has degrees of freedom.

    Raises
    ------
    ValueError
        A variance or its degrees of freedom are negative or infinite, a group is outside 0 to
        `n_groups` - 1, or lengths differ.
    """
    variance, freedom = _columns(variances=variances, dfs=dfs)
    where = _groups(group, n_groups, len(variance))
    for name, values in (("variances", variance), ("dfs", freedom)):
        if (np.isinf(values) | (values < 0)).any():
            raise ValueError(f"{name} must be finite and 0 or more, or NaN where not known")
    known = ~(np.isnan(variance) | np.isnan(freedom))
    df = _sums(where[known], freedom[known], n_groups)
    squares = _sums(where[known], freedom[known] * variance[known], n_groups)
    some = df > 0
    pooled = np.divide(squares, df, out=np.full(n_groups, np.nan), where=some)
    return pooled, np.where(some, df, np.nan)


def _sample(values: npt.ArrayLike, what: str) -> Floats:
    """Return one sample as a one-dimensional array of numbers."""
    sample = np.asarray(values, dtype=float)
    _require(sample.ndim == 1, f"{what} must be one-dimensional, but has {sample.ndim} dimensions")
    missing = int(np.isnan(sample).sum())
    _require(not missing, f"{what} holds {missing} NaN: leave such units out, or count them as zeros")
    return sample


def _fraction(sampling_fraction: npt.ArrayLike) -> Floats:
    """Return the sampling fraction after checking its range."""
    fraction = np.asarray(sampling_fraction, dtype=float)
    allowed = (fraction >= 0) & (fraction < 1)
    _require(bool(allowed.all()), f"sampling_fraction is {fraction}, but must be 0 to less than 1")
    return fraction


def _require(holds: bool, message: str) -> None:  # noqa: FBT001
    """Raise ValueError with `message` unless the condition holds."""
    if not holds:
        raise ValueError(message)


def _sums(where: Indexes, values: Floats, n_groups: int) -> Floats:
    """Return the sum of the values of each group."""
    return np.bincount(where, values, n_groups).astype(np.float64)


def _columns(**columns: npt.ArrayLike) -> list[Floats]:
    """Return one-dimensional columns of one length."""
    arrays = [np.asarray(column, dtype=float) for column in columns.values()]
    shapes = {name: array.shape for name, array in zip(columns, arrays, strict=True)}
    if arrays[0].ndim != 1 or len(set(shapes.values())) > 1:
        raise ValueError(f"all of {', '.join(columns)} must have one length, but have shapes {shapes}")
    return arrays


def _groups(group: npt.ArrayLike, n_groups: int, n_rows: int) -> Indexes:
    """Return the group of each row after checking length and range."""
    where = np.asarray(group)
    if where.shape != (n_rows,):
        raise ValueError(f"group has shape {where.shape}, but must have one entry for each of {n_rows} rows")
    if n_rows and not (np.issubdtype(where.dtype, np.integer) and 0 <= where.min() <= where.max() < n_groups):
        raise ValueError(f"group must be whole numbers from 0 to {n_groups - 1}")
    return where.astype(np.intp)
