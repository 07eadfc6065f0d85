"""Reading layers and Parquet; the files are written by GDAL, GeoPandas and polars."""

from __future__ import annotations

import datetime as dt
import sqlite3
import zipfile
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import polars as pl
import pyogrio
import pytest
import shapely
from pyproj import CRS

from plotmap.fielddata.layers import layer_names, read_layer, read_parquet
from plotmap.fielddata.raw import UnreadableFileError
from tests.folder_example import compartments_example


def _named() -> gpd.GeoDataFrame:
    """Return the three compartments under awkward identifiers, one of them without a name."""
    frame = compartments_example().assign(compartment=["001", "NA", "10E2"])
    frame["name"] = ["Ash Bank", None, "Cold Hill"]
    return frame


def _write(frame: gpd.GeoDataFrame, path: Path) -> Path:
    """Write a layer in the format of the ending."""
    if path.suffix == ".parquet":
        frame.to_parquet(path)
    elif path.suffix == ".zip":
        short = frame.rename(columns={"compartment": "compartmen"})
        pyogrio.write_dataframe(short, path.with_suffix(".shp"))
        with zipfile.ZipFile(path, "w") as content:
            for ending in (".shp", ".shx", ".dbf", ".prj", ".cpg"):
                content.write(path.with_suffix(ending), f"map/{path.stem}{ending}")
                path.with_suffix(ending).unlink()
    else:
        pyogrio.write_dataframe(frame, path)
    return path


@pytest.mark.parametrize("ending", [".gpkg", ".geojson", ".parquet", ".shp", ".zip"])
def test_attributes_and_polygons_are_the_same_in_every_format(tmp_path: Path, ending: str) -> None:
    frame = _named()
    path = _write(frame.rename(columns={"compartment": "compartmen"}), tmp_path / f"compartments{ending}")
    raw = read_parquet(path, "", "") if ending == ".parquet" else read_layer(path, "", "")
    assert raw.headings == ("compartmen", "name", "area_ha")
    assert raw.cells["c0"].to_list() == ["001", "NA", "10E2"]
    assert raw.cells["c1"].to_list() == ["Ash Bank", None, "Cold Hill"]
    assert raw.cells["c2"].cast(pl.Float64).to_list() == [4.0, 4.0, 4.0]
    assert raw.first_row == 1
    assert raw.geometry is not None
    polygons = gpd.GeoSeries(raw.geometry, crs=raw.crs).to_crs(frame.crs)
    overlap_m2 = shapely.area(shapely.intersection(polygons.to_numpy(), frame.geometry.to_numpy()))
    assert overlap_m2 == pytest.approx([40_000.0] * 3, rel=1e-4)  # 200 m x 200 m


def test_the_crs_of_a_layer_is_kept(tmp_path: Path) -> None:
    raw = read_layer(_write(_named(), tmp_path / "a.gpkg"), "", "")
    assert CRS.from_wkt(raw.crs) == CRS.from_epsg(32630)


@pytest.mark.parametrize("number", [-1, 0])
def test_a_geopackage_that_says_undefined_has_no_crs(tmp_path: Path, number: int) -> None:
    """GeoPackage 1.4, requirement 11: srs_id -1 is an undefined Cartesian system, 0 an undefined geographic one."""
    path = _write(_named(), tmp_path / "a.gpkg")
    with sqlite3.connect(path) as file:
        file.execute("update gpkg_geometry_columns set srs_id = ?", (number,))
        file.execute("update gpkg_contents set srs_id = ?", (number,))
    file.close()
    assert read_layer(path, "", "").crs == ""


def test_a_crs_without_a_code_is_no_undefined_one(tmp_path: Path) -> None:
    own = CRS.from_proj4("+proj=tmerc +lat_0=50 +lon_0=-3 +k=1 +x_0=0 +y_0=0 +ellps=GRS80 +units=m")
    raw = read_layer(_write(_named().to_crs(own), tmp_path / "a.gpkg"), "", "")
    assert CRS.from_wkt(raw.crs).is_projected


