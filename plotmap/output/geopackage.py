"""The GeoPackage ``stand.gpkg``: every result table as a layer, described and styled."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING

import polars as pl

from plotmap.errors import OutputError
from plotmap.model.columns import Table
from plotmap.model.result_tables import RESULT_TABLES
from plotmap.model.survey import Stand
from plotmap.output.declared import stand_frames
from plotmap.output.geopackage_metadata import CONSTANT_TIME, write_descriptions, write_provenance
from plotmap.output.geopackage_styles import write_styles

if TYPE_CHECKING:
    import geopandas as gpd
    import numpy as np
    import numpy.typing as npt

GEOMETRY = "geom"
_GEOMETRY_TYPES = {"compartments": "MultiPolygon", "plots": "Point", "trees": "Point", "findings": "Point"}


def write_geopackage(stand: Stand, path: Path | str) -> None:
    """Write all result tables of a stand into one GeoPackage.

    Compartments are multi-polygons, plots points, stems points where their position was measured (a table
    where none was), findings points where they name a plot with a position or a compartment (a point on its
    surface), all others tables without geometry. Columns are those of
    `plotmap.model.result_tables` in their order; missing is NULL. Titles, units and meanings are in
    ``gpkg_data_columns`` (OGC 12-128r18, annex F.9), settings and input files in ``gpkg_metadata``
    (annex F.8), styles in ``layer_styles``. Every time stamp is 1970-01-01, so that two runs on the same
    input have the same content.

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
    shapes = {
        "compartments": wkb(stand.compartments, multi=True),
        "plots": wkb(stand.plots),
        "findings": _finding_points(frames["findings"], stand.compartments, stand.plots),
    } | _stem_points(frames["trees"])
    for table in RESULT_TABLES:
        kind = _GEOMETRY_TYPES.get(table.name, "")
        write_layer(path, table, frames[table.name], shapes.get(table.name), kind, stand.crs)
    with closing(sqlite3.connect(path)) as database, database:
        check_complete(database, path, frames)
        write_descriptions(database, RESULT_TABLES)
        write_provenance(database, stand)
        write_styles(database, frames)
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


def wkb(frame: gpd.GeoDataFrame | gpd.GeoSeries, *, multi: bool = False) -> npt.NDArray[np.object_]:
    """Return plane geometries as ISO WKB.

    Parameters
    ----------
    frame : geopandas.GeoDataFrame or geopandas.GeoSeries
        Shapes; heights are dropped.
    multi : bool
        Make multi-polygons of polygons.

    Returns
    -------
    numpy.ndarray of bytes, shape (n,)
        None where a shape is missing or empty.
    """
    import numpy as np  # noqa: PLC0415
    import shapely  # noqa: PLC0415

    shapes = shapely.force_2d(np.asarray(frame.geometry.array, dtype=object))
    if multi:
        single = shapely.get_type_id(shapes) == shapely.GeometryType.POLYGON
        shapes[single] = shapely.multipolygons(shapes[single][:, np.newaxis])
    made = np.asarray(shapely.to_wkb(shapes, flavor="iso"), dtype=object)
    made[shapely.is_missing(shapes) | shapely.is_empty(shapes)] = None
    return made


def _stem_points(trees: pl.DataFrame) -> dict[str, npt.NDArray[np.object_]]:
    """Return the points of stems whose position was measured; nothing where none was, so that trees is a table."""
    import numpy as np  # noqa: PLC0415
    import shapely  # noqa: PLC0415

    known = (trees["easting"].is_not_null() & trees["northing"].is_not_null()).to_numpy()
    if not known.any():
        return {}
    points = np.full(trees.height, None, dtype=object)
    places = trees.select("easting", "northing").to_numpy()[known]
    points[known] = shapely.to_wkb(shapely.points(places), flavor="iso")
    return {"trees": points}


def _finding_points(
    findings: pl.DataFrame, compartments: gpd.GeoDataFrame, plots: gpd.GeoDataFrame
) -> npt.NDArray[np.object_]:
    """Return where each finding lies: at its plot, else on its compartment, else None."""
    places = pl.DataFrame(
        {"plot": plots["plot"].astype(object).to_list(), "at": wkb(plots).tolist()},
        schema={"plot": pl.String, "at": pl.Binary},
    ).unique("plot", keep="first", maintain_order=True)
    surfaces = pl.DataFrame(
        {
            "compartment": compartments["compartment"].astype(object).to_list(),
            "on": wkb(compartments.representative_point()).tolist(),
        },
        schema={"compartment": pl.String, "on": pl.Binary},
    ).unique("compartment", keep="first", maintain_order=True)
    joined = findings.join(places, on="plot", how="left", maintain_order="left").join(
        surfaces, on="compartment", how="left", maintain_order="left"
    )
    points: npt.NDArray[np.object_] = joined.select(pl.coalesce("at", "on"))["at"].to_numpy()
    return points


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
