"""Coordinates of the page against pyproj at places that the fit has never seen."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pytest
from numpy.typing import NDArray
from pyproj import Transformer
from shapely.geometry import Point, box

from plotmap.output.webmap.grid import grid


def evaluated(
    found: dict[str, object], lon: NDArray[np.float64], lat: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return easting and northing as page/place.js computes them: T_n(cos a) = cos(n a), needs no source."""
    u = np.arccos((lon - found["lon"]) / found["half_lon"])  # type: ignore[operator]
    v = np.arccos((lat - found["lat"]) / found["half_lat"])  # type: ignore[operator]
    degree = int(str(found["degree"]))
    terms = [np.cos(i * u) * np.cos(j * v) for i in range(degree + 1) for j in range(degree + 1 - i)]
    return np.array([np.tensordot(found[axis], terms, 1) for axis in ("x", "y")])  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("crs", "middle", "side_m", "most_m"),
    [
        ("EPSG:32630", (511_500, 6_028_000), 3_000, 0.01),
        ("EPSG:32644", (500_000, 2_210_000), 60_000, 0.01),
        ("EPSG:27700", (577_275, 69_740), 20_000, 0.05),
        (
            "EPSG:31256",
            (0, 340_000),
            30_000,
            1.0,
        ),  # shifts of datum that change at borders: said, not smoothed over
        ("EPSG:2056", (2_600_000, 1_200_000), 100_000, 0.05),
        ("EPSG:2263", (980_000, 190_000), 50_000, 0.05),
    ],
)
def test_the_error_stated_holds_at_places_that_were_not_fitted(
    crs: str, middle: tuple[float, float], side_m: float, most_m: float
) -> None:
    half = side_m / 2
    square = box(middle[0] - half, middle[1] - half, middle[0] + half, middle[1] + half)
    found = grid(gpd.GeoDataFrame(geometry=[square], crs=crs))
    assert found is not None
    rng = np.random.default_rng(5)
    lon = found["lon"] + found["half_lon"] * rng.uniform(-1, 1, 4000)
    lat = found["lat"] + found["half_lat"] * rng.uniform(-1, 1, 4000)
    there = np.array(Transformer.from_crs(4326, crs, always_xy=True).transform(lon, lat))
    off_m = np.hypot(*(evaluated(found, lon, lat) - there)) * found["metres"]
    assert off_m.max() <= found["error_m"] + 0.001
    assert found["error_m"] <= most_m


def test_the_fit_reaches_an_extent_beyond_the_survey_and_names_its_crs() -> None:
    square = box(500_000, 5_600_000, 510_000, 5_610_000)
    found = grid(gpd.GeoDataFrame(geometry=[square, None], crs="EPSG:32630"))
    assert found is not None
    assert (found["crs"], found["unit"]) == ("WGS 84 / UTM zone 30N", "m")
    assert (found["x_name"], found["y_name"]) == ("Easting", "Northing")
    lon, lat = Transformer.from_crs(32630, 4326, always_xy=True).transform(519_000, 5_619_000)
    assert abs(lon - found["lon"]) < found["half_lon"]
    assert abs(lat - found["lat"]) < found["half_lat"]


def test_there_is_no_grid_without_a_place_or_in_degrees() -> None:
    assert grid(gpd.GeoDataFrame(geometry=[None], crs="EPSG:32630")) is None
    assert grid(gpd.GeoDataFrame(geometry=[Point(7, 51)], crs="EPSG:4326")) is None