def test_missing_numbers_of_a_layer_are_missing_and_dates_are_dates(tmp_path: Path) -> None:
    days = pd.to_datetime(["2026-05-14", None, "2026-05-15"])
    frame = _named().assign(area_ha=[4.0, np.nan, 4.5], day=days)
    raw = read_layer(_write(frame, tmp_path / "a.gpkg"), "", "")
    assert raw.cells["c2"].to_list() == [4.0, None, 4.5]
    assert raw.cells["c3"].cast(pl.Date).to_list() == [dt.date(2026, 5, 14), None, dt.date(2026, 5, 15)]


def test_a_layer_without_attributes_still_has_its_rows(tmp_path: Path) -> None:
    raw = read_layer(_write(_named()[["geometry"]], tmp_path / "a.gpkg"), "", "")
    assert (raw.headings, raw.cells.height) == (("",), 3)


def test_the_tables_a_gis_keeps_for_itself_are_no_layers(tmp_path: Path) -> None:
    path = _write(_named(), tmp_path / "stands.gpkg")
    with sqlite3.connect(path) as file:
        file.execute("create table layer_styles (id integer primary key, styleName text)")
        file.execute(
            "insert into gpkg_contents (table_name, data_type, identifier) values "
            "('layer_styles', 'attributes', 'layer_styles')"
        )
    file.close()
    assert "layer_styles" in [name for name, _ in pyogrio.list_layers(path)]
    assert layer_names(path) == ["stands"]


def test_shapefiles_in_one_folder_of_a_zip_file_are_found(tmp_path: Path) -> None:
    path = _write(_named(), tmp_path / "compartments.zip")
    with zipfile.ZipFile(path, "a") as content:
        content.writestr("__MACOSX/map/._compartments.shp", b"\x00")
    assert layer_names(path) == ["compartments"]


def test_parquet_columns_of_every_kind_are_numbers_dates_or_text(tmp_path: Path) -> None:
    frame = pl.DataFrame(
        {
            "text": ["001", None],
            "float": [1.5, float("nan")],
            "whole": [3, None],
            "day": [dt.date(2026, 5, 14), None],
            "time": [dt.timedelta(hours=1), None],
            "list": [[1, 2], None],
            "group": pl.Series(["a", None], dtype=pl.Categorical),
            "flag": [True, None],
            "nothing": [None, None],
        }
    )
    frame.write_parquet(tmp_path / "trees.parquet")
    raw = read_parquet(tmp_path / "trees.parquet", "", "")
    assert raw.headings == tuple(frame.columns)
    assert raw.cells.rows() == [
        ("001", 1.5, 3, dt.date(2026, 5, 14), "1:00:00", "[1, 2]", "a", "True", None),
        (None, None, None, None, None, None, None, None, None),
    ]
    assert raw.geometry is None


@pytest.mark.parametrize("ending", [".gpkg", ".geojson", ".shp", ".zip"])
@pytest.mark.parametrize(
    "content", [b"", b"plot,date\n", bytes(range(256)) * 8], ids=["empty", "csv", "rubbish"]
)
def test_what_gdal_cannot_read_is_refused(tmp_path: Path, ending: str, content: bytes) -> None:
    path = tmp_path / f"compartments{ending}"
    path.write_bytes(content)
    with pytest.raises(UnreadableFileError, match=r"the layer cannot be read \(.+\)"):
        read_layer(path, "", "")
    with pytest.raises(UnreadableFileError, match=r"the file holds no layers \(.+\)"):
        layer_names(path)


@pytest.mark.parametrize("content", [b"", b"PAR1", bytes(range(256)) * 8], ids=["empty", "magic", "rubbish"])
def test_what_is_no_parquet_is_refused(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "compartments.parquet"
    path.write_bytes(content)
    with pytest.raises(UnreadableFileError, match=r"no Parquet that can be read \(.+\)"):
        read_parquet(path, "", "")


def test_a_layer_that_is_not_there_is_refused(tmp_path: Path) -> None:
    path = _write(_named(), tmp_path / "stands.gpkg")
    with pytest.raises(UnreadableFileError, match="the layer cannot be read"):
        read_layer(path, "compartments", "")
