"""Rulers that show whether a page was printed true to scale."""

from __future__ import annotations

import numpy as np

from plotmap.output.paper.pen import Pen, Stroke, Type
from plotmap.output.paper.sizes import Box

RULER_MM = 200.0
"""Length of the check ruler."""
RULER_HIGH_MM = 9.0
CROSS_MM = 50.0
"""Length of both arms of the crosshair."""
_FINE = Stroke("#000000", 0.12)
_LABEL = Type(size_pt=6.5, align="centre")
_TICKS_MM = {10: 4.0, 5: 3.0, 1: 1.8}
"""Length of the tick of every tenth, fifth and single millimetre."""


def draw_ruler(pen: Pen, left_mm: float, bottom_mm: float) -> None:
    """Draw a ruler of 200 mm with a tick each millimetre, its numbers below; it is `RULER_HIGH_MM` high."""
    base = bottom_mm + 3.4
    draw_ticks(pen, Box(left_mm, base, RULER_MM, 4.0), 0.0, upward=True)
    for at in range(0, int(RULER_MM), 20):
        pen.rectangle(Box(left_mm + at, base - 0.8, 10.0, 0.8), "#000000")
    pen.rectangle(Box(left_mm, base - 0.8, RULER_MM, 0.8), None, _FINE)
    for at in range(0, int(RULER_MM) + 1, 10):
        words = f"{at} mm" if at == RULER_MM else str(at)
        pen.write(words, left_mm + at, bottom_mm, _LABEL)


def draw_ticks(pen: Pen, box: Box, start_mm: float, *, upward: bool) -> None:
    """Draw a tick for each whole millimetre of a scale whose value at the left edge of the box is given, in mm."""
    values = np.arange(np.ceil(start_mm - 1e-6), np.floor(start_mm + box.width_mm + 1e-6) + 1)
    x = box.left_mm + values - start_mm
    whole = values.astype(int)
    long = np.where(whole % 10 == 0, _TICKS_MM[10], np.where(whole % 5 == 0, _TICKS_MM[5], _TICKS_MM[1]))
    foot = np.full(x.size, box.bottom_mm if upward else box.top_mm)
    pen.lines(np.column_stack([x, foot, x, foot + (long if upward else -long)]), _FINE)


def draw_cross(pen: Pen, box: Box) -> None:
    """Draw a cross of `CROSS_MM` across and up in the middle of a box, with a tick each 5 mm and its length."""
    x, y = box.centre_mm
    half = CROSS_MM / 2
    pen.line(x - half, y, x + half, y, _FINE)
    pen.line(x, y - half, x, y + half, _FINE)
    at = np.arange(-half, half + 1e-9, 5.0)
    long = np.where(np.abs(at) == half, 3.0, 1.2)
    pen.lines(np.column_stack([x + at, y - long, x + at, y + long]), _FINE)
    pen.lines(np.column_stack([x - long, y + at, x + long, y + at]), _FINE)
    pen.circle(x, y, 3.0, None, _FINE)
    pen.write(f"{CROSS_MM:.0f} mm", x + half - 1.0, y + 2.2, Type(size_pt=6.5, align="right"))
    pen.write(f"{CROSS_MM:.0f} mm", x + 1.0, y + half - 4.4, Type(size_pt=6.5))
