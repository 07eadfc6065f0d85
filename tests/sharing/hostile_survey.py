"""An invented survey folder whose secrets stand wherever they can: for tests of what others may see."""

from __future__ import annotations

from pathlib import Path

from tests.folder_example import folder_example

SPECIES = ("elm", "Ulmus glabra", "wych elm <b>", "Éßen&elm")
"""Code, botanical and local name of the sensitive species, and another sensitive one without stems."""
CREWS = ('Zoë "Zed" Quill', "party Quux", "Warden Blot")
INSTRUMENTS = ("Quillcaliper-7", "K9")
PLOTS = tuple(f"QP-{number}x" for number in range(1, 10))

_SPECIES = """\
species,name,local_name,group,bark_factor,form_factor,sensitive
oak,Quercus robur,oak,,0.93,0.46,no
ash,Fraxinus excelsior,ash,,0.95,0.47,no
rowan,Sorbus aucuparia,rowan,,0.96,0.44,no
elm,Ulmus glabra,wych elm <b>,,0.90,0.50,yes
Éßen&elm,,,,,,yes
"""
_EAST = (499_853.7, 499_951.3, 500_053.9, 500_151.1, 500_253.3, 500_347.7, 499_851.9, 500_049.3, 500_257.1)
_NORTH = (51.3, 152.7, 53.1, 148.9, 47.3, 151.7, 143.9, 101.3, 141.7)


def _plots() -> str:
    lines = ["plot,easting,northing,compartment,state,date,crew,slope_pct"]
    homes = ("A", "A", "B", "B", "C", "C", "A", "B", "C")
    for number, plot in enumerate(PLOTS):
        crew = CREWS[number % 2].replace('"', '""')
        state = "empty" if number == 5 else "measured"
        north = 5_600_000 + _NORTH[number]
        lines.append(f'{plot},{_EAST[number]},{north},{homes[number]},{state},2026-05-14,"{crew}",{number}')
    return "\n".join(lines) + "\n"


def _trees() -> str:
    """Return stems: elm stands on QP-1x and QP-3x, once misspelt; rowan on four plots, oak and ash everywhere."""
    lines = ["plot,tree,species,d1_cm,d2_cm,instrument,height_m,azimuth_deg,distance_m,elm_remark"]
    for number, plot in enumerate(PLOTS):
        if number == 5:
            continue
        for tree in range(1, 8):
            name = "oak" if tree % 2 else "ash"
            if tree == 7 and number in {0, 2, 3, 6}:
                name = "rowan"
            if tree <= 2 and number in {0, 2}:
                name = "elm" if tree == 1 else "ellm"
            d1_cm = 20 + 2 * number + 1.5 * tree
            remark = "beside the wych elm of Zoë" if tree == 3 else ""
            lines.append(
                f"{plot},{tree},{name},{d1_cm:.1f},{d1_cm + 0.6:.1f},{INSTRUMENTS[tree % 2]},{15 + number}.5,"
                f"{40 * tree},{tree},{remark}"
            )
    return "\n".join(lines) + "\n"


def _settings(more: str) -> str:
    return f"""\
[survey]
title = "Hidden Wood"

[columns.trees]
"elm_remark" = "remark"

[plots]
design = "circle"
radius_m = 12.62

[classes]
bands = [{{name = "chalk", low_cm = 20, high_cm = 30}}, {{name = "moss", low_cm = 30, high_cm = 45}}]

[[volume.equations]]
species = "elm"
kind = "power"
a = 0.000123
b = 2.5
min_dbh_cm = 1
max_dbh_cm = 200
bark = "over"
volume_bark = "over"
source = "the book of elm"

[[volume.equations]]
species = "*"
kind = "power"
a = 0.0001
b = 2.4
min_dbh_cm = 1
max_dbh_cm = 200
bark = "over"
volume_bark = "over"
source = "a book"

[[density.maxima]]
species = "elm"
index = 900

[[density.maxima]]
species = "*"
index = 1000

[map]
species = "elm"

{more}
"""


def hostile_files(more: str = "") -> dict[str, str]:
    """Return the files of the survey but its compartments; `more` is added to survey.toml."""
    return {
        "survey.toml": _settings(more),
        "plots.csv": _plots(),
        "trees.csv": _trees(),
        "tallies.csv": "plot,species,class,count\nQP-2x,elm,chalk,3\nQP-2x,oak,moss,4\nQP-4x,ash,chalk,2\n",
        "species.csv": _SPECIES,
        "instruments.csv": (
            "instrument,kind,date,zero_mm\nQuillcaliper-7,caliper,2026-05-01,1\nK9,caliper,2026-05-01,0\n"
        ),
        "check_trees.csv": (
            "plot,tree,species,d1_cm,instrument,crew,date,remark\n"
            "QP-1x,1,elm,21.9,K9,Warden Blot,2026-05-20,the elm\n"
            "QP-1x,3,elm,25.1,K9,Warden Blot,2026-05-20,\n"
        ),
    }


def hostile_survey(folder: Path, more: str = "", **replace: str | None) -> Path:
    """Write the survey folder; keywords name files (without ending) that are written in another way or left out."""
    other = {f"{name}.csv": text for name, text in replace.items()}
    return folder_example(folder, {**hostile_files(more), **other})
