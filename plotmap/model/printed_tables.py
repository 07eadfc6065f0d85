"""The result tables as they are printed: without geometry, and plots with their position."""

from __future__ import annotations

from dataclasses import replace

from plotmap.model.columns import Table, number
from plotmap.model.result_tables import PLOT_RESULTS, RESULT_TABLES

_OF_CENTRE = "Of the plot centre, in the CRS of the results; missing without a position."
_POSITION = (
    number("easting", "Easting", "m", _OF_CENTRE),
    number("northing", "Northing", "m", _OF_CENTRE),
)
PRINTED_TABLES: tuple[Table, ...] = tuple(
    replace(table, columns=(*table.columns, *_POSITION)) if table is PLOT_RESULTS else table
    for table in RESULT_TABLES
)
"""`RESULT_TABLES` as they are printed: without geometry, and plots with their position (m) at the end."""
