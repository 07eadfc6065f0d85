"""Grids: steps by geometry, points inside polygons, even over all starts."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from scipy.spatial import cKDTree

from plotmap.spatial.grids import GridKind, grid_steps, points_of_grid
from plotmap.statistics.draws import uniforms

SQUARE = shapely.box(0, 0, 1000, 1000)
START = np.array([3.0, 7.0])


def _grid(
    kind: GridKind, cell_m2: float = 2500.0, bearing_deg: float = 27.0, ratio: float = 3.0
) -> tuple[np.ndarray, np.ndarray]:
    steps = grid_steps(kind, cell_m2, bearing_deg, ratio)
    return steps, np.column_stack(points_of_grid(np.array([SQUARE]), steps, START)[:2])


@pytest.mark.parametrize("kind", list(GridKind))
@pytest.mark.parametrize("bearing_deg", [0.0, 27.0, 180.0, 350.0])
def test_the_steps_span_the_cell_and_the_first_has_the_bearing(kind: GridKind, bearing_deg: float) -> None:
    first, second = grid_steps(kind, 1234.0, bearing_deg, 5.0)
    assert abs(first[0] * second[1] - first[1] * second[0]) == pytest.approx(1234.0)
    assert math.degrees(math.atan2(*first)) % 360 == pytest.approx(bearing_deg)


def test_nearest_neighbours_on_a_square_grid_are_the_spacing_apart() -> None:
    _, points = _grid(GridKind.SQUARE)
    distance = cKDTree(points).query(points, k=2)[0][:, 1]
    np.testing.assert_allclose(distance, 50.0, rtol=1e-9)


def test_a_point_inside_a_triangular_grid_has_six_neighbours_at_one_distance() -> None:
    _, points = _grid(GridKind.TRIANGULAR)
    inner = points[(np.abs(points - 500) < 400).all(axis=1)]
    distance = cKDTree(points).query(inner, k=8)[0][:, 1:]
    step = math.sqrt(2500 * 2 / math.sqrt(3))  # a cell is a² √3 / 2: geometry
    np.testing.assert_allclose(distance[:, :6], step, rtol=1e-9)
    np.testing.assert_allclose(distance[:, 6], step * math.sqrt(3), rtol=1e-9)


def test_strips_are_lines_that_lie_farther_apart_than_the_points_on_them() -> None:
    steps, points = _grid(GridKind.STRIPS)
    along, between = np.hypot(*steps.T)
    assert between == pytest.approx(3 * along)
    assert steps[0] @ steps[1] == pytest.approx(0)
    across = (points - START) @ (steps[1] / between)
    assert (np.abs(across / between - np.round(across / between)) < 1e-9).all()
    assert len(np.unique(np.round(across / between))) > 3


@pytest.mark.parametrize("kind", list(GridKind))
def test_the_points_are_all_nodes_inside_and_no_others(kind: GridKind) -> None:
    # two routes: every node far and wide, tried against the polygon by shapely
    shape = shapely.Polygon(
        [(0, 0), (900, 100), (700, 800), (400, 300), (100, 900)], [[(300, 150), (500, 150), (400, 250)]]
    )
    steps = grid_steps(kind, 900.0, 63.0, 2.0)
    nodes = np.array([(i, j) for i in range(-150, 151) for j in range(-150, 151)]) @ steps + START
    expected = nodes[shapely.contains_xy(shape, *nodes.T)]
    x, y, polygon = points_of_grid(np.array([None, shape]), steps, START)
    found = np.column_stack([x, y])
    assert len(found) == len(expected) > 100
    assert cKDTree(expected).query(found)[0].max() < 1e-6
    assert set(polygon) == {1}


def test_a_point_where_polygons_overlap_comes_once_and_many_small_ones_share_one_grid() -> None:
    steps = grid_steps(GridKind.SQUARE, 400.0, 11.0)
    whole = points_of_grid(np.array([SQUARE]), steps, START)
    tiles = np.array(
        [shapely.box(x, y, x + 100, y + 100) for x in range(0, 1000, 100) for y in range(0, 1000, 100)]
    )
    tiled = points_of_grid(tiles, steps, START)
    assert {tuple(point) for point in np.round(np.column_stack(tiled[:2]), 6)} == {
        tuple(point) for point in np.round(np.column_stack(whole[:2]), 6)
    }
    twice = points_of_grid(np.array([shapely.box(0, 0, 600, 1000), SQUARE]), steps, START)
    assert len(twice[0]) == len(whole[0])
    assert (twice[2][twice[0] < 600] == 0).all()
    assert (twice[2][twice[0] > 600] == 1).all()


def test_over_all_starts_every_place_is_as_likely_as_any_other() -> None:
    # 3000 starts: counts on the 25 parts of an odd shape are even by area, and fail where a start is not uniform
    shape = np.array([shapely.box(0, 0, 100, 100), shapely.box(100, 20, 150, 70)])
    steps = grid_steps(GridKind.TRIANGULAR, 900.0, 40.0)
    drawn = uniforms(5, (0,), 6000).reshape(-1, 2)

    def counts(starts) -> np.ndarray:
        points = [np.column_stack(points_of_grid(shape, steps, start)[:2]) for start in starts]
        where = np.concatenate(points)
        return np.histogram2d(where[:, 0], where[:, 1], bins=[[0, 50, 100, 150], [0, 20, 70, 100]])[0].ravel()

    area = np.array([50 * 20, 50 * 50, 50 * 30, 50 * 20, 50 * 50, 50 * 30, 0, 50 * 50, 0], dtype=float)
    found, expected = counts(drawn @ steps), 3000 * area / 900
    assert np.abs(found - expected)[area > 0].max() < 0.05 * expected.max()
    assert found[area == 0].sum() == 0
    skewed = counts(drawn**3 @ steps)
    assert np.abs(skewed - expected)[area > 0].max() > 0.05 * expected.max()


def test_a_place_smaller_than_a_cell_gets_a_point_now_and_then_and_nothing_gets_none() -> None:
    steps = grid_steps(GridKind.SQUARE, 10_000.0, 0.0)
    assert len(points_of_grid(np.array([shapely.box(0, 0, 5, 9)]), steps, START)[0]) == 1
    assert len(points_of_grid(np.array([shapely.box(10, 10, 15, 15)]), steps, START)[0]) == 0
    assert len(points_of_grid(np.array([None, shapely.Polygon()], dtype=object), steps, START)[0]) == 0


def test_a_grid_that_is_much_too_narrow_is_refused() -> None:
    with pytest.raises(ValueError, match="take a wider one"):
        points_of_grid(np.array([SQUARE]), grid_steps(GridKind.SQUARE, 0.001, 0.0), START)
