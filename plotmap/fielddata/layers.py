"""Reading tables from layers: GeoPackage, GeoJSON, Shapefile (zipped too), GeoParquet and Parquet."""

from __future__ import annotations

import warnings
import zipfile
from pathlib import Path, PurePosixPath
from typing import Any

import geopandas as gpd
import numpy as np
import polars as pl
import pyogrio
import shapely
from numpy.typing import NDArray
from pyproj import CRS

from plotmap.fielddata.raw import LAYER_FIRST_ROW, SHEET_FIRST_ROW, RawTable, unreadable_where_refused
from plotmap.model.findings import Findings, finding

_OF_OTHER_PROGRAMS = {"layer_styles", "qgis_projects"}
"""Tables a GIS keeps for itself in a GeoPackage."""


def layer_names(path: Path) -> list[str]:
    """Return the names of the layers of a file, without those a GIS keeps for itself.

    Parameters
    ----------
    path : Path
        GeoPackage, or Shapefiles in a zip file.

    Raises
    ------
    UnreadableFileError
        GDAL cannot open the file.
    """
    with unreadable_where_refused("the file holds no layers"):
        names = [str(name) for name, _ in pyogrio.list_layers(_for_gdal(path))]
    return [name for name in names if name not in _OF_OTHER_PROGRAMS]


def read_layer(path: Path, part: str, source: str, _wanted: object = None) -> RawTable:
    """Read one layer, or a table without geometry, of any file GDAL reads.

    Parameters
    ----------
    path : Path
        GeoPackage, GeoJSON, Shapefile, or Shapefiles in a zip file.
    part : str
        Layer; the first one where empty.
    source : str
        File and layer, for findings: geometry-broken for outlines of which no geometry can be made, as where the
        last point of a polygon is not the first.
    _wanted : object
        Not used: a layer names its attributes.

    Raises
    ------
    UnreadableFileError
        GDAL cannot open the file or the layer.
    """
    with unreadable_where_refused("the layer cannot be read"), warnings.catch_warnings():
        warnings.simplefilter("ignore")  # GDAL's own remarks; what matters is checked afterwards
        meta, _, geometry, fields = pyogrio.raw.read(_for_gdal(path), layer=part or None)
        shapes = None
        if geometry is not None:
            shapes = gpd.GeoSeries.from_wkb(geometry, on_invalid="ignore").to_numpy()
        crs = _crs(meta["crs"])
    columns = [_series(f"c{i}", values) for i, values in enumerate(fields)]
    headings = tuple(str(name) for name in meta["fields"])
    found = Findings.none() if shapes is None else _broken(geometry, shapes, source)
    return RawTable(*_with_rows(headings, columns, shapes), LAYER_FIRST_ROW, found, shapes, crs)


def layer_heads(path: Path, part: str) -> list[list[str]]:
    """Return the names of the attributes of a layer as its only row, without reading its features.

    Parameters
    ----------
    path : Path
        File that GDAL reads.
    part : str
        Layer.

    Raises
    ------
    UnreadableFileError
        GDAL cannot open the file or the layer.
    """
    with unreadable_where_refused("the layer cannot be read"), warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return [[str(name) for name in pyogrio.read_info(_for_gdal(path), layer=part)["fields"]]]


def _broken(geometry: NDArray[np.object_], shapes: NDArray[np.object_], source: str) -> Findings:
    """Return geometry-broken for outlines that are there, but of which no geometry can be made."""
    findings: list[Findings] = []
    for place in np.flatnonzero(shapely.is_missing(shapes)):
        if geometry[place] is None:
            continue
        try:
            shapely.from_wkb(geometry[place])
        except shapely.errors.GEOSException as error:
            said = str(error).removeprefix("IllegalArgumentException: ")
            closed = "closed" in said
            why = "a ring is not closed: its last point must be its first" if closed else said
            row = int(place) + LAYER_FIRST_ROW
            message = f"the outline of row {row} is no polygon: {why}"
            if not closed:
                message = f"no geometry can be made of row {row}: {why}"
            findings.append(finding("geometry-broken", source, message, row=row, value=why))
    return Findings.join(findings)


