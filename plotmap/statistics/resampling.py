"""Weights of a rescaled bootstrap, for figures whose error no formula gives."""

from __future__ import annotations

import math

import numpy as np

from plotmap.statistics.estimates import Floats


def rescaled_weights(n: int, draws: int, seed: list[int], sampling_fraction: float = 0.0) -> Floats:
    """Return what each unit of a simple random sample weighs in each bootstrap draw.

    Of n units n − 1 are drawn with replacement; a unit drawn r times weighs
    1 + √(1 − f) · (r · n / (n − 1) − 1). The variance of a mean over the draws is then s² (1 − f) / n in expectation,
    as the formula has it, which the plain bootstrap makes too small by (n − 1) / n (Rao & Wu 1988, Journal of the
    American Statistical Association 83: 231-241).

    Parameters
    ----------
    n : int
        Units, 2 or more.
    draws : int
        1 or more.
    seed : list of int
        Seed; the same seed gives the same weights.
    sampling_fraction : float
        Share f of the population that is in the sample, 0 to 1.

    Returns
    -------
    numpy.ndarray of float, shape (n, draws)
        0 or more; each column sums to n.

    Raises
    ------
    ValueError
        `n` is less than 2: one unit tells nothing about its error.
    """
    if n < 2:  # noqa: PLR2004
        raise ValueError(f"n is {n}, but must be 2 or more: one unit tells nothing about its error")
    counts = np.random.default_rng(seed).multinomial(n - 1, np.full(n, 1 / n), size=draws).T
    return np.asarray(1.0 + math.sqrt(1.0 - sampling_fraction) * (counts * (n / (n - 1)) - 1.0), dtype=float)
