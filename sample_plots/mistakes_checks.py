"""Mistakes that check measurements bring to light, and mistakes of the check itself."""

# ruff: noqa: E501 - a row and what is wrong with it stand on one line
from __future__ import annotations

from mistake_tools import HERE, Mistake, circles, squares, write_texts
from sample_map import CRS, write_layer

_TABLES = {
    "plots.csv": """\
plot,easting,northing,state,crew
P01,511100,6027100,measured,crew A
P02,511300,6027100,measured,crew B
P03,511100,6027300,measured,crew C
P04,511300,6027300,lost,crew C
""",
    "trees.csv": """\
plot,tree,species,d1_cm
P01,1,oak,24.5
P01,2,oak,31.9
P01,3,oak,40.4
P01,4,oak,18.4
P02,1,ash,27.9
P02,2,ash,33.1
P02,3,ash,21.0
P02,4,ash,45.2
P03,,oak,52.0
""",
    "check_trees.csv": """\
plot,tree,species,d1_cm,crew <-- check-bias: crew A reads 4 mm too high | check-outside-tolerance: two of three diameters of crew B are off
P01,1,oak,24.1,crew E
P01,2,oak,31.4,crew E
P01,3,oak,40.0,crew E
P01,4,oak,18.1,crew E
P01,4,oak,18.1,crew E <-- check-stem-twice: tree 4 is the row above
P02,1,ash,27.1,crew E <-- check-stems-extra: tree 4 of crew B stands outside the circle
P02,2,ash,34.0,crew E
P02,3,ash,21.1,crew E
P02,5,ash,12.6,crew E <-- check-stems-missed: crew B walked past it
P03,,oak,23.0,crew E <-- check-without-pairs: 23 cm is not the oak of 52 cm; another plot?
P04,1,oak,30.0,crew E <-- check-on-unmeasured-plot: P04 is lost
P99,1,oak,30.0,crew E <-- check-plot-unknown: there is no plot P99
""",
}


def check_mistakes() -> list[Mistake]:
    """Write the folder of check measurements."""
    folder = "check_measurements"
    found = write_texts(folder, circles("check measurements", CRS), _TABLES)
    write_layer(squares(("1", "2", "3", "4")), HERE / folder / "compartments.gpkg", "compartments")
    return found
