"""How compartments and plots look on paper: as on the HTML map, in mm."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from plotmap.output.paper.pen import Pen, Stroke
from plotmap.output.paper.sizes import Box

Floats = NDArray[np.float64]
Hatch = Literal["rising", "falling", "crossed"]
MARK_RADIUS_MM = 0.95
"""Half the width of the mark of a plot."""
_HATCH_MM: dict[str, float] = {"rising": 2.4, "falling": 2.4, "crossed": 1.7}
"""Distance of the lines, measured along a row."""
_HALO = Stroke("#ffffff", 0.75)


OUTLINE = Stroke("#3c4640", 0.2)
"""Boundary of a compartment with plots."""


@dataclass(frozen=True, slots=True)
class AreaStyle:
    """How a compartment looks.

    Attributes
    ----------
    fill : str
        ``#rrggbb``.
    hatch : str or None
        rising (one plot), falling (large error), crossed (no plots).
    outline : Stroke
        Its boundary.
    """

    fill: str
    hatch: Hatch | None = None
    outline: Stroke = OUTLINE


UNKNOWN_STYLE = AreaStyle("#e7e7e2", "crossed", Stroke("#5d625d", 0.35, (1.4, 1.0)))
"""Compartments without plots."""
PALE_STYLE = AreaStyle("#ececea", None, Stroke("#a9aea9", 0.12))
"""Compartments of a locator."""
HIGHLIGHT_STYLE = AreaStyle("#1d4e89", None, Stroke("#0b2545", 0.35))
"""The one compartment that a locator shows."""


@dataclass(frozen=True, slots=True)
class MarkStyle:
    """How a plot looks: shape, colour of the inside (None: open) and of the rim."""

    shape: Literal["circle", "square", "triangle", "cross"]
    fill: str | None
    colour: str


MARKS = {
    "measured": MarkStyle("circle", "#1b1b1b", "#1b1b1b"),
    "empty": MarkStyle("circle", "#ffffff", "#1b1b1b"),
    "aside": MarkStyle("triangle", "#ffffff", "#9a3412"),
    "unvisited": MarkStyle("square", "#ffffff", "#5b3a8c"),
    "lost": MarkStyle("cross", None, "#9a1b4a"),
}
"""Marks of plots by kind, in the order of the legend."""


def hatch(pen: Pen, rings: list[Floats], name: Hatch) -> None:
    """Hatch the inside of rings, in mm; the lines of neighbours meet."""
    corners = np.vstack(rings)
    (west, south), (east, north) = corners.min(axis=0), corners.max(axis=0)
    step, height = _HATCH_MM[name], north - south
    with pen.clipped(rings):
        for slope in (1, -1) if name == "crossed" else (1,) if name == "rising" else (-1,):
            start, end = (west - north, east - south) if slope > 0 else (west + south, east + north)
            at = (
                np.arange(np.floor(start / step), np.ceil(end / step) + 1) * step
            )  # x where the line has y = 0
            low, high = np.full(at.size, south), np.full(at.size, south + height)
            segments = np.column_stack([at + slope * low, low, at + slope * high, high])
            if name != "crossed":
                pen.lines(segments, _HALO)
            pen.lines(segments, Stroke("#85877f", 0.15) if name == "crossed" else Stroke("#26302b", 0.26))


def area(pen: Pen, rings: list[Floats], style: AreaStyle) -> None:
    """Draw a compartment: fill, hatching, boundary."""
    pen.areas(rings, style.fill)
    if style.hatch:
        hatch(pen, rings, style.hatch)
    pen.areas(rings, None, style.outline)


def mark(pen: Pen, x_mm: float, y_mm: float, style: MarkStyle, radius_mm: float = MARK_RADIUS_MM) -> None:
    """Draw the mark of a plot, with a white rim that sets it off."""
    for colour, width in (("#ffffff", 0.75), (style.colour, 0.32)):
        _SHAPES[style.shape](pen, x_mm, y_mm, radius_mm, style.fill, Stroke(colour, width))


def swatch(pen: Pen, box: Box, style: AreaStyle) -> None:
    """Draw a piece of the map for the legend."""
    ring = np.array(
        [
            [box.left_mm, box.bottom_mm],
            [box.right_mm, box.bottom_mm],
            [box.right_mm, box.top_mm],
            [box.left_mm, box.top_mm],
        ]
    )
    area(pen, [ring], style)


def _circle(pen: Pen, x: float, y: float, r: float, fill: str | None, stroke: Stroke) -> None:
    """Draw a circle."""
    pen.circle(x, y, r, fill, stroke)


def _square(pen: Pen, x: float, y: float, r: float, fill: str | None, stroke: Stroke) -> None:
    """Draw a square."""
    pen.rectangle(Box(x - 0.9 * r, y - 0.9 * r, 1.8 * r, 1.8 * r), fill, stroke)


def _triangle(pen: Pen, x: float, y: float, r: float, fill: str | None, stroke: Stroke) -> None:
    """Draw a triangle that stands on its side."""
    corners = np.array([[x, y + 1.2 * r], [x + 1.15 * r, y - 0.85 * r], [x - 1.15 * r, y - 0.85 * r]])
    pen.areas([corners], fill, stroke)


def _cross(pen: Pen, x: float, y: float, r: float, _fill: str | None, stroke: Stroke) -> None:
    """Draw two crossed lines."""
    pen.lines(np.array([[x - r, y - r, x + r, y + r], [x + r, y - r, x - r, y + r]]), stroke)


_SHAPES: dict[str, Callable[[Pen, float, float, float, str | None, Stroke], None]] = {
    "circle": _circle,
    "square": _square,
    "triangle": _triangle,
    "cross": _cross,
}
