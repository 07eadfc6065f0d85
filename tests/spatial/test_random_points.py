"""Random points: inside their polygons, and even over the area."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from scipy import stats

from plotmap.spatial.random_points import random_points
from plotmap.statistics.draws import uniforms

SQUARE = shapely.box(0, 0, 1000, 1000)


def test_random_points_are_even_over_polygons_with_holes_and_parts() -> None:
    holed = shapely.Polygon(SQUARE.exterior, [shapely.box(200, 200, 800, 800).exterior])
    shapes = np.array(
        [shapely.MultiPolygon([holed, shapely.box(2000, 0, 2100, 640)]), shapely.box(0, 2000, 1000, 2640)]
    )
    x, y, polygon = random_points(shapes, 30_000, lambda turn, n: uniforms(4, (turn,), n))
    assert len(x) == 30_000
    assert shapely.contains_xy(shapes[polygon], x, y).all()
    # geometry: 640 000 m² of the holed square, 64 000 m² of its part, 640 000 m² of the other
    counts = [(polygon == 1).sum(), (x > 1500).sum(), ((polygon == 0) & (x < 1500)).sum()]
    assert stats.chisquare(counts, 30_000 * np.array([640, 64, 640]) / 1344).pvalue > 1e-4
    other = polygon == 1
    cells = np.histogram2d(x[other], y[other], bins=[10, 8], range=[[0, 1000], [2000, 2640]])[0].ravel()
    assert stats.chisquare(cells).pvalue > 1e-4


def test_random_points_are_the_same_when_they_are_drawn_again() -> None:
    def draw(turn: int, n: int) -> np.ndarray:
        return uniforms(4, (turn,), n)

    first = random_points(np.array([SQUARE]), 50, draw)
    again = random_points(np.array([SQUARE]), 50, draw)
    np.testing.assert_array_equal(first[0], again[0])
    assert len(random_points(np.array([SQUARE]), 0, draw)[0]) == 0


def test_random_points_need_an_area() -> None:
    with pytest.raises(ValueError, match="no area"):
        random_points(
            np.array([None, shapely.Polygon()], dtype=object), 5, lambda turn, n: uniforms(1, (turn,), n)
        )
