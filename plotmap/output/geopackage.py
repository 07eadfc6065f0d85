"""The GeoPackage ``stand.gpkg``: every result table as a layer, described and styled."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import polars as pl

from plotmap.errors import OutputError
from plotmap.model.change import Change
from plotmap.model.columns import Table
from plotmap.model.layout import PlotLayout
from plotmap.model.result_tables import RESULT_TABLES
from plotmap.model.survey import Stand
from plotmap.output.declared import stand_frames
from plotmap.output.geopackage_metadata import CONSTANT_TIME, write_descriptions, write_provenance
from plotmap.output.geopackage_relations import STAND_RELATIONS, Relation, write_relations
from plotmap.output.geopackage_styles import stand_styles, write_styles
from plotmap.output.shapes import GEOMETRY_TYPES, stand_shapes

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

GEOMETRY = "geom"


def write_geopackage(stand: Stand, path: Path | str) -> None:
    """Write all result tables of a stand into one GeoPackage.

    Compartments are multi-polygons, plots points, stems points where their position was measured (a table
    where none was), findings points where they name a plot with a position or a compartment (a point on its
    surface), all others tables without geometry. Columns are those of
    `plotmap.model.result_tables` in their order; missing is NULL. Titles, units, meanings and code lists are in
    ``gpkg_data_columns`` (OGC 12-128r18, annex F.9), settings, versions and input files in ``gpkg_metadata``
    (annex F.8), relations in ``gpkgext_relations`` (OGC 18-000), styles in ``layer_styles``. Every time stamp
    is 1970-01-01, so that two runs on the same input have the same content.

    Parameters
    ----------
    stand : Stand
        What was computed.
    path : Path or str
        File to write, ending in ``.gpkg``; replaced where it is there.

    Raises
    ------
    SchemaError
        A table of the stand lacks a declared column.
    OutputError
        The file does not hold every row afterwards.
    OSError, RuntimeError, sqlite3.OperationalError
        The file cannot be written; `plotmap.output.publish` words them.
    """
    path = Path(path)
    path.unlink(missing_ok=True)
    frames = stand_frames(stand)
    described = Described(RESULT_TABLES, frames, stand_shapes(stand, frames), GEOMETRY_TYPES, STAND_RELATIONS)
    write_described(path, described, stand)
    with closing(sqlite3.connect(path)) as database, database:
        write_styles(database, stand_styles(frames, stand.settings.map.large_error_pct))
        database.execute("UPDATE gpkg_contents SET last_change = ?", (CONSTANT_TIME,))


@dataclass(frozen=True, slots=True)
class Described:
    """What a GeoPackage holds, and how its tables are related.

    Attributes
    ----------
    tables : tuple of Table
        In the order they are written.
    frames : dict of str to polars.DataFrame
        Their rows, exactly as declared.
    shapes : dict of str to numpy.ndarray of bytes
        WKB of the rows of those tables that have shapes, as `plotmap.output.shapes.wkb` gives it.
    geometry_types : dict of str to str
        ``Point`` or ``MultiPolygon`` of tables that may have shapes.
    relations : tuple of Relation
        Relations between the tables.
    """

    tables: tuple[Table, ...]
    frames: dict[str, pl.DataFrame]
    shapes: dict[str, npt.NDArray[np.object_]]
    geometry_types: Mapping[str, str]
    relations: tuple[Relation, ...]


def write_described(path: Path, described: Described, made_from: Stand | Change | PlotLayout) -> None:
    """Write tables as layers with their descriptions, relations and provenance, but no styles.

    Parameters
    ----------
    path : Path
        The GeoPackage; not there yet.
    described : Described
        What it holds.
    made_from : Stand, Change or PlotLayout
        Settings, CRS and inputs it was made from.

    Raises
    ------
    OutputError
        The file does not hold every row afterwards.
    OSError, RuntimeError, sqlite3.OperationalError
        The file cannot be written; `plotmap.output.publish` words them.
    """
    for table in described.tables:
        name = table.name
        kind = described.geometry_types.get(name, "")
        write_layer(path, table, described.frames[name], described.shapes.get(name), kind, made_from.crs)
    with closing(sqlite3.connect(path)) as database, database:
        check_complete(database, path, described.frames)
        write_descriptions(database, described.tables)
        write_relations(database, described.relations)
        write_provenance(database, made_from)
        database.execute("UPDATE gpkg_contents SET last_change = ?", (CONSTANT_TIME,))


def write_layer(
    path: Path,
    table: Table,
    frame: pl.DataFrame,
    shapes: npt.NDArray[np.object_] | None,
    geometry_type: str,
    crs: str,
) -> None:
    """Append one layer to a GeoPackage; as a table without geometry where there are no shapes.

    Parameters
    ----------
    path : Path
        The GeoPackage; made where it is not there.
    table : Table
        Names the layer.
    frame : polars.DataFrame
        The declared columns.
    shapes : numpy.ndarray of bytes, shape (n,), or None
        WKB of each row as `wkb` gives it, None where a row has no place.
    geometry_type : str
        ``Point`` or ``MultiPolygon``; not looked at without shapes.
    crs : str
        Of the shapes.

    Raises
    ------
    RuntimeError
        The file cannot be written (pyogrio's own errors); `plotmap.output.publish` words it.
    """
    import pyarrow as pa  # noqa: PLC0415 - slow to import
    import pyogrio  # noqa: PLC0415

    cells = frame.to_arrow(compat_level=pl.CompatLevel.oldest())
    if shapes is None:
        pyogrio.write_arrow(cells, path, layer=table.name, driver="GPKG", append=path.exists(), VERSION="1.3")
        return
    pyogrio.write_arrow(
        cells.append_column(GEOMETRY, pa.array(shapes, type=pa.binary())),
        path,
        layer=table.name,
        driver="GPKG",
        geometry_name=GEOMETRY,
        geometry_type=geometry_type,
        crs=crs,
        append=path.exists(),
        VERSION="1.3",
    )


def check_complete(database: sqlite3.Connection, path: Path, frames: dict[str, pl.DataFrame]) -> None:
    """Refuse a file that lost rows on the way to the disk.

    Raises
    ------
    OutputError
        A layer holds fewer rows than its frame.
    """
    for name, frame in frames.items():
        (rows,) = database.execute(f'SELECT count(*) FROM "{name}"').fetchone()  # noqa: S608 - declared name
        if rows != frame.height:
            raise OutputError(
                f"{path}: layer {name} holds {rows} of {frame.height} rows, probably because the disk is full. "
                f"Free some space and run again."
            )
