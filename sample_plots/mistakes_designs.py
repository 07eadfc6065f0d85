"""Mistakes of plot designs: rings, angle counts, full counts, circles shared out, and no plot left."""

from __future__ import annotations

from mistake_tools import HERE, Mistake, circles, squares, write_texts
from sample_map import CRS, write_layer

_RINGS_TOML = f"""\
[survey]
title = "With mistakes: rings and counts (invented)"
crs = "{CRS}"

[plots]
design = "nested"
nests = [{{ radius_m = 5, min_dbh_cm = 10 }}, {{ radius_m = 10, min_dbh_cm = 30 }}]
baf_m2_per_ha = 4

[classes]
width_cm = 20
"""
_RINGS = {
    "plots.csv": """\
plot,easting,northing,design,compartment
P01,511100,6027100,,1
P02,511300,6027100,angle-count,2
P03,,,full,3
P04,511100,6027300,,3 <-- full-count-with-plots: compartment 3 was counted whole
""",
    "trees.csv": """\
plot,tree,species,d1_cm,distance_m
P01,1,oak,34.0,8.2
P01,2,oak,8.5,3.0 <-- stem-below-rings: too thin for the smallest ring
P01,3,oak,22.0,6.1 <-- stem-beyond-radius: 22 cm counts to 5 m only
P02,1,oak,30.0,7.9 <-- stem-beyond-limit: 30 cm is in to 7.5 m with a factor of 4
P02,2,oak,44.0,6.0
P03,1,oak,61.0,
P04,1,oak,38.0,2.0
""",
    "tallies.csv": """\
plot,species,class,count
P01,ash,20-40,2 <-- tally-across-rings: 30 cm lies within the class
""",
}
_SHARED_TOML = f"""\
[survey]
title = "With mistakes: circles shared out (invented)"
crs = "{CRS}"

[plots]
design = "circle"
radius_m = 10
edge = "positions"
"""
_SHARED = {
    "plots.csv": """\
plot,easting,northing
P01,511195,6027100
P02,511300,6027100
""",
    "trees.csv": """\
plot,tree,species,d1_cm,azimuth_deg,distance_m
P01,1,oak,31.0,80,7.2
P01,2,oak,27.0,200,4.4
P02,1,oak,45.0,,3.1 <-- stem-without-position: no azimuth
""",
    "tallies.csv": """\
plot,species,class,count
P02,ash,10-15,3 <-- tally-without-position: tallied stems have no position
""",
}
_AWAY = {
    "plots.csv": """\
plot,easting,northing,state <-- no-plots-left: one is lost, the other not visited
P01,511100,6027100,lost
P02,511300,6027100,unvisited
""",
    "trees.csv": """\
plot,tree,species,d1_cm
""",
}


def design_mistakes() -> list[Mistake]:
    """Write the folders of this page."""
    found: list[Mistake] = []
    for folder, toml, tables in (
        ("rings_and_counts", _RINGS_TOML, _RINGS),
        ("shared_circles", _SHARED_TOML, _SHARED),
        ("no_plot_left", circles("no plot left", CRS), _AWAY),
    ):
        found += write_texts(folder, toml, tables)
        write_layer(squares(("1", "2", "3", "4")), HERE / folder / "compartments.gpkg", "compartments")
    return found
