"""The layers of the results as GeoJSON (RFC 7946), in longitude and latitude."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from plotmap.errors import OutputError
from plotmap.model.result_tables import RESULT_TABLES
from plotmap.model.survey import Stand
from plotmap.output.declared import stand_frames
from plotmap.output.shapes import GEOMETRY_TYPES, stand_shapes

if TYPE_CHECKING:
    import numpy.typing as npt

DECIMALS = 7
"""Of a degree: 1.1 cm or less on the ground."""


def write_geojson(stand: Stand, folder: Path) -> None:
    """Write compartments, plots, findings and stems with positions to ``<folder>/<layer>.geojson``.

    Coordinates are longitude and latitude on WGS 84 in degrees, rounded to `DECIMALS` decimals, outer rings
    counter-clockwise (RFC 7946, 3.1.6). Properties are the declared columns; missing is null, and so is the geometry
    of a row without a place. Tables without geometry are not written. The same stand gives the same bytes.

    Parameters
    ----------
    stand : Stand
        What was computed.
    folder : Path
        Made where it is not there.

    Raises
    ------
    SchemaError
        A table of the stand lacks a declared column.
    OutputError
        There is no known shift from the CRS of the stand to WGS 84.
    OSError, RuntimeError
        A file cannot be written; `plotmap.output.publish` words it.
    """
    import pyarrow as pa  # noqa: PLC0415 - slow to import
    import pyogrio  # noqa: PLC0415

    folder.mkdir(exist_ok=True)
    frames = stand_frames(stand)
    shapes = stand_shapes(stand, frames)
    for table in RESULT_TABLES:
        if table.name not in shapes:
            continue
        cells = frames[table.name].to_arrow(compat_level=pl.CompatLevel.oldest())
        places = _in_degrees(shapes[table.name], stand.crs, folder)
        pyogrio.write_arrow(
            cells.append_column("geometry", pa.array(places, type=pa.binary())),
            folder / f"{table.name}.geojson",
            layer=table.name,
            driver="GeoJSON",
            geometry_name="geometry",
            geometry_type=GEOMETRY_TYPES[table.name],
            crs="OGC:CRS84",
            RFC7946="YES",
            COORDINATE_PRECISION=DECIMALS,
        )


def _in_degrees(wkb: npt.NDArray[np.object_], crs: str, folder: Path) -> npt.NDArray[np.object_]:
    """Return shapes in longitude and latitude on WGS 84, as WKB."""
    import pyproj  # noqa: PLC0415 - slow to import
    import shapely  # noqa: PLC0415

    from plotmap.spatial.crs import BallparkTransformError, transform_geometries  # noqa: PLC0415

    try:
        moved = transform_geometries(shapely.from_wkb(wkb), pyproj.CRS(crs), pyproj.CRS("OGC:CRS84"))
    except BallparkTransformError as error:
        raise OutputError(f"{folder}: GeoJSON needs longitude and latitude. {error}.") from error
    made: npt.NDArray[np.object_] = np.asarray(shapely.to_wkb(moved, flavor="iso"), dtype=object)
    return made
