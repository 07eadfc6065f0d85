"""Mistakes of samples: single plots, and plots as large as their compartment, where the settings ask for more."""

from __future__ import annotations

from mistake_tools import HERE, Mistake, squares, write_texts
from sample_map import CRS, write_layer

_TOML = f"""\
[survey]
title = "With mistakes: samples (invented)"
crs = "{CRS}"

[plots]
design = "rectangle"
area_m2 = 21000
baf_m2_per_ha = 4

[estimates]
finite_population = true
one_plot_variance = "refuse"
"""
_TABLES = {
    "plots.csv": """\
plot,easting,northing,design
P01,511050,6027100,
P02,511150,6027100,
P03,511300,6027050,angle-count
P04,511300,6027150,angle-count
P05,511100,6027300,
P06,511300,6027250,
P07,511300,6027350,strip
""",
    "trees.csv": """\
plot,tree,species,d1_cm
P01,1,oak,31.0
P02,1,oak,27.0
P03,1,oak,45.0
P04,1,oak,38.5
P05,1,oak,52.0
P06,1,oak,24.0
P07,1,oak,33.0
""",
}
_FOUND = (
    (1, "sampled-area-too-large", "two plots of 2.1 ha on 4.0 ha"),
    (2, "no-sampled-area", "angle counts"),
    (3, "one-plot-refused", "P05 is its only plot"),
    (4, "no-sampled-area", "a rectangle and a strip"),
)


def sample_mistakes() -> list[Mistake]:
    """Write the folder of this page."""
    folder, file = "samples", "compartments.gpkg"
    found = write_texts(folder, _TOML, _TABLES)
    write_layer(squares(("1", "2", "3", "4")), HERE / folder / file, "compartments")
    return [*found, *(Mistake(folder, file, *one) for one in _FOUND)]
