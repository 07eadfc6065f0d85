"""Units are exact: 1 in = 0.0254 m and 1 ft = 0.3048 m (International Yard and Pound Agreement, 1959)."""

from __future__ import annotations

import math

import pytest

from plotmap.units import UNITS, Dimension, conversion_factor, units_of


@pytest.mark.parametrize(
    ("dimension", "source", "target", "factor"),
    [
        (Dimension.LENGTH, "in", "cm", 2.54),
        (Dimension.LENGTH, "ft", "m", 0.3048),
        (Dimension.LENGTH, "mm", "cm", 0.1),
        (Dimension.LENGTH, "m", "mm", 1000.0),
        (Dimension.AREA, "ha", "m2", 10_000.0),
        (Dimension.AREA, "ac", "m2", 4046.8564224),  # 43 560 square feet
        (Dimension.AREA, "ac", "ha", 0.40468564224),
        (Dimension.AREA, "ft2", "m2", 0.09290304),
        (Dimension.ANGLE, "gon", "deg", 0.9),  # 400 gon are 360°
    ],
)
def test_factors_are_those_of_the_definitions(
    dimension: Dimension, source: str, target: str, factor: float
) -> None:
    assert conversion_factor(dimension, source, target) == pytest.approx(factor, rel=1e-15)


@pytest.mark.parametrize("unit", UNITS, ids=lambda unit: f"{unit.dimension}-{unit.suffix}")
def test_a_unit_is_its_own_with_a_factor_of_one(unit) -> None:
    assert conversion_factor(unit.dimension, unit.suffix, unit.suffix) == 1.0


def test_degrees_of_slope_have_no_factor() -> None:
    assert math.isnan(conversion_factor(Dimension.SLOPE, "deg", "pct"))


def test_a_unit_of_another_dimension_is_no_key() -> None:
    with pytest.raises(KeyError, match="ha"):
        conversion_factor(Dimension.LENGTH, "ha", "m")
    assert set(units_of(Dimension.SLOPE)) == {"pct", "deg"}
