"""The map of the first page and the locators of the cards, drawn by one pen or the other."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray

from plotmap.output.paper.map_drawing import Shapes, area_styles, draw_plots, highlight, shapes_in
from plotmap.output.paper.map_labels import draw_names
from plotmap.output.paper.marginalia import Key, draw_norths, draw_scale_bar
from plotmap.output.paper.pen import Pen, Stroke
from plotmap.output.paper.sheet_words import legend_keys
from plotmap.output.paper.sizes import Box
from plotmap.output.paper.symbols import OUTLINE, PALE_STYLE, UNKNOWN_STYLE, AreaStyle, hatch
from plotmap.output.paper.view import View, extent_of, fitted, round_scale, tightest_scale
from plotmap.output.webmap.themes import Theme, hatches, themes

if TYPE_CHECKING:
    from plotmap.model.labels import Labels
    from plotmap.model.survey import Stand

Floats = NDArray[np.float64]
MAP_THEME = "basal_area_m2_per_ha"
LOCATOR = "locator"
"""Name of the form that all locators show."""
_MOST_NAMES, _MOST_PLOTS = 400, 2000
"""Compartments up to which the small map names them, and plots up to which it shows them."""
_FRAME = Stroke("#9aa09a", 0.2)
_FOOT_MM = 11.0
"""Room below the map for the scale bar."""
_FREE_MM, _HIGHEST_MM, _MM_PER_M = 4.0, 150.0, 1000.0
_COARSE_MM = 0.08
"""Vertices that move an outline of a locator by less than this are left out."""


@dataclass(frozen=True, slots=True)
class MapPicture:
    """What the map of the first page shows.

    Attributes
    ----------
    stand : Stand
        Without plots where they are too many to be told apart.
    styles : tuple of AreaStyle
        One for each compartment.
    keys : tuple of Key
        Its legend.
    """

    stand: Stand
    styles: tuple[AreaStyle, ...]
    keys: tuple[Key, ...]


def map_picture(stand: Stand, labels: Labels) -> MapPicture:
    """Return what the map shows: basal area in the classes and colours of the HTML map."""
    shown = stand if len(stand.plots) <= _MOST_PLOTS else replace(stand, plots=stand.plots.iloc[:0])
    theme = _theme(stand)
    hatched = hatches(stand.compartments, stand.settings.map.large_error_pct)
    keys = tuple(legend_keys(shown, theme, hatched, labels))
    return MapPicture(shown, area_styles(theme, hatched), keys)


def _theme(stand: Stand) -> Theme:
    """Return the theme of basal area."""
    return next(one for one in themes(stand.compartments, stand.settings.map) if one.column == MAP_THEME)


def draw_map(pen: Pen, box: Box, picture: MapPicture, *, numeric: bool) -> None:
    """Draw compartments, plots, names, north and scale bar.

    Parameters
    ----------
    pen : Pen
        Draws.
    box : Box
        All of the map.
    picture : MapPicture
        What it shows.
    numeric : bool
        Whether the scale is written as a number, which only paper is true to.
    """
    foot, room = box.split_bottom(_FOOT_MM)
    compartments = picture.stand.compartments
    extent = extent_of(compartments.total_bounds)
    view = fitted(extent, room, round_scale(tightest_scale(extent, room)))
    shapes = shapes_in(view, compartments)
    _draw_together(pen, view, shapes, picture.styles)
    draw_plots(pen, view, picture.stand.plots)
    if len(compartments) <= _MOST_NAMES:
        draw_names(pen, view, shapes, compartments["compartment"].astype(str).tolist(), _marks(view, picture))
    pen.rectangle(room, None, _FRAME)
    draw_scale_bar(pen, view, foot.left_mm + 2.0, foot.bottom_mm + 0.5, 60.0, numeric=numeric)
    arrow = Box(foot.right_mm - 8.0, foot.bottom_mm + 0.5, 8.0, 9.0)
    draw_norths(pen, arrow, float("nan"), "N", "")


def map_height(picture: MapPicture, width_mm: float) -> float:
    """Return how high the map is at its largest round scale in a width, with nothing cut off and little left free."""
    extent = extent_of(picture.stand.compartments.total_bounds)
    scale = round_scale(tightest_scale(extent, Box(0.0, 0.0, width_mm, _HIGHEST_MM)))
    return min(extent.height_m * _MM_PER_M / scale + 2 * _FREE_MM, _HIGHEST_MM) + _FOOT_MM


def _marks(view: View, picture: MapPicture) -> Floats:
    """Return where plots lie on the paper."""
    points = np.asarray(picture.stand.plots.geometry, dtype=object)
    there = points[~(shapely.is_missing(points) | shapely.is_empty(points))]
    return view.place(shapely.get_coordinates(there))


def _draw_together(pen: Pen, view: View, shapes: Shapes, styles: tuple[AreaStyle, ...]) -> None:
    """Draw compartments, those of one look as one shape: small also where there are thousands."""
    alike: dict[AreaStyle, list[Floats]] = {}
    for rings, style in zip(shapes.rings, styles, strict=True):
        alike.setdefault(style, []).extend(rings)
    with pen.clipped(view.box):
        for style, rings in alike.items():
            pen.areas(rings, style.fill)
        for style, rings in alike.items():
            if style.hatch and rings:
                hatch(pen, rings, style.hatch)
        for outline in (OUTLINE, UNKNOWN_STYLE.outline):
            pen.areas([ring for style, rings in alike.items() if style.outline == outline for ring in rings],
                      None, outline)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Locator:
    """All compartments in a small box, of which each card shows one in dark."""

    view: View
    shapes: Shapes

    @classmethod
    def of(cls, stand: Stand, box: Box) -> Locator:
        """Return the locator of a survey in a box."""
        view = fitted(extent_of(stand.compartments.total_bounds), box, free_mm=1.0)
        coarse = stand.compartments[["compartment", "geometry"]].copy()
        tolerance_m = view.length_m(_COARSE_MM)
        coarse["geometry"] = shapely.simplify(np.asarray(coarse.geometry, dtype=object), tolerance_m)
        return cls(view, shapes_in(view, coarse))

    def draw_all(self, pen: Pen) -> None:
        """Draw all compartments once, for all cards."""
        with pen.form(LOCATOR, self.view.box.inset(-1.0)):
            rings = [ring for rings in self.shapes.rings for ring in rings]
            pen.areas(rings, PALE_STYLE.fill, PALE_STYLE.outline)

    def draw_one(self, pen: Pen, row: int, right_mm: float = 0.0, up_mm: float = 0.0) -> None:
        """Show all, moved by so much, and one of them in dark."""
        pen.show(LOCATOR, right_mm, up_mm)
        box = self.view.box
        moved = Box(box.left_mm + right_mm, box.bottom_mm + up_mm, box.width_mm, box.height_mm)
        shift = np.array([right_mm, up_mm])
        one = Shapes(
            self.shapes.polygons, tuple([ring + shift for ring in self.shapes.rings[row]] for _ in (0,))
        )
        highlight(pen, replace(self.view, box=moved), one, 0)
        pen.rectangle(moved, None, _FRAME)
