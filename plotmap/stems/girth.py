"""Girths: the belt round a stem, and round a stem with a climber on it."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

_TOLERANCE_CM = 1e-10
_MAX_STEPS = 80


def belt_cm(diameter_cm: ArrayLike, climber_cm: ArrayLike) -> NDArray[np.float64]:
    """Return the length of a taut belt round two circles that touch.

    With radii R and r the belt has two straight parts of 2√(Rr) each and lies on the circles over the angles
    π + 2α and π − 2α, where sin α = (R − r) / (R + r) (plane geometry).

    Parameters
    ----------
    diameter_cm, climber_cm : array_like of float
        Diameters of the two circles in cm, > 0 for the stem and ≥ 0 for the climber; shapes broadcast.

    Returns
    -------
    numpy.ndarray of float
        Belt in cm; NaN where a diameter is.
    """
    stem, climber = np.asarray(diameter_cm, dtype=float) / 2, np.asarray(climber_cm, dtype=float) / 2
    angle = np.arcsin((stem - climber) / (stem + climber))
    straight = 4 * np.sqrt(stem * climber)
    return np.asarray(straight + stem * (np.pi + 2 * angle) + climber * (np.pi - 2 * angle))


def diameter_in_belt_cm(girth_cm: ArrayLike, climber_cm: ArrayLike) -> NDArray[np.float64]:
    """Return the diameter of a stem whose girth was measured round the stem and a climber touching it.

    Inverts `belt_cm` by Newton's method. The belt's slope over the stem's radius, π + 2α + 2 cos α, rises with
    the radius, so from the diameter girth / π (too large) every step comes nearer from above.

    Parameters
    ----------
    girth_cm, climber_cm : array_like of float
        Belt and diameter of the climber in cm, of one shape; the climber > 0.

    Returns
    -------
    numpy.ndarray of float
        Diameter in cm, exact to 1e-9 cm; NaN where the girth is no longer than the climber's own (nothing is
        left for the stem) or an input is NaN.
    """
    girth, climber = np.asarray(girth_cm, dtype=float), np.asarray(climber_cm, dtype=float)
    diameter = np.where(girth > np.pi * climber, girth / np.pi, np.nan)
    for _ in range(_MAX_STEPS):
        angle = np.arcsin((diameter - climber) / (diameter + climber))
        slope = (np.pi + 2 * angle + 2 * np.cos(angle)) / 2
        step = (belt_cm(diameter, climber) - girth) / slope
        diameter = np.maximum(diameter - step, np.finfo(float).tiny)
        if not np.any(np.abs(step) > _TOLERANCE_CM):
            break
    return np.asarray(diameter)
