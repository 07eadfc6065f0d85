"""Headings that are nearly those of a column: other common words, and slips of the pen. None of them is read."""

from __future__ import annotations

import difflib
import re

from plotmap.model.columns import Table
from plotmap.units import units_of

_CUTOFF = 0.8
"""Share of letters in common, from which two headings are one with a slip (`difflib`)."""
_READINGS = 4
_ALIASES: dict[str, dict[str, str]] = {
    "plots": {
        "longitude": "lon", "long": "lon", "latitude": "lat", "x": "easting", "y": "northing", "east": "easting",
        "north": "northing", "status": "state", "team": "crew", "radius": "radius_m",
    },
    "trees": {
        "dbh": "d1_cm", "dbh_cm": "d1_cm", "dbh_mm": "d1_mm", "diameter": "d1_cm", "diameter_cm": "d1_cm",
        "diameter_mm": "d1_mm", "d_cm": "d1_cm", "d_mm": "d1_mm", "gbh": "girth_cm", "gbh_cm": "girth_cm",
        "circumference": "girth_cm", "circumference_cm": "girth_cm", "caliper": "instrument",
        "bearing": "azimuth_deg", "stem": "tree", "notes": "remark", "remarks": "remark",
    },
    "tallies": {"number": "count", "n": "count", "stems": "count", "band": "class", "colour": "class"},
    "instruments": {"caliper": "instrument", "type": "kind", "zero": "zero_mm"},
    "compartments": {
        "area": "area_ha", "hectares": "area_ha", "block": "compartment", "id": "compartment", "no": "compartment",
        "nr": "compartment", "number": "compartment",
    },
}  # fmt: skip
_OF_ALL = {"sp": "species", "spp": "species", "cpt": "compartment", "comp": "compartment", "day": "date"}
_NUMBER_OF = re.compile(r"^(plot|tree|compartment|instrument)_(?:no|nr|id|number|num|name|code)$")


def near_miss(table: Table, text: str) -> str | None:
    """Return the column that a heading may be meant for, as plotmap spells it; None where it is like none.

    Parameters
    ----------
    table : Table
        What the file is to hold.
    text : str
        A heading that was not understood.
    """
    plain = re.sub(r"\W+", "_", text.strip().casefold()).strip("_")
    own = _ALIASES.get(table.name.removeprefix("check_"), {})
    said = own.get(plain) or _OF_ALL.get(plain)
    if said is None and (numbered := _NUMBER_OF.match(plain)):
        said = numbered[1]
    spellings = _spellings(table)
    if said is not None:
        return said if said in spellings else None
    close = difflib.get_close_matches(plain, spellings, n=1, cutoff=_CUTOFF)
    return close[0] if close else None


def _spellings(table: Table) -> list[str]:
    """Return every spelling of every column, in each of its units."""
    names: list[str] = []
    for column in table.columns:
        units = list(units_of(column.dimension)) if column.dimension else []
        if column.numbered:
            names += [f"d{number}_{unit}" for number in range(1, _READINGS + 1) for unit in units]
        elif units:
            names += [f"{column.base}_{unit}" for unit in units]
        else:
            names.append(column.name)
    return names
