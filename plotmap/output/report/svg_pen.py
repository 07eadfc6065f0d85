"""A pen that draws for the screen: the same drawings as on paper, as SVG inside the page."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from html import escape

import numpy as np
from numpy.typing import NDArray

from plotmap.output.paper.fonts import Fonts
from plotmap.output.paper.letters import plain
from plotmap.output.paper.pen import PLAIN, Pen, Stroke, Type
from plotmap.output.paper.sizes import Box

Floats = NDArray[np.float64]
_ANCHORS = {"left": "", "centre": ' text-anchor="middle"', "right": ' text-anchor="end"'}


class SvgPen(Pen):
    """Draws one figure; widths of words are those of the fonts of paper, which screens come near.

    Parameters
    ----------
    box : Box
        What the figure shows, in mm.
    fonts : Fonts
        Say how wide words are.
    forms : set of str
        Names of what was drawn once for the whole page, shared by all figures of it.
    number : int
        Of the figure, so that no two clips of a page have one name.
    """

    def __init__(self, box: Box, fonts: Fonts, forms: set[str], number: int) -> None:
        super().__init__(None, fonts)
        self._box = box
        self._parts: list[str] = []
        self._forms = forms
        self._number = number
        self._n_clips = 0
        self._zero_mm = box.top_mm

    def figure(self, said: str, name: str = "") -> str:
        """Return the figure as an SVG element; `said` is read to those who do not see it."""
        box = self._box
        around = f"{_n(box.left_mm)} 0 {_n(box.width_mm)} {_n(box.height_mm)}"
        of = f' class="{name}"' if name else ""
        inside = "".join(self._parts)
        return f'<svg{of} viewBox="{around}" role="img" aria-label="{escape(plain(said))}">{inside}</svg>'

    def hidden(self) -> str:
        """Return the forms drawn, as an element that shows nothing itself."""
        return f'<svg class="forms" aria-hidden="true" width="0" height="0">{"".join(self._parts)}</svg>'

    def write(self, words: str, x_mm: float, y_mm: float, look: Type = PLAIN) -> None:
        """Write one line."""
        x, y = _n(x_mm), _n(self._zero_mm - y_mm)
        marks = f' font-size="{_n(look.size_mm)}" fill="{look.colour}"{_ANCHORS[look.align]}'
        if look.bold:
            marks += ' font-weight="bold"'
        if look.halo_mm:
            rim = Stroke("#ffffff", 2 * look.halo_mm)
            marks += f'{_stroke(rim)} paint-order="stroke"'
        if look.angle_deg:
            marks += f' transform="rotate({_n(-look.angle_deg)} {x} {y})"'
        self._parts.append(f'<text x="{x}" y="{y}"{marks}>{escape(plain(words))}</text>')

    def lines(self, segments: Floats, stroke: Stroke) -> None:
        """Draw straight lines."""
        if not len(segments):
            return
        drawn = "".join(
            f"M{_n(x1)} {_n(self._zero_mm - y1)}L{_n(x2)} {_n(self._zero_mm - y2)}"
            for x1, y1, x2, y2 in segments.tolist()
        )
        self._parts.append(f'<path fill="none"{_stroke(stroke)} d="{drawn}"/>')

    def areas(self, rings: list[Floats], fill: str | None = None, stroke: Stroke | None = None) -> None:
        """Draw closed rings; a ring inside another is a hole."""
        if rings and (fill or stroke):
            look = f' fill="{fill or "none"}" fill-rule="evenodd"{_stroke(stroke) if stroke else ""}'
            self._parts.append(f'<path{look} d="{self._path(rings)}"/>')

    @contextmanager
    def clipped(self, within: Box | list[Floats]) -> Iterator[None]:
        """Let nothing be drawn outside a box, or outside rings."""
        rings = [_corners(within)] if isinstance(within, Box) else within
        self._n_clips += 1
        name = f"c{self._number}-{self._n_clips}"
        clip = f'<clipPath id="{name}"><path clip-rule="evenodd" d="{self._path(rings)}"/></clipPath>'
        self._parts.append(f'{clip}<g clip-path="url(#{name})">')
        yield
        self._parts.append("</g>")

    @contextmanager
    def form(self, name: str, box: Box) -> Iterator[None]:  # noqa: ARG002 - forms of the screen need no frame
        """Draw something once that figures of the page show with `show`."""
        before, self._zero_mm = self._zero_mm, 0.0
        self._parts.append(f'<defs><g id="f-{escape(name)}">')
        yield
        self._parts.append("</g></defs>")
        self._zero_mm = before
        self._forms.add(name)

    def show(self, name: str, right_mm: float = 0.0, up_mm: float = 0.0) -> None:
        """Show a form, moved by so much."""
        x, y = _n(right_mm), _n(self._zero_mm - up_mm)
        self._parts.append(f'<use href="#f-{escape(name)}" x="{x}" y="{y}"/>')

    def _path(self, rings: list[Floats]) -> str:
        """Return the path of closed rings, to a hundredth of a mm."""
        return "".join(self._ring(ring) for ring in rings)

    def _ring(self, ring: Floats) -> str:
        """Return the path of one closed ring, in steps from point to point."""
        points = np.round(np.column_stack([ring[:, 0], self._zero_mm - ring[:, 1]]) * 100).astype(np.int64)
        if len(points) > 1 and (points[0] == points[-1]).all():
            points = points[:-1]
        first, steps = points[0], np.diff(points, axis=0)
        moved = steps[(steps != 0).any(axis=1)]
        along = " ".join(f"{x / 100:g} {y / 100:g}" for x, y in moved.tolist())
        return f"M{first[0] / 100:g} {first[1] / 100:g}" + (f"l{along}" if along else "") + "Z"


def _stroke(stroke: Stroke) -> str:
    """Return colour, width and dashes of lines."""
    dash = f' stroke-dasharray="{_n(stroke.dash_mm[0])} {_n(stroke.dash_mm[1])}"' if stroke.dash_mm else ""
    return f' stroke="{stroke.colour}" stroke-width="{_n(stroke.width_mm)}" stroke-linejoin="round"{dash}'


def _n(value: float) -> str:
    """Return a length in mm, to a hundredth."""
    return f"{value:.2f}".rstrip("0").rstrip(".") if round(value, 2) else "0"


def _corners(box: Box) -> Floats:
    """Return the corners of a box as a ring."""
    west, south, east, north = box.left_mm, box.bottom_mm, box.right_mm, box.top_mm
    return np.array([[west, south], [east, south], [east, north], [west, north]])
