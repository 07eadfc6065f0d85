"""The result tables as GeoParquet 1.1, and as plain Parquet where they have no geometry."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import polars as pl

from plotmap.model.columns import Table
from plotmap.model.result_tables import RESULT_TABLES
from plotmap.model.survey import Stand
from plotmap.output.declared import stand_frames
from plotmap.output.geopackage_metadata import describe, provenance
from plotmap.output.shapes import GEOMETRY_TYPES, stand_shapes

if TYPE_CHECKING:
    import numpy.typing as npt
    import pyarrow as pa

VERSION = "1.1.0"
_GEOMETRY, _BOX = "geometry", "bbox"
_SIDES = ("xmin", "ymin", "xmax", "ymax")


def write_geoparquet(stand: Stand, folder: Path) -> None:
    """Write every result table to ``<folder>/<table>.parquet``.

    Compartments, plots, stems with positions and findings are GeoParquet 1.1: a column ``geometry`` of ISO WKB in the
    CRS of the stand, given as PROJJSON, and a column ``bbox`` that readers filter by. All others are plain Parquet.
    Missing is null. Every column carries its title, unit and meaning as metadata of its Arrow field (``title``,
    ``unit``, ``description``), every file the settings, versions and inputs (``plotmap``). The same stand gives the
    same bytes.

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
    OSError
        A file cannot be written; `plotmap.output.publish` words it.
    """
    import pyarrow.parquet as pq  # noqa: PLC0415 - slow to import

    folder.mkdir(exist_ok=True)
    frames = stand_frames(stand)
    shapes = stand_shapes(stand, frames)
    made_from = json.dumps(provenance(stand), ensure_ascii=False, sort_keys=True)
    for table in RESULT_TABLES:
        cells = _described(table, frames[table.name])
        told = {"plotmap": made_from}
        if table.name in shapes:
            kind = GEOMETRY_TYPES[table.name]
            cells, box = _with_shapes(cells, shapes[table.name])
            told["geo"] = json.dumps(_geo(kind, stand.crs, box), sort_keys=True)
        pq.write_table(
            cells.replace_schema_metadata(told), folder / f"{table.name}.parquet", compression="zstd"
        )


def _described(table: Table, frame: pl.DataFrame) -> pa.Table:
    """Return the cells with what each column is as metadata of its field."""
    cells: pa.Table = frame.to_arrow(compat_level=pl.CompatLevel.oldest())
    fields = [
        field.with_metadata({"title": column.title, "unit": column.unit, "description": describe(column)})
        for field, column in zip(cells.schema, table.columns, strict=True)
    ]
    import pyarrow as pa  # noqa: PLC0415 - slow to import

    return cells.cast(pa.schema(fields))


def _with_shapes(cells: pa.Table, wkb: npt.NDArray[np.object_]) -> tuple[pa.Table, list[float] | None]:
    """Return the cells with geometry and bounds of each row, and the bounds of all, None without any."""
    import pyarrow as pa  # noqa: PLC0415 - slow to import
    import shapely  # noqa: PLC0415

    bounds = shapely.bounds(shapely.from_wkb(wkb))
    lacking = np.isnan(bounds[:, 0])
    boxes = pa.StructArray.from_arrays(
        [pa.array(side, mask=lacking) for side in bounds.T], names=list(_SIDES), mask=pa.array(lacking)
    )
    made = cells.append_column(_GEOMETRY, pa.array(wkb, type=pa.binary())).append_column(_BOX, boxes)
    if lacking.all():
        return made, None
    low, high = np.nanmin(bounds[:, :2], axis=0), np.nanmax(bounds[:, 2:], axis=0)
    return made, [*low.tolist(), *high.tolist()]


def _geo(kind: str, crs: str, box: list[float] | None) -> dict[str, Any]:
    """Return the metadata of GeoParquet 1.1 (key ``geo`` of the file)."""
    import pyproj  # noqa: PLC0415 - slow to import

    column: dict[str, Any] = {
        "encoding": "WKB",
        "geometry_types": [kind],
        "crs": pyproj.CRS(crs).to_json_dict(),
        "covering": {_BOX: {side: [_BOX, side] for side in _SIDES}},
    }
    if box is not None:
        column["bbox"] = box
    return {"version": VERSION, "primary_column": _GEOMETRY, "columns": {_GEOMETRY: column}}
