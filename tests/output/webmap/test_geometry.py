from __future__ import annotations

import geopandas as gpd
import numpy as np
import pytest
import shapely
from shapely.geometry import MultiPolygon, Point, Polygon, box

from plotmap.output.webmap.geometry import DEGREE, Outlines, outlines, points

UTM = "EPSG:32630"
HOLED = Polygon(
    [(500_000, 5_600_000), (500_300, 5_600_000), (500_300, 5_600_300), (500_000, 5_600_300)],
    [[(500_100, 5_600_100), (500_200, 5_600_100), (500_200, 5_600_200), (500_100, 5_600_200)]],
)
TWO_PARTS = MultiPolygon(
    [box(500_400, 5_600_000, 500_500, 5_600_100), box(500_600, 5_600_000, 500_700, 5_600_100)]
)


def rebuilt(found: Outlines) -> list[MultiPolygon]:
    """Put the outlines together again, in WGS 84."""
    xy = np.column_stack([np.cumsum(found.lon), np.cumsum(found.lat)]) / DEGREE
    rings = [ring.tolist() for ring in np.split(xy, np.cumsum(found.vertices)[:-1])]
    ends = np.cumsum(found.rings)
    polygons = [
        Polygon(rings[end - count], rings[end - count + 1 : end])
        for end, count in zip(ends, found.rings, strict=True)
    ]
    ends = np.cumsum(found.polygons)
    return [
        MultiPolygon(polygons[end - count : end]) for end, count in zip(ends, found.polygons, strict=True)
    ]


def test_holes_and_parts_come_back_as_they_were_to_a_decimetre() -> None:
    layer = gpd.GeoDataFrame(geometry=[HOLED, TWO_PARTS], crs=UTM)
    back = gpd.GeoSeries(rebuilt(outlines(layer)), crs=4326).to_crs(UTM)
    assert [len(shape.geoms) for shape in back] == [1, 2]
    assert len(back[0].geoms[0].interiors) == 1
    # half a millionth of a degree is 0.056 m on the meridian (earth's circumference 40 007 km / 360 / 2e6)
    assert (shapely.hausdorff_distance(back.to_numpy(), layer.geometry.to_numpy()) < 0.08).all()


def test_anchors_lie_inside_even_where_the_middle_is_a_hole() -> None:
    found = outlines(gpd.GeoDataFrame(geometry=[HOLED], crs=UTM))
    anchor = gpd.GeoSeries([Point(found.anchor_lon[0] / DEGREE, found.anchor_lat[0] / DEGREE)], crs=4326)
    assert HOLED.contains(anchor.to_crs(UTM)[0])


def test_a_compartment_without_an_outline_has_no_polygons_and_no_anchor() -> None:
    found = outlines(gpd.GeoDataFrame(geometry=[None, box(500_000, 5_600_000, 500_100, 5_600_100)], crs=UTM))
    assert found.polygons.tolist() == [0, 1]
    assert np.isnan(found.anchor_lon[0])
    assert found.anchor_lon[1] > -3.1 * DEGREE


def test_plots_without_a_position_are_left_out_and_named() -> None:
    layer = gpd.GeoDataFrame(
        geometry=[Point(500_000, 5_600_000), None, Point(500_010, 5_600_000), Point()], crs=UTM
    )
    lon, lat, placed = points(layer)
    assert placed.tolist() == [True, False, True, False]
    # the central meridian of zone 30 is 3° W: there easting is 500 000 m (definition of UTM)
    assert np.cumsum(lon)[0] == -3 * DEGREE
    # 10 m east is 10 / (111 320 m × cos 50.55°) degrees = 141 millionths
    assert lon[1] == pytest.approx(141, abs=1)
    assert lat[1] == 0


def test_no_plot_with_a_position_gives_empty_lists() -> None:
    lon, lat, placed = points(gpd.GeoDataFrame(geometry=[None, None], crs=UTM))
    assert lon.size == lat.size == 0
    assert not placed.any()


def test_the_middle_has_as_much_room_as_the_largest_circle_inside() -> None:
    # the largest circle in a square of 200 m has its middle in the middle and a radius of 100 m: geometry; on the
    # page it is larger by 1/cos of the latitude (spherical Mercator, point scale: Snyder 1987, p. 44, from memory)
    square = box(500_000, 5_600_000, 500_200, 5_600_200)
    layer = gpd.GeoDataFrame(geometry=[square, Polygon()], crs=UTM)
    found = outlines(layer)
    middle = gpd.GeoSeries([Point(500_100, 5_600_100)], crs=UTM).to_crs(4326)[0]
    assert found.anchor_lon[0] / DEGREE == pytest.approx(middle.x, abs=5e-5)
    assert found.anchor_lat[0] / DEGREE == pytest.approx(middle.y, abs=5e-5)
    assert found.room[0] == pytest.approx(100 / np.cos(np.radians(middle.y)), rel=0.02)
    assert np.isnan([found.room[1], found.anchor_lon[1]]).all()
