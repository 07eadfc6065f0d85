"""The list of planned plots on the map of a compartment: when, where, and what to do at the boundary."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import pandas as pd

from plotmap.model.labels import Labels
from plotmap.model.result_tables_layout import PLANNED_PLOT_RESULTS
from plotmap.output.paper.pen import Pen, Stroke, Type
from plotmap.output.paper.sizes import Box

HEAD_MM, ROW_MM = 5.6, 4.0
_TEXT, _HEAD = Type(size_pt=7.5), Type(size_pt=7.0, bold=True)
_RULE, _FAINT = Stroke("#4a4f4a", 0.2), Stroke("#c9cdc9", 0.1)
_ROOM_MM = 1.5
_WIDTHS_MM = (20.0, 16.0, 10.0, 26.0, 28.0, 25.0, 24.0, 27.0, 14.0)
"""Widths of the columns; together as wide as an A4 page between its margins."""
_AT_RIGHT = slice(2, 7)
"""Columns of figures."""
_BLANK_MM = 2.6


@dataclass(frozen=True, slots=True)
class PlotList:
    """Rows of the list in words, in the order in which they are printed."""

    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def plot_list(plots: pd.DataFrame, labels: Labels) -> PlotList:
    """Return planned plots in words.

    Parameters
    ----------
    plots : pandas.DataFrame
        Columns of `PLANNED_PLOT_RESULTS`, in the order in which they are to be listed.
    labels : Labels
        Words.
    """
    heads = (
        labels("layout.map_column_plot"),
        labels("layout.map_column_day"),
        labels("layout.map_column_order"),
        *(
            labels.heading(PLANNED_PLOT_RESULTS[name], PLANNED_PLOT_RESULTS)
            for name in ("easting", "northing", "lon", "lat")
        ),
        labels("layout.map_column_edge"),
        labels("layout.map_column_done"),
    )
    reserve = labels("layout.map_is_reserve")
    rows = tuple(
        (
            str(row.plot),
            reserve if row.role == "reserve" else _whole(row.day),
            _whole(row.order),
            f"{row.easting:,.2f}".replace(",", "\u202f"),
            f"{row.northing:,.2f}".replace(",", "\u202f"),
            f"{row.lon:.7f}",
            f"{row.lat:.7f}",
            task_words(row.edge_task, labels),
        )
        for row in plots.itertuples()
    )
    return PlotList(heads, rows)


def task_words(task: object, labels: Labels) -> str:
    """Return what the crew does at the boundary in a word or two; nothing where the plot lies inside."""
    key = str(task).replace(" ", "_")
    return "" if key == "all_inside" else labels(f"layout.task_{key}")


def draw_list(pen: Pen, box: Box, content: PlotList, first: int, last: int) -> None:
    """Draw rows of the list from the top of a box down, under its heads, each with a square to tick."""
    lefts = [box.left_mm + sum(_WIDTHS_MM[:at]) for at in range(len(_WIDTHS_MM))]
    y = box.top_mm - HEAD_MM
    _draw_row(pen, lefts, y + 1.5, content.heads, _HEAD)
    pen.line(box.left_mm, y, box.right_mm, y, _RULE)
    for row in content.rows[first:last]:
        _draw_row(pen, lefts, y - ROW_MM + 1.1, row, _TEXT)
        tick = Box(lefts[-1] + _ROOM_MM, y - ROW_MM + 0.7, _BLANK_MM, _BLANK_MM)
        pen.rectangle(tick, None, Stroke(width_mm=0.15))
        y -= ROW_MM
        pen.line(box.left_mm, y, box.right_mm, y, _FAINT)


def _draw_row(pen: Pen, lefts: list[float], y: float, cells: tuple[str, ...], look: Type) -> None:
    """Write the cells of one row, figures to the right."""
    right = range(len(lefts))[_AT_RIGHT]
    for at, words in enumerate(cells):
        shown = pen.shortened(words, _WIDTHS_MM[at] - _ROOM_MM, look)
        if at in right:
            pen.write(shown, lefts[at] + _WIDTHS_MM[at] - _ROOM_MM, y, replace(look, align="right"))
        else:
            pen.write(shown, lefts[at] + (_ROOM_MM if at > max(right) else 0.0), y, look)


def _whole(value: Any) -> str:
    """Return a whole number, or a dash where it is missing."""
    return "–" if pd.isna(value) else f"{value:d}"
