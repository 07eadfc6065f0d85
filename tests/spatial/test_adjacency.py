"""Neighbours of polygons: squares and Voronoi cells, where geometry says who touches whom."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from scipy.spatial import Voronoi

from plotmap.spatial.adjacency import Contact, neighbours, without_neighbours


def squares(rows: int, columns: int, side_m: float = 100.0) -> np.ndarray:
    """Return squares side by side, row after row."""
    x, y = np.meshgrid(np.arange(columns) * side_m, np.arange(rows) * side_m)
    return shapely.box(x.ravel(), y.ravel(), x.ravel() + side_m, y.ravel() + side_m)


def pairs_of(table) -> list[tuple[int, int]]:
    return list(zip(table["first"], table["second"], strict=True))


@pytest.mark.parametrize(("rows", "columns"), [(1, 1), (1, 6), (3, 4), (7, 5)])
def test_squares_have_the_neighbours_of_a_grid(rows: int, columns: int) -> None:
    # Geometry: r (c - 1) + c (r - 1) edges, and 2 (r - 1)(c - 1) diagonals.
    edges = rows * (columns - 1) + columns * (rows - 1)
    cells = squares(rows, columns)
    by_edge = neighbours(cells)
    assert len(by_edge) == edges
    np.testing.assert_allclose(by_edge["shared_m"], 100.0, atol=0.5)
    assert len(neighbours(cells, contact=Contact.CORNER)) == edges + 2 * (rows - 1) * (columns - 1)
    assert len(neighbours(cells, longer_than_m=0.0, within_m=0.0)) == edges


def test_voronoi_cells_are_neighbours_where_their_points_are_joined_by_a_ridge() -> None:
    # Outside check: scipy's ridges of the same points, with the length of each ridge inside the square.
    points = np.random.default_rng(7).random((60, 2)) * 1000.0
    ring = np.array([[-3000, -3000], [4000, -3000], [-3000, 4000], [4000, 4000]])
    diagram = Voronoi(np.vstack([points, ring]))
    frame = shapely.box(0, 0, 1000, 1000)
    cells = [
        shapely.intersection(shapely.Polygon(diagram.vertices[diagram.regions[region]]), frame)
        for region in diagram.point_region[:60]
    ]
    expected = {}
    for (a, b), ridge in zip(diagram.ridge_points, diagram.ridge_vertices, strict=True):
        if max(a, b) < 60 and min(ridge) >= 0:
            metres = shapely.length(shapely.intersection(shapely.LineString(diagram.vertices[ridge]), frame))
            if metres > 2.0:
                expected[int(min(a, b)), int(max(a, b))] = metres
    found = neighbours(cells, longer_than_m=2.0, within_m=0.01)
    assert pairs_of(found) == sorted(expected)
    np.testing.assert_allclose(found["shared_m"], [expected[pair] for pair in sorted(expected)], atol=0.3)


def test_a_gap_within_the_tolerance_is_no_gap_and_a_wider_one_is() -> None:
    left, right = shapely.box(0, 0, 100, 100), shapely.box(100.05, 0, 200, 100)
    assert len(neighbours([left, right])) == 1
    assert len(neighbours([left, right], within_m=0.04)) == 0
    assert list(without_neighbours(neighbours([left, right], within_m=0.04), 2)) == [0, 1]


def test_polygons_that_overlap_are_neighbours() -> None:
    assert len(neighbours([shapely.box(0, 0, 100, 100), shapely.box(99, 0, 200, 100)])) == 1


def test_an_edge_of_the_stated_length_is_a_corner_and_a_longer_one_an_edge() -> None:
    low = shapely.box(0, 0, 100, 100)
    for shared, expected in ((0.999, 0), (1.001, 1)):
        high = shapely.box(100 - shared, 100, 200, 200)
        assert len(neighbours([low, high], longer_than_m=1.0, within_m=0.0)) == expected
        assert len(neighbours([low, high], contact="corner")) == 1


def test_missing_and_empty_polygons_have_no_neighbours() -> None:
    shapes = [None, shapely.box(0, 0, 1, 1), shapely.Polygon(), shapely.box(1, 0, 2, 1)]
    assert pairs_of(neighbours(shapes, longer_than_m=0.5)) == [(1, 3)]
    assert len(neighbours([None])) == 0


@pytest.mark.parametrize("wrong", [{"longer_than_m": -1.0}, {"within_m": float("nan")}])
def test_lengths_that_are_negative_or_missing_are_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(ValueError, match="must be 0 m or more"):
        neighbours([shapely.box(0, 0, 1, 1)], **wrong)


def test_another_word_for_contact_is_refused() -> None:
    with pytest.raises(ValueError, match="is not a valid Contact"):
        neighbours([shapely.box(0, 0, 1, 1)], contact="queen")
