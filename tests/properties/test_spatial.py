"""What holds for every circle, polygon and point."""

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.ops import split

from plotmap.spatial import circle_overlap_m2, locate

places = st.floats(-60, 60).map(lambda v: round(v, 2))
radii = st.floats(0.5, 50).map(lambda v: round(v, 2))
relaxed = settings(deadline=None, max_examples=60)


@st.composite
def polygons(draw) -> shapely.Polygon:
    """Draw a star-shaped polygon round the origin, sometimes with a hole."""
    reach = draw(st.lists(st.floats(10, 60), min_size=3, max_size=12))
    angle = np.linspace(0, 2 * np.pi, len(reach), endpoint=False)
    shell = shapely.Polygon(np.column_stack((reach * np.cos(angle), reach * np.sin(angle))))
    hole = shapely.Point(0, 0).buffer(draw(st.floats(0.5, 4)), quad_segs=2)
    return shell.difference(hole) if draw(st.booleans()) else shell


def overlap(x, y, radius, polygon) -> float:
    """Return one overlap in m²."""
    return circle_overlap_m2([x], [y], [radius], [polygon])[0]


@relaxed
@given(places, places, radii, polygons())
def test_the_overlap_is_that_of_a_circle_drawn_with_many_corners(x, y, radius, polygon) -> None:
    """Against shapely; 4 × 2000 corners leave out 1e-7 of the circle."""
    drawn = shapely.Point(x, y).buffer(radius, quad_segs=2000).intersection(polygon).area
    circle = np.pi * radius**2
    assert overlap(x, y, radius, polygon) == pytest.approx(drawn, abs=3e-7 * circle + 1e-9)


@relaxed
@given(places, places, radii, polygons(), st.floats(0, np.pi))
def test_the_overlaps_of_two_halves_add_up(x, y, radius, polygon, angle) -> None:
    reach = 200 * np.array([np.cos(angle), np.sin(angle)])
    halves = split(polygon, shapely.LineString([-reach, reach])).geoms
    assume(all(half.is_valid for half in halves))
    pieces = sum(overlap(x, y, radius, half) for half in halves)
    assert pieces == pytest.approx(overlap(x, y, radius, polygon), abs=1e-7)


@relaxed
@given(places, places, radii, polygons(), st.floats(-5e5, 5e5), st.floats(-6e6, 6e6))
def test_the_overlap_does_not_change_with_the_place(x, y, radius, polygon, east, north) -> None:
    """Coordinates of 6 000 km are rounded to 1e-9 m, so that areas move by 1e-9 m a metre of edge."""
    moved = overlap(x + east, y + north, radius, affinity.translate(polygon, east, north))
    assert moved == pytest.approx(overlap(x, y, radius, polygon), abs=1e-6)


@relaxed
@given(places, places, radii, polygons(), st.floats(0, 360))
def test_the_overlap_does_not_change_with_the_direction(x, y, radius, polygon, degrees) -> None:
    turned = affinity.rotate(
        shapely.GeometryCollection([polygon, shapely.Point(x, y)]), degrees, origin=(0, 0)
    )
    rotated, centre = turned.geoms
    assert overlap(centre.x, centre.y, radius, rotated) == pytest.approx(
        overlap(x, y, radius, polygon), abs=1e-8
    )


@relaxed
@given(places, places, radii, polygons())
def test_a_circle_and_what_is_outside_the_polygon_make_up_the_circle(x, y, radius, polygon) -> None:
    outside = shapely.box(-500, -500, 500, 500).difference(polygon)
    both = overlap(x, y, radius, polygon) + overlap(x, y, radius, outside)
    assert both == pytest.approx(np.pi * radius**2, rel=1e-9)


grid = st.integers(0, 40).map(lambda v: v / 4)


@relaxed
@given(st.lists(st.tuples(grid, grid), min_size=1, max_size=30), st.permutations(range(25)))
def test_every_point_of_a_tiled_square_is_in_exactly_one_tile_whatever_the_order(points, order) -> None:
    """Tiles of 2 m on 10 × 10 m; points on a quarter-metre grid are often on edges and corners."""
    column, row = np.divmod(np.array(order), 5)
    tiles = shapely.box(2.0 * column, 2.0 * row, 2.0 * column + 2, 2.0 * row + 2)
    names = np.array([f"{c}{r}" for c, r in zip(column, row, strict=True)], dtype=object)
    x, y = np.array(points, float).T
    found = locate(shapely.points(x, y), tiles, names)
    assert (found.position >= 0).all()
    assert not found.several.any()
    on_edge = (x % 2 == 0) | (y % 2 == 0)
    np.testing.assert_array_equal(found.on_boundary, on_edge)
    first_column, first_row = (np.maximum(np.ceil(part / 2) - 1, 0).astype(int) for part in (x, y))
    assert names[found.position].tolist() == [f"{c}{r}" for c, r in zip(first_column, first_row, strict=True)]


@relaxed
@given(st.lists(st.tuples(grid, grid), min_size=1, max_size=20), st.randoms())
def test_the_crews_tile_is_taken_wherever_it_is_touched(points, random) -> None:
    tiles = shapely.box(
        *np.array([(2 * c, 2 * r, 2 * c + 2, 2 * r + 2) for c in range(5) for r in range(5)]).T
    )
    names = [f"tile {number:02d}" for number in range(25)]
    wishes = [random.choice(names) for _ in points]
    spots = shapely.points(*np.array(points, float).T)
    found = locate(spots, tiles, names, wishes)
    for spot, wish, position in zip(spots, wishes, found.position, strict=True):
        touched = tiles[names.index(wish)].intersects(spot)
        assert (names[position] == wish) == touched
