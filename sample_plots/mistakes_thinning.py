"""Mistakes of rules of thinning. Everything is invented."""

from __future__ import annotations

from mistake_tools import HERE, Mistake, circles, squares, write_texts
from sample_map import CRS, write_layer

_FOLDER = "thinning"
_HEADING = (
    "rule,compartment,stratum,criterion,kind,min_plots,trigger_basal_area_m2_per_ha,residual_basal_area_m2_per_ha,"
    "trigger_density_pct,never_cut"
)
_TABLES = {
    "plots.csv": """\
plot,easting,northing,date
P01,511100,6027100,2026-05-04
P02,511300,6027100,2026-05-04
""",
    "trees.csv": """\
plot,tree,species,d1_cm
P01,1,oak,24.0
P01,2,oak,31.5
P02,1,oak,39.0
P02,2,ash,18.5
""",
    "prescriptions.csv": f"""\
{_HEADING}
first,1,,basal area,from below,5,30,22,,
second,1,,basal area,proportional,5,30,24,, <-- prescription-twice: compartment 1 has a rule in row 2
third,,,basal area,from below,5,30,22,, <-- prescription-without-place: it says nowhere where it holds
fourth,12,,basal area,from below,5,30,22,, <-- prescription-elsewhere: there is no compartment 12
fifth,2,,basal area,from below,5,22,30,, <-- prescription-contradictory: more is to stay than what calls for thinning
sixth,3,,relative density,from below,5,,22,60, <-- prescription-incomplete: the settings have no largest index
seventh,4,,basal area,from below,5,30,22,,oak;ahs <-- prescription-species-unknown: ash was meant
""",
}


def thinning_mistakes() -> list[Mistake]:
    """Write the folder with mistakes of rules."""
    found = write_texts(_FOLDER, circles("rules of thinning", CRS), _TABLES)
    write_layer(squares(("1", "2", "3", "4")), HERE / _FOLDER / "compartments.gpkg", "compartments")
    return found
