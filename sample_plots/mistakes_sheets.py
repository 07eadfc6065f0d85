"""Mistakes of workbooks as they come: titles, merged cells, totals, units and digits in cells, eaten identifiers."""

from __future__ import annotations

import datetime as dt

import xlsxwriter
from mistake_tools import HERE, Mistake, circles, squares, write_texts
from sample_map import CRS, write_layer

_PLOTS = (
    ("plot", "easting", "northing", "slope_pct"),
    ("P01", 511100, 6027100, "30 %"),
    ("P02", 511300, 6027100, 12),
    ("5", 511300, 6027150, 8),
)
_TREES = (
    ("plot", "tree", "species", "d1_cm", "remark"),
    (None, "1", "oak", "25 cm", ""),
    (None, "2", "oak", "272 mm", ""),
    (None, "3", "ash", "٣١٫٥", "written on an Arabic keyboard"),
    (None, None, None, None, None),
    ("P02", "1", "oak", 24.5, ""),
    ("P02", "Total", "oak", 30, "the tree beside the total station"),
    (None, "2", "oak", 31.0, ""),
    ("٥", "1", "ash", 22.0, ""),
)
_TALLIES = (
    ("plot", "species", "class", "count"),
    ("P01", "oak", "10-15", 3),
    ("P01", "ash", "10-15", 2),
    ("Total", None, None, 5),
    ("P02", "oak", "10-15", 4),
    ("P02", "ash", "10-15", None),
    ("P02", "birch", "10-15", None),
)


def sheet_mistakes() -> list[Mistake]:
    """Write the folder about workbooks as they come."""
    folder, file = "workbook_as_it_comes", "survey.xlsx"
    found = write_texts(folder, circles("workbook as it comes", CRS), {})
    write_layer(squares(("1", "2")), HERE / folder / "compartments.gpkg", "compartments")
    with xlsxwriter.Workbook(HERE / folder / file) as book:
        book.set_properties({"created": dt.datetime(2026, 1, 1)})  # noqa: DTZ001 - workbooks know no time zones
        plots, trees, tallies = (book.add_worksheet(name) for name in ("plots", "trees", "tallies"))
        plots.write_string(0, 0, "Oak survey, plots of the north beat")
        for sheet, above, rows in ((plots, 2, _PLOTS), (trees, 0, _TREES), (tallies, 0, _TALLIES)):
            for number, row in enumerate(rows):
                sheet.write_row(above + number, 0, row)
        trees.merge_range("A2:A4", "P01")
        trees.merge_range("A5:E5", "North beat, second day")
        day = book.add_format({"num_format": "d-mmm"})
        trees.write_datetime(7, 0, dt.datetime(2026, 5, 3), day)  # noqa: DTZ001
        tallies.merge_range("D6:D7", 6)
    told = (
        (3, "heading-row-found", "sheet plots, a title and a blank row stand above the heading"),
        (4, "unit-in-cell", "sheet plots, D4 is 30 %"),
        (2, "cells-merged", "sheet trees, P01 is merged over its three stems"),
        (2, "unit-in-cell", "sheet trees, D2 is 25 cm"),
        (3, "unit-in-cell", "sheet trees, D3 is 272 mm below a heading in cm"),
        (4, "other-digits", "sheet trees, D4 is 31.5 in Arabic digits"),
        (5, "title-row", "sheet trees, row 5 is merged from A to E"),
        (7, "totals-row-doubtful", "sheet trees, a tree called Total"),
        (8, "identifier-is-date", "sheet trees, A8 was 3-5 or 5-3 before it became 3 May"),
        (9, "identifier-other-digits", "sheet trees, A9 is 5 in Arabic digits"),
        (4, "totals-row", "sheet tallies, row 4 is the sum of P01"),
        (6, "count-merged", "sheet tallies, 6 stands for two rows"),
    )
    return [*found, *(Mistake(folder, file, row, code, why) for row, code, why in told)]
