"""Mistakes of positions, headings, dates, workbooks and files as they come from the field."""

from __future__ import annotations

from mistake_tools import HERE, Mistake, circles, squares, write_texts
from sample_map import CRS, write_layer
from shapely.geometry import box

_TREES = "plot,tree,species,d1_cm\nP01,1,oak,24.1\nP02,1,oak,31.5\nP03,1,oak,28.0\n"
_POSITIONS = {
    "plots.csv": """\
plot,easting,northing,lon,lat,design,compartment
P01,511100,6027100,-2.828746,54.391634,,1 <-- plot-position-differs: lon and lat are 22 m off
P02,511199,6027100,,,,1 <-- plot-in-overlap: compartment 2 reaches over compartment 1
P03,,,,,full, <-- plot-without-compartment: a full count of which compartment?
""",
    "trees.csv": _TREES,
}
_ELSEWHERE = {
    "plots.csv": """\
plot,lon,lat <-- plots-elsewhere: lon and lat are exchanged
P01,54.391479,-2.829003
P02,54.391479,-2.825923
P03,54.391749,-2.825922
""",
    "trees.csv": _TREES,
}
_FAR_ZONE = {
    "plots.csv": "plot,lon,lat\nP01,-2.829003,54.391479\nP02,-2.825923,54.391479\nP03,-2.825922,54.391749\n",
    "trees.csv": _TREES,
}


def reading_mistakes() -> list[Mistake]:
    """Write the folders about reading."""
    return [*_positions(), *_elsewhere(), *_far_zone()]


def _positions() -> list[Mistake]:
    """Write positions that contradict each other."""
    folder = "positions"
    found = write_texts(folder, circles("positions", CRS), _POSITIONS)
    frame = squares(("1", "2"))
    frame.loc[1, "geometry"] = box(511_198, 6_027_000, 511_400, 6_027_200)
    write_layer(frame, HERE / folder / "compartments.gpkg", "compartments")
    return found


def _elsewhere() -> list[Mistake]:
    """Write plots whose longitude and latitude changed places."""
    folder = "elsewhere"
    found = write_texts(folder, circles("elsewhere", CRS), _ELSEWHERE)
    write_layer(squares(("1", "2")), HERE / folder / "compartments.gpkg", "compartments")
    return found


def _far_zone() -> list[Mistake]:
    """Write a survey in a UTM zone that is not its own."""
    folder = "far_zone"
    toml = circles("far zone", "EPSG:32633").replace(
        'crs = "EPSG:32633"', 'crs = "EPSG:32633" <-- crs-distorts: three zones too far east'
    )
    found = write_texts(folder, toml, _FAR_ZONE)
    write_layer(squares(("1", "2")), HERE / folder / "compartments.gpkg", "compartments")
    return found
