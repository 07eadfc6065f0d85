"""The GeoPackage is read back with pyogrio, geopandas and sqlite3 and compared with the stand it was made from.

Table definitions and extension rows: OGC 12-128r18 (GeoPackage 1.3.1). Requirements by number, and GDAL's own
validator: test_geopackage_standard.py.
"""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from typing import Any

import geopandas as gpd
import polars as pl
import pyogrio
import pytest
import shapely
from polars.testing import assert_frame_equal

import plotmap
from plotmap.model.columns import Kind
from plotmap.model.findings import Findings, finding
from plotmap.model.result_tables import RESULT_TABLES
from plotmap.model.survey import Stand
from plotmap.output.declared import stand_frames
from plotmap.output.geopackage import write_geopackage
from plotmap.output.geopackage_relations import STAND_RELATIONS
from tests.stand_example import stand_example

SPATIAL = {"compartments": "MultiPolygon", "plots": "Point", "trees": "Point", "findings": "Point"}


@pytest.fixture(scope="module")
def stand() -> Stand:
    return stand_example()


@pytest.fixture(scope="module")
def package(stand, tmp_path_factory) -> Path:
    path = tmp_path_factory.mktemp("package") / "stand.gpkg"
    write_geopackage(stand, path)
    return path


def query(path: Path, sql: str) -> list[tuple[Any, ...]]:
    with closing(sqlite3.connect(path)) as database:
        return database.execute(sql).fetchall()


@pytest.mark.parametrize("table", RESULT_TABLES, ids=lambda table: table.name)
def test_every_table_comes_back_with_its_columns_kinds_and_missing_values(stand, package, table) -> None:
    _, cells = pyogrio.read_arrow(package, layer=table.name, read_geometry=False)
    back = pl.DataFrame(pl.from_arrow(cells))
    assert back.columns == table.names
    assert_frame_equal(back, stand_frames(stand)[table.name], check_exact=True)


@pytest.mark.parametrize("table", RESULT_TABLES, ids=lambda table: table.name)
def test_cells_are_stored_as_the_declared_kind_and_never_as_nan_or_empty_text(package, table) -> None:
    stored = {Kind.NUMBER: {"real"}, Kind.COUNT: {"integer"}}
    for column in table.columns:
        found = {
            word
            for (word,) in query(package, f'SELECT DISTINCT typeof("{column.name}") FROM {table.name}')  # noqa: S608
        }
        assert found <= stored.get(column.kind, {"text"}) | {"null"}
    dates = query(package, "SELECT DISTINCT date FROM plots")
    assert dates == [("2026-05-14",)]


def test_layers_have_the_declared_geometry_and_the_crs_of_the_stand(package) -> None:
    kinds = dict(pyogrio.list_layers(package).tolist())
    without = {"layer_styles": None} | {relation.mapping: None for relation in STAND_RELATIONS}
    assert kinds == {table.name: SPATIAL.get(table.name) for table in RESULT_TABLES} | without
    assert {pyogrio.read_info(package, layer=name)["crs"] for name in SPATIAL} == {"EPSG:32630"}


def test_compartments_and_plots_lie_where_they_lay(stand, package) -> None:
    polygons = gpd.read_file(package, layer="compartments")
    assert polygons.geometry.geom_equals(stand.compartments.geometry).all()
    assert set(polygons.geom_type) == {"MultiPolygon"}
    assert gpd.read_file(package, layer="plots").geometry.geom_equals(stand.plots.geometry).all()


def test_stems_are_points_where_they_were_placed_and_a_table_where_none_was(stand, package, tmp_path) -> None:
    placed = gpd.read_file(package, layer="trees").geometry
    assert placed.x.tolist() == stand.trees["easting"].to_list()
    nowhere = stand.trees.with_columns(easting=pl.lit(None, pl.Float64))
    write_geopackage(replace(stand, trees=nowhere), tmp_path / "stand.gpkg")
    assert dict(pyogrio.list_layers(tmp_path / "stand.gpkg").tolist())["trees"] is None


def test_a_plot_without_a_position_has_no_geometry(stand, tmp_path) -> None:
    plots = stand.plots.copy()
    plots.loc[0, "geometry"] = None
    plots.loc[1, "geometry"] = shapely.Point()
    write_geopackage(replace(stand, plots=plots), tmp_path / "stand.gpkg")
    assert query(tmp_path / "stand.gpkg", "SELECT plot FROM plots WHERE geom IS NULL") == [
        ("P001",),
        ("P002",),
    ]


def test_heights_of_vertices_are_dropped_and_multi_polygons_stay(stand, tmp_path) -> None:
    compartments = stand.compartments.copy()
    two = shapely.union_all(compartments.geometry[[0, 2]].to_numpy())
    compartments.loc[0, "geometry"] = shapely.force_3d(two, 100.0)
    write_geopackage(replace(stand, compartments=compartments), tmp_path / "stand.gpkg")
    back = gpd.read_file(tmp_path / "stand.gpkg", layer="compartments").geometry[0]
    assert back.equals(two)
    assert not back.has_z


