"""What is written on the map of a compartment: title, legend, and the notes below it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
import pyproj
from numpy.typing import NDArray

from plotmap.model.labels import Labels
from plotmap.output.paper.marginalia import Key
from plotmap.output.paper.norths import GridAtPlace
from plotmap.output.paper.pen import Stroke
from plotmap.output.paper.plot_labels import PlotLabel
from plotmap.output.paper.plot_list import task_words
from plotmap.output.paper.sheet_words import length_words, north_words
from plotmap.output.paper.symbols import MARKS, AreaStyle, MarkStyle
from plotmap.spatial.crs import name_of

if TYPE_CHECKING:
    from plotmap.model.layout import PlotLayout

COMPARTMENT_STYLE = AreaStyle("#e9f1e4", None, Stroke("#26302b", 0.45))
EXCLUDED_STYLE = AreaStyle("#f6f6f3", "crossed", Stroke("#5d625d", 0.15))
NEIGHBOUR_STYLE = AreaStyle("#ffffff", None, Stroke("#85877f", 0.25))
_EDGE_FILL = "#f2a33a"
PLANNED_MARKS = {
    "main": MARKS["measured"],
    "main_edge": MarkStyle("triangle", _EDGE_FILL, "#9a3412"),
    "reserve": MarkStyle("square", "#ffffff", "#5b3a8c"),
    "reserve_edge": MarkStyle("square", _EDGE_FILL, "#5b3a8c"),
}
"""Marks of planned plots by kind, in the order of the legend."""
_ALL_INSIDE = "all inside"


@dataclass(frozen=True, slots=True)
class Notes:
    """Sentences below the list: what to do at boundaries, facts of the map, dangers."""

    tasks: tuple[str, ...]
    facts: str
    caution: str


def planned_kinds(plots: pd.DataFrame) -> NDArray[np.object_]:
    """Return the kind of mark of each planned plot, a key of `PLANNED_MARKS`."""
    edge = np.where(plots["touches_boundary"] == "yes", "_edge", "")
    return np.asarray(plots["role"].to_numpy(dtype=object) + edge.astype(object), dtype=object)


def plot_label(plot: Any, labels: Labels) -> PlotLabel:
    """Return what stands beside the mark of a planned plot: name, day and order, and the task at a boundary."""
    turn = "" if pd.isna(plot.day) else f"{plot.day}·{plot.order}"
    task = task_words(plot.edge_task, labels) if plot.touches_boundary == "yes" else ""
    return PlotLabel(str(plot.plot), turn, task)


def compartment_title(compartment: Any, labels: Labels) -> str:
    """Return the identifier of a compartment, and its name where that is another word."""
    title = labels("layout.compartment", name=compartment.compartment)
    title = title[:1].upper() + title[1:]
    name = "" if pd.isna(compartment.name) else str(compartment.name).strip()
    return f"{title} · {name}" if name and name != str(compartment.compartment) else title


def under_title(layout: PlotLayout, compartment: Any, labels: Labels) -> str:
    """Return how many plots the compartment has, area, stratum, and last the survey, whose title may be long."""
    reserve = int(compartment.n_reserve)
    parts = (
        labels.count("layout.map_plots", int(compartment.n_planned)),
        *((labels.count("layout.map_reserve", reserve),) if reserve else ()),
        labels("layout.map_area", area=f"{compartment.area_ha:.2f}"),
        labels("layout.map_stratum", name=compartment.stratum),
        survey_title(layout, labels),
    )
    return " · ".join(parts)


def survey_title(layout: PlotLayout, labels: Labels) -> str:
    """Return the title of the survey."""
    return layout.settings.survey.title.strip() or labels("sheet.without_title")


def map_keys(kinds: Sequence[str], *, excluded: bool, neighbours: bool, labels: Labels) -> list[Key]:
    """Return the legend: areas, and the marks of plots that occur."""
    keys = [Key(COMPARTMENT_STYLE, labels("layout.map_key_compartment"))]
    keys += [Key(EXCLUDED_STYLE, labels("layout.map_key_excluded"))] if excluded else []
    keys += [Key(NEIGHBOUR_STYLE, labels("layout.map_key_neighbour"))] if neighbours else []
    keys += [
        Key(style, labels(f"layout.map_key_{kind}")) for kind, style in PLANNED_MARKS.items() if kind in kinds
    ]
    return keys


def explained(plots: pd.DataFrame, labels: Labels) -> str:
    """Return what the figures beside names and the circles mean, where there are any."""
    said = []
    if plots["day"].notna().any():
        said.append(labels("layout.map_key_turn"))
    radius = plots["radius_m"].dropna()
    if len(radius):
        said.append(labels("layout.map_key_circle", radius=f"{radius.iloc[0]:.2f}"))
    return " ".join(said)


def notes_of(
    layout: PlotLayout, plots: pd.DataFrame, grid: GridAtPlace, left_out: int, labels: Labels
) -> Notes:
    """Return the notes of one compartment."""
    tasks = [task for task in dict.fromkeys(plots["edge_task"]) if task != _ALL_INSIDE]
    rules = layout.settings.layout
    facts = (
        *((labels("layout.map_reserve_rule"),) if (plots["role"] == "reserve").any() else ()),
        *((labels.count("layout.map_names_left_out", left_out),) if left_out else ()),
        labels("sheet.crs", crs=name_of(pyproj.CRS.from_user_input(layout.crs))) + ".",
        labels("layout.map_degrees"),
        length_words(grid, labels),
        *((north_words(grid, labels),) if np.isfinite(grid.convergence_deg) else ()),
        labels(
            "layout.map_made_by", method=labels(f"layout.method_{rules.method.value}"), seed=str(rules.seed)
        ),
    )
    return Notes(tuple(_task(task, labels) for task in tasks), " ".join(facts), labels("layout.map_caution"))


def _task(task: str, labels: Labels) -> str:
    """Return what a task at a boundary is."""
    what = labels(f"layout.what_{task.replace(' ', '_')}")
    return labels("layout.map_task", task=task_words(task, labels), what=what)
