"""Bands on paper: colour, pattern and letter, each of which tells a band without the others."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from plotmap.model.field_papers import MarkedBand, Pattern
from plotmap.output.paper.pen import Pen, Stroke, Type
from plotmap.output.paper.sizes import Box

Floats = NDArray[np.float64]
_STEP_MM = 2.6
_LINE_MM, _DOT_MM = 0.45, 0.5
_OUTLINE = Stroke("#1b1b1b", 0.2)
_HALF_BRIGHT = 0.35
"""Relative luminance from which on a pattern is black."""
_PT_PER_MM = 72 / 25.4


def draw_band(pen: Pen, box: Box, mark: MarkedBand, letter_mm: float) -> None:
    """Draw a piece of a band, with its letter in the middle.

    Parameters
    ----------
    pen : Pen
        Draws.
    box : Box
        The piece; its left and right edge are exact.
    mark : MarkedBand
        Colour, pattern and letter.
    letter_mm : float
        Size of the letter; smaller where it does not fit, none where there is no room.
    """
    pen.rectangle(box, mark.colour)
    ink = "#000000" if _luminance(mark.colour) > _HALF_BRIGHT else "#ffffff"
    segments = _SEGMENTS[mark.pattern](box)
    with pen.clipped(box):
        pen.lines(segments, Stroke(ink, _LINE_MM))
        if mark.pattern == "dots":
            for x_mm, y_mm in _lattice(box).tolist():
                pen.circle(x_mm, y_mm, _DOT_MM, ink)
    pen.rectangle(box, None, _OUTLINE)
    _letter(pen, box, mark.letter, letter_mm)


def _letter(pen: Pen, box: Box, letter: str, size_mm: float) -> None:
    """Write the letter on a white field in the middle of a box."""
    look = Type(size_pt=size_mm * _PT_PER_MM, bold=True, align="centre")
    room = (box.width_mm - 1.0) / max(pen.width_mm(letter, look), 0.1)
    if room < 1:
        look = Type(size_pt=look.size_pt * room, bold=True, align="centre")
    if look.size_pt < 4:  # noqa: PLR2004 - no one reads smaller letters
        return
    x_mm, y_mm = box.centre_mm
    wide, high = pen.width_mm(letter, look) + 0.8, look.size_mm * 1.05
    pen.rectangle(Box(x_mm - wide / 2, y_mm - high / 2, wide, high), "#ffffff")
    pen.write(letter, x_mm, y_mm - look.size_mm * 0.36, look)


def _luminance(colour: str) -> float:
    """Return the relative luminance of a colour (IEC 61966-2-1)."""
    parts = np.array([int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)])
    light = np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)  # noqa: PLR2004
    return float(light @ [0.2126, 0.7152, 0.0722])


def _none(_box: Box) -> Floats:
    """Return no lines."""
    return np.empty((0, 4))


def _level(box: Box) -> Floats:
    """Return level lines."""
    y = np.arange(box.bottom_mm + _STEP_MM / 2, box.top_mm, _STEP_MM)
    return np.column_stack([np.full(y.size, box.left_mm), y, np.full(y.size, box.right_mm), y])


def _upright(box: Box) -> Floats:
    """Return upright lines."""
    x = np.arange(box.left_mm + _STEP_MM / 2, box.right_mm, _STEP_MM)
    return np.column_stack([x, np.full(x.size, box.bottom_mm), x, np.full(x.size, box.top_mm)])


def _rising(box: Box) -> Floats:
    """Return lines that rise to the right."""
    step = _STEP_MM * 1.3
    x = np.arange(box.left_mm - box.height_mm, box.right_mm, step)
    return np.column_stack(
        [x, np.full(x.size, box.bottom_mm), x + box.height_mm, np.full(x.size, box.top_mm)]
    )


def _falling(box: Box) -> Floats:
    """Return lines that fall to the right."""
    return _rising(box)[:, [0, 3, 2, 1]]


def _crossed(box: Box) -> Floats:
    """Return lines that rise and fall."""
    return np.vstack([_rising(box), _falling(box)])


def _grid(box: Box) -> Floats:
    """Return level and upright lines."""
    return np.vstack([_level(box), _upright(box)])


def _lattice(box: Box) -> Floats:
    """Return the middles of dots."""
    x = np.arange(box.left_mm + _STEP_MM / 2, box.right_mm, _STEP_MM)
    y = np.arange(box.bottom_mm + _STEP_MM / 2, box.top_mm, _STEP_MM)
    across, up = np.meshgrid(x, y)
    return np.column_stack([across.ravel(), up.ravel()])


_SEGMENTS: dict[Pattern, Callable[[Box], Floats]] = {
    "plain": _none,
    "rising": _rising,
    "dots": _none,
    "level": _level,
    "falling": _falling,
    "upright": _upright,
    "crossed": _crossed,
    "grid": _grid,
}