def test_findings_lie_on_their_plot_else_in_their_compartment_else_nowhere(stand, tmp_path) -> None:
    findings = Findings.join(
        [
            finding("plot-without-stems", "a", "at its plot", plot="P002", compartment="05"),
            finding("plot-without-stems", "b", "in its compartment", compartment="05"),
            finding("plot-without-stems", "c", "of an unknown plot", plot="P999", compartment="04"),
            finding("column-unknown", "d", "of a whole file"),
        ]
    )
    write_geopackage(replace(stand, findings=findings), tmp_path / "stand.gpkg")
    back = gpd.read_file(tmp_path / "stand.gpkg", layer="findings").set_index("file").geometry
    polygons = stand.compartments.set_index("compartment").geometry
    assert back["a"].equals(stand.plots.set_index("plot").geometry["P002"])
    assert polygons["05"].contains(back["b"])
    assert polygons["04"].contains(back["c"])
    assert back["d"] is None


def test_no_findings_and_no_plot_positions_still_make_layers(stand, tmp_path) -> None:
    plots = stand.plots.set_geometry(gpd.GeoSeries([None] * len(stand.plots), crs=stand.crs))
    write_geopackage(replace(stand, plots=plots, findings=Findings.none()), tmp_path / "stand.gpkg")
    assert pyogrio.read_info(tmp_path / "stand.gpkg", layer="findings")["features"] == 0
    assert pyogrio.read_info(tmp_path / "stand.gpkg", layer="plots")["features"] == len(plots)


def test_every_column_is_described_with_its_unit(package) -> None:
    rows = query(package, "SELECT table_name, column_name, name, title, description FROM gpkg_data_columns")
    described = {row[:2]: row[2:] for row in rows}
    for table in RESULT_TABLES:
        for column in table.columns:
            name, title, description = described.pop((table.name, column.name))
            assert (name, title) == (column.heading, column.title)
            assert description.startswith(column.meaning)
            assert column.unit in description
    assert described == {}


def test_a_column_of_choices_has_a_code_list_with_every_word_and_its_meaning(package) -> None:
    rows = query(
        package,
        "SELECT d.table_name, d.column_name, c.value, c.description FROM gpkg_data_columns d "
        "JOIN gpkg_data_column_constraints c USING (constraint_name) WHERE c.constraint_type = 'enum'",
    )
    declared = [
        (table.name, column.name, word, f"{word}: {meaning}")
        for table in RESULT_TABLES
        for column in table.columns
        for word, meaning in zip(column.choices, column.explained, strict=True)
    ]
    assert sorted(rows) == sorted(declared)
    assert {("plots", "state"), ("compartments", "status"), ("findings", "severity")} <= {r[:2] for r in rows}


def test_extensions_are_registered(package) -> None:
    rows = set(query(package, "SELECT table_name, extension_name, scope FROM gpkg_extensions"))
    for table, extension in {
        "gpkg_data_columns": "gpkg_schema",
        "gpkg_data_column_constraints": "gpkg_schema",
        "gpkg_metadata": "gpkg_metadata",
        "gpkg_metadata_reference": "gpkg_metadata",
    }.items():
        assert (table, extension, "read-write") in rows


def test_settings_and_input_files_are_in_the_metadata(stand, package) -> None:
    ((text, mime, scope),) = query(
        package,
        "SELECT m.metadata, m.mime_type, r.reference_scope FROM gpkg_metadata m "
        "JOIN gpkg_metadata_reference r ON r.md_file_id = m.id",
    )
    told = json.loads(text)
    assert (mime, scope) == ("application/json", "geopackage")
    assert type(stand.settings).model_validate(told["settings"]) == stand.settings
    assert [tuple(entry.values()) for entry in told["inputs"]] == [
        (file.name, file.sha256, file.size_bytes) for file in stand.inputs
    ]
    assert told["plotmap_version"] == plotmap.__version__
    assert told["versions"]["shapely"] == shapely.__version__
    assert told["versions"]["geos"] == shapely.geos_version_string
    assert {"gdal", "proj", "python"} < set(told["versions"])


def test_two_runs_have_the_same_content_and_leave_nothing_beside(stand, package, tmp_path) -> None:
    again = tmp_path / "stand.gpkg"
    write_geopackage(stand, again)
    with closing(sqlite3.connect(package)) as one, closing(sqlite3.connect(again)) as other:
        assert list(one.iterdump()) == list(other.iterdump())
    assert [path.name for path in tmp_path.iterdir()] == ["stand.gpkg"]
    assert query(again, "PRAGMA journal_mode") == [("delete",)]


def test_no_time_stamp_tells_when_it_was_written(package) -> None:
    stamps = {
        stamp
        for sql in (
            "SELECT last_change FROM gpkg_contents",
            "SELECT timestamp FROM gpkg_metadata_reference",
            "SELECT update_time FROM layer_styles",
        )
        for (stamp,) in query(package, sql)
    }
    assert stamps == {"1970-01-01T00:00:00.000Z"}


def test_a_file_that_is_there_is_replaced(stand, tmp_path) -> None:
    path = tmp_path / "stand.gpkg"
    path.write_text("not a GeoPackage")
    write_geopackage(stand, path)
    assert pyogrio.read_info(path, layer="trees")["features"] == stand.trees.height
