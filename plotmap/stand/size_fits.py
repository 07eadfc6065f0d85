"""Weibull distributions of the diameters of each scope, with errors from the differences between plots."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import polars as pl

from plotmap.model.plot_table import PlotValues
from plotmap.stand.scopes import Scopes
from plotmap.statistics import Sizes, WeibullFit, fit_weibull, sizes_of, weibull_scores

LEAST_STEMS = 30
"""Stems below which nothing is fitted."""
_DECIMALS = 4
"""Diameters are rounded to so many decimals of a centimetre, so that equal ones are computed once."""
_SAME_CM = 0.01
_SAME_WEIGHT = 1e-9
_Floats = npt.NDArray[np.float64]
_SIZE = ["low_cm", "high_cm", "smallest_cm", "size_biased"]


@dataclass(frozen=True, slots=True)
class SizeFits:
    """Fits of all scopes; arrays have one entry a scope.

    Attributes
    ----------
    n : numpy.ndarray of float
        Stems counted.
    two, three : WeibullFit
        Fits of two and of three parameters.
    two_covariance, three_covariance : numpy.ndarray of float, shape (n_scopes, p, p)
        Covariances of the parameters: by plots where ``by_plots``, else of the observed information.
    by_plots : numpy.ndarray of bool
        Whether there were plots enough.
    smallest_cm : numpy.ndarray of float
        Diameter below which stems were not counted; the smallest of the scope's; NaN where nothing was fitted.
    kish : numpy.ndarray of float
        n Σw² / (Σw)²: design effect of unequal weights alone.
    one_kind, plain : numpy.ndarray of bool
        Whether class counts can be compared with a fit (one smallest diameter, angle counts or areas only);
        whether all sizes are exact, of one weight, and none was cut off.
    biased : numpy.ndarray of bool
        Whether all stems are of angle counts.
    sizes : Sizes
        What was fitted.
    """

    n: _Floats
    two: WeibullFit
    three: WeibullFit
    two_covariance: _Floats
    three_covariance: _Floats
    by_plots: npt.NDArray[np.bool_]
    smallest_cm: _Floats
    kish: _Floats
    one_kind: npt.NDArray[np.bool_]
    plain: npt.NDArray[np.bool_]
    biased: npt.NDArray[np.bool_]
    sizes: Sizes


def fit_sizes(values: PlotValues, scopes: Scopes) -> SizeFits:
    """Fit Weibull distributions to the diameters of every scope with `LEAST_STEMS` or more.

    Every stem weighs by the hectares' stems it stands for, those of angle counts by the basal area, their
    likelihood being that of sizes drawn by their squares; the weights of either kind are scaled to the number of
    stems counted. Errors are those of a pseudo-likelihood: with A the observed information and B the variance
    of the sum of scores between plots within blocks, the covariance is A⁻¹ B A⁻¹ (Binder 1983, International
    Statistical Review 51: 279-292), where there are as many degrees of freedom as parameters.

    Parameters
    ----------
    values : PlotValues
        Reads ``sizes``.
    scopes : Scopes
        Scopes, weights and blocks.

    Returns
    -------
    SizeFits
        NaN for scopes with too few stems.
    """
    rows = _rows(values, scopes)
    sample = rows["sample"].to_numpy()
    every = np.bincount(sample, rows["n_trees"].to_numpy(), scopes.n).astype(float)
    rows = rows.filter(pl.Series(every[sample] >= LEAST_STEMS - 1e-9))
    sample, biased = rows["sample"].to_numpy(), rows["size_biased"].to_numpy()
    weight = _scaled(rows, scopes.n)
    first, place = _alike(rows)
    kinds = rows[first]
    sizes = sizes_of(
        kinds["low_cm"].to_numpy(),
        kinds["high_cm"].to_numpy(),
        weight=np.bincount(place, weight, len(first)),
        order=np.where(kinds["size_biased"].to_numpy(), 2, 0),
        truncation=kinds["smallest_cm"].to_numpy(),
        sample=kinds["sample"].to_numpy(),
        n_samples=scopes.n,
    )
    two, three = fit_weibull(sizes), fit_weibull(sizes, three_parameters=True)
    covariances = []
    for fit in (two, three):
        scores = weibull_scores(sizes, fit)[place] * weight[:, None]
        covariances.append(_by_plots(scores, rows, scopes, fit))
    total = np.bincount(sample, weight, scopes.n)
    n_each = np.bincount(sample, rows["n_trees"].to_numpy(), scopes.n)
    squares = np.bincount(sample, weight**2 / rows["n_trees"].to_numpy(), scopes.n)
    with np.errstate(invalid="ignore", divide="ignore"):
        kish = n_each * squares / total**2
    least, most = _ends(sample, rows["smallest_cm"].to_numpy(), scopes.n)
    n_biased = np.bincount(sample, biased, scopes.n)
    n_rows = np.bincount(sample, minlength=scopes.n)
    exact = np.bincount(sizes.sample, sizes.exact, scopes.n) == np.bincount(sizes.sample, minlength=scopes.n)
    return SizeFits(
        n=every,
        two=two,
        three=three,
        two_covariance=covariances[0],
        three_covariance=covariances[1],
        by_plots=scopes.df >= two.n_parameters,
        smallest_cm=least,
        kish=kish,
        one_kind=((n_biased == 0) | (n_biased == n_rows)) & (most - least < _SAME_CM),
        plain=exact & (n_biased == 0) & (most == 0) & (kish < 1 + _SAME_WEIGHT),
        biased=(n_biased == n_rows) & (n_rows > 0),
        sizes=sizes,
    )


def _rows(values: PlotValues, scopes: Scopes) -> pl.DataFrame:
    """Return the diameters once for every scope they belong to, sorted so that alike ones come together."""
    rounded = values.sizes.with_columns(pl.col("low_cm", "high_cm", "smallest_cm").round(_DECIMALS))
    joined = rounded.join(scopes.members, on="compartment", maintain_order="left")
    return joined.with_columns((pl.col("weight") * pl.col("factor")).alias("weight")).sort(
        "sample", *_SIZE, "block", "compartment", "plot", maintain_order=True
    )


def _scaled(rows: pl.DataFrame, n_scopes: int) -> _Floats:
    """Return the weights, those of one scope and kind adding up to its stems counted."""
    kind = rows["sample"].to_numpy() * 2 + rows["size_biased"].to_numpy()
    weight = rows["weight"].to_numpy()
    counted = np.bincount(kind, rows["n_trees"].to_numpy(), 2 * n_scopes)
    total = np.bincount(kind, weight, 2 * n_scopes)
    return np.asarray(weight * (counted / np.where(total > 0, total, 1.0))[kind], dtype=np.float64)


def _alike(rows: pl.DataFrame) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.intp]]:
    """Return the first row of each run of rows of one scope and size, and the run of every row."""
    if not rows.height:
        return np.zeros(0, np.intp), np.zeros(0, np.intp)
    run = rows.select(pl.struct("sample", *_SIZE).rle_id()).to_series().to_numpy().astype(np.intp)
    return np.flatnonzero(np.diff(run, prepend=-1)), run


def _ends(sample: npt.NDArray[np.int64], values: _Floats, n: int) -> tuple[_Floats, _Floats]:
    """Return smallest and largest value of each sample, NaN without any."""
    least, most = np.full(n, np.inf), np.full(n, -np.inf)
    np.minimum.at(least, sample, values)
    np.maximum.at(most, sample, values)
    return np.where(np.isinf(least), np.nan, least), np.where(np.isinf(most), np.nan, most)


def _by_plots(scores: _Floats, rows: pl.DataFrame, scopes: Scopes, fit: WeibullFit) -> _Floats:
    """Return covariances by plots where there are degrees of freedom enough, else those of the fit."""
    p = fit.n_parameters
    ordered = (
        rows.select("block", "compartment", "plot")
        .with_row_index("place")
        .sort("block", "compartment", "plot", maintain_order=True)
    )
    if not ordered.height:
        return fit.covariance
    cluster = ordered.select(pl.struct("block", "compartment", "plot").rle_id()).to_series().to_numpy()
    first = np.flatnonzero(np.diff(cluster, prepend=-1))
    block = ordered["block"].to_numpy()[first]
    place = ordered["place"].to_numpy()
    sums = np.column_stack([np.bincount(cluster, scores[place, i], len(first)) for i in range(p)])
    n_blocks = scopes.blocks.height
    n, factor = scopes.blocks["n"].to_numpy(), scopes.blocks["factor"].to_numpy()
    of_sample = scopes.blocks["sample"].to_numpy()
    within = [np.bincount(block, sums[:, i], n_blocks) for i in range(p)]
    middle = np.zeros((scopes.n, p, p))
    for i in range(p):
        for j in range(p):
            products = np.bincount(block, sums[:, i] * sums[:, j], n_blocks) - within[i] * within[j] / n
            middle[:, i, j] = np.bincount(of_sample, factor * products, scopes.n)
    robust = fit.covariance @ middle @ fit.covariance
    return np.where((scopes.df >= p)[:, None, None], robust, fit.covariance)
