"""The chart of size classes: what it shows, and one drawing of it for paper and screen."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from plotmap.output.paper.marginalia import thousands
from plotmap.output.paper.pen import Pen, Stroke, Type
from plotmap.output.paper.sizes import Box
from plotmap.output.paper.view import round_length

_BAR, _LINE, _GRID = "#7fa3c7", Stroke("#1b1b1b", 0.25), Stroke("#d5d8d5", 0.12)
_AXIS = Stroke("#4a4f4a", 0.2)
_SMALL = Type(size_pt=6.5, colour="#3a3f3a")
_LEFT_MM, _FOOT_MM, _HEAD_MM = 9.0, 9.6, 4.0
"""Room for figures at the left, classes below and the title of the axis above."""
_CAP_MM = 0.7
_HIGHEST = 2.5
"""The chart reaches at most so many times as high as its highest bar; limits above that are cut."""
_STEPS = 4
_LABEL_APART_MM = 1.2


@dataclass(frozen=True, slots=True)
class ClassBar:
    """One size class: the edge that belongs to it, stems per ha, and their limits (None: no limits)."""

    label: str
    value: float
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class ClassChart:
    """The size classes of a compartment.

    Attributes
    ----------
    bars : tuple of ClassBar
        Every class from the lowest to the highest.
    stems_title, classes_title : str
        What the axes show.
    note : str
        What the lines are, or why there are none.
    said : str
        All of it in words, for those who do not see it.
    """

    bars: tuple[ClassBar, ...]
    stems_title: str
    classes_title: str
    note: str
    said: str

    @property
    def top(self) -> float:
        """Value at the upper edge of the chart, in 1/ha."""
        return chart_top(self.bars)

    @property
    def is_cut(self) -> bool:
        """Whether a limit lies above the chart."""
        return any(bar.high is not None and bar.high > self.top for bar in self.bars)


def chart_top(bars: tuple[ClassBar, ...]) -> float:
    """Return the value at the upper edge of a chart of these bars, in 1/ha, above 0."""
    highest = max((bar.value for bar in bars), default=0.0)
    limits = max((bar.high for bar in bars if bar.high is not None), default=0.0)
    wanted = max(highest, min(limits, _HIGHEST * highest) if highest else limits) or 1.0
    step = _step(wanted)
    return float(np.ceil(wanted / step - 1e-9) * step)


def _step(top: float) -> float:
    """Return the distance of the lines of a chart, in 1/ha: 1, 2 or 5 times a power of ten."""
    return round_length(top / _STEPS) if top / _STEPS > 0 else 1.0


def draw_chart(pen: Pen, box: Box, chart: ClassChart) -> None:
    """Draw a chart into a box: bars, lines from lower to upper limits, axes with their titles.

    Parameters
    ----------
    pen : Pen
        Draws, on paper or for the screen.
    box : Box
        All of the chart, titles too.
    chart : ClassChart
        With one bar at least.
    """
    inner = box.split_bottom(_FOOT_MM)[1].split_top(_HEAD_MM)[1].split_left(_LEFT_MM)[1]
    top = chart.top
    per_unit = inner.height_mm / top
    pen.write(chart.stems_title, box.left_mm, box.top_mm - _SMALL.size_mm, _SMALL)
    _draw_scale(pen, inner, top)
    wide = inner.width_mm / len(chart.bars)
    for number, bar in enumerate(chart.bars):
        left = inner.left_mm + number * wide
        if bar.value > 0:
            piece = Box(left + 0.1 * wide, inner.bottom_mm, 0.8 * wide, bar.value * per_unit)
            pen.rectangle(piece, _BAR, None)
        if bar.low is not None and bar.high is not None and bar.high > bar.low:
            _draw_limits(pen, inner, left + wide / 2, (bar.low * per_unit, bar.high * per_unit))
    pen.line(inner.left_mm, inner.bottom_mm, inner.right_mm, inner.bottom_mm, _AXIS)
    _draw_classes(pen, inner, chart, wide)
    middle = (inner.left_mm + inner.right_mm) / 2
    for words, up in ((chart.classes_title, 3.6), (chart.note, 0.7)):
        look = replace(_SMALL, align="centre", size_pt=_fitting_size(pen, words, box.width_mm))
        pen.write(pen.shortened(words, box.width_mm, look), middle, box.bottom_mm + up, look)


def _fitting_size(pen: Pen, words: str, width_mm: float) -> float:
    """Return the largest size of letters, in points, in which words fit a width; 5 at least."""
    wide = pen.width_mm(words, _SMALL)
    return max(5.0, min(_SMALL.size_pt, _SMALL.size_pt * width_mm / max(wide, 1e-9)))


def _draw_scale(pen: Pen, inner: Box, top: float) -> None:
    """Draw the lines of the scale and their figures."""
    step = _step(top)
    look = replace(_SMALL, align="right")
    values = np.arange(0.0, top + step / 2, step)
    for value in values.tolist():
        y = inner.bottom_mm + inner.height_mm * value / top
        if value:
            pen.line(inner.left_mm, y, inner.right_mm, y, _GRID)
        words = thousands(value) if step >= 1 else f"{value:.10g}"
        pen.write(words, inner.left_mm - 1.0, y - 0.8, look)


def _draw_limits(pen: Pen, inner: Box, x: float, reach: tuple[float, float]) -> None:
    """Draw the line from the lower to the upper limit, with caps; an arrow where it is cut."""
    low, high = inner.bottom_mm + reach[0], inner.bottom_mm + reach[1]
    end = min(high, inner.top_mm)
    lines = [[x, low, x, end], [x - _CAP_MM, low, x + _CAP_MM, low]]
    if high > inner.top_mm + 1e-6:
        lines += [[x, end, x - _CAP_MM, end - 1.2], [x, end, x + _CAP_MM, end - 1.2]]
    else:
        lines.append([x - _CAP_MM, end, x + _CAP_MM, end])
    pen.lines(np.array(lines), _LINE)


def _draw_classes(pen: Pen, inner: Box, chart: ClassChart, wide: float) -> None:
    """Write the classes below their bars, every second or third one where they are narrow."""
    look = replace(_SMALL, align="centre")
    widest = max(pen.width_mm(bar.label, look) for bar in chart.bars)
    every = max(1, int(np.ceil((widest + _LABEL_APART_MM) / wide)))
    for number, bar in enumerate(chart.bars):
        if number % every == 0:
            pen.write(bar.label, inner.left_mm + (number + 0.5) * wide, inner.bottom_mm - 2.8, look)
