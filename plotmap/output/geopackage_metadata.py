"""What a GeoPackage says about itself: titles, units and meanings of columns, settings and input files."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Sequence
from importlib.metadata import version

from plotmap.model.change import Change
from plotmap.model.columns import Column, Table
from plotmap.model.survey import Stand

CONSTANT_TIME = "1970-01-01T00:00:00.000Z"
"""Stands for every time stamp, so that the same input gives the same content."""
METADATA_STANDARD = "https://www.rfc-editor.org/rfc/rfc8259"
"""The metadata is plain JSON (RFC 8259)."""

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
    """Write titles, units and meanings of tables and their columns into an open GeoPackage.

    The unit is in ``name`` (which desktop GIS shows as the alias) and in ``description``.
    """
    database.execute(_DATA_COLUMNS_SQL)
    database.execute(_CONSTRAINTS_SQL)
    _register(database, "gpkg_schema", ("gpkg_data_columns", "gpkg_data_column_constraints"), "schema")
    database.executemany(
        "INSERT INTO gpkg_data_columns (table_name, column_name, name, title, description) VALUES (?,?,?,?,?)",
        [
            (table.name, column.name, column.heading, column.title, describe(column))
            for table in tables
            for column in table.columns
        ],
    )
    database.executemany(
        "UPDATE gpkg_contents SET identifier = ?, description = ? WHERE table_name = ?",
        [(table.title, f"One row is {table.row_is}.", table.name) for table in tables],
    )


def write_provenance(database: sqlite3.Connection, made: Stand | Change) -> None:
    """Write what the results were made from into an open GeoPackage, as one JSON document."""
    database.execute(_METADATA_SQL)
    database.execute(_REFERENCE_SQL)
    _register(database, "gpkg_metadata", ("gpkg_metadata", "gpkg_metadata_reference"), "metadata")
    database.execute(
        "INSERT INTO gpkg_metadata VALUES (1, 'dataset', ?, 'application/json', ?)",
        (METADATA_STANDARD, json.dumps(provenance(made), ensure_ascii=False, sort_keys=True)),
    )
    database.execute(
        "INSERT INTO gpkg_metadata_reference VALUES ('geopackage', NULL, NULL, NULL, ?, 1, NULL)",
        (CONSTANT_TIME,),
    )


def provenance(made: Stand | Change) -> dict[str, object]:
    """Return what the results were made from: version, CRS, settings, input files with size and sha256."""
    return {
        "plotmap_version": version("plotmap"),
        "crs": made.crs,
        "settings": made.settings.model_dump(mode="json"),
        "inputs": [
            {"name": file.name, "size_bytes": file.size_bytes, "sha256": file.sha256} for file in made.inputs
        ],
    }


def describe(column: Column) -> str:
    """Return what a column means, with its unit."""
    return f"{column.meaning} Unit: {column.unit}." if column.unit else column.meaning


def _register(database: sqlite3.Connection, name: str, tables: tuple[str, ...], anchor: str) -> None:
    """Enter the tables of an extension into ``gpkg_extensions``."""
    database.execute(_EXTENSIONS_SQL)
    definition = f"http://www.geopackage.org/spec121/#extension_{anchor}"
    database.executemany(
        "INSERT INTO gpkg_extensions VALUES (?, NULL, ?, ?, 'read-write')",
        [(table, name, definition) for table in tables],
    )
