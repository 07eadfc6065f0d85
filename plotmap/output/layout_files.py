"""What `plotmap layout` writes: a GeoPackage, GPX and KML for the crew, the table of plots to fill in, CSV files."""

from __future__ import annotations

from pathlib import Path

import polars as pl

from plotmap.model.field_tables import PLOTS, UNVISITED
from plotmap.model.layout import PlotLayout
from plotmap.model.result_tables import FINDING_RESULTS
from plotmap.model.result_tables_layout import LAYOUT_TABLES
from plotmap.output.declared import declared_frame
from plotmap.output.geopackage import Described, write_described
from plotmap.output.geopackage_relations import LAYOUT_RELATIONS
from plotmap.output.shapes import wkb
from plotmap.output.tables import write_csv
from plotmap.output.waypoint_files import write_gpx, write_kml

_TABLES = (*LAYOUT_TABLES, FINDING_RESULTS)
GEOMETRY_TYPES = {"planned_compartments": "MultiPolygon", "planned_plots": "Point"}
"""Tables of ``planned.gpkg`` that have shapes."""
FIELD_COLUMNS = ("plot", "easting", "northing", "compartment", "state", "date", "crew", "slope_pct")
"""Columns of ``planned.csv``, those of the table of plots that a crew fills in."""


def write_layout(layout: PlotLayout, folder: Path, survey_folder: Path | None = None) -> None:
    """Write a layout into a folder.

    ``planned.gpkg`` (every table, plots and net compartments with shapes), ``planned.gpx`` and ``planned.kml`` (plots
    by degrees on WGS 84), ``planned.csv`` (plots as `plotmap.model.field_tables.PLOTS`, all of them unvisited),
    ``compartment_maps.pdf`` (a page for each compartment that has plots), ``tables/*.csv`` and ``findings.csv``. All
    but the GeoPackage are byte for byte the same from run to run.

    Parameters
    ----------
    layout : PlotLayout
        What was computed.
    folder : Path
        An empty folder.
    survey_folder : Path, optional
        What ``[paper] font`` starts from.

    Raises
    ------
    SettingsError
        The font of the settings is none.
    SchemaError
        A table lacks a declared column.
    OutputError
        The GeoPackage does not hold every row afterwards.
    OSError, RuntimeError, sqlite3.OperationalError
        A file cannot be written; `plotmap.output.publish` words them.
    """
    from plotmap.output.paper.compartment_maps import write_compartment_maps  # noqa: PLC0415 - heavy

    frames = {table.name: declared_frame(table, getattr(layout, table.name)) for table in LAYOUT_TABLES}
    frames["findings"] = declared_frame(FINDING_RESULTS, layout.findings.frame)
    _write_geopackage(layout, frames, folder / "planned.gpkg")
    (folder / "tables").mkdir()
    for table in LAYOUT_TABLES:
        write_csv(frames[table.name], folder / "tables" / f"{table.name}.csv")
    write_csv(frames["findings"], folder / "findings.csv")
    write_csv(field_table(frames["planned_plots"]), folder / "planned.csv")
    write_gpx(frames["planned_plots"], layout.settings, folder / "planned.gpx")
    write_kml(frames["planned_plots"], layout.settings, folder / "planned.kml")
    write_compartment_maps(layout, folder / "compartment_maps.pdf", survey_folder)


def field_table(planned: pl.DataFrame) -> pl.DataFrame:
    """Return planned plots as the table of plots of a survey folder: unvisited, with columns for the crew to fill in.

    Parameters
    ----------
    planned : polars.DataFrame
        Columns of `PLANNED_PLOT_RESULTS`.
    """
    names = [PLOTS[name].name for name in FIELD_COLUMNS]
    blank = [pl.lit(None, pl.String).alias(name) for name in names if name not in planned.columns]
    return planned.with_columns(blank).with_columns(pl.lit(UNVISITED).alias("state")).select(names)


def _write_geopackage(layout: PlotLayout, frames: dict[str, pl.DataFrame], path: Path) -> None:
    """Write all tables as layers of one GeoPackage."""
    shapes = {
        "planned_compartments": wkb(layout.planned_compartments, multi=True),
        "planned_plots": wkb(layout.planned_plots),
    }
    write_described(path, Described(_TABLES, frames, shapes, GEOMETRY_TYPES, LAYOUT_RELATIONS), layout)
