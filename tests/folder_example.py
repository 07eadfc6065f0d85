"""A tiny correct survey folder, invented, for tests that break one thing of it at a time.

Three compartments of 200 m × 200 m side by side, two plots in each, six stems on each plot but the last, which is
empty. It has no finding at all.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import geopandas as gpd
import polars as pl
import pyogrio
import xlsxwriter
from shapely.geometry import box

from plotmap.model.findings import Findings
from plotmap.model.survey import Survey

CRS = "EPSG:32630"
WEST_M, SOUTH_M, SIDE_M = 499_800, 5_600_000, 200
"""Corner and side of the first compartment; the second begins on the zone's central meridian."""
N_STEMS = 30

_PLOTS = """\
plot,easting,northing,compartment,state,date,crew,slope_pct
P1,499850,5600050,A,measured,2026-05-14,north,0
P2,499950,5600150,A,measured,2026-05-14,north,5
P3,500050,5600050,B,measured,2026-05-14,north,10
P4,500150,5600150,B,measured,2026-05-15,south,0
P5,500250,5600050,C,measured,2026-05-15,south,20
P6,500350,5600150,C,empty,2026-05-15,south,0
"""


def _trees() -> str:
    """Return the stems of the plots P1 to P5: row 2 is tree 1 of P1, row 8 tree 1 of P2."""
    lines = ["plot,tree,species,d1_cm,d2_cm,instrument,height_m,remark"]
    for plot in range(1, 6):
        for tree in range(1, 7):
            d1_cm = 20 + 2 * plot + 1.5 * tree
            species = "oak" if tree % 2 else "ash"
            lines.append(f"P{plot},{tree},{species},{d1_cm:.1f},{d1_cm + 0.6:.1f},K1,{15 + plot}.5,")
    return "\n".join(lines) + "\n"


FILES: dict[str, str] = {
    "survey.toml": '[survey]\ntitle = "Tiny"\n\n[plots]\ndesign = "circle"\nradius_m = 12.62\n',
    "plots.csv": _PLOTS,
    "trees.csv": _trees(),
    "instruments.csv": "instrument,kind,date,zero_mm\nK1,caliper,2026-05-01,1\n",
    "species.csv": "species,name,bark_factor\noak,Quercus robur,0.93\nash,Fraxinus excelsior,0.94\n",
}
TALLIES = "plot,species,class,count\nP1,oak,10-15,3\nP1,ash,15-20,2\nP2,oak,10-15,4\n"
"""A correct tally to put beside the files above."""


def compartments_example() -> gpd.GeoDataFrame:
    """Return the three compartments: A, B and C from west to east."""
    names = ["A", "B", "C"]
    west = [WEST_M + SIDE_M * number for number in range(len(names))]
    shapes = [box(x, SOUTH_M, x + SIDE_M, SOUTH_M + SIDE_M) for x in west]
    rows = {"compartment": names, "name": ["Ash Bank", "Birch Bank", "Cold Hill"], "area_ha": [4.0, 4.0, 4.0]}
    return gpd.GeoDataFrame(rows, geometry=shapes, crs=CRS)


def folder_example(
    folder: Path,
    replace: Mapping[str, str | bytes | None] | None = None,
    *,
    compartments: gpd.GeoDataFrame | None = None,
    with_compartments: bool = True,
) -> Path:
    """Write the survey folder, with any file replaced, left out or added.

    Parameters
    ----------
    folder : Path
        Made if it is not there.
    replace : mapping of str to str, bytes or None, optional
        Content by file name, also of files that are not part of the survey; None leaves a file out.
    compartments : geopandas.GeoDataFrame, optional
        In place of `compartments_example`.
    with_compartments : bool
        False leaves ``compartments.gpkg`` out.
    """
    folder.mkdir(parents=True, exist_ok=True)
    for name, content in {**FILES, **(replace or {})}.items():
        if content is not None:
            data = content if isinstance(content, bytes) else content.encode("utf-8")
            (folder / name).write_bytes(data)
    if with_compartments:
        frame = compartments_example() if compartments is None else compartments
        pyogrio.write_dataframe(frame, folder / "compartments.gpkg", layer="compartments")
    return folder


def rows_of(text: str) -> list[list[str]]:
    """Return the cells of a CSV text, the heading first."""
    return list(csv.reader(io.StringIO(text)))


def as_csv(rows: Sequence[Sequence[object]], delimiter: str = ",") -> str:
    """Return rows as CSV text."""
    text = io.StringIO()
    csv.writer(text, delimiter=delimiter, lineterminator="\n").writerows(rows)
    return text.getvalue()


def edited(name: str, *edits: tuple[int, str, str]) -> str:
    """Return a file of the example with cells replaced.

    Parameters
    ----------
    name : str
        File of `FILES`, or ``tallies.csv``.
    *edits : (int, str, str)
        Row as a spreadsheet numbers it (the heading is row 1), column, and the new cell. A column that is
        not there is added.
    """
    rows = rows_of(TALLIES if name == "tallies.csv" else FILES[name])
    for row, column, cell in edits:
        if column not in rows[0]:
            rows = [[*cells, column if number == 0 else ""] for number, cells in enumerate(rows)]
        rows[row - 1][rows[0].index(column)] = cell
    return as_csv(rows)


def settings_text(**sections: str) -> str:
    """Return survey.toml with a section replaced or added: ``settings_text(plots='design = "circle"')``."""
    texts = {"plots": 'design = "circle"\nradius_m = 12.62', **sections}
    return "\n".join(f"[{name.replace('__', '.')}]\n{keys}\n" for name, keys in texts.items())


def write_book(path: Path, sheets: Mapping[str, Sequence[Sequence[Any]]]) -> Path:
    """Write a workbook: text cells from str, number cells from numbers, dates from dates, blanks from None."""
    with xlsxwriter.Workbook(path, {"default_date_format": "yyyy-mm-dd"}) as book:
        for name, rows in sheets.items():
            sheet = book.add_worksheet(name)
            for number, cells in enumerate(rows):
                for column, cell in enumerate(cells):
                    if isinstance(cell, str):
                        sheet.write_string(number, column, cell)
                    elif cell is not None:
                        sheet.write(number, column, cell)
    return path


def found(survey: Survey | Findings, code: str) -> list[dict[str, Any]]:
    """Return the findings with a code, one mapping each."""
    findings = survey.findings if isinstance(survey, Survey) else survey
    return findings.frame.filter(pl.col("code") == code).to_dicts()


def the_finding(survey: Survey | Findings, code: str) -> dict[str, Any]:
    """Return the one finding with a code; fails where there is none, or more than one."""
    findings = found(survey, code)
    assert len(findings) == 1, f"{len(findings)} findings {code}: {findings}"
    assert findings[0]["hint"], f"{code} says nothing about what to do"
    return findings[0]
