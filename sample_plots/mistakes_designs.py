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
plot,easting,northing,design,area_m2
P01,511195,6027100,,
P02,511300,6027100,,
P03,511100,6027300,rectangle,400 <-- edge-not-for-design: the part inside is known of circles only
""",
    "trees.csv": """\
plot,tree,species,d1_cm,azimuth_deg,distance_m
P01,1,oak,31.0,80,7.2
P01,2,oak,27.0,200,4.4
P02,1,oak,45.0,,3.1 <-- stem-without-position: no azimuth
P03,1,oak,38.0,,
""",
    "tallies.csv": """\
plot,species,class,count
P02,ash,10-15,3 <-- tally-without-position: tallied stems have no position
""",
}
_UNDER_TOML = f"""\
[survey]
title = "With mistakes: results under bark (invented)"
crs = "{CRS}"

[plots]
design = "angle-count"
baf_m2_per_ha = 4

[stems]
bark = "under"

[classes]
bands = [{{ name = "reed", low_cm = 1, high_cm = 3 }}]
"""
_UNDER = {
    "plots.csv": """\
plot,easting,northing,date
P01,511100,6027100,2026-05-04
P02,511300,6027100,2026-05-04
""",
    "trees.csv": """\
plot,tree,species,d1_cm,bark,bark_mm,instrument
P01,1,oak,34.0,over,12,K1
P02,1,oak,30.0,under,,K1 <-- over-bark-unknown: the gauge saw it over bark, but how thick?
""",
    "tallies.csv": """\
plot,species,class,count,instrument
P01,oak,30-35,3,K1 <-- tally-over-bark: the results are under bark
P02,oak,reed,2,K1 <-- tally-not-positive: K1 reads 40 mm with its jaws closed
""",
    "instruments.csv": """\
instrument,kind,date,zero_mm
K1,caliper,2026-05-01,40
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
        ("under_bark", _UNDER_TOML, _UNDER),
        ("no_plot_left", circles("no plot left", CRS), _AWAY),
    ):
        found += write_texts(folder, toml, tables)
        write_layer(squares(("1", "2", "3", "4")), HERE / folder / "compartments.gpkg", "compartments")
    return found
