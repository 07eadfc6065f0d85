"""Mistakes that only show when two surveys of one forest are compared."""

from __future__ import annotations

from mistake_tools import HERE, Mistake, circles, square, squares, write_texts
from sample_map import CRS, write_layer
from shapely.affinity import translate

FOLDER = "two_surveys"
"""Holds the two survey folders ``old`` and ``new``."""
_OLD = {
    "plots.csv": """\
plot,easting,northing,date
P01,511100,6027100,2021-05-03
P02,511300,6027100,2021-05-03
P03,511100,6027300,2021-05-04
P04,511300,6027300,2021-05-04
P05,511060,6027060,2021-05-04
P06,511350,6027050,2021-05-04
""",
    "trees.csv": """\
plot,tree,species,condition,d1_cm
P01,1,oak,live,24.5
P01,2,oak,live,31.9
P01,3,oak,live,40.4
P01,4,ash,live,18.4
P02,1,ash,live,27.9
P02,2,ash,live,33.1
P03,1,oak,live,52.0
P04,1,oak,live,36.0
P05,1,oak,live,29.0
P06,1,ash,live,22.0
""",
}
_NEW = {
    "plots.csv": """\
plot,easting,northing,radius_m,date
P01,511100,6027100,,2026-05-03
P02,511300,6027140,,2026-05-03 <-- pair-moved: 40 m north of the place of 2021
P03,511100,6027300,15.0,2026-05-04 <-- pair-other-area: laid out with 15 m instead of 12.62 m
P04,511300,6027300,,2021-05-04 <-- pair-out-of-order: the old date was copied
P05,511060,6027060,,2026-05-04
P06,511350,6027050,,2026-05-04 <-- pair-not-numbered: its stem has lost its number
""",
    "trees.csv": """\
plot,tree,species,condition,d1_cm
P01,1,oak,live,26.2
P01,2,oak,live,23.9 <-- stem-shrank: 31.9 cm in 2021; a slip for 33.9?
P01,3,oak,live,54.0 <-- stem-grew-fast: 13.6 cm in five years
P01,4,oak,live,19.6 <-- stem-other-species: an ash in 2021
P01,5,oak,live,37.0 <-- stem-new-and-thick: not in the old survey, and no young stem
P02,1,ash,live,29.3
P02,2,ash,dead,33.4
P03,1,oak,live,54.1
P04,1,oak,live,37.3
P05,1,oak,live,30.6
P06,,ash,live,23.1
""",
}


def change_mistakes() -> list[Mistake]:
    """Write both folders; return what a comparison finds."""
    for part, tables in (("old", _OLD), ("new", _NEW)):
        found = write_texts(f"{FOLDER}/{part}", circles(f"two surveys, {part}", CRS), tables)
    layer = squares(("1", "2", "3", "4"))
    write_layer(layer, HERE / FOLDER / "new" / "compartments.gpkg", "compartments")
    layer.loc[3, "geometry"] = translate(square(1, 1), 10, 0)
    write_layer(layer, HERE / FOLDER / "old" / "compartments.gpkg", "compartments")
    told = [Mistake(FOLDER, mistake.file, mistake.row, mistake.code, mistake.why) for mistake in found]
    why = "compartment 4 was drawn 10 m farther east in 2021"
    return [*told, Mistake(FOLDER, "compartments.gpkg", None, "boundary-changed", why)]
