"""Units of field sheets: what a heading's suffix means and how it becomes the unit plotmap computes in."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

M2_PER_HA = 10_000.0
"""Square metres in a hectare."""
M2_PER_CM2 = math.pi / 40_000
"""Cross-section in m² of a stem whose diameter squared is 1 cm²."""


class Dimension(StrEnum):
    """What is measured, so that only suffixes of the same kind are taken for one another."""

    LENGTH = "length"
    AREA = "area"
    SLOPE = "slope"
    ANGLE = "angle"


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit that a heading may end in.

    Attributes
    ----------
    suffix : str
        As written after the last underscore of a heading, for instance ``cm``.
    dimension : Dimension
        What it measures.
    factor : float
        Multiplies a value into the base unit of the dimension (metre, square metre, degree). Slopes in
        degrees have none: they go through the tangent.
    label : str
        As printed for people.
    """

    suffix: str
    dimension: Dimension
    factor: float
    label: str


# Exact by definition: 1 in = 0.0254 m, 1 ft = 0.3048 m (International Yard and Pound Agreement 1959).
UNITS: tuple[Unit, ...] = (
    Unit("mm", Dimension.LENGTH, 0.001, "mm"),
    Unit("cm", Dimension.LENGTH, 0.01, "cm"),
    Unit("m", Dimension.LENGTH, 1.0, "m"),
    Unit("in", Dimension.LENGTH, 0.0254, "in"),
    Unit("ft", Dimension.LENGTH, 0.3048, "ft"),
    Unit("m2", Dimension.AREA, 1.0, "m²"),
    Unit("ha", Dimension.AREA, 10_000.0, "ha"),
    Unit("ft2", Dimension.AREA, 0.3048**2, "ft²"),
    Unit("ac", Dimension.AREA, 43_560 * 0.3048**2, "ac"),
    Unit("pct", Dimension.SLOPE, 1.0, "%"),
    Unit("deg", Dimension.SLOPE, float("nan"), "°"),
    Unit("deg", Dimension.ANGLE, 1.0, "°"),
    Unit("gon", Dimension.ANGLE, 0.9, "gon"),
)


def units_of(dimension: Dimension) -> dict[str, Unit]:
    """Return the units of one dimension by their suffix."""
    return {unit.suffix: unit for unit in UNITS if unit.dimension is dimension}


def conversion_factor(dimension: Dimension, from_suffix: str, to_suffix: str) -> float:
    """Return what a value with `from_suffix` is multiplied by to be in `to_suffix`.

    Parameters
    ----------
    dimension : Dimension
        Any but ``SLOPE`` between per cent and degrees, which is not a factor.
    from_suffix, to_suffix : str
        Suffixes of `UNITS`, for instance ``in`` and ``cm``.

    Returns
    -------
    float
        2.54 for inches to centimetres.

    Raises
    ------
    KeyError
        A suffix is not one of the dimension.
    """
    units = units_of(dimension)
    source, target = units[from_suffix], units[to_suffix]
    return 1.0 if source is target else source.factor / target.factor
