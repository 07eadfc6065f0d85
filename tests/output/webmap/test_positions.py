from __future__ import annotations

import geopandas as gpd
import numpy as np
import pytest
from shapely.geometry import Point

from plotmap.output.webmap.positions import PER_UNIT, positions

PLACES = [Point(511_316.24, 6_027_853.06), Point(511_000.0, 6_027_900.0)]


def test_positions_come_back_to_a_decimetre_with_the_name_of_their_crs() -> None:
    found = positions(gpd.GeoDataFrame(geometry=PLACES, crs="EPSG:32630"))
    assert found is not None
    back = np.column_stack([found["x"], found["y"]]) / PER_UNIT
    assert np.allclose(back, [[511_316.2, 6_027_853.1], [511_000.0, 6_027_900.0]])
    assert found["crs"] == "WGS 84 / UTM zone 30N"
    assert (found["x_name"], found["y_name"], found["unit"]) == ("Easting", "Northing", "m")


def test_feet_stay_feet() -> None:
    # EPSG:2263 is in US survey feet (EPSG registry)
    found = positions(gpd.GeoDataFrame(geometry=PLACES, crs="EPSG:2263"))
    assert found is not None
    assert found["unit"] == "US survey foot"


@pytest.mark.parametrize("places", [[], [Point(-2.8, 54.4)]])
def test_degrees_and_no_plots_have_no_easting(places: list[Point]) -> None:
    assert positions(gpd.GeoDataFrame(geometry=places, crs="EPSG:4326")) is None
