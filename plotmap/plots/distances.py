"""Limiting distances by diameter and slope, and radii and sides of plots on slopes."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from plotmap.errors import SettingsError
from plotmap.model.limits import AngleLimits, DistanceTables, Floats, LengthsOnSlopes
from plotmap.model.settings import Design, SlopeRule
from plotmap.plots.stem_places import LIMIT_M_PER_CM

if TYPE_CHECKING:
    from plotmap.model.settings import PlotsSection
    from plotmap.model.survey import Survey

ANGLE_SLOPES_PCT = (0.0, 10.0, 20.0, 30.0, 40.0, 50.0, 60.0)
PLOT_SLOPES_PCT = tuple(float(slope) for slope in range(0, 101, 5))
_CM_PER_M = 100.0
_MOST = 60
"""Sizes of plots that tables are made for."""
_COLUMNS = (
    "kind", "baf_m2_per_ha", "dbh_cm", "from_dbh_cm", "below_dbh_cm", "slope_pct", "level_m", "level_to_face_m",
    "along_slope_m", "along_slope_to_face_m", "same_area_radius_m", "level_area_m2",
)  # fmt: skip
_ONE_SIZE_M = 0.005
"""An area whose radius is this near to a stated radius has no table of its own."""


def secant(slope_pct: Floats | float) -> Floats:
    """Return the length along a slope of one level metre, √(1 + s²); geometry, needs no source."""
    return np.asarray(np.sqrt(1 + (np.asarray(slope_pct, dtype=float) / 100) ** 2), dtype=np.float64)


def angle_limits(baf_m2_per_ha: float, dbh_cm: Floats, slope_pct: Floats) -> AngleLimits:
    """Return the limiting distances of an angle count.

    A stem of diameter d (cm) is in up to R = d / (2 √BAF) metres from the centre, both level, to the middle of the
    stem; to its face it is half a diameter less; along a slope s both are √(1 + s²) times as long. Source: AWF
    Goettingen lecture wiki, Bitterlich sampling (after Kleinn 2007); the slope is geometry.

    Parameters
    ----------
    baf_m2_per_ha : float
        Basal area factor, above 0.
    dbh_cm : numpy.ndarray of float, shape (n,)
        Diameters over bark in cm.
    slope_pct : numpy.ndarray of float, shape (m,)
        Slope of the line from the centre to the stem, in per cent.

    Returns
    -------
    AngleLimits
        In m.
    """
    level = LIMIT_M_PER_CM * dbh_cm / math.sqrt(baf_m2_per_ha)
    face = level - dbh_cm / 2 / _CM_PER_M
    longer = secant(slope_pct)
    return AngleLimits(
        baf_m2_per_ha, dbh_cm, level, face, slope_pct, np.outer(level, longer), np.outer(face, longer)
    )


def same_area_radius_m(radius_m: float, slope_pct: Floats | float) -> Floats:
    """Return the radius of a circle laid out along a slope whose level area is that of a level circle.

    r (1 + s²)^¼: the circle on the slope has a level area of π r'² / √(1 + s²). Geometry, needs no source.

    Parameters
    ----------
    radius_m : float
        Radius of the level circle in m.
    slope_pct : float or numpy.ndarray of float
        Steepest slope across the plot, in per cent.
    """
    return np.asarray(radius_m * np.sqrt(secant(slope_pct)), dtype=np.float64)


def lengths_on_slopes(
    kind: str,
    level_m: float,
    slope_pct: Floats,
    *,
    along_ground: bool,
    ring: tuple[float, float] = (0.0, math.inf),
) -> LengthsOnSlopes:
    """Return a radius, ring or side on slopes.

    Parameters
    ----------
    kind : str
        ``radius``, ``ring`` or ``side``.
    level_m : float
        As the survey states it, in m.
    slope_pct : numpy.ndarray of float, shape (m,)
        In per cent.
    along_ground : bool
        Whether it is laid out along the ground as it is, and plotmap corrects the area.
    ring : tuple of float
        Diameters in cm that a ring is for: from, and below.
    """
    longer = secant(slope_pct)
    is_round = kind != "side"
    nothing = np.full(longer.shape, math.nan)
    along = np.full(longer.shape, level_m) if along_ground else level_m * longer
    same = nothing if along_ground or not is_round else same_area_radius_m(level_m, slope_pct)
    area = math.pi * level_m**2 / longer if along_ground else np.full(longer.shape, math.pi * level_m**2)
    return LengthsOnSlopes(kind, level_m, *ring, slope_pct, along, same, area if is_round else nothing)


def distance_tables(survey: Survey, up_to_cm: float) -> DistanceTables:
    """Return the tables for every design and size that the settings or the plots of a survey state.

    Parameters
    ----------
    survey : Survey
        Reads the settings, and design and sizes of the plots.
    up_to_cm : float
        Largest diameter of the limiting distances, in cm.

    Returns
    -------
    DistanceTables
        Limits from the smallest diameter that is measured (5 cm where that is less), each cm.

    Raises
    ------
    SettingsError
        Nothing has a limiting distance or a size (a full count), the plots have too many sizes, or no diameter is
        left below `up_to_cm`.
    """
    rules = survey.settings.plots
    along_ground = rules.slope is SlopeRule.GROUND
    slopes = np.array(PLOT_SLOPES_PCT)
    factors, radii, sides = _sizes(survey)
    n_sizes = len(factors) + len(radii) + len(sides)
    if n_sizes > _MOST:
        raise SettingsError(
            f"the plots have {n_sizes} sizes, but tables are made for at most {_MOST}: "
            "state a common size in [plots], and keep sizes of their own for the few plots that need them."
        )
    dbh = np.arange(max(5.0, math.floor(survey.settings.stems.min_dbh_cm)), math.floor(up_to_cm) + 1)
    if factors and not dbh.size:
        raise SettingsError(
            f"up-to is {up_to_cm:g} cm, but stems are measured from {survey.settings.stems.min_dbh_cm:g} cm on: give "
            "more."
        )
    angle_slopes = np.array((0.0,) if along_ground else ANGLE_SLOPES_PCT)
    lengths = [
        lengths_on_slopes("ring", radius, slopes, along_ground=along_ground, ring=ring)
        for radius, ring in _rings(rules, survey)
    ]
    lengths += [lengths_on_slopes("radius", radius, slopes, along_ground=along_ground) for radius in radii]
    lengths += [lengths_on_slopes("side", side, slopes, along_ground=along_ground) for side in sides]
    if not factors and not lengths:
        raise SettingsError(
            f"design is {rules.design}, and no plot has a radius, sides or a basal area factor: there is no "
            "distance to make a table of. State the size of the plots in [plots]."
        )
    limits = tuple(angle_limits(factor, dbh, angle_slopes) for factor in factors)
    return DistanceTables(limits, tuple(lengths), along_ground)


def distance_frame(tables: DistanceTables) -> pl.DataFrame:
    """Return all tables as one long frame: a row a size, diameter and slope; what a row has no use for is missing."""
    nothing = pl.DataFrame(schema={"kind": pl.String, **dict.fromkeys(_COLUMNS[1:], pl.Float64)})
    parts = [_angle_frame(limits) for limits in tables.angle_limits]
    parts += [_length_frame(lengths) for lengths in tables.lengths]
    return pl.concat([nothing, *parts], how="diagonal")


def _angle_frame(limits: AngleLimits) -> pl.DataFrame:
    """Return the limits of one factor, slope by slope for each diameter."""
    slopes = limits.slope_pct
    n_slopes = len(slopes)
    return pl.DataFrame(
        {
            "kind": ["angle-count"] * (len(limits.dbh_cm) * n_slopes),
            "baf_m2_per_ha": np.full(len(limits.dbh_cm) * n_slopes, limits.baf_m2_per_ha),
            "dbh_cm": np.repeat(limits.dbh_cm, n_slopes),
            "slope_pct": np.tile(slopes, len(limits.dbh_cm)),
            "level_m": np.repeat(limits.level_m, n_slopes),
            "level_to_face_m": np.repeat(limits.face_m, n_slopes),
            "along_slope_m": limits.slope_m.ravel(),
            "along_slope_to_face_m": limits.slope_face_m.ravel(),
        }
    )


def _length_frame(lengths: LengthsOnSlopes) -> pl.DataFrame:
    """Return one radius, ring or side on all slopes."""
    ring = lengths.kind == "ring"
    return pl.DataFrame(
        {
            "kind": [lengths.kind] * len(lengths.slope_pct),
            "from_dbh_cm": [lengths.from_cm if ring else None] * len(lengths.slope_pct),
            "below_dbh_cm": [lengths.below_cm if ring and math.isfinite(lengths.below_cm) else None]
            * len(lengths.slope_pct),
            "slope_pct": lengths.slope_pct,
            "level_m": np.full(len(lengths.slope_pct), lengths.level_m),
            "along_slope_m": lengths.along_m,
            "same_area_radius_m": lengths.same_area_m,
            "level_area_m2": lengths.level_area_m2,
        },
        schema_overrides={"from_dbh_cm": pl.Float64, "below_dbh_cm": pl.Float64},
    ).with_columns(pl.col("same_area_radius_m", "level_area_m2").fill_nan(None))


def _sizes(survey: Survey) -> tuple[list[float], list[float], list[float]]:
    """Return the factors, radii and sides that settings and plots state, each once, rising."""
    rules, plots = survey.settings.plots, survey.plots
    design = plots["design"].astype(object).where(plots["design"].notna(), str(rules.design))
    wanted = {str(rules.design), *design}

    def of(kind: Design, *columns: str) -> set[float]:
        """Return the sizes of plots of one design."""
        rows = plots[design == str(kind)]
        return {float(size) for column in columns for size in rows[column].dropna()}

    factors, radii = of(Design.ANGLE_COUNT, "baf_m2_per_ha"), of(Design.CIRCLE, "radius_m")
    areas = of(Design.CIRCLE, "area_m2")
    sides = of(Design.RECTANGLE, "length_m", "width_m") | of(Design.STRIP, "length_m", "width_m")
    if Design.ANGLE_COUNT in wanted and rules.baf_m2_per_ha:
        factors.add(rules.baf_m2_per_ha)
    if Design.CIRCLE in wanted:
        radii |= {rules.radius_m} if rules.radius_m else set()
        areas |= {rules.area_m2} if rules.area_m2 else set()
    of_areas = (math.sqrt(area / math.pi) for area in areas)
    radii |= {other for other in of_areas if all(abs(other - radius) > _ONE_SIZE_M for radius in radii)}
    if {Design.RECTANGLE, Design.STRIP} & wanted and rules.width_m:
        sides.add(rules.width_m)
    return sorted(factors), sorted(radii), sorted(sides)


def _rings(rules: PlotsSection, survey: Survey) -> list[tuple[float, tuple[float, float]]]:
    """Return the radius of each ring with the diameters it is for; none where no plot is nested."""
    if rules.design is not Design.NESTED and Design.NESTED not in set(survey.plots["design"].dropna()):
        return []
    ends = [*(nest.min_dbh_cm for nest in rules.nests[1:]), math.inf]
    return [(nest.radius_m, (nest.min_dbh_cm, below)) for nest, below in zip(rules.nests, ends, strict=True)]
