"""Tables of limiting distances and of lengths on slopes, as papers for the crew hold them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class AngleLimits:
    """How far a stem of an angle count may stand, for one basal area factor. Distances in m.

    Attributes
    ----------
    baf_m2_per_ha : float
        Factor, of the level or, with slope rule ground, of the ground.
    dbh_cm : numpy.ndarray of float, shape (n,)
        Diameters over bark.
    level_m : numpy.ndarray of float, shape (n,)
        Level limit to the middle of the stem.
    face_m : numpy.ndarray of float, shape (n,)
        Level limit to the face of the stem: less half the diameter.
    slope_pct : numpy.ndarray of float, shape (m,)
        Slopes from the centre to the stem, 0 first; only 0 where limits hold along the ground.
    slope_m, slope_face_m : numpy.ndarray of float, shape (n, m)
        Both limits measured along the slope.
    """

    baf_m2_per_ha: float
    dbh_cm: Floats
    level_m: Floats
    face_m: Floats
    slope_pct: Floats
    slope_m: Floats
    slope_face_m: Floats


@dataclass(frozen=True, slots=True)
class LengthsOnSlopes:
    """A radius, ring or side of a plot, on slopes. Lengths in m.

    Attributes
    ----------
    kind : str
        ``radius``, ``ring`` or ``side``.
    level_m : float
        As the survey states it.
    from_cm, below_cm : float
        Diameters that a ring is for, `below_cm` infinite for the widest; 0 and infinite for all else.
    slope_pct : numpy.ndarray of float, shape (m,)
        Slopes.
    along_m : numpy.ndarray of float, shape (m,)
        What the tape shows along the slope, straight up or down; the stated length itself where it is laid out
        along the ground.
    same_area_m : numpy.ndarray of float, shape (m,)
        Radius of a circle laid out along the ground that has the stated level area; NaN for sides and where the
        stated radius is laid out along the ground.
    level_area_m2 : numpy.ndarray of float, shape (m,)
        Level area of the circle as it is laid out by `along_m`; NaN for sides.
    """

    kind: str
    level_m: float
    from_cm: float
    below_cm: float
    slope_pct: Floats
    along_m: Floats
    same_area_m: Floats
    level_area_m2: Floats


@dataclass(frozen=True, slots=True)
class DistanceTables:
    """All tables of a survey.

    Attributes
    ----------
    angle_limits : tuple of AngleLimits
        One a basal area factor, rising.
    lengths : tuple of LengthsOnSlopes
        One a radius, ring or side, in the order rings, radii, sides, each rising.
    along_ground : bool
        Whether plots are laid out along the ground (slope rule ground).
    """

    angle_limits: tuple[AngleLimits, ...]
    lengths: tuple[LengthsOnSlopes, ...]
    along_ground: bool
