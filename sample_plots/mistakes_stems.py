"""Mistakes of measuring stems: instruments, units, rounding, bark and climbers, bands and spelling."""

# ruff: noqa: E501 - a row and what is wrong with it stand on one line
from __future__ import annotations

from mistake_tools import HERE, Mistake, squares, write_texts
from sample_map import CRS, write_layer

_FOLDER = "stems_and_bands"
_TOML = f"""\
<-- bands-hard-to-tell-apart: ochre and moss, red and green of one lightness
[survey]
title = "With mistakes: stems and bands (invented)"
crs = "{CRS}"

[plots]
design = "circle"
radius_m = 12.62

[stems]
min_dbh_cm = 10
rounding = "down"       # crews cut off to whole centimetres

[classes]
width_cm = 10
bands = [
  {{ name = "ochre", low_cm = 5, high_cm = 20, colour = "#d7191c" }},
  {{ name = "moss", low_cm = 20, high_cm = 35, colour = "#1a9641" }},
  {{ name = "chalk", low_cm = 35, mean_cm = 42, colour = "#f5f5f0" }},
]
"""
_GIRTHS_MM = (880, 1020, 760, 640, 1110, 930, 1240, 700, 985, 1045)
_TABLES = {
    "plots.csv": """\
plot,easting,northing,date
P01,511100,6027100,2026-05-04
P02,511300,6027100,2026-05-12
""",
    "trees.csv": """\
plot,tree,species,d1_cm,d2_cm,girth_cm,instrument,climber,climber_mm
P01,1,elm,24,,,K1,, <-- single-reading-oval: elms are oval, and one reading may be the long way
P01,2,oak,31,30,,K1,,
P01,3,Oak,28,27,,K1,, <-- spelling-differs-in-capitals: Oak and oak are two species to the tables
P01,4,oak,22.5,23,,K1,, <-- rounding-not-whole: 22.5 was not cut off to whole centimetres
P01,5,oak,26,25,,,, <-- instrument-not-recorded: K1 or K2?
P01,6,oak,,,104,T1,yes, <-- climber-without-size: a climber in the girth, but how thick? | readings-look-like-other-unit: the girths below were read in millimetres
"""
    + "".join(f"P02,{tree},oak,,,{girth},T1,,\n" for tree, girth in enumerate(_GIRTHS_MM, start=1)),
    "tallies.csv": """\
plot,species,class,count,instrument
P01,oak,ochre,6, <-- tally-below-threshold: the band begins at 5 cm, stems count from 10 cm
P02,oak,moss,5,K2 <-- band-edges-moved: K2 read 4 mm too much on that day
P02,oak,C,2,K2
""",
    "instruments.csv": """\
instrument,kind,date,zero_mm,bar_mm,bar_reading_mm
K1,caliper,2026-05-01,1,300,310 <-- instrument-gain: 309 mm for a bar of 300 mm
K2,caliper,2026-05-01,-1,,
K2,caliper,2026-05-11,4,, <-- instrument-moved: from -1 to 4 mm in ten days
K3,caliper,2026-05-01,0,300, <-- bar-unusable: the bar was not read | instrument-unused: nobody measured with K3
T1,tape,2026-05-01,0,,
""",
    "species.csv": """\
species,name,bark_factor,oval
oak,Quercus petraea,0.93,no
elm,Ulmus glabra,0.94,yes
oak,Quercus robur,0.91,no <-- species-twice: which factor is right?
""",
}


def stem_mistakes() -> list[Mistake]:
    """Write the folder with mistakes of measuring."""
    found = write_texts(_FOLDER, _TOML, _TABLES)
    write_layer(squares(("1", "2")), HERE / _FOLDER / "compartments.gpkg", "compartments")
    return found
