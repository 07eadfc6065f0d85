from __future__ import annotations

import warnings
from pathlib import Path
from typing import Any

import geopandas as gpd
import polars as pl
import pytest
import shapely
from shapely.geometry import LineString, box

from plotmap.fielddata import read_survey
from plotmap.fielddata.map_layers import check_map_species, read_map_layers
from plotmap.model.settings_map import MapLayerSetting

CRS = "EPSG:32630"
WEST, SOUTH = 511_000, 6_027_000
ROAD = LineString([(WEST - 20_000, SOUTH + 100), (WEST + 20_000, SOUTH + 100)])
COMPARTMENTS = gpd.GeoDataFrame(
    {"compartment": ["1"]}, geometry=[box(WEST, SOUTH, WEST + 2000, SOUTH + 2000)], crs=CRS
)


def layer(path: Path, *shapes: Any, crs: str | None = CRS, name: str | None = None) -> MapLayerSetting:
    """Write a file with these shapes and return the setting that names it."""
    frame = gpd.GeoDataFrame({"owner": ["Invented Person"] * len(shapes)}, geometry=list(shapes), crs=crs)
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", "'crs' was not provided")
        frame.to_file(path, layer=name) if name else frame.to_file(path)
    return MapLayerSetting(file=path.name, layer=name or "", name="Roads")


def read(folder: Path, *wanted: MapLayerSetting) -> tuple[Any, list[str]]:
    """Return the layers and the messages of the findings."""
    layers, found = read_map_layers(folder, wanted, COMPARTMENTS)
    assert found.codes <= {"map-layer-unusable"}
    return layers, found.frame["message"].to_list()


def test_a_layer_is_cut_to_the_surroundings_of_the_compartments(tmp_path: Path) -> None:
    (found,), messages = read(tmp_path, layer(tmp_path / "roads.gpkg", ROAD))
    assert messages == []
    assert found.name == "Roads"
    # a quarter of 2 km on each side of 2 km: geometry, needs no source
    assert shapely.total_bounds(found.shapes).tolist() == [WEST - 500, SOUTH + 100, WEST + 2500, SOUTH + 100]


@pytest.mark.parametrize("name", ["roads.geojson", "roads.shp", "roads.gpkg"])
def test_a_layer_in_another_crs_comes_to_that_of_the_survey(tmp_path: Path, name: str) -> None:
    degrees = gpd.GeoSeries([shapely.segmentize(ROAD, 500)], crs=CRS).to_crs(4326)[0]
    (found,), messages = read(tmp_path, layer(tmp_path / name, degrees, crs="EPSG:4326"))
    assert messages == []
    assert abs(shapely.total_bounds(found.shapes)[1] - (SOUTH + 100)) < 0.5


def test_an_absolute_path_and_a_layer_by_name_are_read(tmp_path: Path) -> None:
    entry = layer(tmp_path / "all.gpkg", ROAD, name="paths")
    there = MapLayerSetting(file=str(tmp_path / "all.gpkg"), layer="paths")
    elsewhere = tmp_path / "survey"
    elsewhere.mkdir()
    (found,), messages = read(elsewhere, there)
    assert (found.name, messages) == ("paths", [])
    _, messages = read(tmp_path, entry.model_copy(update={"layer": "nothing"}))
    assert "all.gpkg cannot be read" in messages[0]


def test_what_cannot_be_used_is_told_and_the_rest_is_taken(tmp_path: Path) -> None:
    (tmp_path / "text.gpkg").write_text("no layer at all")
    far = LineString([(WEST + 90_000, SOUTH), (WEST + 91_000, SOUTH)])
    layers, messages = read(
        tmp_path,
        MapLayerSetting(file="missing.gpkg"),
        MapLayerSetting(file="text.gpkg"),
        layer(tmp_path / "no_crs.shp", ROAD, crs=None),
        layer(tmp_path / "far.gpkg", far),
        layer(tmp_path / "empty.gpkg", None),
        layer(tmp_path / "good.gpkg", ROAD),
    )
    assert len(layers) == 1
    said = " | ".join(messages)
    assert len(messages) == 5
    for words in (
        "'missing.gpkg' of the map is left out: there is no file missing.gpkg at that place",
        "text.gpkg cannot be read",
        "no_crs.shp says no CRS",
        "nothing of far.gpkg lies near the compartments",
        "empty.gpkg has no lines, polygons or points",
    ):
        assert words in said, words


@pytest.mark.parametrize(
    ("species", "codes"), [("oak", set()), ("", set()), ("aok", {"map-species-unknown"})]
)
def test_a_species_that_no_table_has_is_told(species: str, codes: set[str]) -> None:
    frames = [pl.DataFrame({"species": ["oak", None]}), pl.DataFrame({"plot": ["1"]})]
    assert check_map_species(species, frames).codes == codes


def test_a_file_that_the_map_draws_is_an_input_and_not_called_unused(tmp_path: Path) -> None:
    (tmp_path / "survey.toml").write_text(
        'plots = {design = "circle", radius_m = 12.62}\nsurvey = {crs = "EPSG:32630"}\n'
        '[map]\nlayers = [{file = "roads.gpkg"}, {file = "compartments.gpkg", layer = "streams"}]\n'
    )
    (tmp_path / "plots.csv").write_text(f"plot,easting,northing\nP1,{WEST + 900},{SOUTH + 900}\n")
    (tmp_path / "trees.csv").write_text("plot,d1_cm\nP1,31.5\n")
    COMPARTMENTS.to_file(tmp_path / "compartments.gpkg", layer="compartments")
    layer(tmp_path / "roads.gpkg", ROAD)
    layer(tmp_path / "compartments.gpkg", ROAD, name="streams")
    layer(tmp_path / "others.gpkg", ROAD)
    survey = read_survey(tmp_path)
    assert [one.name for one in survey.map_layers] == ["roads.gpkg", "streams"]
    assert [entry.name for entry in survey.inputs].count("roads.gpkg") == 1
    assert [entry.name for entry in survey.inputs].count("compartments.gpkg") == 1
    unused = survey.findings.frame.filter(pl.col("code") == "file-unused")["file"].to_list()
    assert unused == ["others.gpkg"]
