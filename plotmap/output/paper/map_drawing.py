"""Draws compartments and plots on paper, with the classes, colours and marks of the HTML map."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray

from plotmap.output.paper.pen import Pen
from plotmap.output.paper.sizes import Box
from plotmap.output.paper.symbols import (
    HIGHLIGHT_STYLE,
    MARKS,
    PALE_STYLE,
    UNKNOWN_STYLE,
    AreaStyle,
    Hatch,
    area,
    mark,
)
from plotmap.output.paper.view import View
from plotmap.output.webmap.themes import NO_VALUE, UNKNOWN, Theme

if TYPE_CHECKING:
    import geopandas as gpd
    import pandas as pd

Floats = NDArray[np.float64]
HATCHES: tuple[Hatch | None, ...] = (None, "rising", "falling")
"""What is drawn over the colour, by the number that `plotmap.output.webmap.themes.hatches` gives."""
_FINEST_MM = 0.02
"""Vertices that move an outline by less than this on the paper are left out; no printer shows it."""
_OVER_MM = 2.0
"""Outlines are cut so far outside the frame, so that their cut edge is not seen."""
_UNSET = "#ffffff"
_SET_ASIDE_STATES = ("unvisited", "lost")


@dataclass(frozen=True, slots=True)
class Shapes:
    """Compartments as they lie in a view.

    Attributes
    ----------
    polygons : numpy.ndarray of shapely geometries, shape (n_compartments,)
        In mm on the paper; None where a compartment is not in the view.
    rings : tuple of list of numpy.ndarray
        For each compartment its rings in mm, holes among them; none where it is not in the view.
    """

    polygons: NDArray[np.object_]
    rings: tuple[list[Floats], ...]


def area_styles(theme: Theme, hatched: NDArray[np.int64]) -> tuple[AreaStyle, ...]:
    """Return how each compartment looks in a theme.

    Parameters
    ----------
    theme : Theme
        Of `plotmap.output.webmap.themes.themes`.
    hatched : numpy.ndarray of int64, shape (n_compartments,)
        Of `plotmap.output.webmap.themes.hatches`.

    Returns
    -------
    tuple of AreaStyle
        `UNKNOWN_STYLE` for compartments without plots, white for those without this value.
    """
    styles = []
    for number, over in zip(theme.classes.tolist(), hatched.tolist(), strict=True):
        if number == UNKNOWN:
            styles.append(UNKNOWN_STYLE)
        else:
            styles.append(AreaStyle(_UNSET if number == NO_VALUE else theme.colours[number], HATCHES[over]))
    return tuple(styles)


def shapes_in(view: View, compartments: gpd.GeoDataFrame) -> Shapes:
    """Return the compartments as they lie in a view: cut at its frame, without vertices too fine to print.

    Parameters
    ----------
    view : View
        Scale and frame, in the reference system of `compartments`.
    compartments : geopandas.GeoDataFrame
        Polygons and multi-polygons, in m.
    """
    polygons = np.asarray(compartments.geometry, dtype=object)
    seen = view.extent.grown(view.length_m(_OVER_MM))
    frame = shapely.box(seen.west_m, seen.south_m, seen.east_m, seen.north_m)
    shown = shapely.intersects(polygons, frame)
    cut = shown & ~shapely.covered_by(polygons, frame)
    drawn = polygons.copy()
    drawn[~shown] = None
    drawn[cut] = shapely.intersection(polygons[cut], frame)
    drawn = shapely.transform(shapely.simplify(drawn, view.length_m(_FINEST_MM)), view.place)
    return Shapes(drawn, tuple(_rings(shape) for shape in drawn))


def _rings(shape: shapely.Geometry | None) -> list[Floats]:
    """Return the rings of the polygons of a shape; none where it is missing."""
    if shape is None:
        return []
    parts = shapely.get_parts(shape)
    rings = shapely.get_rings(parts[shapely.get_dimensions(parts) == 2])  # noqa: PLR2004
    return [shapely.get_coordinates(ring) for ring in rings]


def draw_compartments(pen: Pen, view: View, shapes: Shapes, styles: Sequence[AreaStyle]) -> None:
    """Draw compartments inside the frame: fills and hatching first, then every boundary.

    Parameters
    ----------
    pen : Pen
        Draws.
    view : View
        The frame.
    shapes : Shapes
        Of `shapes_in`.
    styles : sequence of AreaStyle
        One for each compartment.
    """
    pairs = [(rings, style) for rings, style in zip(shapes.rings, styles, strict=True) if rings]
    with pen.clipped(view.box):
        for rings, style in pairs:
            area(pen, rings, style)
        for rings, style in pairs:
            pen.areas(rings, None, style.outline)


def draw_locator(pen: Pen, view: View, shapes: Shapes, highlighted: int | None = None) -> None:
    """Draw all compartments in light grey, and one of them (its row) in dark.

    Where many pages show it, draw it without `highlighted` into a form once (`Pen.form`), show that on each page,
    and draw the one compartment over it with `highlight`.
    """
    draw_compartments(pen, view, shapes, [PALE_STYLE] * len(shapes.rings))
    if highlighted is not None:
        highlight(pen, view, shapes, highlighted)


def highlight(pen: Pen, view: View, shapes: Shapes, row: int) -> None:
    """Draw one compartment in the colour that a locator shows it in, with a ring round it where it is tiny."""
    rings = shapes.rings[row]
    if not rings:
        return
    with pen.clipped(view.box):
        area(pen, rings, HIGHLIGHT_STYLE)
    corners = np.vstack(rings)
    low, high = corners.min(axis=0), corners.max(axis=0)
    if (high - low).max() < 2.0:  # noqa: PLR2004 - mm
        x, y = ((low + high) / 2).tolist()
        pen.circle(x, y, 2.0, None, HIGHLIGHT_STYLE.outline)


def plot_kinds(plots: pd.DataFrame) -> NDArray[np.object_]:
    """Return the kind of mark of each plot, a key of `MARKS`: its state, or aside where measured but set aside."""
    state = plots["state"].astype(object).to_numpy()
    aside = plots["set_aside"].notna().to_numpy()
    not_there = np.isin(state.astype(str), _SET_ASIDE_STATES)
    kinds = np.where(state == "empty", "empty", "measured").astype(object)
    return np.where(not_there, state, np.where(aside, "aside", kinds))


def draw_plots(pen: Pen, view: View, plots: gpd.GeoDataFrame) -> tuple[str, ...]:
    """Draw the plots that lie in a view, and return the kinds of marks drawn, in the order of the legend.

    Parameters
    ----------
    pen : Pen
        Draws.
    view : View
        The frame.
    plots : geopandas.GeoDataFrame
        `PLOT_RESULTS`; those without a position are not drawn.
    """
    points = np.asarray(plots.geometry, dtype=object)
    seen = view.extent
    inside = shapely.intersects(points, shapely.box(seen.west_m, seen.south_m, seen.east_m, seen.north_m))
    kinds, at = plot_kinds(plots)[inside], shapely.get_coordinates(points[inside])
    drawn = set(kinds.tolist())
    for kind in sorted(drawn):
        if not pen.has_form(f"mark-{kind}"):
            with pen.form(f"mark-{kind}", Box(-2.0, -2.0, 4.0, 4.0)):
                mark(pen, 0.0, 0.0, MARKS[kind])
    with pen.clipped(view.box):
        for (x, y), kind in zip(view.place(at).tolist(), kinds.tolist(), strict=True):
            pen.show(f"mark-{kind}", x, y)
    return tuple(kind for kind in MARKS if kind in drawn)
