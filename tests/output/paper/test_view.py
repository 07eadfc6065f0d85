"""Scales and places on paper."""

from __future__ import annotations

import numpy as np
import pyproj
import pytest

from plotmap.output.paper.norths import grid_at
from plotmap.output.paper.sizes import Box
from plotmap.output.paper.view import (
    Extent,
    View,
    extent_of,
    fitted,
    round_length,
    round_scale,
    tightest_scale,
)
from plotmap.spatial import true_north_deg


def test_a_kilometre_at_ten_thousand_is_a_hundred_millimetres() -> None:
    view = View(Box(10, 20, 150, 150), 500_000, 5_600_000, 10_000)  # geometry, needs no source
    assert view.length_mm(1000) == pytest.approx(100)
    assert view.length_m(100) == pytest.approx(1000)
    placed = view.place(np.array([[500_000.0, 5_600_000.0], [501_000.0, 5_600_500.0]]))
    assert placed == pytest.approx(np.array([[10, 20], [110, 70]]))


def test_what_is_seen_is_the_box_at_the_scale() -> None:
    seen = View(Box(10, 20, 150, 100), 500_000, 5_600_000, 5_000).extent
    assert (seen.width_m, seen.height_m) == pytest.approx((750, 500))


@pytest.mark.parametrize(
    ("at_least", "expected"),
    [
        (10_000, 10_000),
        (10_001, 12_500),
        (7_600, 10_000),
        (1, 1),
        (24_999, 25_000),
        (25_001, 50_000),
        (76, 100),
    ],
)
def test_scales_are_round(at_least: float, expected: float) -> None:
    assert round_scale(at_least) == pytest.approx(expected)


@pytest.mark.parametrize(
    ("at_most", "expected"), [(999, 500), (1000, 1000), (499, 200), (0.7, 0.5), (3e6, 2e6)]
)
def test_lengths_are_round(at_most: float, expected: float) -> None:
    assert round_length(at_most) == pytest.approx(expected)


def test_the_tightest_scale_just_fits() -> None:
    extent, box = Extent(0, 0, 2_000, 1_000), Box(0, 0, 106, 106)
    assert tightest_scale(extent, box, free_mm=3) == pytest.approx(20_000)
    seen = fitted(extent, box).extent
    assert seen.west_m < extent.west_m < extent.east_m < seen.east_m
    assert seen.centre_m == pytest.approx(extent.centre_m)


def test_the_extent_of_several_bounds_holds_them_all() -> None:
    assert extent_of(np.array([[0, 5, 10, 9], [-3, 6, 4, 20]])) == Extent(-3, 5, 10, 20)


@pytest.mark.parametrize("easting_m", [400_000.0, 500_000.0, 700_000.0])
def test_convergence_is_the_turn_of_true_north_from_the_grid(easting_m: float) -> None:
    crs = pyproj.CRS("EPSG:32630")
    measured = true_north_deg([easting_m], [5_600_000.0], crs)  # by a step to the north on the ellipsoid
    assert grid_at("EPSG:32630", easting_m, 5_600_000.0).convergence_deg == pytest.approx(
        -measured[0], abs=1e-5
    )


def test_the_scale_factor_on_the_central_meridian_of_utm() -> None:
    found = grid_at("EPSG:32630", 500_000, 5_600_000)  # 0.9996 by definition of UTM (EPSG Guidance Note 7-2)
    assert found.scale_factor == pytest.approx(0.9996, abs=1e-9)


def test_a_place_that_the_projection_cannot_show_has_no_norths() -> None:
    found = grid_at("EPSG:32630", 5e8, 5e8)
    assert np.isnan(found.convergence_deg)
    assert np.isnan(found.scale_factor)
