"""Whether a distribution fits: Pearson's chi-square on classes, Anderson and Darling's figure on exact sizes."""

from __future__ import annotations

import numpy as np
from scipy.special import chdtrc

from plotmap.statistics.estimates import Floats, Indexes
from plotmap.statistics.weibull import WeibullFit
from plotmap.statistics.weibull_terms import Sizes

_TWO = 2
_ROUND_OFF = 1e-6
LEAST_EXPECTED = 5.0
"""Stems a class must be expected to hold, or it is put together with the next."""


def pooled_cells(expected: Floats, least: float = LEAST_EXPECTED) -> Indexes:
    """Put neighbouring classes together until each cell is expected to hold enough.

    From the lowest class up; what is left above joins the last cell (common practice: Cochran 1954,
    Biometrics 10: 417-451, is milder).

    Parameters
    ----------
    expected : numpy.ndarray of float, shape (m, k)
        Expected numbers by sample and class, in rising order; NaN in samples without a fit.
    least : float
        Smallest expected number of a cell.

    Returns
    -------
    numpy.ndarray of int, shape (m, k)
        Cell of each class, from 0.
    """
    m, k = expected.shape
    cells = np.zeros((m, k), dtype=np.intp)
    held, full = np.zeros(m), np.zeros(m, dtype=np.intp)
    for column in range(k):
        cells[:, column] = full
        held = held + expected[:, column]
        enough = held >= least
        full = full + enough
        held = np.where(enough, 0.0, held)
    return np.minimum(cells, np.maximum(full - 1, 0)[:, None])


def cell_sums(values: Floats, cells: Indexes) -> Floats:
    """Return the sums of values over the classes of each cell.

    Parameters
    ----------
    values : numpy.ndarray of float, shape (m, k)
        By sample and class.
    cells : numpy.ndarray of int, shape (m, k)
        By `pooled_cells`.

    Returns
    -------
    numpy.ndarray of float, shape (m, k)
        By sample and cell; 0 behind the last cell.
    """
    m, k = values.shape
    place = np.arange(m)[:, None] * k + cells
    return np.bincount(place.ravel(), values.ravel(), m * k).astype(np.float64).reshape(m, k)


def chi_square(
    observed: Floats, expected: Floats, n_parameters: int, effect: Floats
) -> tuple[Floats, Floats, Floats]:
    """Return Pearson's chi-square of cells, its degrees of freedom and the p-value.

    X² = Σ (o - e)² / e with cells - 1 - parameters degrees of freedom, which holds where the parameters were
    estimated from the classes (Fisher 1924). In samples drawn by plots X² is divided by the mean design
    effect before it is looked up (first-order correction of Rao & Scott 1981, Journal of the American
    Statistical Association 76: 221-230).

    Parameters
    ----------
    observed, expected : numpy.ndarray of float, shape (m, k)
        By sample and cell, 0 behind the last cell.
    n_parameters : int
        Parameters estimated.
    effect : numpy.ndarray of float, shape (m,)
        Design effect, 1 where units were drawn one by one; NaN where not known.

    Returns
    -------
    statistic, df, p : numpy.ndarray of float, shape (m,)
        The statistic is not yet divided. All NaN where no degree of freedom is left; p also where the
        design effect is not known.
    """
    filled = expected > 0
    parts = np.divide((observed - expected) ** 2, expected, out=np.zeros_like(expected), where=filled)
    df = filled.sum(axis=1) - 1.0 - n_parameters
    told = df >= 1
    statistic = np.where(told, parts.sum(axis=1), np.nan)
    freedom = np.where(told, df, np.nan)
    return statistic, freedom, np.asarray(chdtrc(freedom, statistic / effect), dtype=np.float64)


def anderson_darling(sizes: Sizes, fit: WeibullFit) -> tuple[Floats, Floats]:
    """Return Anderson and Darling's figure of two-parameter fits to exact sizes, and its p-value.

    A² = -n - Σ (2i - 1)/n (ln F(x_i) + ln(1 - F(x_(n+1-i)))), times 1 + 0.2/√n for the two parameters
    estimated (Stephens 1977, Biometrika 64: 583-588; logarithms of Weibull sizes are Gumbel). The p-value is
    1 / (1 + exp(-0.1 + 1.24 ln A* + 4.48 A*)) (MIL-HDBK-17; from memory), which meets Stephens' table.

    Parameters
    ----------
    sizes : Sizes
        All exact, of order 0, without truncation; weights are whole numbers of sizes that are alike.
    fit : WeibullFit
        Two parameters, of these very sizes.

    Returns
    -------
    statistic, p : numpy.ndarray of float, shape (n_samples,)
        The modified figure A*. NaN in samples without a fit.

    Raises
    ------
    ValueError
        A size is a class, truncated or of order 2, a weight is not whole, or the fit has a location.
    """
    plain = sizes.exact.all() and not sizes.order.any() and not sizes.truncation.any()
    times = np.round(sizes.weight).astype(np.intp)
    if not plain or fit.n_parameters != _TWO or (np.abs(times - sizes.weight) > _ROUND_OFF * times).any():
        raise ValueError(
            "sizes must be exact, of order 0, not truncated, of whole weights; the fit of two parameters"
        )
    order = np.lexsort((sizes.low, sizes.sample))
    order = np.repeat(order, times[order])
    sample = sizes.sample[order]
    n = np.bincount(sample, minlength=sizes.n_samples)
    first = np.cumsum(n) - n
    rank = np.arange(len(sample)) - first[sample]
    mirrored = first[sample] + n[sample] - 1 - rank
    z = (sizes.low[order] / fit.scale[sample]) ** fit.shape[sample]
    with np.errstate(divide="ignore"):
        terms = (2.0 * rank + 1.0) / n[sample] * (np.log(-np.expm1(-z)) - z[mirrored])
    total = np.bincount(sample, terms, sizes.n_samples)
    with np.errstate(divide="ignore", invalid="ignore"):
        statistic = np.where(np.isnan(fit.shape), np.nan, (-n - total) * (1.0 + 0.2 / np.sqrt(n)))
    return statistic, anderson_darling_p(statistic)


def anderson_darling_p(statistic: Floats) -> Floats:
    """Return the p-value of the modified figure A*; NaN stays NaN."""
    with np.errstate(divide="ignore"):
        return 1.0 / (1.0 + np.exp(-0.1 + 1.24 * np.log(statistic) + 4.48 * statistic))
