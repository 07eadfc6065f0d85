"""What a GeoPackage says about itself: titles, units and meanings of columns, settings and input files."""

from __future__ import annotations

import json
import platform
import sqlite3
from collections.abc import Sequence
from importlib.metadata import version

from plotmap.model.change import Change
from plotmap.model.columns import Column, Table
from plotmap.model.layout import PlotLayout
from plotmap.model.survey import Stand

CONSTANT_TIME = "1970-01-01T00:00:00.000Z"
"""Stands for every time stamp, so that the same input gives the same content."""
SPEC = "http://www.geopackage.org/spec130/#extension_{}"
"""Where extensions of GeoPackage 1.3 are defined."""
METADATA_STANDARD = "https://www.rfc-editor.org/rfc/rfc8259"
"""The metadata is plain JSON (RFC 8259)."""
_LIBRARIES = ("geopandas", "numpy", "pandas", "polars", "pyarrow", "pyogrio", "pyproj", "scipy", "shapely")

# Table definitions: OGC 12-128r18 (GeoPackage 1.3.1), annex C.
_EXTENSIONS_SQL = """
CREATE TABLE IF NOT EXISTS gpkg_extensions (
  table_name TEXT, column_name TEXT, extension_name TEXT NOT NULL, definition TEXT NOT NULL,
  scope TEXT NOT NULL, CONSTRAINT ge_tce UNIQUE (table_name, column_name, extension_name))
"""
_DATA_COLUMNS_SQL = """
CREATE TABLE gpkg_data_columns (
  table_name TEXT NOT NULL, column_name TEXT NOT NULL, name TEXT, title TEXT, description TEXT,
  mime_type TEXT, constraint_name TEXT,
  CONSTRAINT pk_gdc PRIMARY KEY (table_name, column_name),
  CONSTRAINT gdc_tn UNIQUE (table_name, name))
"""
_CONSTRAINTS_SQL = """
CREATE TABLE gpkg_data_column_constraints (
  constraint_name TEXT NOT NULL, constraint_type TEXT NOT NULL, value TEXT,
  min NUMERIC, min_is_inclusive BOOLEAN, max NUMERIC, max_is_inclusive BOOLEAN, description TEXT,
  CONSTRAINT gdcc_ntv UNIQUE (constraint_name, constraint_type, value))
"""
_METADATA_SQL = """
CREATE TABLE gpkg_metadata (
  id INTEGER CONSTRAINT m_pk PRIMARY KEY ASC NOT NULL, md_scope TEXT NOT NULL DEFAULT 'dataset',
  md_standard_uri TEXT NOT NULL, mime_type TEXT NOT NULL DEFAULT 'text/xml',
  metadata TEXT NOT NULL DEFAULT '')
"""
_REFERENCE_SQL = """
CREATE TABLE gpkg_metadata_reference (
  reference_scope TEXT NOT NULL, table_name TEXT, column_name TEXT, row_id_value INTEGER,
  timestamp DATETIME NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')),
  md_file_id INTEGER NOT NULL, md_parent_id INTEGER,
  CONSTRAINT crmr_mfi_fk FOREIGN KEY (md_file_id) REFERENCES gpkg_metadata(id),
  CONSTRAINT crmr_mpi_fk FOREIGN KEY (md_parent_id) REFERENCES gpkg_metadata(id))
"""


def write_descriptions(database: sqlite3.Connection, tables: Sequence[Table]) -> None:
    """Write titles, units, meanings and code lists of tables and their columns into an open GeoPackage.

    The unit is in ``name`` (which desktop GIS shows as the alias) and in ``description``. A column of choices has an
    ``enum`` constraint with every word it can hold; its descriptions begin with the word, since desktop GIS shows
    them in its place.
    """
    database.execute(_DATA_COLUMNS_SQL)
    database.execute(_CONSTRAINTS_SQL)
    register(
        database, "gpkg_schema", ("gpkg_data_columns", "gpkg_data_column_constraints"), SPEC.format("schema")
    )
    described = [(table, column) for table in tables for column in table.columns]
    database.executemany(
        "INSERT INTO gpkg_data_columns (table_name, column_name, name, title, description, constraint_name) "
        "VALUES (?,?,?,?,?,?)",
        [
            (
                table.name,
                column.name,
                column.heading,
                column.title,
                describe(column),
                code_list(table, column) if column.choices else None,
            )
            for table, column in described
        ],
    )
    database.executemany(
        "INSERT INTO gpkg_data_column_constraints (constraint_name, constraint_type, value, description) "
        "VALUES (?, 'enum', ?, ?)",
        [
            (code_list(table, column), word, f"{word}: {meaning}")
            for table, column in described
            for word, meaning in zip(column.choices, column.explained, strict=True)
        ],
    )
    database.executemany(
        "UPDATE gpkg_contents SET identifier = ?, description = ? WHERE table_name = ?",
        [(table.title, f"One row is {table.row_is}.", table.name) for table in tables],
    )


def write_provenance(database: sqlite3.Connection, made: Stand | Change | PlotLayout) -> None:
    """Write what the results were made from into an open GeoPackage, as one JSON document."""
    database.execute(_METADATA_SQL)
    database.execute(_REFERENCE_SQL)
    register(database, "gpkg_metadata", ("gpkg_metadata", "gpkg_metadata_reference"), SPEC.format("metadata"))
    database.execute(
        "INSERT INTO gpkg_metadata VALUES (1, 'dataset', ?, 'application/json', ?)",
        (METADATA_STANDARD, json.dumps(provenance(made), ensure_ascii=False, sort_keys=True)),
    )
    database.execute(
        "INSERT INTO gpkg_metadata_reference VALUES ('geopackage', NULL, NULL, NULL, ?, 1, NULL)",
        (CONSTANT_TIME,),
    )


def provenance(made: Stand | Change | PlotLayout) -> dict[str, object]:
    """Return what the results were made from: versions, CRS, settings, input files with size and sha256."""
    return {
        "plotmap_version": version("plotmap"),
        "versions": versions(),
        "crs": made.crs,
        "settings": made.settings.model_dump(mode="json"),
        "inputs": [
            {"name": file.name, "size_bytes": file.size_bytes, "sha256": file.sha256} for file in made.inputs
        ],
    }


def versions() -> dict[str, str]:
    """Return the versions of the libraries that figures and shapes depend on, GDAL, GEOS and PROJ among them."""
    import pyogrio  # noqa: PLC0415 - slow to import
    import pyproj  # noqa: PLC0415
    import shapely  # noqa: PLC0415

    return {
        "python": platform.python_version(),
        **{name: version(name) for name in _LIBRARIES},
        "gdal": ".".join(str(part) for part in pyogrio.__gdal_version__),
        "geos": shapely.geos_version_string,
        "proj": pyproj.proj_version_str,
    }


def describe(column: Column) -> str:
    """Return what a column means, with its unit."""
    return f"{column.meaning} Unit: {column.unit}." if column.unit else column.meaning


def code_list(table: Table, column: Column) -> str:
    """Return the name of a column's constraint, one a column."""
    return f"{table.name}_{column.name}"


def register(database: sqlite3.Connection, name: str, tables: Sequence[str], definition: str) -> None:
    """Enter the tables of an extension into ``gpkg_extensions`` of an open GeoPackage."""
    database.execute(_EXTENSIONS_SQL)
    database.executemany(
        "INSERT INTO gpkg_extensions VALUES (?, NULL, ?, ?, 'read-write')",
        [(table, name, definition) for table in tables],
    )
