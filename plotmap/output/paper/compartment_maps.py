"""Writes the maps for the crew: a page for each compartment with planned plots, true to scale, and their list."""

from __future__ import annotations

from dataclasses import dataclass, replace
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from plotmap.model.labels import Labels, labels_of
from plotmap.model.paper import LARGEST_SCALE
from plotmap.output.paper.compartment_words import (
    COMPARTMENT_STYLE,
    EXCLUDED_STYLE,
    NEIGHBOUR_STYLE,
    PLANNED_MARKS,
    Notes,
    compartment_title,
    explained,
    map_keys,
    notes_of,
    planned_kinds,
    plot_label,
    survey_title,
    under_title,
)
from plotmap.output.paper.document import FOOTER_MM, Document
from plotmap.output.paper.map_drawing import (
    Shapes,
    draw_compartments,
    draw_locator,
    highlight,
    shapes_in,
)
from plotmap.output.paper.map_labels import draw_names
from plotmap.output.paper.marginalia import (
    TICK_ROOM_MM,
    draw_frame,
    draw_legend,
    draw_norths,
    draw_scale_bar,
)
from plotmap.output.paper.norths import GridAtPlace, grid_at
from plotmap.output.paper.of_survey import page_furniture, survey_document
from plotmap.output.paper.pen import Pen, Stroke, Type
from plotmap.output.paper.plot_labels import Placed, corners_of, draw_labels, placed_labels
from plotmap.output.paper.plot_list import HEAD_MM, ROW_MM, PlotList, draw_list, plot_list
from plotmap.output.paper.sizes import Box, paper
from plotmap.output.paper.symbols import MARK_RADIUS_MM, mark
from plotmap.output.paper.view import View, extent_of, fitted, round_scale, tightest_scale

if TYPE_CHECKING:
    from plotmap.model.layout import PlotLayout

Floats = NDArray[np.float64]
_MARGIN_MM, _TITLE_MM, _COLUMN_MM, _GAP_MM = 10.0, 13.0, 56.0, 4.0
_LOCATOR_MM, _NORTH_MM, _HEAD_MM = 38.0, 27.0, 4.5
_LEAST_MAP_MM = 130.0
"""Height that the map has at least, its coordinates included; what is left is room for the list."""
_FREE_MM = 5.0
"""Left free round the compartment, so that neighbours are seen."""
_TITLES_PT = (15.0, 12.0, 10.0)
_UNDER = Type(size_pt=8.5, colour="#4a4f4a")
_HEADING, _NOTE, _NOTE_GAP_MM = Type(size_pt=8.0, bold=True), Type(size_pt=7.0), 0.8
_TASK, _CAUTION = Type(size_pt=7.0, bold=True), Type(size_pt=8.0, bold=True)
_NEIGHBOUR_NAME = Type(bold=False, colour="#6a6f6a", align="centre", halo_mm=0.3)
_CIRCLE, _WALK = Stroke("#3c4640", 0.12), Stroke("#1d4e89", 0.18, (1.2, 1.2))
_LOCATOR = "locator"
_SEEN_HA = 1e-4
"""What is excluded up to this, a square metre, is rounding of areas, and not drawn."""


@dataclass(frozen=True, slots=True)
class CompartmentMaps:
    """What was written.

    Attributes
    ----------
    n_pages : int
        Pages of the file; 0 where no compartment has a planned plot, and then there is no file.
    missing_letters : str
        Letters that no font had; boxes stand for them.
    """

    n_pages: int
    missing_letters: str


@dataclass(frozen=True, slots=True)
class _Content:
    """What all pages have in common."""

    layout: PlotLayout
    labels: Labels
    outlines: gpd.GeoDataFrame
    tree: shapely.STRtree
    body: Box
    locator: View
    located: Shapes


@dataclass(frozen=True, slots=True)
class _Page:
    """One compartment: its row, its plots in the order of the walk, and where it lies on the paper."""

    row: int
    compartment: Any
    plots: pd.DataFrame
    rows: PlotList
    n_listed: int
    view: View
    grid: GridAtPlace
    placed: list[Placed]
    notes: Notes


