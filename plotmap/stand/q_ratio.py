"""The ratio of stems from size class to size class."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from plotmap.model.class_rule import ClassRule
from plotmap.stand.class_shapes import ScopeClasses

_Floats = npt.NDArray[np.float64]
_EDGES_WIDTH_CM = 5.0
"""Width that q is given for where the classes have edges of their own."""
_LEAST_CLASSES = 3


@dataclass(frozen=True, slots=True)
class QRatios:
    """The ratio of stems from class to class of every scope; NaN where there are too few classes.

    Attributes
    ----------
    q, se, r2 : numpy.ndarray of float
        Ratio, its standard error from the scatter about the line, share of the variation explained.
    width_cm : float
        Width of diameter that q belongs to.
    low_cm, high_cm, n : numpy.ndarray of float
        Range and number of the classes.
    """

    q: _Floats
    se: _Floats
    r2: _Floats
    width_cm: float
    low_cm: _Floats
    high_cm: _Floats
    n: _Floats


def q_ratios(classes: ScopeClasses, rule: ClassRule) -> QRatios:
    """Fit a line through ln(stems per cm) by class middle, from the fullest class up.

    ln N(d) = ln k - b d by least squares weighted with the stems counted, since the variance of ln N goes with
    1 / n; q = exp(b w) for classes of width w (de Liocourt 1898; Meyer 1952). Stems per cm, so that classes
    may differ in width. Empty classes have no logarithm and are passed over, open ones have no middle.

    Parameters
    ----------
    classes : ScopeClasses
        Of all scopes.
    rule : ClassRule
        Its width, if it has one.
    """
    width_cm = _EDGES_WIDTH_CM if rule.width_cm is None else rule.width_cm * rule.diameter_per_size
    width = classes.high_cm - classes.low_cm
    closed = ~np.isnan(width) & (classes.count > 0)
    density = np.where(closed, classes.stems / np.where(closed, width, 1.0), 0.0)
    fullest = np.argmax(density, axis=1)
    used = closed & (np.arange(width.shape[1]) >= fullest[:, None])
    n = used.sum(axis=1)
    weight = np.where(used, classes.count, 0.0)
    x = np.where(used, (classes.low_cm + classes.high_cm) / 2.0, 0.0)
    y = np.log(np.where(used, density, 1.0))
    told = n >= _LEAST_CLASSES
    with np.errstate(invalid="ignore", divide="ignore"):
        total = weight.sum(axis=1)
        dx = x - ((weight * x).sum(axis=1) / total)[:, None]
        dy = y - ((weight * y).sum(axis=1) / total)[:, None]
        xx, xy, yy = ((weight * a * b).sum(axis=1) for a, b in ((dx, dx), (dx, dy), (dy, dy)))
        slope = xy / xx
        residual = np.maximum(yy - slope * xy, 0.0)
        q = np.where(told, np.exp(-slope * width_cm), np.nan)
        se = q * width_cm * np.sqrt(residual / (n - 2) / xx)
        r2 = np.where(told & (yy > 0), 1.0 - residual / yy, np.nan)
    last = width.shape[1] - 1 - np.argmax(used[:, ::-1], axis=1)
    here = np.arange(len(q))
    return QRatios(
        q,
        se,
        r2,
        width_cm,
        np.where(told, classes.low_cm[here, fullest], np.nan),
        np.where(told, classes.high_cm[here, last], np.nan),
        np.where(told, n, np.nan),
    )
