"""Draws words, lines and areas on a page. All lengths are millimetres; the sizes of letters are points.

This is the only module that writes PDF operators (ISO 32000-1, annex A): letters are drawn from fonts of the
document itself, so that no font is registered anywhere and the same input gives the same bytes.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from math import cos, radians, sin
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from reportlab.pdfgen.canvas import Canvas

from plotmap.output.paper.fonts import Fonts
from plotmap.output.paper.letters import Run, plain, runs
from plotmap.output.paper.sizes import POINTS_PER_MM, Box

Floats = NDArray[np.float64]
Align = Literal["left", "centre", "right"]
INK = "#1b1b1b"
_LINE_HEIGHT = 1.32
"""Distance of lines in parts of the size of the letters."""
_ELLIPSIS = "…"


@dataclass(frozen=True, slots=True)
class Type:
    """How words look.

    Attributes
    ----------
    size_pt : float
        Size of the letters in points.
    bold : bool
        Bold letters.
    colour : str
        ``#rrggbb``.
    align : str
        Which part of the words stands at the place given: left, centre or right.
    angle_deg : float
        Direction of the words, counter-clockwise from the right.
    halo_mm : float
        Width of the white rim round the letters.
    """

    size_pt: float = 9.0
    bold: bool = False
    colour: str = INK
    align: Align = "left"
    angle_deg: float = 0.0
    halo_mm: float = 0.0

    @property
    def size_mm(self) -> float:
        """Size of the letters in mm."""
        return self.size_pt / POINTS_PER_MM

    @property
    def line_mm(self) -> float:
        """Distance from one line to the next in mm."""
        return self.size_mm * _LINE_HEIGHT


@dataclass(frozen=True, slots=True)
class Stroke:
    """How a line looks: colour as ``#rrggbb``, width in mm, lengths of dash and gap in mm."""

    colour: str = INK
    width_mm: float = 0.2
    dash_mm: tuple[float, float] | None = None


PLAIN = Type()