def read_parquet(path: Path, _part: str, _source: str, _wanted: object = None) -> RawTable:
    """Read a Parquet file; as GeoParquet where it carries geometry.

    Parameters
    ----------
    path : Path
        The file.
    _part, _source : str
        Not used: a Parquet file holds one table, and nothing is found while reading.
    _wanted : object
        Not used: a Parquet file names its columns.

    Raises
    ------
    UnreadableFileError
        The file is no Parquet, or its geometry is damaged.
    """
    with unreadable_where_refused("the file is no Parquet that can be read"):
        if "geo" in pl.read_parquet_metadata(path):
            return _read_geoparquet(path)
        cells = pl.read_parquet(path)
    headings = tuple(cells.columns)
    plain = pl.DataFrame([_plain(series).alias(f"c{i}") for i, series in enumerate(cells.iter_columns())])
    return RawTable(headings, plain, SHEET_FIRST_ROW, Findings.none())


def _read_geoparquet(path: Path) -> RawTable:
    """Read a GeoParquet file: its attributes as Parquet, its geometry through GeoPandas."""
    frame = gpd.read_parquet(path)
    kept = [name for name in pl.read_parquet_schema(path) if name != frame.geometry.name]
    table = pl.read_parquet(path, columns=kept) if kept else pl.DataFrame()
    columns = [_plain(series).alias(f"c{i}") for i, series in enumerate(table.iter_columns())]
    shapes = frame.geometry.to_numpy()
    crs = _crs(frame.crs)
    return RawTable(*_with_rows(tuple(kept), columns, shapes), LAYER_FIRST_ROW, Findings.none(), shapes, crs)


def _for_gdal(path: Path) -> Path | str:
    """Return what GDAL opens: for a zip file with its Shapefiles in one folder, that folder."""
    if path.suffix.lower() != ".zip":
        return path
    with zipfile.ZipFile(path) as content:
        names = [name for name in content.namelist() if not name.startswith("__MACOSX")]
    folders = {PurePosixPath(name).parent for name in names if name.lower().endswith(".shp")}
    if len(folders) == 1 and folders != {PurePosixPath()}:
        return f"/vsizip/{path.resolve()}/{folders.pop()}"
    return path


def _crs(stated: Any) -> str:
    """Return a CRS as WKT; empty where there is none, or only one that says "undefined"."""
    if not stated:
        return ""
    crs = CRS.from_user_input(stated)
    undefined = crs.is_engineering or crs.name.lower().startswith("undefined geographic")
    return "" if undefined else crs.to_wkt()


def _with_rows(
    headings: tuple[str, ...], columns: list[pl.Series], shapes: NDArray[np.object_] | None
) -> tuple[tuple[str, ...], pl.DataFrame]:
    """Return headings and cells; a layer without attributes still has its rows."""
    if columns or shapes is None:
        return headings, pl.DataFrame(columns)
    return ("",), pl.DataFrame({"c0": [None] * len(shapes)}, schema={"c0": pl.String})


def _series(name: str, values: NDArray[Any]) -> pl.Series:
    """Return one attribute as a polars series: numbers stay numbers, all else becomes text."""
    if values.dtype.kind in "iufM":
        series = pl.Series(name, values)
        return series.fill_nan(None) if values.dtype.kind == "f" else series
    return pl.Series(name, [None if value is None else str(value) for value in values], dtype=pl.String)


def _plain(series: pl.Series) -> pl.Series:
    """Return a column of Parquet as numbers, dates or text; lists and the like as text."""
    dtype = series.dtype
    if dtype.is_float():
        return series.fill_nan(None)
    if dtype.is_integer() or dtype.is_decimal() or dtype in {pl.String, pl.Date} or dtype == pl.Datetime:
        return series
    if dtype in {pl.Categorical, pl.Enum, pl.Null} or dtype == pl.Categorical:
        return series.cast(pl.String)
    texts = [None if value is None else str(value) for value in series.to_list()]
    return pl.Series(series.name, texts, dtype=pl.String)
