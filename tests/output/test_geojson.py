"""GeoJSON is read back as JSON, with geopandas and pyogrio. Source: RFC 7946."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import geopandas as gpd
import polars as pl
import pyproj
import pytest
from shapely.geometry import shape

from plotmap.errors import OutputError
from plotmap.model.result_tables import COMPARTMENT_RESULTS, PLOT_RESULTS
from plotmap.model.survey import Stand
from plotmap.output.declared import stand_frames
from plotmap.output.geojson import DECIMALS, write_geojson
from tests.stand_example import stand_example


@pytest.fixture(scope="module")
def stand() -> Stand:
    return stand_example()


@pytest.fixture(scope="module")
def folder(stand, tmp_path_factory) -> Path:
    path = tmp_path_factory.mktemp("json") / "geojson"
    write_geojson(stand, path)
    return path


def features(folder: Path, layer: str) -> list[dict]:
    told = json.loads((folder / f"{layer}.geojson").read_text("utf-8"))
    assert told["type"] == "FeatureCollection"
    assert "crs" not in told  # RFC 7946, 4: always WGS 84
    return list(told["features"])


def test_points_are_longitude_and_latitude_to_a_centimetre(stand, folder) -> None:
    to_degrees = pyproj.Transformer.from_crs(stand.crs, 4326, always_xy=True)
    expected = to_degrees.transform(stand.plots.geometry.x, stand.plots.geometry.y)
    seen = [feature["geometry"]["coordinates"] for feature in features(folder, "plots")]
    for point, lon, lat in zip(seen, *expected, strict=True):
        assert point == pytest.approx([lon, lat], abs=0.6 * 10**-DECIMALS)
        assert all(len(repr(value).partition(".")[2]) <= DECIMALS for value in point)
    assert 10**-DECIMALS / 2 * 111_320 < 0.01  # half a step of a degree on the equator, in m


def test_outer_rings_are_counter_clockwise(folder) -> None:  # RFC 7946, 3.1.6
    for feature in features(folder, "compartments"):
        assert feature["geometry"]["type"] == "MultiPolygon"
        assert all(part.exterior.is_ccw for part in shape(feature["geometry"]).geoms)


def test_properties_are_the_declared_columns_and_missing_is_null(stand, folder) -> None:
    for table in (COMPARTMENT_RESULTS, PLOT_RESULTS):
        rows = [feature["properties"] for feature in features(folder, table.name)]
        expected = stand_frames(stand)[table.name]
        assert [list(row) for row in rows] == [table.names] * len(rows)
        for name in table.names:
            cells = expected[name].cast(pl.String) if expected[name].dtype == pl.Date else expected[name]
            assert [row[name] for row in rows] == cells.to_list(), name
    assert features(folder, "compartments")[-1]["properties"]["basal_area_m2_per_ha"] is None


def test_geopandas_reads_every_layer_in_its_place(stand, folder) -> None:
    for layer, shapes in (("compartments", stand.compartments), ("plots", stand.plots)):
        back = gpd.read_file(folder / f"{layer}.geojson").to_crs(stand.crs)
        assert back.geometry.distance(shapes.geometry).max() < 0.02
        assert back.geometry.area.to_numpy() == pytest.approx(shapes.geometry.area.to_numpy(), rel=1e-3)


def test_a_place_that_is_not_known_is_null_and_tables_are_left_out(stand, tmp_path) -> None:
    plots = stand.plots.copy()
    plots.loc[0, "geometry"] = None
    nowhere = stand.trees.with_columns(easting=pl.lit(None, pl.Float64))
    write_geojson(replace(stand, plots=plots, trees=nowhere), tmp_path)
    assert features(tmp_path, "plots")[0]["geometry"] is None
    assert sorted(path.name for path in tmp_path.iterdir()) == [
        "compartments.geojson",
        "findings.geojson",
        "plots.geojson",
    ]


def test_two_times_give_the_same_bytes(stand, folder, tmp_path) -> None:
    write_geojson(stand, tmp_path)
    assert len(list(folder.iterdir())) == 4
    for path in folder.iterdir():
        assert (tmp_path / path.name).read_bytes() == path.read_bytes()


def test_a_datum_without_a_known_shift_is_refused(stand, tmp_path) -> None:
    kalianpur = "+proj=utm +zone=44 +a=6377299.36 +b=6356098.35 +units=m +type=crs"
    with pytest.raises(OutputError, match="GeoJSON needs longitude and latitude"):
        write_geojson(replace(stand, crs=kalianpur), tmp_path)