class Pen:
    """Draws on the page that a document has open.

    Parameters
    ----------
    canvas : reportlab.pdfgen.canvas.Canvas
        Its user space is in mm.
    fonts : Fonts
        Fonts of the document.

    Attributes
    ----------
    missing : set of str
        Letters that no font had; a box stands for each of them.
    """

    def __init__(self, canvas: Canvas, fonts: Fonts) -> None:
        self._canvas = canvas
        self._fonts = fonts
        self._forms: set[str] = set()
        self.missing: set[str] = set()

    # --- words ------------------------------------------------------------------------------------------------

    def width_mm(self, words: str, look: Type = PLAIN) -> float:
        """Return how wide words are in one line."""
        return sum(run.width(look.size_mm) for run in self._runs(words, look))

    def write(self, words: str, x_mm: float, y_mm: float, look: Type = PLAIN) -> None:
        """Write one line; `x_mm` is its left, middle or right by `look`, `y_mm` the line the letters stand on."""
        parts = self._runs(words, look)
        width = sum(run.width(look.size_mm) for run in parts)
        shift = {"left": 0.0, "centre": width / 2, "right": width}[look.align]
        turn = radians(look.angle_deg)
        x, y = x_mm - shift * cos(turn), y_mm - shift * sin(turn)
        if look.halo_mm:
            self._put(f"q 1 J 1 j {_rgb('#ffffff')} RG {_n(look.halo_mm * 2)} w")
            self._letters(parts, x, y, look, mode=1)
            self._put("Q")
        self._put(f"q {_rgb(look.colour)} rg {_rgb(look.colour)} RG {_n(look.size_mm * 0.05)} w")
        self._letters(parts, x, y, look, mode=0)
        self._put("Q")

    def lines_of(self, words: str, width_mm: float, look: Type = PLAIN) -> list[str]:
        """Return words broken into lines of at most this width; a word that is wider is broken anywhere."""
        lines: list[str] = []
        space_mm = self.width_mm("x x", look) - 2 * self.width_mm("x", look)
        for piece in words.split("\n"):
            line, used_mm = "", -space_mm
            for word in plain(piece).split(" "):
                word_mm = self.width_mm(word, look)
                if not line or used_mm + space_mm + word_mm <= width_mm:
                    line, used_mm = f"{line} {word}" if line else word, used_mm + space_mm + word_mm
                else:
                    lines.append(line)
                    line, used_mm = word, word_mm
                if used_mm > width_mm:
                    *whole, line = self._broken(line, width_mm, look)
                    lines += whole
                    used_mm = self.width_mm(line, look)
            lines.append(line)
        return lines

    def paragraph(self, words: str, box: Box, look: Type = PLAIN) -> float:
        """Write words from the top of a box down, as many lines as they need, and return the height in mm."""
        lines = self.lines_of(words, box.width_mm, look)
        x_mm = {"left": box.left_mm, "centre": box.centre_mm[0], "right": box.right_mm}[look.align]
        for number, line in enumerate(lines):
            self.write(line, x_mm, box.top_mm - look.size_mm - number * look.line_mm, look)
        return len(lines) * look.line_mm

    def shortened(self, words: str, width_mm: float, look: Type = PLAIN) -> str:
        """Return words that fit a width, cut with an ellipsis where they do not."""
        words = plain(words)
        if self.width_mm(words, look) <= width_mm:
            return words
        while words and self.width_mm(words + _ELLIPSIS, look) > width_mm:
            words = words[:-1].rstrip()
        return words + _ELLIPSIS

    # --- lines and areas --------------------------------------------------------------------------------------

    def lines(self, segments: Floats, stroke: Stroke) -> None:
        """Draw straight lines; `segments` has the columns x1, y1, x2, y2 in mm."""
        if not len(segments):
            return
        drawn = " ".join(f"{x1:.3f} {y1:.3f} m {x2:.3f} {y2:.3f} l" for x1, y1, x2, y2 in segments.tolist())
        self._put(f"q {_stroke(stroke)} {drawn} S Q")

    def line(
        self, x1_mm: float, y1_mm: float, x2_mm: float, y2_mm: float, stroke: Stroke | None = None
    ) -> None:
        """Draw one straight line."""
        self.lines(np.array([[x1_mm, y1_mm, x2_mm, y2_mm]]), stroke or Stroke())

    def areas(self, rings: list[Floats], fill: str | None = None, stroke: Stroke | None = None) -> None:
        """Draw closed rings, in mm, shape (n, 2) each; a ring inside another is a hole."""
        paint = {(True, True): "B*", (True, False): "f*", (False, True): "S"}.get((bool(fill), bool(stroke)))
        if paint is None or not rings:
            return
        look = f"{_rgb(fill)} rg " if fill else ""
        look += _stroke(stroke) if stroke else ""
        self._put(f"q 1 j {look} {_path(rings)} {paint} Q")

    def rectangle(self, box: Box, fill: str | None = None, stroke: Stroke | None = None) -> None:
        """Draw a box."""
        self.areas([_corners(box)], fill, stroke)

    def circle(
        self,
        x_mm: float,
        y_mm: float,
        radius_mm: float,
        fill: str | None = None,
        stroke: Stroke | None = None,
    ) -> None:
        """Draw a circle, as a polygon of 32 sides: no eye tells it from one at the size of a mark."""
        turn = np.linspace(0, 2 * np.pi, 32, endpoint=False)
        ring = np.column_stack([x_mm + radius_mm * np.cos(turn), y_mm + radius_mm * np.sin(turn)])
        self.areas([ring], fill, stroke)

    @contextmanager
    def clipped(self, within: Box | list[Floats]) -> Iterator[None]:
        """Let nothing be drawn outside a box, or outside rings (a ring inside another is a hole)."""
        rings = [_corners(within)] if isinstance(within, Box) else within
        self._put(f"q {_path(rings)} W* n")
        yield
        self._put("Q")

    # --- what several pages share -----------------------------------------------------------------------------

    @contextmanager
    def form(self, name: str, box: Box) -> Iterator[None]:
        """Draw something once, by name, that pages show with `show`; it reaches no farther than `box`."""
        canvas = self._canvas
        self._forms.add(name)
        of_pages, canvas._preamble = canvas._preamble, ""  # noqa: SLF001 - the page it is shown on is in mm already
        canvas.beginForm(name, box.left_mm, box.bottom_mm, box.right_mm, box.top_mm)
        yield
        canvas.endForm()
        canvas._preamble = of_pages  # noqa: SLF001

    def has_form(self, name: str) -> bool:
        """Say whether a form of this name was drawn in the document."""
        return name in self._forms

    def show(self, name: str, right_mm: float = 0.0, up_mm: float = 0.0) -> None:
        """Show a form, also one that is drawn later, moved by so much."""
        self._put(f"q 1 0 0 1 {_n(right_mm)} {_n(up_mm)} cm")
        self._canvas.doForm(name)
        self._put("Q")

    # --- within -----------------------------------------------------------------------------------------------

    def _runs(self, words: str, look: Type) -> tuple[Run, ...]:
        """Return words as runs of one font each, and note the letters that no font has."""
        return runs(plain(words), self._fonts.bold if look.bold else self._fonts.regular)

    def _letters(self, parts: tuple[Run, ...], x_mm: float, y_mm: float, look: Type, mode: int) -> None:
        """Draw runs of letters, filled (mode 0) or as outlines (mode 1); boxes for letters that no font has."""
        size, turn = look.size_mm, radians(look.angle_deg)
        document = self._canvas._doc  # noqa: SLF001 - fonts keep what is embedded by document
        for run in parts:
            if run.font is None:
                self.missing.update(run.letters)
                self._boxes(run, x_mm, y_mm, look)
            else:
                place = f"{_n(cos(turn))} {_n(sin(turn))} {_n(-sin(turn))} {_n(cos(turn))} {_n(x_mm)} {_n(y_mm)} Tm"
                shown = []
                for subset, codes in run.font.splitString(run.letters, document):
                    name = run.font.getSubsetInternalName(subset, document)
                    shown.append(f"{name} {_n(size)} Tf <{codes.hex()}> Tj")
                self._put(f"BT {mode} Tr {place} {' '.join(shown)} ET")
            width = run.width(size)
            x_mm, y_mm = x_mm + width * cos(turn), y_mm + width * sin(turn)

    def _boxes(self, run: Run, x_mm: float, y_mm: float, look: Type) -> None:
        """Draw a box for each letter, along the direction of the words."""
        size, turn = look.size_mm, radians(look.angle_deg)
        each = run.width(size) / len(run.letters)
        for number in range(len(run.letters)):
            left = each * (number + 0.1)
            corners = np.array(
                [[left, 0], [left + 0.8 * each, 0], [left + 0.8 * each, 0.7 * size], [left, 0.7 * size]]
            )
            spin = np.array([[cos(turn), sin(turn)], [-sin(turn), cos(turn)]])
            self.areas([corners @ spin + [x_mm, y_mm]], None, Stroke(look.colour, size * 0.06))

    def _broken(self, word: str, width_mm: float, look: Type) -> list[str]:
        """Return a word in pieces of at most this width, one letter at least."""
        pieces, piece = [], ""
        for letter in word:
            if piece and self.width_mm(piece + letter, look) > width_mm:
                pieces.append(piece)
                piece = ""
            piece += letter
        return [*pieces, piece]

    def _put(self, operators: str) -> None:
        """Add operators to the page."""
        self._canvas._code.append(operators)  # noqa: SLF001 - reportlab has no public way for whole paths


