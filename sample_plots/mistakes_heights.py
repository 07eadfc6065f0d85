"""Mistakes of heights and volumes. Everything is invented."""

from __future__ import annotations

from mistake_tools import HERE, Mistake, squares, write_texts
from sample_map import CRS, write_layer

_FOLDER = "heights"
_TOML = f"""\
[survey]
title = "With mistakes: heights (invented)"
crs = "{CRS}"

[plots]
design = "circle"
radius_m = 12.62

[stems]
breast_height_m = 1.37
count = "all"           # dead stems too

[heights]
min_pairs = 5
"""
_TABLES = {
    "plots.csv": """\
plot,easting,northing,date
P01,511100,6027100,2026-05-04
P02,511300,6027100,2026-05-04
""",
    "trees.csv": """\
plot,tree,species,condition,d1_cm,height_m
P01,1,oak,live,24.0,17.5
P01,2,oak,live,31.5,20.5
P01,3,oak,live,28.0,1.35 <-- height-below-breast-height: lower than the 1.37 m its diameter was measured at
P01,4,oak,live,26.5,81.0 <-- height-not-plausible: 18.0 with its digits exchanged
P01,5,oak,dead,33.0,6.5 <-- height-of-dead-stem: broken off
P02,1,oak,live,39.0,23.0
P02,2,oak,live,18.5,14.5
P02,3,ash,live,27.0,21.0 <-- too-few-heights: one height makes no curve of the ash
P02,4,elm,live,22.0, <-- volume-without-equation: oak and ash have a form factor, elm has none
""",
    "species.csv": """\
species,name,form_factor
oak,Quercus petraea,0.46
ash,Fraxinus excelsior,0.47
elm,Ulmus glabra,
""",
}


def height_mistakes() -> list[Mistake]:
    """Write the folder with mistakes of heights."""
    found = write_texts(_FOLDER, _TOML, _TABLES)
    write_layer(squares(("1", "2")), HERE / _FOLDER / "compartments.gpkg", "compartments")
    return found
