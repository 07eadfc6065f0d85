"""The overlap of circles and polygons, where geometry gives the answer (needs no source)."""

import numpy as np
import pytest
import shapely
from shapely.geometry import box

from plotmap.spatial import circle_overlap, circle_overlap_m2, circle_parts

PI = np.pi
YARD = shapely.box(0, 0, 100, 100)


def overlap(x, y, radius, polygon) -> float:
    """Return one overlap."""
    return circle_overlap_m2([x], [y], [radius], [polygon])[0]


def test_a_circle_inside_is_whole_and_one_outside_is_nothing() -> None:
    assert overlap(50, 50, 10, YARD) == PI * 100
    assert overlap(150, 50, 10, YARD) == 0.0


def test_a_circle_that_touches_the_boundary_from_inside_or_outside() -> None:
    assert overlap(10, 50, 10, YARD) == pytest.approx(PI * 100, rel=1e-12)
    assert overlap(-10, 50, 10, YARD) == pytest.approx(0.0, abs=1e-9)


def test_a_circle_at_an_edge_has_a_half_and_at_a_corner_a_quarter() -> None:
    assert overlap(50, 0, 10, YARD) == pytest.approx(PI * 50, rel=1e-12)
    assert overlap(100, 100, 10, YARD) == pytest.approx(PI * 25, rel=1e-12)


def test_a_polygon_inside_the_circle_is_whole() -> None:
    assert overlap(50, 50, 100, YARD) == pytest.approx(10_000, rel=1e-12)


def test_a_hole_is_taken_off_wherever_the_centre_is() -> None:
    holed = YARD.difference(shapely.box(45, 45, 55, 55))
    assert overlap(50, 50, 20, holed) == pytest.approx(PI * 400 - 100, rel=1e-12)
    assert overlap(50, 50, 2, holed) == 0.0
    assert overlap(45, 50, 2, holed) == pytest.approx(PI * 2, rel=1e-12)


def test_a_polygon_in_parts_is_the_sum_of_them() -> None:
    parts = shapely.MultiPolygon([shapely.box(0, 0, 40, 100), shapely.box(60, 0, 100, 100)])
    gap = shapely.box(40, -100, 60, 200)
    assert overlap(50, 50, 30, parts) == pytest.approx(PI * 900 - overlap(50, 50, 30, gap), rel=1e-12)


def test_orientation_and_repeated_vertices_do_not_matter() -> None:
    turned = shapely.reverse(YARD)
    doubled = shapely.Polygon([(0, 0), (0, 0), (100, 0), (100, 100), (100, 100), (0, 100), (0, 100)])
    for polygon in (turned, doubled):
        assert overlap(3, 4, 10, polygon) == pytest.approx(overlap(3, 4, 10, YARD), rel=1e-13)


def test_a_strip_narrower_than_the_circle_is_two_segments_less() -> None:
    """Strip of half width h through the centre: πr² − 2(r² acos(h/r) − h sqrt(r² − h²))."""
    r, h = 12.62, 3.0
    segment = r**2 * np.arccos(h / r) - h * np.sqrt(r**2 - h**2)
    assert overlap(50, 0, r, shapely.box(0, -h, 100, h)) == pytest.approx(PI * r**2 - 2 * segment, rel=1e-12)


def test_far_from_the_origin_the_overlap_is_as_exact() -> None:
    """Coordinates of UTM; a half-plane through the centre halves the circle."""
    east, north = 512_345.75, 6_012_345.5
    assert overlap(
        east, north, 12.62, shapely.box(east, north - 5e4, east + 5e4, north + 5e4)
    ) == pytest.approx(PI * 12.62**2 / 2, rel=1e-9)


def test_missing_centres_and_missing_or_empty_polygons_have_no_overlap() -> None:
    areas = circle_overlap_m2(
        [np.nan, 50, 50, 50], [50, 50, 50, 50], 10.0, [YARD, None, shapely.Polygon(), YARD]
    )
    np.testing.assert_array_equal(np.isnan(areas), [True, True, True, False])


def test_no_circles_have_no_overlaps() -> None:
    assert len(circle_overlap_m2([], [], [], [])) == 0


def test_small_blocks_give_what_one_block_gives(monkeypatch) -> None:
    rng = np.random.default_rng(5)
    x, y, radius = rng.uniform(-10, 110, 60), rng.uniform(-10, 110, 60), rng.uniform(1, 60, 60)
    wavy = shapely.buffer(shapely.Point(50, 50), 45, quad_segs=30)
    polygons = np.array([YARD, wavy], dtype=object)[rng.integers(0, 2, 60)]
    together = circle_overlap_m2(x, y, radius, polygons)
    monkeypatch.setattr(circle_overlap, "_BLOCK_VERTICES", 50)
    monkeypatch.setattr(circle_overlap, "_BLOCK_CIRCLES", 7)
    np.testing.assert_array_equal(circle_overlap_m2(x, y, radius, polygons), together)
    assert len(np.unique(together)) > 40


@pytest.mark.parametrize("radius", [0.0, -1.0, np.nan, np.inf])
def test_a_radius_that_is_none_is_refused(radius) -> None:
    with pytest.raises(ValueError, match="radius_m must be above 0 m"):
        circle_overlap_m2([50, 50], [50, 50], [1.0, radius], [YARD, YARD])


def test_what_is_no_polygon_or_of_another_length_is_refused() -> None:
    with pytest.raises(ValueError, match="polygons and multi-polygons only"):
        overlap(0, 0, 1, shapely.Point(0, 0))
    with pytest.raises(ValueError, match="must be of one length"):
        circle_overlap_m2([1, 2], [1, 2], 1.0, [YARD])


def test_the_parts_of_a_circle_add_up_to_what_lies_in_the_polygons() -> None:
    squares = np.array([box(0, 0, 10, 10), box(10, 0, 20, 10), box(0, 10, 10, 20), None], dtype=object)
    circle, polygon, area = circle_parts([10.0, 100.0], [10.0, 100.0], [4.0, 4.0], squares)
    assert circle.tolist() == [0, 0, 0]
    assert polygon.tolist() == [0, 1, 2]
    np.testing.assert_allclose(area, [4 * np.pi] * 3, rtol=1e-12)
