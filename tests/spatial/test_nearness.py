"""Distances to boundaries: plain geometry of squares, worked by hand."""

import numpy as np
import pytest
import shapely

from plotmap.spatial import near_boundaries

WEST, EAST = shapely.box(0, 0, 100, 100), shapely.box(100, 0, 200, 100)


def _near(x: float, y: float, own: int, limit_m: float = 10, shapes=(WEST, EAST)) -> dict[str, float] | None:
    rows = near_boundaries(np.array([shapely.Point(x, y)]), np.array([own]), np.array(shapes), limit_m)
    return rows.iloc[0].to_dict() if len(rows) else None


def test_a_point_near_the_common_boundary_is_near_its_neighbour() -> None:
    found = _near(97, 50, 0)
    assert found == {"point": 0, "boundary_m": 3, "neighbour": 1, "neighbour_m": 3, "edge_m": 50}


def test_a_point_near_the_outer_edge_has_no_neighbour() -> None:
    found = _near(4, 50, 0)
    assert found is not None
    assert (found["boundary_m"], found["neighbour"], found["edge_m"]) == (4, -1, 4)
    assert np.isnan(found["neighbour_m"])


def test_a_point_in_the_corner_is_near_both() -> None:
    found = _near(101, 2, 1)
    assert found == {"point": 0, "boundary_m": 1, "neighbour": 0, "neighbour_m": 1, "edge_m": 2}


@pytest.mark.parametrize(("x", "near"), [(90.001, True), (90.0, False), (50.0, False)])
def test_a_point_exactly_as_far_as_the_limit_is_not_near(x: float, *, near: bool) -> None:
    assert (_near(x, 50, 0) is not None) is near


def test_the_boundary_of_a_hole_counts() -> None:
    ring = shapely.box(0, 0, 100, 100).difference(shapely.box(40, 40, 60, 60))
    found = _near(37, 50, 0, shapes=(ring,))
    assert found is not None
    assert (found["boundary_m"], found["neighbour"], found["edge_m"]) == (3, -1, 3)
    filled = _near(37, 50, 0, shapes=(ring, shapely.box(40, 40, 60, 60)))
    assert filled is not None
    assert (filled["neighbour"], filled["edge_m"]) == (1, 37)


def test_the_nearest_of_several_neighbours_is_taken_and_the_first_of_equals() -> None:
    row = [shapely.box(x, 0, x + 10, 100) for x in (0, 10, 20)]
    found = _near(14, 50, 1, limit_m=20, shapes=row)
    assert found is not None
    assert (found["neighbour"], found["neighbour_m"]) == (0, 4)
    middle = _near(15, 50, 1, limit_m=20, shapes=row)
    assert middle is not None
    assert middle["neighbour"] == 0


def test_points_without_polygon_or_place_are_left_out_and_rows_are_kept() -> None:
    points = np.array(
        [shapely.Point(99, 50), None, shapely.Point(50, 50), shapely.Point(199, 50)], dtype=object
    )
    found = near_boundaries(points, np.array([-1, 0, 0, 1]), np.array([WEST, EAST]), 5)
    assert found["point"].tolist() == [3]
    assert not len(near_boundaries(np.empty(0, object), np.empty(0, int), np.array([WEST]), 5))
