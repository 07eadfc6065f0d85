"""What stands round a map: frame with coordinates, scale bar, norths, legend."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import cos, radians, sin

import numpy as np
from numpy.typing import NDArray

from plotmap.output.paper.pen import Pen, Stroke, Type
from plotmap.output.paper.sizes import Box
from plotmap.output.paper.symbols import AreaStyle, MarkStyle, mark, swatch
from plotmap.output.paper.view import View, round_length

Floats = NDArray[np.float64]
_FRAME = Stroke("#1b1b1b", 0.3)
_GRID = Stroke("#5d625d", 0.12)
_TICK_MM = 1.6
_TICKS_APART_MM = 50.0
_LABEL = Type(size_pt=6.5, align="centre")
_SMALL = Type(size_pt=7.0)
_HEADING = Type(size_pt=8.0, bold=True)
KEY_MM, _BEFORE_HEADING_MM = 5.4, 2.0
"""Height of a line of the legend, and the room before a heading in it."""
_WORDS_MM = 9.5
"""Where the words of a legend begin."""
_SHOWN_FROM_DEG = 0.01
"""Angle between the norths from which on a second arrow is drawn."""
TICK_ROOM_MM = 4.5
"""Room that the labels of the coordinates take outside the frame."""


@dataclass(frozen=True, slots=True)
class Key:
    """One line of a legend.

    Attributes
    ----------
    sample : AreaStyle, MarkStyle or None
        What is explained; None for a heading.
    words : str
        What it means.
    count : str
        How many there are; may be empty.
    """

    sample: AreaStyle | MarkStyle | None
    words: str
    count: str = ""


def thousands(value: float) -> str:
    """Return a whole number with its thousands apart by a thin space."""
    return f"{value:,.0f}".replace(",", "\u202f")


def draw_frame(pen: Pen, view: View) -> float:
    """Draw the frame of a map with ticks, crosses and labels at round coordinates.

    Parameters
    ----------
    pen : Pen
        Draws; the labels reach `TICK_ROOM_MM` outside the frame.
    view : View
        The map.

    Returns
    -------
    float
        Distance of the ticks in m: 1, 2 or 5 times a power of ten, so that they are at most 50 mm apart, and
        less where that would leave a side without two of them.
    """
    box, seen = view.box, view.extent
    step = round_length(min(view.length_m(_TICKS_APART_MM), seen.width_m / 2, seen.height_m / 2))
    east, north = _multiples(seen.west_m, seen.east_m, step), _multiples(seen.south_m, seen.north_m, step)
    x = view.place(np.column_stack([east, np.full(east.size, seen.south_m)]))[:, 0]
    y = view.place(np.column_stack([np.full(north.size, seen.west_m), north]))[:, 1]
    across, up = (grid.ravel() for grid in np.meshgrid(x, y))
    arm = _TICK_MM / 2
    pen.lines(np.column_stack([across - arm, up, across + arm, up]), _GRID)
    pen.lines(np.column_stack([across, up - arm, across, up + arm]), _GRID)
    for edge, way in ((box.bottom_mm, 1), (box.top_mm, -1)):
        pen.lines(
            np.column_stack([x, np.full(x.size, edge), x, np.full(x.size, edge + way * _TICK_MM)]), _FRAME
        )
    for edge, way in ((box.left_mm, 1), (box.right_mm, -1)):
        pen.lines(
            np.column_stack([np.full(y.size, edge), y, np.full(y.size, edge + way * _TICK_MM), y]), _FRAME
        )
    _label_ticks(pen, box, list(zip(x.tolist(), east.tolist(), strict=True)), upright=False)
    _label_ticks(pen, box, list(zip(y.tolist(), north.tolist(), strict=True)), upright=True)
    pen.rectangle(box, None, _FRAME)
    return step


def _label_ticks(pen: Pen, box: Box, ticks: list[tuple[float, float]], *, upright: bool) -> None:
    """Write coordinates outside the frame, those of the sides turned by a right angle."""
    drop = _LABEL.size_mm * 0.75
    for at, value in ticks:
        words = thousands(value)
        half = pen.width_mm(words, _LABEL) / 2
        low, high = (box.bottom_mm, box.top_mm) if upright else (box.left_mm, box.right_mm)
        if at - half < low or at + half > high:
            continue
        if upright:
            turned = replace(_LABEL, angle_deg=90.0)
            pen.write(words, box.left_mm - 1.0, at, turned)
            pen.write(words, box.right_mm + 1.0 + drop, at, turned)
        else:
            pen.write(words, at, box.bottom_mm - 1.0 - drop, _LABEL)
            pen.write(words, at, box.top_mm + 1.0, _LABEL)


def _multiples(low: float, high: float, step: float) -> Floats:
    """Return the multiples of a step from low to high."""
    return np.asarray(np.arange(np.ceil(low / step), np.floor(high / step) + 1) * step, dtype=float)


def draw_scale_bar(
    pen: Pen, view: View, left_mm: float, bottom_mm: float, width_mm: float, *, numeric: bool = True
) -> float:
    """Draw a scale bar of a round length that is at most so wide, and return that length in m.

    The bar has four parts, light and dark in turn, the labels above it and the numeric scale (1 : 10 000) below,
    unless `numeric` is false: on a screen no number is true. Lengths are those of the grid. It is 9 mm high.
    """
    length_m = round_length(view.length_m(width_mm))
    long_mm = view.length_mm(length_m)
    parts, high = 4, 1.6
    bar = bottom_mm + 3.6
    for number in range(parts):
        piece = Box(left_mm + long_mm * number / parts, bar, long_mm / parts, high)
        pen.rectangle(piece, "#1b1b1b" if number % 2 == 0 else "#ffffff")
    pen.rectangle(Box(left_mm, bar, long_mm, high), None, Stroke("#1b1b1b", 0.15))
    unit, per_unit = ("km", 1000.0) if length_m >= 2000 else ("m", 1.0)  # noqa: PLR2004
    for part in (0, parts // 2, parts):
        words = (
            f"{length_m / per_unit * part / parts:.10g}" if per_unit > 1 else _metres(length_m * part / parts)
        )
        words += f" {unit}" if part == parts else ""
        pen.write(words, left_mm + long_mm * part / parts, bar + high + 0.9, replace(_SMALL, align="centre"))
    if numeric:
        pen.write(f"1 : {thousands(view.scale_denominator)}", left_mm, bottom_mm, replace(_SMALL, bold=True))
    return length_m


def _metres(length_m: float) -> str:
    """Return a length in m without needless decimals."""
    return thousands(length_m) if length_m == round(length_m) else f"{length_m:.10g}"


def draw_norths(pen: Pen, box: Box, convergence_deg: float, grid_word: str, true_word: str) -> None:
    """Draw an arrow to grid north, and a thinner one to true north at its true angle.

    Parameters
    ----------
    pen : Pen
        Draws.
    box : Box
        Room for both; the arrows start at the middle of its lower edge.
    convergence_deg : float
        Meridian convergence: true north lies so far to the left of grid north (to the right where negative).
        NaN where not known: then only grid north is drawn.
    grid_word, true_word : str
        What is written at the heads: GN, TN.
    """
    x, low = box.centre_mm[0], box.bottom_mm
    room = box.height_mm - 4.0
    look = replace(_SMALL, size_pt=6.5, align="centre", bold=True)
    head = np.array(
        [[x - 1.5, low + room - 4.5], [x, low + room], [x + 1.5, low + room - 4.5], [x, low + room - 3.6]]
    )
    pen.line(x, low, x, low + room - 3.6, Stroke(width_mm=0.45))
    pen.areas([head], "#1b1b1b")
    if not np.isfinite(convergence_deg) or abs(convergence_deg) < _SHOWN_FROM_DEG:
        words = grid_word if not np.isfinite(convergence_deg) else f"{grid_word} = {true_word}"
        pen.write(words, x, low + room + 1.0, look)
        return
    turn, far = radians(-convergence_deg), room * 0.86
    tip = (x + far * sin(turn), low + far * cos(turn))
    pen.line(x, low, *tip, Stroke("#9a3412", 0.3))
    side = -1 if convergence_deg > 0 else 1
    pen.write(grid_word, x, low + room + 1.0, look)
    at = x + side * max(abs(tip[0] - x) + 0.8, 2.2)
    pen.write(
        true_word, at, tip[1] - 1.0, replace(look, colour="#9a3412", align="right" if side < 0 else "left")
    )


def draw_legend(pen: Pen, box: Box, keys: Sequence[Key], key_mm: float = KEY_MM) -> float:
    """Draw a legend from the top of a box down, and return its height in mm.

    Words that are wider than their room are broken into lines; `key_mm` is the height of one that is not.
    """
    y = box.top_mm
    for number, key in enumerate(keys):
        lines, height = _key_lines(pen, box.width_mm, key, key_mm, first=number == 0)
        if key.sample is None:
            y -= 0.0 if number == 0 else _BEFORE_HEADING_MM
            for at, line in enumerate(lines):
                pen.write(line, box.left_mm, y - _HEADING.size_mm - at * _HEADING.line_mm, _HEADING)
            pen.write(
                key.count,
                box.right_mm,
                y - _HEADING.size_mm,
                replace(_SMALL, align="right", colour="#4a4f4a"),
            )
            y -= height - (0.0 if number == 0 else _BEFORE_HEADING_MM)
            continue
        middle = y - key_mm / 2 + 0.3
        if isinstance(key.sample, AreaStyle):
            swatch(pen, Box(box.left_mm, middle - key_mm * 0.39, 7.0, key_mm * 0.78), key.sample)
        else:
            mark(pen, box.left_mm + 3.5, middle, key.sample)
        for at, line in enumerate(lines):
            pen.write(line, box.left_mm + _WORDS_MM, middle - 0.9 - at * _SMALL.line_mm, _SMALL)
        pen.write(key.count, box.right_mm, middle - 0.9, replace(_SMALL, align="right"))
        y -= height
    return box.top_mm - y


def legend_height(pen: Pen, width_mm: float, keys: Sequence[Key], key_mm: float = KEY_MM) -> float:
    """Return how high a legend of this width becomes, in mm."""
    return sum(_key_lines(pen, width_mm, key, key_mm, first=not number)[1] for number, key in enumerate(keys))


def _key_lines(pen: Pen, width_mm: float, key: Key, key_mm: float, *, first: bool) -> tuple[list[str], float]:
    """Return the words of a key in lines, and the height it takes."""
    count_mm = pen.width_mm(key.count, _SMALL) + 2 if key.count else 0.0
    if key.sample is None:
        lines = pen.lines_of(key.words, width_mm - count_mm, _HEADING)
        return lines, len(lines) * _HEADING.line_mm + 0.6 + (0.0 if first else _BEFORE_HEADING_MM)
    lines = pen.lines_of(key.words, width_mm - _WORDS_MM - count_mm, _SMALL)
    return lines, max(key_mm, key_mm - 3.0 + len(lines) * _SMALL.line_mm)