def bold(look: Type) -> Type:
    """Return the same look in bold letters."""
    return replace(look, bold=True)


def _n(value: float) -> str:
    """Return a number as PDF writes it, to a ten-thousandth."""
    return f"{value:.4f}".rstrip("0").rstrip(".") if value else "0"


def _rgb(colour: str) -> str:
    """Return ``#rrggbb`` as three numbers from 0 to 1."""
    return " ".join(_n(int(colour[at : at + 2], 16) / 255) for at in (1, 3, 5))


def _stroke(stroke: Stroke) -> str:
    """Return the operators that set colour, width and dashes of lines."""
    dash = f" [{_n(stroke.dash_mm[0])} {_n(stroke.dash_mm[1])}] 0 d" if stroke.dash_mm else ""
    return f"{_rgb(stroke.colour)} RG {_n(stroke.width_mm)} w{dash}"


def _path(rings: list[Floats]) -> str:
    """Return the operators of closed rings."""
    return " ".join(_ring(ring) for ring in rings)


def _ring(ring: Floats) -> str:
    """Return the operators of one closed ring, which may or may not repeat its first point."""
    points = [f"{x:.3f} {y:.3f}" for x, y in ring.tolist()]
    if len(points) > 1 and points[-1] == points[0]:
        points.pop()
    return f"{points[0]} m " + "".join(f"{point} l " for point in points[1:]) + "h"


def _corners(box: Box) -> Floats:
    """Return the corners of a box as a ring."""
    return np.array(
        [
            [box.left_mm, box.bottom_mm],
            [box.right_mm, box.bottom_mm],
            [box.right_mm, box.top_mm],
            [box.left_mm, box.top_mm],
        ]
    )
