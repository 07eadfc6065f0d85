"""What `plotmap compare` writes: a GeoPackage, a workbook and CSV files."""

from __future__ import annotations

from pathlib import Path

import polars as pl

from plotmap.model.change import Change
from plotmap.model.result_tables import FINDING_RESULTS
from plotmap.model.result_tables_change import CHANGE_TABLES
from plotmap.output.declared import declared_frame
from plotmap.output.geopackage import Described, write_described
from plotmap.output.geopackage_relations import CHANGE_RELATIONS
from plotmap.output.shapes import wkb
from plotmap.output.tables import write_csv
from plotmap.output.workbook import write_sheets
from plotmap.output.workbook_about import about_change

_TABLES = (*CHANGE_TABLES, FINDING_RESULTS)
GEOMETRY_TYPES = {"compartment_change": "MultiPolygon", "plot_change": "Point"}
"""Tables of ``change.gpkg`` that have shapes."""


def write_change(change: Change, folder: Path) -> None:
    """Write a comparison into a folder: ``change.gpkg``, ``change.xlsx``, ``tables/*.csv``, ``findings.csv``.

    Compartments are multi-polygons, plots points, all else tables, declared, described and byte for byte the same
    from run to run as those of a survey (`plotmap.output.write_geopackage`, `write_workbook`, `write_tables`).

    Parameters
    ----------
    change : Change
        What was computed.
    folder : Path
        An empty folder.

    Raises
    ------
    SchemaError
        A table lacks a declared column.
    OutputError
        The GeoPackage does not hold every row afterwards.
    OSError, RuntimeError, sqlite3.OperationalError, xlsxwriter.exceptions.XlsxFileError
        A file cannot be written; `plotmap.output.publish` words them.
    """
    frames = _frames(change)
    _write_geopackage(change, frames, folder / "change.gpkg")
    (folder / "tables").mkdir()
    for table in CHANGE_TABLES:
        write_csv(frames[table.name], folder / "tables" / f"{table.name}.csv")
    write_csv(frames["findings"], folder / "findings.csv")
    write_sheets(_TABLES, frames, change.settings, folder / "change.xlsx", about_change(change, frames))


def _frames(change: Change) -> dict[str, pl.DataFrame]:
    """Return every table by its name, exactly as declared."""
    frames = {table.name: declared_frame(table, getattr(change, table.name)) for table in CHANGE_TABLES}
    return frames | {"findings": declared_frame(FINDING_RESULTS, change.findings.frame)}


def _write_geopackage(change: Change, frames: dict[str, pl.DataFrame], path: Path) -> None:
    """Write all tables as layers of one GeoPackage."""
    shapes = {
        "compartment_change": wkb(change.compartment_change, multi=True),
        "plot_change": wkb(change.plot_change),
    }
    write_described(path, Described(_TABLES, frames, shapes, GEOMETRY_TYPES, CHANGE_RELATIONS), change)
