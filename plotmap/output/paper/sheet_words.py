"""What is written on a map sheet: legend and facts, in the words of the survey."""

from __future__ import annotations

from collections.abc import Sequence
from importlib.metadata import version
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
import pyproj
from numpy.typing import NDArray

from plotmap.model.paper import SheetWish
from plotmap.model.result_tables import COMPARTMENT_RESULTS
from plotmap.output.paper.map_drawing import HATCHES, plot_kinds
from plotmap.output.paper.marginalia import Key, thousands
from plotmap.output.paper.norths import GridAtPlace
from plotmap.output.paper.symbols import MARKS, UNKNOWN_STYLE, AreaStyle
from plotmap.output.webmap.themes import LARGE_ERROR_HATCH, NO_VALUE, ONE_PLOT_HATCH, UNKNOWN, Theme
from plotmap.spatial.crs import name_of

if TYPE_CHECKING:
    from plotmap.model.labels import Labels
    from plotmap.model.survey import Stand

_FACTOR_TOLD = 0.0004
"""The scale factor is printed where lengths on the grid are off by more than this part."""
_TURN_TOLD_DEG = 0.005
_ROUND_OFF = 1e-6
_PLOT_WORDS = {
    "measured": "map.plot_measured",
    "empty": "map.plot_empty",
    "aside": "map.plot_set_aside",
    "unvisited": "map.plot_unvisited",
    "lost": "map.plot_lost",
}


def legend_keys(stand: Stand, theme: Theme, hatched: NDArray[np.int64], labels: Labels) -> list[Key]:
    """Return the legend: classes of the theme, what is hatched, marks of plots; only what occurs.

    Counts are those of the whole survey.
    """
    column = COMPARTMENT_RESULTS[theme.column]
    keys = [Key(None, labels.heading(column, COMPARTMENT_RESULTS), labels("sheet.legend_count"))]
    keys += [
        Key(AreaStyle(colour), label, thousands(count))
        for colour, label, count in zip(theme.colours, theme.labels, theme.counts, strict=True)
    ]
    large = f"{stand.settings.map.large_error_pct:g}\u00a0%"
    white = "#ffffff"
    rest = [
        (
            AreaStyle(white),
            labels(f"map.missing_{theme.column}"),
            (theme.classes == NO_VALUE) & (hatched != ONE_PLOT_HATCH),
        ),
        (AreaStyle(white, HATCHES[ONE_PLOT_HATCH]), labels("map.legend_one_plot"), hatched == ONE_PLOT_HATCH),
        (
            AreaStyle(white, HATCHES[LARGE_ERROR_HATCH]),
            labels("map.legend_large_error", large=large),
            hatched == LARGE_ERROR_HATCH,
        ),
        (UNKNOWN_STYLE, labels("map.legend_no_plots"), theme.classes == UNKNOWN),
    ]
    keys += [Key(style, words, thousands(int(which.sum()))) for style, words, which in rest if which.any()]
    kinds = plot_kinds(stand.plots)
    shown = [kind for kind in MARKS if (kinds == kind).any()]
    if shown:
        keys.append(Key(None, labels("sheet.legend_plots"), labels("sheet.plots_count")))
        keys += [
            Key(MARKS[kind], labels(_PLOT_WORDS[kind]), thousands(int((kinds == kind).sum())))
            for kind in shown
        ]
    return keys


def north_words(grid: GridAtPlace, labels: Labels) -> str:
    """Return how the norths lie to each other, where the projection can say it."""
    degrees = abs(grid.convergence_deg)
    if degrees < _TURN_TOLD_DEG:
        return labels("sheet.north_same")
    side = labels("sheet.side_west" if grid.convergence_deg > 0 else "sheet.side_east")
    return labels("sheet.north_note", degrees=f"{degrees:.2f}", side=side)


def length_words(grid: GridAtPlace, labels: Labels) -> str:
    """Return what lengths the scale is of, with the scale factor where it matters."""
    if not np.isfinite(grid.scale_factor) or abs(grid.scale_factor - 1) <= _FACTOR_TOLD + _ROUND_OFF:
        return labels("sheet.lengths")
    return labels(
        "sheet.lengths_factor", metres=f"{1000 * grid.scale_factor:.2f}".replace("1000.", "1\u202f000.")
    )


def fact_words(stand: Stand, wish: SheetWish, labels: Labels) -> list[str]:
    """Return what the sheet says of the survey: date, plots, reference system, author, version."""
    plots = stand.plots
    used = plots["set_aside"].isna().to_numpy()
    author = stand.settings.paper.author.strip()
    return [
        date_words(plots.loc[used, "date"], labels),
        labels.count("sheet.plots_in_estimates", int(used.sum()), all=len(plots)),
        labels("sheet.crs", crs=name_of(pyproj.CRS.from_user_input(stand.crs))),
        *([labels("sheet.author", author=author)] if author else []),
        *([labels("sheet.printed_on", day=wish.printed_on)] if wish.printed_on else []),
        labels("sheet.version", version=version("plotmap")),
    ]


def date_words(dates: pd.Series, labels: Labels) -> str:
    """Return the days of measurement: one, the first and the last, or that none is recorded."""
    days = sorted(pd.to_datetime(dates.dropna()).dt.strftime("%Y-%m-%d").unique())
    if not days:
        return labels("sheet.not_dated")
    if len(days) == 1:
        return labels("sheet.measured_on", day=days[0])
    return labels("sheet.measured_between", first=days[0], last=days[-1])


def note_words(left_out: Sequence[int], not_shown: int, labels: Labels) -> list[str]:
    """Return what is not on the sheet though one could look for it there."""
    notes = []
    if left_out:
        notes.append(labels.count("sheet.names_left_out", len(left_out)))
    if not_shown:
        notes.append(labels.count("sheet.plots_not_shown", not_shown))
    return notes