def write_compartment_maps(layout: PlotLayout, path: Path, folder: Path | None = None) -> CompartmentMaps:
    """Write a page, A4 upright, for each compartment that has planned plots, in the order of the layer.

    Each compartment is drawn at the largest round scale at which it fits, with the outlines of its neighbours; its
    plots by name, day and order, and those that touch its boundary with what is to be done there. Below are their
    coordinates. A list that is too long for the page goes on on the next. Finished pages are kept packed, and the
    locator is drawn once. The same layout gives the same bytes.

    Parameters
    ----------
    layout : PlotLayout
        What was computed.
    path : Path
        File to write; not written where no plot is planned.
    folder : Path, optional
        Survey folder, which ``[paper] font`` starts from.

    Returns
    -------
    CompartmentMaps
        Number of pages, letters that are missing.

    Raises
    ------
    SettingsError
        The font of the settings is none.
    OutputError
        The file cannot be written.
    """
    groups = _grouped(layout.planned_plots)
    if not groups:
        return CompartmentMaps(0, "")
    content = _content(layout)
    document = _document(content, folder)
    for row, compartment in enumerate(layout.planned_compartments.itertuples(index=False)):
        plots = groups.get(str(compartment.compartment))
        if plots is not None:
            _add_pages(document, content, row, compartment, plots)
    document.save(path)
    return CompartmentMaps(document.n_pages, document.missing_letters)


def _grouped(plots: gpd.GeoDataFrame) -> dict[str, pd.DataFrame]:
    """Return the plots of each compartment: main ones by day and order, then reserves."""
    table = pd.DataFrame(plots.drop(columns=plots.geometry.name))
    table = table.sort_values(["role", "day", "order", "plot"], kind="stable", na_position="last")
    return {str(name): rows for name, rows in table.groupby("compartment", sort=False)}


def _content(layout: PlotLayout) -> _Content:
    """Return what all pages have in common."""
    names = layout.planned_compartments["compartment"].astype(str)
    outlines = gpd.GeoDataFrame(
        {"compartment": names.to_numpy()}, geometry=list(layout.outlines), crs=layout.crs
    )
    body = paper("A4").box.inset(_MARGIN_MM).split_bottom(FOOTER_MM)[1]
    column = body.split_top(_TITLE_MM)[1].split_right(_COLUMN_MM)[0]
    room = column.split_top(_LOCATOR_MM)[0].split_top(_HEAD_MM)[1]
    locator = fitted(extent_of(outlines.total_bounds), room, free_mm=1.0)
    return _Content(
        layout,
        labels_of(layout.settings),
        outlines,
        shapely.STRtree(layout.outlines),
        body,
        locator,
        shapes_in(locator, outlines),
    )


def _document(content: _Content, folder: Path | None) -> Document:
    """Return the document, still without pages."""
    labels, settings = content.labels, content.layout.settings
    title = survey_title(content.layout, labels)
    foot = f"{title} · {labels('sheet.version', version=version('plotmap'))}"
    furniture = page_furniture(labels, foot, _MARGIN_MM)
    return survey_document(settings, folder, paper("A4"), (labels("layout.map_document"), title), furniture)


