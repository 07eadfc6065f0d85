"""Mistakes of positions, headings, dates, workbooks and files as they come from the field."""

from __future__ import annotations

import datetime as dt

import xlsxwriter
from mistake_tools import HERE, Mistake, circles, squares, write_texts
from sample_map import CRS, write_layer
from shapely.geometry import box

_TREES = "plot,tree,species,d1_cm\nP01,1,oak,24.1\nP02,1,oak,31.5\nP03,1,oak,28.0\n"
_POSITIONS = {
    "plots.csv": """\
plot,easting,northing,lon,lat,design,compartment
P01,511100,6027100,-2.828746,54.391634,,1 <-- plot-position-differs: lon and lat are 22 m off
P02,511199,6027100,,,,1 <-- plot-in-overlap: compartment 2 reaches over compartment 1
P04,,,2°49'32.7"W,54.391540,,2 <-- angle-in-parts: degrees, minutes and seconds
P03,,,,,full, <-- plot-without-compartment: a full count of which compartment?
""",
    "trees.csv": _TREES,
}
_ELSEWHERE = {
    "plots.csv": """\
plot,lon,lat <-- plots-elsewhere: lon and lat are exchanged
P01,54.391479,-2.829003
P02,54.391479,-2.825923
P03,54.391749,-2.825922
""",
    "trees.csv": _TREES,
}
_FAR_ZONE = {
    "plots.csv": "plot,lon,lat\nP01,-2.829003,54.391479\nP02,-2.825923,54.391479\nP03,-2.825922,54.391749\n",
    "trees.csv": _TREES,
}

_BOOK_PLOTS = (
    ("plot", "easting", "northing"),
    ("P01", 511100, 6027100),
    ("P02", 511300, 6027100),
)
_BOOK_TREES = (
    ("plot", "tree", "species", "d1_cm", "height_m"),
    ("P01", "1", "oak", None, "22,125"),
    ("P01", "2", "oak", None, "21,500"),
    ("P02", "1", "oak", 31.5, ""),
)


def reading_mistakes() -> list[Mistake]:
    """Write the folders about reading."""
    return [*_positions(), *_elsewhere(), *_far_zone(), *_workbook()]


def _positions() -> list[Mistake]:
    """Write positions that contradict each other."""
    folder = "positions"
    found = write_texts(folder, circles("positions", CRS), _POSITIONS)
    frame = squares(("1", "2"))
    frame.loc[1, "geometry"] = box(511_198, 6_027_000, 511_400, 6_027_200)
    write_layer(frame, HERE / folder / "compartments.gpkg", "compartments")
    return found


def _elsewhere() -> list[Mistake]:
    """Write plots whose longitude and latitude changed places."""
    folder = "elsewhere"
    found = write_texts(folder, circles("elsewhere", CRS), _ELSEWHERE)
    write_layer(squares(("1", "2")), HERE / folder / "compartments.gpkg", "compartments")
    return found


def _far_zone() -> list[Mistake]:
    """Write a survey in a UTM zone that is not its own."""
    folder = "far_zone"
    toml = circles("far zone", "EPSG:32633").replace(
        'crs = "EPSG:32633"', 'crs = "EPSG:32633" <-- crs-distorts: three zones too far east'
    )
    found = write_texts(folder, toml, _FAR_ZONE)
    write_layer(squares(("1", "2")), HERE / folder / "compartments.gpkg", "compartments")
    return found


def _workbook() -> list[Mistake]:
    """Write a workbook with cells that hold no value, colours, and a sheet under another name."""
    folder, file = "workbook", "survey.xlsx"
    found = write_texts(folder, circles("workbook", CRS), {})
    write_layer(squares(("1", "2")), HERE / folder / "compartments.gpkg", "compartments")
    with xlsxwriter.Workbook(HERE / folder / file) as book:
        book.set_properties({"created": dt.datetime(2026, 1, 1)})  # noqa: DTZ001 - workbooks know no time zones
        plots, trees, more = (book.add_worksheet(name) for name in ("plots", "trees", "oaks"))
        red = book.add_format({"bg_color": "#FF0000"})
        for number, row in enumerate(_BOOK_PLOTS):
            plots.write_row(number, 0, row)
        plots.write_string(2, 0, "P02", red)
        for number, row in enumerate(_BOOK_TREES):
            trees.write_row(number, 0, row)
        trees.write_formula(1, 3, "=A9/0", value="#DIV/0!")
        trees.write_formula(2, 3, "=D9*2", value="")
        more.write_row(0, 0, ["plot", "tree", "species", "d1_cm"])
        more.write_row(1, 0, ["P01", "9", "oak", 31.0])
    told = (
        (2, "cell-error", "sheet trees, D2 shows #DIV/0!"),
        (3, "formula-without-value", "sheet trees, D3 was never computed"),
        (None, "cells-coloured", "sheet plots, P02 is red, whatever that means"),
        (2, "comma-thousands", "sheet trees, are 22,125 and 21,500 thousands?"),
        (None, "table-overlooked", "sheet oaks has the headings of trees"),
    )
    return [*found, *(Mistake(folder, file, row, code, why) for row, code, why in told)]
