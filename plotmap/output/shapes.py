"""Where the rows of the result tables lie, as WKB: what every writer of layers starts from."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from plotmap.model.survey import Stand

if TYPE_CHECKING:
    import geopandas as gpd
    import numpy as np
    import numpy.typing as npt

GEOMETRY_TYPES = {"compartments": "MultiPolygon", "plots": "Point", "trees": "Point", "findings": "Point"}
"""Result tables that can have shapes."""


def stand_shapes(stand: Stand, frames: dict[str, pl.DataFrame]) -> dict[str, npt.NDArray[np.object_]]:
    """Return the shapes of every layer of a stand by the name of its table.

    Parameters
    ----------
    stand : Stand
        What was computed.
    frames : dict of str to polars.DataFrame
        Its tables, as `plotmap.output.declared.stand_frames` gives them.

    Returns
    -------
    dict of str to numpy.ndarray of bytes, shape (n,)
        WKB in the CRS of the stand, None where a row has no place. Compartments are multi-polygons, plots and stems
        points; findings lie at their plot, else on the surface of their compartment. ``trees`` is not there where the
        position of no stem was measured.
    """
    return {
        "compartments": wkb(stand.compartments, multi=True),
        "plots": wkb(stand.plots),
        "findings": _finding_points(frames["findings"], stand.compartments, stand.plots),
    } | _stem_points(frames["trees"])


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
