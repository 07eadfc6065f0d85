from __future__ import annotations

import json

import geopandas as gpd
import numpy as np
import shapely
from shapely.geometry import GeometryCollection, LineString, MultiLineString, Point, box

from plotmap.model.survey import MapLayer
from plotmap.output.webmap.extras import extras
from plotmap.output.webmap.geometry import DEGREE

CRS = "EPSG:32630"
WEST, SOUTH = 499_000, 5_600_000


def layer(*shapes: shapely.Geometry) -> list[MapLayer]:
    """Return one layer named Roads."""
    return [MapLayer("Roads", np.array(shapes, dtype=object))]


def test_lines_polygons_and_points_come_as_lines_and_points() -> None:
    road = LineString([(WEST, SOUTH), (WEST + 500, SOUTH + 10), (WEST + 900, SOUTH + 400)])
    mixed = GeometryCollection(
        [MultiLineString([road, road]), Point(WEST, SOUTH), box(WEST, SOUTH, WEST + 9, SOUTH + 9)]
    )
    (found,) = extras(layer(mixed, Point(WEST + 50, SOUTH)), CRS)
    assert found["name"] == "Roads"
    assert sorted(found["lines"]["vertices"]) == [3, 3, 5]
    assert len(found["points"]["lon"]) == 2
    there = gpd.GeoSeries([Point(WEST, SOUTH)], crs=CRS).to_crs(4326)[0]
    assert abs(found["lines"]["lon"][0] / DEGREE - there.x) <= 1e-6
    assert np.cumsum(found["points"]["lat"])[0] / DEGREE - there.y <= 1e-6


def test_a_straight_line_keeps_its_ends_only() -> None:
    wiggly = LineString([(WEST + 10 * step, SOUTH + 0.3 * (step % 2)) for step in range(50)])
    (found,) = extras(layer(wiggly), CRS)
    assert found["lines"]["vertices"] == [2]


def test_a_layer_without_lines_or_without_points_is_still_one() -> None:
    (found,) = extras(layer(Point(WEST, SOUTH)), CRS)
    assert found["lines"] == {"lon": [], "lat": [], "vertices": []}
    assert extras([], CRS) == []
    json.dumps(found)
