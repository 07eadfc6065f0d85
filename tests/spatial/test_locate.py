"""Points in polygons, by the stated rule."""

import geopandas as gpd
import numpy as np
import pytest
import shapely

from plotmap.spatial import locate

WEST, EAST = shapely.box(0, 0, 100, 100), shapely.box(100, 0, 200, 100)
POLYGONS, NAMES = np.array([EAST, WEST]), ["B2", "A1"]


def one(x, y, polygons=POLYGONS, names=NAMES, preferred=None) -> dict[str, object]:
    """Return the row of one point."""
    wish = None if preferred is None else [preferred]
    return locate([shapely.Point(x, y)], polygons, names, wish).iloc[0].to_dict()


def test_a_point_inside_one_polygon_is_in_it_whatever_the_crew_wrote() -> None:
    for preferred in (None, "A1", "B2", "nowhere"):
        row = one(150, 50, preferred=preferred)
        assert (row["position"], row["on_boundary"], row["several"], row["nearest"]) == (0, False, False, -1)
        assert np.isnan(row["distance_m"])


def test_a_point_on_a_shared_boundary_belongs_to_the_crews_polygon_or_the_first_by_name() -> None:
    assert one(100, 50)["position"] == 1
    assert one(100, 50, preferred="B2")["position"] == 0
    assert one(100, 50, preferred="C3")["position"] == 1
    for preferred in (None, "B2"):
        row = one(100, 50, preferred=preferred)
        assert (row["on_boundary"], row["several"]) == (True, False)


def test_a_point_on_an_outer_boundary_belongs_to_its_polygon() -> None:
    row = one(200, 50, preferred="A1")
    assert (row["position"], row["on_boundary"]) == (0, True)


def test_names_are_ordered_as_plain_text() -> None:
    """Plain text order has "10" before "2" and capitals before small letters."""
    assert one(100, 50, names=["10", "2"])["position"] == 0
    assert one(100, 50, names=["a", "B"])["position"] == 1
    assert one(100, 50, names=["z", None])["position"] == 0


def test_a_missing_name_is_no_wish() -> None:
    assert one(100, 50, names=["z", None], preferred=None)["position"] == 0
    missing = locate([shapely.Point(100, 50)], POLYGONS, ["z", None], [None])
    assert missing.position[0] == 0


def test_a_point_in_overlapping_polygons_is_in_several() -> None:
    polygons = np.array([shapely.box(50, 0, 150, 100), WEST])
    row = one(75, 50, polygons=polygons)
    assert (row["position"], row["several"], row["on_boundary"]) == (1, True, False)
    assert one(75, 50, polygons=polygons, preferred="B2")["position"] == 0


def test_being_inside_counts_more_than_touching() -> None:
    """The point lies on the edge of the overlapping A1 and inside B2."""
    row = one(100, 50, polygons=np.array([shapely.box(50, 0, 150, 100), WEST]))
    assert (row["position"], row["several"], row["on_boundary"]) == (0, False, False)


def test_a_point_in_a_hole_is_in_none() -> None:
    holed = WEST.difference(shapely.box(40, 40, 60, 60))
    row = one(50, 47, polygons=np.array([EAST, holed]))
    assert (row["position"], row["nearest"], row["distance_m"]) == (-1, 1, 7.0)


def test_a_point_outside_has_its_nearest_polygon_and_how_far_it_is() -> None:
    row = one(203, 104)
    assert (row["position"], row["nearest"], row["distance_m"]) == (-1, 0, 5.0)
    assert not row["on_boundary"]


def test_of_two_polygons_as_near_the_same_rule_decides() -> None:
    assert one(100, 110)["nearest"] == 1
    assert one(100, 110, preferred="B2")["nearest"] == 0


def test_points_without_position_are_nowhere_and_near_nothing() -> None:
    found = locate(gpd.GeoSeries([None, shapely.Point(), shapely.Point(50, 50)]), POLYGONS, NAMES)
    assert found.position.tolist() == [-1, -1, 1]
    assert found.nearest.tolist() == [-1, -1, -1]
    assert found.distance_m.isna().all()


def test_missing_and_empty_polygons_hold_nothing() -> None:
    found = locate([shapely.Point(50, 50)], [None, shapely.Polygon(), WEST], ["a", "b", "c"])
    assert found.position.tolist() == [2]


def test_without_polygons_there_is_nothing_near() -> None:
    found = locate([shapely.Point(50, 50)], np.array([], dtype=object), [])
    assert (found.position[0], found.nearest[0]) == (-1, -1)
    assert np.isnan(found.distance_m[0])


def test_without_points_there_are_no_rows_and_all_columns() -> None:
    found = locate(gpd.GeoSeries([]), POLYGONS, NAMES, [])
    assert list(found.columns) == ["position", "on_boundary", "several", "nearest", "distance_m"]
    assert len(found) == 0


def test_the_result_has_the_index_of_the_points() -> None:
    points = gpd.GeoSeries([shapely.Point(50, 50), shapely.Point(150, 50)], index=["p9", "p1"])
    found = locate(points, gpd.GeoSeries(POLYGONS, index=[4, 4]), NAMES)
    assert found.position.to_dict() == {"p9": 1, "p1": 0}


def test_lengths_and_kinds_that_do_not_fit_are_refused() -> None:
    with pytest.raises(ValueError, match="names has 1 entries, but there are 2 polygons"):
        locate([], POLYGONS, ["A1"])
    with pytest.raises(ValueError, match="preferred has 2 entries, but there are 1 points"):
        locate([shapely.Point(0, 0)], POLYGONS, NAMES, ["A1", "A1"])
    with pytest.raises(ValueError, match="points must hold points only"):
        locate([WEST], POLYGONS, NAMES)
