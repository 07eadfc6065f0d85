"""Simplified outlines share what they shared, and move no farther than is said."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pytest
import shapely
from shapely.geometry import MultiPolygon, Point, Polygon, box

from plotmap.output.webmap import simplify
from plotmap.output.webmap.arcs import arcs_of
from plotmap.output.webmap.simplify import TOLERANCES_M, simplified
from tests.benchmarks.large_stand import large_stand

UTM = "EPSG:32630"
FINEST = TOLERANCES_M[0]


def winding(count: int = 30) -> gpd.GeoDataFrame:
    return large_stand(count, count).compartments[["geometry"]]


def overlapping(count: int = 30) -> gpd.GeoDataFrame:
    """Return winding compartments of which one covers a strip of its neighbour: no valid coverage."""
    layer = winding(count)
    shapes = layer.geometry.to_numpy().copy()
    shapes[0] = shapely.union(shapes[0], shapely.buffer(shapely.intersection(shapes[0], shapes[1]), 3.0))
    return layer.set_geometry(shapes)


def vertices(layer: gpd.GeoDataFrame) -> int:
    return int(shapely.get_num_coordinates(layer.geometry.to_numpy()).sum())


def test_shared_boundaries_are_thinned_alike_and_stay_a_coverage() -> None:
    layer = winding()
    found = simplified(layer)
    assert vertices(found.layer) < vertices(layer) / 2
    assert shapely.coverage_is_valid(layer.geometry.to_numpy())
    assert shapely.coverage_is_valid(found.layer.geometry.to_numpy())
    moved = shapely.hausdorff_distance(layer.geometry.to_numpy(), found.layer.geometry.to_numpy())
    assert 0 < moved.max() == pytest.approx(found.moved_m)
    assert found.moved_m <= FINEST


def test_without_a_coverage_shared_boundaries_are_thinned_alike_too() -> None:
    layer = overlapping()
    before = layer.geometry.to_numpy()
    assert not shapely.coverage_is_valid(before)
    found = simplified(layer)
    after = found.layer.geometry.to_numpy()
    assert vertices(found.layer) < vertices(layer) / 2
    assert shapely.is_valid(after).all()
    assert shapely.coverage_is_valid(after[6:])  # all but the one that overlaps and those it touches
    # Douglas & Peucker 1973: no vertex left out lies farther from the line than the tolerance
    assert 0 < found.moved_m <= FINEST
    overlap = shapely.area(shapely.intersection(before[0], before[1]))
    assert shapely.area(shapely.intersection(after[0], after[1])) == pytest.approx(overlap, rel=0.2)


def test_a_thin_spike_keeps_its_length() -> None:
    # 60 m long and 4 mm wide at its foot: 0.12 m², which simplifying by area (0.5² = 0.25 m²) would drop
    spike = Polygon([(0, 0), (100, 0), (100, 50), (160, 50.002), (100, 50.004), (100, 100), (0, 100)])
    layer = gpd.GeoDataFrame(geometry=[spike], crs=UTM)
    lost = shapely.coverage_simplify(np.array([spike]), FINEST)
    assert shapely.hausdorff_distance(lost[0], spike) > 50
    assert simplified(layer).moved_m <= FINEST


def test_boundaries_that_would_cross_keep_their_vertices() -> None:
    # the lower boundary bulges by 0.4 m round a spot that the island's boundary bulges into: both bulges alone are
    # below the tolerance, but without the lower one the island would stick out (geometry)
    lower = [(0, 0), (45, 0), (50, -0.4), (55, 0), (100, 0)]
    land = Polygon([*lower, (100, 100), (0, 100)], [[(40, 20), (50, -0.2), (60, 20)]])
    island = Polygon([(40, 20), (50, -0.2), (60, 20)])
    layer = gpd.GeoDataFrame(geometry=[land, island], crs=UTM)
    assert shapely.coverage_is_valid(layer.geometry.to_numpy())
    after = simplified(layer).layer.geometry.to_numpy()
    assert shapely.coverage_is_valid(after)
    assert shapely.is_valid(after).all()
    assert shapely.equals(after[0], land)


def test_too_many_vertices_get_a_coarser_tolerance(monkeypatch: pytest.MonkeyPatch) -> None:
    layer = winding()
    usual = simplified(layer)
    monkeypatch.setattr(simplify, "MOST_VERTICES", vertices(usual.layer) - 1)
    coarser = simplified(layer)
    assert vertices(coarser.layer) < vertices(usual.layer)
    assert usual.moved_m < coarser.moved_m <= TOLERANCES_M[-1]
    monkeypatch.setattr(simplify, "MOST_VERTICES", vertices(usual.layer))
    assert vertices(simplified(layer).layer) == vertices(usual.layer)


def test_the_tolerance_is_in_metres_whatever_the_unit() -> None:
    # 1 US survey foot is 1200/3937 m (definition)
    layer = winding()
    feet = shapely.transform(layer.geometry.to_numpy(), lambda xy: (xy - [500_000, 5_600_000]) * 3937 / 1200)
    found = simplified(gpd.GeoDataFrame(geometry=feet, crs="EPSG:2263"))
    assert found.moved_m == pytest.approx(simplified(layer).moved_m, rel=0.05)


def test_what_cannot_be_simplified_stays_as_it_is() -> None:
    squares = gpd.GeoDataFrame(geometry=[box(0, 0, 9, 9), None, Polygon(), box(5, 5, 19, 19)], crs=UTM)
    found = simplified(squares)
    assert found.layer is squares
    assert found.moved_m == 0
    degrees = winding().to_crs(4326)
    assert simplified(degrees).layer is degrees


def test_small_islands_and_holes_are_not_lost() -> None:
    tiny = Point(50, 50).buffer(0.3)
    holed = Polygon(box(0, 0, 100, 100).exterior, [tiny.exterior])
    parts = MultiPolygon([box(200, 0, 300, 100), Point(250, 150).buffer(0.2)])
    layer = gpd.GeoDataFrame(geometry=[holed, tiny, parts, box(90, 90, 120, 120)], crs=UTM)
    after = simplified(layer).layer.geometry.to_numpy()
    assert shapely.get_num_geometries(after).tolist() == [1, 1, 2, 1]
    assert shapely.area(after) == pytest.approx(shapely.area(layer.geometry.to_numpy()), rel=1e-4)


@pytest.mark.parametrize("layer", [winding(7), overlapping(9)])
def test_arcs_put_together_again_are_the_polygons(layer: gpd.GeoDataFrame) -> None:
    before = layer.geometry.to_numpy()
    cut = arcs_of(before)
    after, fallen = cut.polygons(cut.lines, before)
    assert not fallen.any()
    assert shapely.equals(after, before).all()


def test_what_neighbours_share_is_one_line() -> None:
    before = winding(7).geometry.to_numpy()
    together = shapely.union_all(shapely.boundary(before))  # holds what is shared once
    assert shapely.length(arcs_of(before).lines).sum() == pytest.approx(shapely.length(together))


def test_a_ring_without_neighbours_and_its_copy_are_one_line() -> None:
    circle = Point(0, 0).buffer(50)
    turned = Polygon(np.roll(shapely.get_coordinates(circle)[:-1], 7, axis=0)[::-1])
    cut = arcs_of(np.array([circle, turned]))
    assert len(cut.lines) == 1
    assert shapely.equals(cut.polygons(cut.lines, np.array([circle, turned]))[0], [circle, turned]).all()
