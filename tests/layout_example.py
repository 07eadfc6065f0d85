"""Ground to lay plots on, made from a few polygons, for tests of what comes before the field."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import shapely

from plotmap.fielddata.settings_file import settings_from
from plotmap.model.findings import Findings
from plotmap.model.layout import Ground
from plotmap.spatial import geodesic_area_ha

CRS = "EPSG:32630"
WEST_M, SOUTH_M = 499_800.0, 5_600_000.0


def at(west: float, south: float, east: float, north: float) -> shapely.Polygon:
    """Return a rectangle, in m from the south-western corner of the example."""
    return shapely.box(WEST_M + west, SOUTH_M + south, WEST_M + east, SOUTH_M + north)


TWO = {"A": at(0, 0, 600, 400), "B": at(600, 0, 1000, 400)}
"""24 and 16 ha."""


def ground_example(
    layout: Mapping[str, Any],
    polygons: Mapping[str, shapely.Geometry] | None = None,
    *,
    strata: Sequence[str] | None = None,
    excluded: Sequence[shapely.Geometry] = (),
    plots: Mapping[str, Any] | None = None,
    **sections: Mapping[str, Any],
) -> Ground:
    """Return ground with compartments of these polygons; one stratum, and circles of 12.62 m, unless said."""
    shapes = TWO if polygons is None else polygons
    settings = settings_from(
        {"plots": plots or {"design": "circle", "radius_m": 12.62}, "layout": dict(layout), **sections}
    )
    names = list(shapes)
    frame = gpd.GeoDataFrame(
        {
            "compartment": names,
            "name": names,
            "stratum": list(strata or ["all"] * len(names)),
            "area_ha": np.nan,
        },
        geometry=list(shapes.values()),
        crs=CRS,
    )
    frame["area_geodesic_ha"] = geodesic_area_ha(frame.geometry.to_numpy(), frame.crs)
    frame["source_row"] = range(1, len(names) + 1)
    return Ground(
        folder=Path(),
        settings=settings,
        crs=CRS,
        compartments=frame,
        excluded=np.array(list(excluded), dtype=object),
        inputs=(),
        findings=Findings.none(),
    )
