"""GeoParquet is read back with geopandas, polars and pyarrow. Metadata: GeoParquet 1.1.0 (OGC), key ``geo``."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import geopandas as gpd
import polars as pl
import pyarrow.parquet as pq
import pytest
from polars.testing import assert_frame_equal
from shapely.geometry import box

from plotmap.model.result_tables import RESULT_TABLES
from plotmap.model.survey import Stand
from plotmap.output.declared import stand_frames
from plotmap.output.geoparquet import write_geoparquet
from tests.stand_example import stand_example

LAYERS = {"compartments": "MultiPolygon", "plots": "Point", "trees": "Point", "findings": "Point"}


@pytest.fixture(scope="module")
def stand() -> Stand:
    return stand_example()


@pytest.fixture(scope="module")
def folder(stand, tmp_path_factory) -> Path:
    path = tmp_path_factory.mktemp("parquet") / "geoparquet"
    write_geoparquet(stand, path)
    return path


@pytest.mark.parametrize("table", RESULT_TABLES, ids=lambda table: table.name)
def test_every_table_comes_back_with_its_columns_kinds_and_missing_values(stand, folder, table) -> None:
    back = pl.read_parquet(folder / f"{table.name}.parquet", use_pyarrow=True)
    more = ["geometry", "bbox"] if table.name in LAYERS else []
    assert back.columns == table.names + more
    assert_frame_equal(back.drop(more), stand_frames(stand)[table.name], check_exact=True)


def test_layers_lie_where_they_lay_in_the_crs_of_the_stand(stand, folder) -> None:
    for name, shapes in (("compartments", stand.compartments), ("plots", stand.plots)):
        back = gpd.read_parquet(folder / f"{name}.parquet")
        assert back.crs == stand.crs
        assert back.geometry.geom_equals(shapes.geometry).all()
    assert set(gpd.read_parquet(folder / "compartments.parquet").geom_type) == {"MultiPolygon"}


def test_the_metadata_is_that_of_geoparquet_1_1(stand, folder) -> None:
    for name, kind in LAYERS.items():
        told = json.loads(pq.read_metadata(folder / f"{name}.parquet").metadata[b"geo"])
        assert (told["version"], told["primary_column"]) == ("1.1.0", "geometry")
        column = told["columns"]["geometry"]
        assert (column["encoding"], column["geometry_types"]) == ("WKB", [kind])
        assert column["crs"]["id"] == {"authority": "EPSG", "code": 32630}
        assert column["covering"]["bbox"]["xmin"] == ["bbox", "xmin"]
    told = json.loads(pq.read_metadata(folder / "compartments.parquet").metadata[b"geo"])
    assert told["columns"]["geometry"]["bbox"] == stand.compartments.total_bounds.tolist()
    assert b"geo" not in pq.read_metadata(folder / "ledger.parquet").metadata


def test_readers_can_filter_by_the_box_of_each_row(stand, folder) -> None:
    first = stand.compartments.geometry[0].buffer(-10).bounds
    assert gpd.read_parquet(folder / "compartments.parquet", bbox=first)["compartment"].to_list() == ["01"]
    nothing = box(0, 0, 1, 1).bounds
    assert len(gpd.read_parquet(folder / "compartments.parquet", bbox=nothing)) == 0


def test_columns_carry_title_unit_and_meaning_and_files_what_they_were_made_from(stand, folder) -> None:
    schema = pq.read_schema(folder / "plots.parquet")
    told = schema.field("area_m2").metadata
    assert told[b"title"] == b"Plot area"
    assert told[b"unit"].decode() == "m²"
    made_from = json.loads(schema.metadata[b"plotmap"])
    assert [entry["sha256"] for entry in made_from["inputs"]] == [file.sha256 for file in stand.inputs]


def test_two_times_give_the_same_bytes(stand, folder, tmp_path) -> None:
    write_geoparquet(stand, tmp_path)
    names = sorted(path.name for path in folder.iterdir())
    assert names == sorted(f"{table.name}.parquet" for table in RESULT_TABLES)
    for name in names:
        assert (tmp_path / name).read_bytes() == (folder / name).read_bytes(), name


def test_a_row_without_a_place_has_neither_geometry_nor_box_and_unplaced_stems_are_a_table(
    stand, tmp_path
) -> None:
    plots = stand.plots.copy()
    plots.loc[0, "geometry"] = None
    nowhere = stand.trees.with_columns(easting=pl.lit(None, pl.Float64))
    write_geoparquet(replace(stand, plots=plots, trees=nowhere), tmp_path)
    first = pl.read_parquet(tmp_path / "plots.parquet", use_pyarrow=True).row(0, named=True)
    assert (first["geometry"], first["bbox"]) == (None, None)
    assert gpd.read_parquet(tmp_path / "plots.parquet").geometry.isna().sum() == 1
    assert pq.read_schema(tmp_path / "trees.parquet").names[-1] == stand_frames(stand)["trees"].columns[-1]


def test_a_layer_without_any_place_is_a_layer_without_bounds(stand, tmp_path) -> None:
    plots = stand.plots.set_geometry(gpd.GeoSeries([None] * len(stand.plots), crs=stand.crs))
    write_geoparquet(replace(stand, plots=plots), tmp_path)
    assert gpd.read_parquet(tmp_path / "plots.parquet").geometry.isna().all()
