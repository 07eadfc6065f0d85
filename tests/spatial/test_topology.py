"""Faults of polygons, on shapes whose faults are plain."""

import geopandas as gpd
import numpy as np
import pytest
import shapely

from plotmap.spatial import invalid_reasons, overlaps

BOW_TIE = shapely.Polygon([(0, 0), (10, 10), (10, 0), (0, 10)])


def test_an_invalid_polygon_is_named_with_the_place_and_valid_ones_are_not() -> None:
    reasons = invalid_reasons([BOW_TIE, shapely.box(0, 0, 1, 1), None, shapely.Polygon()])
    assert reasons.tolist() == ["Self-intersection[5 5]", None, None, None]


def test_overlapping_pairs_are_found_with_their_area_and_neighbours_are_not() -> None:
    squares = gpd.GeoSeries(
        [shapely.box(90, 0, 200, 100), shapely.box(0, 0, 100, 100), shapely.box(200, 0, 300, 100)]
    )
    found = overlaps(squares)
    assert found.to_dict("records") == [{"first": 0, "second": 1, "area_m2": 1000.0}]


def test_slivers_are_left_out_up_to_the_area_said() -> None:
    pair = [shapely.box(0, 0, 10, 10), shapely.box(9, 0, 20, 10)]
    assert len(overlaps(pair, more_than_m2=9.99)) == 1
    assert len(overlaps(pair, more_than_m2=10.0)) == 0


def test_a_polygon_inside_another_and_one_drawn_twice_overlap() -> None:
    inner, outer = shapely.box(4, 4, 6, 6), shapely.box(0, 0, 10, 10)
    found = overlaps([outer, inner, outer])
    np.testing.assert_array_equal(found.to_numpy(), [[0, 1, 4.0], [0, 2, 100.0], [1, 2, 4.0]])


def test_invalid_missing_and_empty_polygons_are_passed_over() -> None:
    found = overlaps([None, BOW_TIE, shapely.Polygon(), shapely.box(0, 0, 10, 10), shapely.box(0, 0, 5, 5)])
    assert found[["first", "second"]].to_numpy().tolist() == [[3, 4]]


def test_no_polygons_have_no_overlaps() -> None:
    assert list(overlaps([]).columns) == ["first", "second", "area_m2"]


@pytest.mark.parametrize("area", [-1.0, float("nan")])
def test_an_area_below_zero_is_refused(area) -> None:
    with pytest.raises(ValueError, match=r"more_than_m2 is .*, but must be 0 m² or more"):
        overlaps([], more_than_m2=area)
