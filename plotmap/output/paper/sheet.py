"""Writes a map sheet: the compartments true to scale on one sheet, or on several that overlap."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray

from plotmap.errors import SettingsError
from plotmap.model.labels import Labels, labels_of
from plotmap.model.paper import LARGEST_SCALE, ORIENTATIONS, SHEET_THEMES, SMALLEST_SCALE, SheetWish
from plotmap.output.paper.document import FOOTER_MM, Document
from plotmap.output.paper.map_drawing import (
    Shapes,
    area_styles,
    draw_compartments,
    draw_locator,
    draw_plots,
    shapes_in,
)
from plotmap.output.paper.map_labels import draw_names
from plotmap.output.paper.marginalia import (
    KEY_MM,
    TICK_ROOM_MM,
    Key,
    draw_frame,
    draw_legend,
    draw_norths,
    draw_scale_bar,
    legend_height,
)
from plotmap.output.paper.norths import GridAtPlace, grid_at
from plotmap.output.paper.of_survey import page_furniture, survey_document
from plotmap.output.paper.pen import Pen, Stroke, Type
from plotmap.output.paper.sheet_division import divided
from plotmap.output.paper.sheet_words import fact_words, legend_keys, length_words, north_words, note_words
from plotmap.output.paper.sizes import Box, Paper, paper
from plotmap.output.paper.symbols import AreaStyle
from plotmap.output.paper.target import check_pdf_file
from plotmap.output.paper.view import Extent, View, extent_of, fitted, tightest_scale
from plotmap.output.webmap.themes import Theme, hatches, themes

if TYPE_CHECKING:
    from plotmap.model.survey import Stand

_MARGIN_MM = 10.0
_TITLE_MM = 13.0
_GAP_MM = 4.0
_COLUMN_MM = {"A4": 56.0, "Letter": 56.0, "Legal": 56.0, "A3": 64.0, "Tabloid": 64.0}
_WIDE_COLUMN_MM = 74.0
_NORTH_MM, _ARROWS_MM, _INDEX_MM = 27.0, 16.0, 22.0
_TIGHT_KEY_MM = 4.5
"""Height of a line of the legend where the column is short."""
_TITLE = Type(size_pt=15.0, bold=True)
_TITLES_PT = (15.0, 12.0, 10.0)
_UNDER_TITLE = Type(size_pt=9.0, colour="#4a4f4a")
_FACT, _AFTER_FACT_MM = Type(size_pt=7.0), 0.7
_INDEX_FORM = "index"


@dataclass(frozen=True, slots=True)
class SheetsWritten:
    """What was written.

    Attributes
    ----------
    n_sheets : int
        Pages of the file.
    scale_denominator : float
        Their scale.
    paper : Paper
        Their size.
    missing_letters : str
        Letters that no font had; boxes stand for them.
    """

    n_sheets: int
    scale_denominator: float
    paper: Paper
    missing_letters: str


@dataclass(frozen=True, slots=True)
class _Places:
    """Where things stand on every sheet."""

    title: Box
    map: Box
    column: Box


@dataclass(frozen=True, slots=True)
class _Content:
    """What all sheets have in common."""

    stand: Stand
    wish: SheetWish
    labels: Labels
    styles: tuple[AreaStyle, ...]
    keys: list[Key]
    views: tuple[View, ...]
    index: View


def check_sheet_file(path: Path) -> None:
    """Refuse a file that a map sheet must not replace.

    Raises
    ------
    OutputError
        `path` is a folder, does not end in ``.pdf``, or is there and is no PDF of plotmap.
    """
    check_pdf_file(path, "sheet")


def check_wish(wish: SheetWish) -> None:
    """Refuse what no sheet can be.

    Raises
    ------
    SettingsError
        Paper, orientation or theme are not known, or the scale is out of range.
    """
    paper(wish.size, wish.orientation or ORIENTATIONS[0])
    if wish.theme not in SHEET_THEMES:
        raise SettingsError(f"theme {wish.theme!r}: not known. Give one of {', '.join(SHEET_THEMES)}.")
    scale = wish.scale_denominator
    if scale is not None and not LARGEST_SCALE <= scale <= SMALLEST_SCALE:
        raise SettingsError(
            f"scale 1 : {scale:g}: a sheet can have 1 : {LARGEST_SCALE:,.0f} to 1 : {SMALLEST_SCALE:,.0f}. Give the "
            "number after the colon, as 10000."
        )


def write_sheet(stand: Stand, path: Path | str, wish: SheetWish, folder: Path | None = None) -> SheetsWritten:
    """Write compartments, plots and names as a map true to scale, with all that a map needs beside it.

    The scale is that of lengths on the grid. Where the survey does not fit one sheet at the scale asked for, it is
    shared out over several that overlap, each with an index of all. The same stand and wish give the same bytes.

    Parameters
    ----------
    stand : Stand
        Everything that was computed.
    path : Path or str
        File to write; a PDF of plotmap is replaced.
    wish : SheetWish
        Paper, scale, theme.
    folder : Path, optional
        Survey folder, which ``[paper] font`` starts from.

    Raises
    ------
    SettingsError
        The wish cannot be met (`check_wish`, or too many sheets), or the font of the settings is none.
    OutputError
        The file must not be replaced (`check_sheet_file`), or cannot be written.
    """
    path = Path(path)
    check_sheet_file(path)
    check_wish(wish)
    extent = extent_of(stand.compartments.total_bounds)
    sheet = _paper(wish, extent)
    places = _places(sheet)
    polygons = np.asarray(stand.compartments.geometry, dtype=object)
    views = divided(extent, places.map, wish.scale_denominator, polygons)
    content = _content(stand, wish, views, places)
    document = _document(content, sheet, folder)
    for number in range(len(views)):
        with document.page() as pen:
            _draw_sheet(pen, content, places, number)
    document.save(path)
    return SheetsWritten(len(views), views[0].scale_denominator, sheet, document.missing_letters)


def _paper(wish: SheetWish, extent: Extent) -> Paper:
    """Return the paper as asked for, or held so that it shows the survey larger."""
    held = [paper(wish.size, way) for way in ([wish.orientation] if wish.orientation else ORIENTATIONS)]
    return min(held, key=lambda sheet: tightest_scale(extent, _places(sheet).map))


def _places(sheet: Paper) -> _Places:
    """Return where title, map and column stand."""
    body = sheet.box.inset(_MARGIN_MM).split_bottom(FOOTER_MM)[1]
    title, rest = body.split_top(_TITLE_MM)
    column, left = rest.split_right(_COLUMN_MM.get(sheet.name, _WIDE_COLUMN_MM))
    return _Places(title, left.split_right(_GAP_MM)[1].inset(TICK_ROOM_MM), column)


def _content(stand: Stand, wish: SheetWish, views: tuple[View, ...], places: _Places) -> _Content:
    """Return what all sheets have in common."""
    labels = labels_of(stand.settings)
    chosen = stand.settings.map
    theme = _theme(stand, wish)
    hatched = hatches(stand.compartments, chosen.large_error_pct)
    box = Box(places.column.left_mm + _ARROWS_MM, 0.0, places.column.width_mm - _ARROWS_MM, _INDEX_MM)
    corners = np.array(
        [[v.extent.west_m, v.extent.south_m, v.extent.east_m, v.extent.north_m] for v in views]
    )
    return _Content(
        stand,
        wish,
        labels,
        area_styles(theme, hatched),
        legend_keys(stand, theme, hatched, labels),
        views,
        fitted(extent_of(corners), box, free_mm=0.5),
    )


def _theme(stand: Stand, wish: SheetWish) -> Theme:
    """Return the theme asked for, with the classes of the HTML map."""
    column = SHEET_THEMES[wish.theme]
    return next(theme for theme in themes(stand.compartments, stand.settings.map) if theme.column == column)


def _document(content: _Content, sheet: Paper, folder: Path | None) -> Document:
    """Return the document, still without pages."""
    settings, labels = content.stand.settings, content.labels
    furniture = page_furniture(labels, labels("sheet.caution"), _MARGIN_MM)
    return survey_document(settings, folder, sheet, (_title(content), content.keys[0].words), furniture)


def _title(content: _Content) -> str:
    """Return the title of the survey."""
    return content.stand.settings.survey.title.strip() or content.labels("sheet.without_title")


def _draw_sheet(pen: Pen, content: _Content, places: _Places, number: int) -> None:
    """Draw one sheet."""
    view, stand = content.views[number], content.stand
    shapes = shapes_in(view, stand.compartments)
    draw_compartments(pen, view, shapes, content.styles)
    draw_plots(pen, view, stand.plots)
    left_out = draw_names(
        pen, view, shapes, stand.compartments["compartment"].astype(str).tolist(), _marks(view, stand)
    )
    draw_frame(pen, view)
    grid = grid_at(stand.crs, *view.extent.centre_m)
    _draw_title(pen, content, places, number)
    draw_scale_bar(
        pen, view, places.column.left_mm + 2.0, places.title.bottom_mm + 3.0, places.column.width_mm - 10.0
    )
    facts = [
        length_words(grid, content.labels),
        *([north_words(grid, content.labels)] if np.isfinite(grid.convergence_deg) else []),
        *fact_words(stand, content.wish, content.labels),
        *note_words(left_out, _not_shown(content), content.labels),
    ]
    _draw_column(pen, content, places.column, number, grid, facts)


def _marks(view: View, stand: Stand) -> NDArray[np.float64]:
    """Return where the plots lie on the paper, those outside the frame too."""
    points = np.asarray(stand.plots.geometry, dtype=object)
    there = points[~(shapely.is_missing(points) | shapely.is_empty(points))]
    return view.place(shapely.get_coordinates(there))


def _not_shown(content: _Content) -> int:
    """Return how many plots are on no sheet."""
    points = np.asarray(content.stand.plots.geometry, dtype=object)
    shown = np.zeros(len(points), dtype=bool)
    for view in content.views:
        seen = view.extent
        shown |= shapely.intersects(points, shapely.box(seen.west_m, seen.south_m, seen.east_m, seen.north_m))
    return int((~shown).sum())


def _draw_title(pen: Pen, content: _Content, places: _Places, number: int) -> None:
    """Write the title of the survey, and below it the theme and which sheet this is."""
    box, labels = places.title.split_right(places.column.width_mm + _GAP_MM)[1], content.labels
    under = content.keys[0].words
    if len(content.views) > 1:
        under += " · " + labels("sheet.sheet_of", n=number + 1, all=len(content.views))
    title = _title(content)
    looks = [replace(_TITLE, size_pt=size_pt) for size_pt in _TITLES_PT]
    look = next((look for look in looks if pen.width_mm(title, look) <= box.width_mm), looks[-1])
    pen.write(pen.shortened(title, box.width_mm, look), box.left_mm, box.top_mm - 5.2, look)
    pen.write(pen.shortened(under, box.width_mm, _UNDER_TITLE), box.left_mm, box.top_mm - 10.0, _UNDER_TITLE)


def _draw_column(
    pen: Pen, content: _Content, column: Box, number: int, grid: GridAtPlace, facts: list[str]
) -> None:
    """Draw legend, norths, index and facts from the top down, closer together where the column is short."""
    lines = sum(len(pen.lines_of(fact, column.width_mm, _FACT)) for fact in facts)
    needed = _NORTH_MM + lines * _FACT.line_mm + len(facts) * _AFTER_FACT_MM + 2.0
    tight = needed + legend_height(pen, column.width_mm, content.keys) > column.height_mm
    key_mm = _TIGHT_KEY_MM if tight else KEY_MM
    rest = column.split_top(draw_legend(pen, column, content.keys, key_mm) + 1.0)[1]
    norths, rest = rest.split_top(_NORTH_MM)
    arrows, beside = norths.split_left(_ARROWS_MM)
    words = content.labels
    draw_norths(pen, arrows, grid.convergence_deg, words("sheet.grid_north"), words("sheet.true_north"))
    if len(content.views) > 1:
        _draw_index(pen, content, beside, number)
    rest = rest.split_top(1.0)[1]
    for fact in [" · ".join(facts)] if tight else facts:
        rest = rest.split_top(pen.paragraph(fact, rest, _FACT) + _AFTER_FACT_MM)[1]


def _draw_index(pen: Pen, content: _Content, box: Box, number: int) -> None:
    """Draw where the sheets lie, this one in dark; the compartments are drawn once for all sheets."""
    heading, room = box.split_top(4.0)
    words = content.labels("sheet.index")
    pen.write(words, heading.left_mm, heading.bottom_mm + 1.0, Type(size_pt=8.0, bold=True))
    index = content.index
    if not number:
        with pen.form(_INDEX_FORM, index.box.inset(-1.0)):
            draw_locator(pen, index, _index_shapes(content))
    up = room.bottom_mm + 0.3
    pen.show(_INDEX_FORM, 0.0, up)
    for at in (*(n for n in range(len(content.views)) if n != number), number):
        seen = content.views[at].extent
        (left, low), (right, high) = index.place(
            np.array([[seen.west_m, seen.south_m], [seen.east_m, seen.north_m]])
        ).tolist()
        here = at == number
        stroke = Stroke("#9a3412" if here else "#4a4f4a", 0.5 if here else 0.12)
        pen.rectangle(Box(left, low + up, right - left, high - low), None, stroke)
        size_pt = min(7.0, (high - low) * 1.6)
        look = Type(size_pt, bold=here, colour=stroke.colour, align="centre", halo_mm=0.3)
        pen.write(str(at + 1), (left + right) / 2, (low + high) / 2 + up - look.size_mm * 0.36, look)


def _index_shapes(content: _Content) -> Shapes:
    """Return the compartments as they lie in the index."""
    return shapes_in(content.index, content.stand.compartments)
