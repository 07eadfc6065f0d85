"""Mistakes in what settings ask of the map: a layer that cannot be used, a species that nothing has."""

from __future__ import annotations

import geopandas as gpd
from mistake_tools import HERE, Mistake, circles, squares, write_texts
from sample_map import CRS, write_layer
from shapely.geometry import LineString

_MAP = """
[map]
species = "bech" <-- map-species-unknown: the stems are beech
layers = [
  { file = "paths.gpkg", name = "Paths" }, <-- map-layer-unusable: there is no such file
  { file = "streams.gpkg", name = "Streams" }, <-- map-layer-unusable: they lie 90 km away
]
"""
_TABLES = {
    "plots.csv": """\
plot,easting,northing
P01,511100,6027100
P02,511300,6027100
""",
    "trees.csv": """\
plot,tree,species,d1_cm
P01,1,beech,24.5
P02,1,oak,27.9
""",
}


def map_mistakes() -> list[Mistake]:
    """Write the folder of layers for the map."""
    folder = "map_layers"
    found = write_texts(folder, circles("layers for the map", CRS) + _MAP, _TABLES)
    write_layer(squares(("1", "2")), HERE / folder / "compartments.gpkg", "compartments")
    stream = gpd.GeoDataFrame(geometry=[LineString([(600_000, 6_027_000), (601_000, 6_027_400)])], crs=CRS)
    write_layer(stream, HERE / folder / "streams.gpkg", "streams")
    return [Mistake(one.folder, one.file, None, one.code, one.why) for one in found]
