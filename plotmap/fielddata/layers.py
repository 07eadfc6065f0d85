"""Reading tables from layers: GeoPackage, GeoJSON, Shapefile (zipped too), GeoParquet and Parquet."""

from __future__ import annotations

import warnings
from pathlib import Path

import geopandas as gpd
import numpy as np
import polars as pl
import pyogrio
from pyproj import CRS

from plotmap.fielddata.raw import LAYER_FIRST_ROW, SHEET_FIRST_ROW, RawTable, UnreadableFileError
from plotmap.model.findings import Findings


def layer_names(path: Path) -> list[str]:
    """Return the names of the layers of a file.

    Raises
    ------
    UnreadableFileError
        GDAL cannot open the file.
    """
    try:
        return [str(name) for name, _ in pyogrio.list_layers(path)]
    except (pyogrio.errors.DataSourceError, OSError, ValueError) as error:
        raise UnreadableFileError(f"the file holds no layers ({error})") from error


def read_layer(path: Path, part: str, _source: str) -> RawTable:
    """Read one layer, or a table without geometry, of any file GDAL reads.

    Raises
    ------
    UnreadableFileError
        GDAL cannot open the file or the layer.
    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # GDAL's own remarks; what matters is checked afterwards
            meta, _, geometry, fields = pyogrio.raw.read(path, layer=part or None)
    except (pyogrio.errors.DataSourceError, pyogrio.errors.DataLayerError, OSError, ValueError) as error:
        raise UnreadableFileError(f"the layer cannot be read ({error})") from error
    columns = [_series(f"c{i}", values) for i, values in enumerate(fields)]
    shapes = None
    if geometry is not None:
        shapes = gpd.GeoSeries.from_wkb(geometry, on_invalid="ignore").to_numpy()
    crs = CRS.from_user_input(meta["crs"]).to_wkt() if meta["crs"] else ""
    headings = tuple(str(name) for name in meta["fields"])
    cells = pl.DataFrame(columns)
    if not columns and shapes is not None:  # a layer without attributes still has its rows
        cells, headings = pl.DataFrame({"c0": [None] * len(shapes)}, schema={"c0": pl.String}), ("",)
    return RawTable(headings, cells, LAYER_FIRST_ROW, Findings.none(), shapes, crs)


def read_parquet(path: Path, _part: str, _source: str) -> RawTable:
    """Read a Parquet file; as GeoParquet where it carries geometry.

    Raises
    ------
    UnreadableFileError
        The file is no Parquet.
    """
    try:
        if "geo" in pl.read_parquet_metadata(path):
            return _read_geoparquet(path)
        cells = pl.read_parquet(path)
    except (pl.exceptions.PolarsError, OSError, ValueError) as error:
        raise UnreadableFileError(f"the file is no Parquet ({str(error).splitlines()[0]})") from error
    headings = tuple(cells.columns)
    cells.columns = [f"c{i}" for i in range(cells.width)]
    return RawTable(headings, cells, SHEET_FIRST_ROW, Findings.none())


def _read_geoparquet(path: Path) -> RawTable:
    """Read a GeoParquet file."""
    frame = gpd.read_parquet(path)
    table = frame.drop(columns=frame.geometry.name)
    columns = [_series(f"c{i}", table[name].to_numpy()) for i, name in enumerate(table.columns)]
    crs = frame.crs.to_wkt() if frame.crs is not None else ""
    headings = tuple(str(name) for name in table.columns)
    return RawTable(
        headings, pl.DataFrame(columns), LAYER_FIRST_ROW, Findings.none(), frame.geometry.to_numpy(), crs
    )


def _series(name: str, values: np.ndarray) -> pl.Series:
    """Return one attribute as a polars series: numbers stay numbers, all else becomes text."""
    if values.dtype.kind in "iufM":
        series = pl.Series(name, values)
        return series.fill_nan(None) if values.dtype.kind == "f" else series
    return pl.Series(name, [None if value is None else str(value) for value in values], dtype=pl.String)