def _add_pages(
    document: Document, content: _Content, row: int, compartment: Any, plots: pd.DataFrame
) -> None:
    """Draw the map of a compartment, and as many further pages as its list needs."""
    page = _page(document.pen, content, row, compartment, plots)
    title = compartment_title(compartment, content.labels)
    with document.page() as pen:
        document.bookmark(title, content.body.top_mm)
        _draw_map_page(pen, content, page, first=document.n_pages == 0)
    listed, each = page.n_listed, int((content.body.height_mm - _TITLE_MM - HEAD_MM) // ROW_MM)
    while listed < len(plots):
        with document.page() as pen:
            head, room = content.body.split_top(_TITLE_MM)
            _draw_title(pen, head, title, content.labels("layout.map_continued"))
            draw_list(pen, room, page.rows, listed, listed + each)
        listed += each


def _page(pen: Pen, content: _Content, row: int, compartment: Any, plots: pd.DataFrame) -> _Page:
    """Return where everything of a compartment stands."""
    labels = content.labels
    extent = extent_of(np.asarray(shapely.bounds(content.layout.outlines[row])))
    grid = grid_at(content.layout.crs, *extent.centre_m)
    upper = content.body.height_mm - _TITLE_MM
    # room for the note on names left out is kept, whether or not it will be needed
    foot = _notes_height(pen, content.body, notes_of(content.layout, plots, grid, len(plots), labels))
    room = max(int((upper - foot - _LEAST_MAP_MM - HEAD_MM) // ROW_MM), 1)
    n_listed = min(len(plots), room)
    upper -= foot + HEAD_MM + n_listed * ROW_MM
    box = content.body.split_top(_TITLE_MM)[1].split_top(upper)[0]
    box = box.split_right(_COLUMN_MM + _GAP_MM)[1].inset(TICK_ROOM_MM)
    scale = max(round_scale(tightest_scale(extent, box, _FREE_MM)), float(LARGEST_SCALE))
    view = fitted(extent, box, scale)
    by_need = plots.sort_values("touches_boundary", key=lambda told: told != "yes", kind="stable")
    at = view.place(by_need[["easting", "northing"]].to_numpy(dtype=float))
    placed = placed_labels(pen, view, at, [plot_label(plot, labels) for plot in by_need.itertuples()])
    notes = notes_of(content.layout, plots, grid, len(plots) - len(placed), labels)
    return _Page(row, compartment, plots, plot_list(plots, labels), n_listed, view, grid, placed, notes)


def _draw_map_page(pen: Pen, content: _Content, page: _Page, *, first: bool) -> None:
    """Draw the page of a compartment."""
    body, labels = content.body, content.labels
    head, below = body.split_top(_TITLE_MM)
    block, foot = below.split_top(page.view.box.height_mm + 2 * TICK_ROOM_MM)
    column, _ = block.split_right(_COLUMN_MM)
    under = under_title(content.layout, page.compartment, labels)
    room, _ = head.split_left(body.width_mm - _COLUMN_MM - _GAP_MM)
    _draw_title(pen, room, compartment_title(page.compartment, labels), under)
    draw_scale_bar(pen, page.view, column.left_mm + 2.0, head.bottom_mm + 3.0, _COLUMN_MM - 10.0)
    excluded, neighbours = _draw_map(pen, content, page)
    _draw_column(pen, content, page, column, excluded=excluded, neighbours=neighbours, first=first)
    draw_list(pen, foot, page.rows, 0, page.n_listed)
    _draw_notes(pen, foot.split_top(HEAD_MM + page.n_listed * ROW_MM)[1], page.notes)


def _draw_title(pen: Pen, box: Box, title: str, under: str) -> None:
    """Write a title in the largest size that fits, and a line below it."""
    looks = [Type(size_pt=size_pt, bold=True) for size_pt in _TITLES_PT]
    look = next((look for look in looks if pen.width_mm(title, look) <= box.width_mm), looks[-1])
    pen.write(pen.shortened(title, box.width_mm, look), box.left_mm, box.top_mm - 5.2, look)
    pen.write(pen.shortened(under, box.width_mm, _UNDER), box.left_mm, box.top_mm - 10.0, _UNDER)


def _draw_map(pen: Pen, content: _Content, page: _Page) -> tuple[bool, bool]:
    """Draw compartment, neighbours, plots and names; say whether something is excluded, and whether there are any."""
    view, seen = page.view, page.view.extent
    found = content.tree.query(
        shapely.box(seen.west_m, seen.south_m, seen.east_m, seen.north_m), predicate="intersects"
    )
    near = content.outlines.iloc[np.sort(found[found != page.row])]
    shapes = shapes_in(view, near)
    draw_compartments(pen, view, shapes, [NEIGHBOUR_STYLE] * len(near))
    own = content.outlines.iloc[[page.row]]
    draw_compartments(pen, view, shapes_in(view, own), [COMPARTMENT_STYLE])
    excluded = float(page.compartment.excluded_ha) > _SEEN_HA
    if excluded:
        rest = shapely.difference(content.layout.outlines[page.row], page.compartment.geometry)
        less = shapes_in(view, gpd.GeoDataFrame(geometry=[rest], crs=own.crs))
        draw_compartments(pen, view, less, [EXCLUDED_STYLE])
    _draw_plots(pen, page)
    names = near["compartment"].tolist()
    draw_names(pen, view, shapes, names, corners_of(page.placed), _NEIGHBOUR_NAME)
    draw_frame(pen, view)
    draw_labels(pen, page.placed)
    return excluded, bool(len(near))


def _draw_plots(pen: Pen, page: _Page) -> None:
    """Draw walks, circles true to scale, and marks."""
    view, plots = page.view, page.plots
    at = view.place(plots[["easting", "northing"]].to_numpy(dtype=float))
    day, order = (
        plots[name].astype("Float64").to_numpy(dtype=float, na_value=np.nan) for name in ("day", "order")
    )
    follows = (day[1:] == day[:-1]) & (order[1:] == order[:-1] + 1)
    radius = plots["radius_m"].to_numpy(dtype=float)
    with pen.clipped(view.box):
        pen.lines(np.hstack([at[:-1], at[1:]])[follows], _WALK)
        for (x, y), radius_m in zip(at.tolist(), radius.tolist(), strict=True):
            if view.length_mm(radius_m) > MARK_RADIUS_MM:  # never where the radius is missing
                pen.circle(x, y, view.length_mm(radius_m), None, _CIRCLE)
        for (x, y), kind in zip(at.tolist(), planned_kinds(plots).tolist(), strict=True):
            name = f"mark-{kind}"
            if not pen.has_form(name):
                with pen.form(name, Box(-2.0, -2.0, 4.0, 4.0)):
                    mark(pen, 0.0, 0.0, PLANNED_MARKS[kind])
            pen.show(name, x, y)


def _draw_column(
    pen: Pen, content: _Content, page: _Page, column: Box, *, excluded: bool, neighbours: bool, first: bool
) -> None:
    """Draw locator, norths and legend from the top down."""
    labels = content.labels
    where, rest = column.split_top(_LOCATOR_MM)
    pen.write(labels("layout.map_where"), where.left_mm, where.top_mm - _HEADING.size_mm, _HEADING)
    if first:
        with pen.form(_LOCATOR, content.locator.box.inset(-1.0)):
            draw_locator(pen, content.locator, content.located)
    pen.show(_LOCATOR)
    highlight(pen, content.locator, content.located, page.row)
    north, rest = rest.split_top(_NORTH_MM + 2.0)
    arrows = Box(north.left_mm, north.bottom_mm, north.width_mm, _NORTH_MM)
    draw_norths(
        pen, arrows, page.grid.convergence_deg, labels("sheet.grid_north"), labels("sheet.true_north")
    )
    rest = rest.split_top(3.0)[1]
    kinds = list(dict.fromkeys(planned_kinds(page.plots).tolist()))
    keys = map_keys(kinds, excluded=excluded, neighbours=neighbours, labels=labels)
    rest = rest.split_top(draw_legend(pen, rest, keys) + 1.0)[1]
    pen.paragraph(explained(page.plots, labels), rest, _NOTE)


def _noted(notes: Notes) -> list[tuple[str, Type]]:
    """Return the notes with their look, from the top down."""
    return [
        *((task, _TASK) for task in notes.tasks),
        (notes.caution, replace(_CAUTION, colour="#9a3412")),
        (notes.facts, _NOTE),
    ]


def _notes_height(pen: Pen, body: Box, notes: Notes) -> float:
    """Return the height that notes take, in mm, with the room above them."""
    lines = (len(pen.lines_of(words, body.width_mm, look)) * look.line_mm for words, look in _noted(notes))
    return sum(line + _NOTE_GAP_MM for line in lines) + 2.0


def _draw_notes(pen: Pen, box: Box, notes: Notes) -> None:
    """Write the notes below the list."""
    rest = box.split_top(2.0)[1]
    for words, look in _noted(notes):
        rest = rest.split_top(pen.paragraph(words, rest, look) + _NOTE_GAP_MM)[1]
