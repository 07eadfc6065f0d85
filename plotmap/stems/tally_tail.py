"""Stems tallied above an open edge: sizes fall off exponentially, with the stated mean."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

TAIL_MEANS = 7.0
"""Beyond so many times its mean excess (one stem in a thousand) the tail is left together in one class."""

Floats = npt.NDArray[np.float64]


def tail_parts(
    begin_cm: npt.ArrayLike, end_cm: npt.ArrayLike, low_cm: npt.ArrayLike, mean_cm: npt.ArrayLike
) -> tuple[Floats, Floats, Floats]:
    """Return what lies in parts of a tail.

    Above the edge the excess x = t − low has the density exp(−x / μ) / μ with μ = mean − low. The whole tail has the
    mean that was stated and the mean square mean² + μ². The part from a to a + w (both excesses) has the share
    exp(−a / μ) − exp(−(a + w) / μ); beyond a the excess is exponential again, cut off at w, with the mean
    a + μ − w q and the mean square of the rest 2 μ² − (w² + 2 μ w) q about a, where q = 1 / (exp(w / μ) − 1)
    (exponential distribution, any textbook).

    Parameters
    ----------
    begin_cm, end_cm : array_like of float, shape (k,)
        Ends of each part in cm; the end may be infinite.
    low_cm, mean_cm : array_like of float, shape (k,)
        Open edge and stated mean of the tail that each part belongs to, in cm; mean > low.

    Returns
    -------
    share, mean, mean_square : numpy.ndarray of float, shape (k,)
        Share of the tail's stems (0 to 1), mean of the sizes in cm and mean of their squares in cm².
    """
    begin, end, low, stated = (np.asarray(part, dtype=float) for part in (begin_cm, end_cm, low_cm, mean_cm))
    excess = stated - low
    start, width = begin - low, end - begin
    finite = np.isfinite(width)
    step = np.where(finite, width, 0.0)
    share = np.exp(-start / excess) * np.where(finite, -np.expm1(-step / excess), 1.0)
    left = np.divide(1.0, np.expm1(step / excess), out=np.zeros_like(step), where=finite & (step > 0))
    beyond = np.where(finite & (step == 0), 0.0, excess - step * left)
    square = np.where(finite & (step == 0), 0.0, 2 * excess**2 - (step**2 + 2 * excess * step) * left)
    return share, begin + beyond, begin**2 + 2 * begin * beyond + square
