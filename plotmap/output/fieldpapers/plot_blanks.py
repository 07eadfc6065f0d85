"""The lower part of a field sheet, the same for every plot: blanks, boxes to tally in, lines for stems."""

from __future__ import annotations

from collections.abc import Sequence

from plotmap.model.field_papers import MarkedBand
from plotmap.model.labels import Labels
from plotmap.output.fieldpapers.patterns import draw_band
from plotmap.output.paper.pen import Pen, Stroke, Type
from plotmap.output.paper.sizes import Box

BLANKS_MM = 203.0
"""Height of the lower part."""
_LINE, _RULE = Stroke("#5d625d", 0.15), Stroke("#9aa09a", 0.12)
_WORD, _HEAD = Type(size_pt=7.4), Type(size_pt=8.2, bold=True)
_SMALL = Type(size_pt=6.2)
_TALLY_ROW_MM, _STEM_ROW_MM, _MARK_MM = 8.0, 6.0, 6.0
_A_BLOCK, _BLOCKS = 16, 2
"""Classes side by side, and how many such rows of boxes there are at most."""
_SPECIES_MM = 30.0
_ROWS = {1: 6, 2: 3}
"""Rows of species by the number of blocks."""
_STEMS = (
    ("tree", 12.0), ("species", 27.0), ("d1", 15.0), ("d2", 15.0), ("girth", 16.0), ("height", 16.0),
    ("azimuth", 13.0), ("distance", 15.0), ("times", 12.0), ("instrument", 20.0), ("remark", 29.0),
)  # fmt: skip
"""Columns of the stems and their widths in mm, together as wide as the page."""


def draw_blanks(
    pen: Pen,
    box: Box,
    labels: Labels,
    marks: Sequence[MarkedBand],
    species: Sequence[str],
    *,
    of_settings: bool,
) -> None:
    """Draw everything that is filled in by hand.

    Parameters
    ----------
    pen : Pen
        Draws.
    box : Box
        The lower part of the page, `BLANKS_MM` high.
    labels : Labels
        Words.
    marks : sequence of MarkedBand
        Classes to tally in; those beyond 32 have no box, which is said.
    species : sequence of str
        Species with a row of their own, as many as there are rows.
    of_settings : bool
        Whether the classes are the bands of the settings, whose letters tallies know.
    """
    rest = _draw_visit(pen, box, labels)
    rest = _draw_tally(pen, rest, labels, marks, species, of_settings=of_settings)
    stems, remark = rest.split_top(rest.height_mm - 14.0)
    _draw_stems(pen, stems, labels)
    _draw_remark(pen, remark, labels)


def _blank(pen: Pen, words: str, left_mm: float, y_mm: float, width_mm: float) -> float:
    """Write a word with a line behind it, and return where the next one begins."""
    wide = pen.width_mm(words, _WORD)
    pen.write(words, left_mm, y_mm, _WORD)
    pen.line(left_mm + wide + 1, y_mm - 0.6, left_mm + width_mm - 2, y_mm - 0.6, _LINE)
    return left_mm + width_mm


def _box(pen: Pen, words: str, left_mm: float, y_mm: float) -> float:
    """Draw a box to tick with its word, and return where the next one begins."""
    pen.rectangle(Box(left_mm, y_mm - 0.8, 3.6, 3.6), None, Stroke("#1b1b1b", 0.25))
    pen.write(words, left_mm + 5, y_mm, _WORD)
    return left_mm + 5 + pen.width_mm(words, _WORD) + 5


def _draw_visit(pen: Pen, box: Box, labels: Labels) -> Box:
    """Draw the blanks of the visit and of the instrument, and return what is left below."""
    y, x = box.top_mm - 5.0, box.left_mm
    for key, width in (("date", 34.0), ("start", 24.0), ("end", 24.0), ("crew", 78.0), ("slope_line", 30.0)):
        x = _blank(pen, labels(f"field_sheet.{key}"), x, y, width)
    y, x = y - 7.5, box.left_mm
    pen.write(labels("field_sheet.state"), x, y, _HEAD)
    x += pen.width_mm(labels("field_sheet.state"), _HEAD) + 4
    for key in ("measured", "empty", "lost", "unvisited"):
        x = _box(pen, labels(f"field_sheet.state_{key}"), x, y)
    pen.line(x - 4, y - 0.6, box.right_mm, y - 0.6, _LINE)
    y, x = y - 7.5, box.left_mm
    for key, width in (
        ("instrument", 44.0),
        ("kind", 36.0),
        ("zero", 44.0),
        ("bar", 30.0),
        ("bar_reading", 36.0),
    ):
        x = _blank(pen, labels(f"field_sheet.{key}"), x, y, width)
    return box.split_top(box.top_mm - y + 3.5)[1]


def _draw_tally(
    pen: Pen,
    box: Box,
    labels: Labels,
    marks: Sequence[MarkedBand],
    species: Sequence[str],
    *,
    of_settings: bool,
) -> Box:
    """Draw the boxes to tally in, and return what is left below."""
    blocks = [marks[at : at + _A_BLOCK] for at in range(0, len(marks), _A_BLOCK)][:_BLOCKS]
    if not blocks:
        return box
    pen.write(labels("field_sheet.tally"), box.left_mm, box.top_mm - 3, _HEAD)
    note = labels("field_sheet.tally_note_band" if of_settings else "field_sheet.tally_note_class")
    notes = [note, labels("field_sheet.tally_painted")]
    if len(marks) > _A_BLOCK * _BLOCKS:
        notes.append(labels("field_sheet.tally_more"))
    used = 4.2 + pen.paragraph(" ".join(notes), box.split_top(4.2)[1], _SMALL) + 0.6
    rest = box.split_top(used)[1]
    n_rows = _ROWS[len(blocks)]
    cells = max(len(block) for block in blocks)
    wide = min((rest.width_mm - _SPECIES_MM) / cells, 20.0)
    for block in blocks:
        _draw_block(pen, rest, labels, block, wide)
        for row in range(n_rows):
            y = rest.top_mm - _MARK_MM - 3.2 - _TALLY_ROW_MM * (row + 1)
            name = species[row] if row < len(species) else ""
            pen.rectangle(Box(rest.left_mm, y, _SPECIES_MM, _TALLY_ROW_MM), None, _RULE)
            pen.write(pen.shortened(name, _SPECIES_MM - 2, _WORD), rest.left_mm + 1, y + 2.8, _WORD)
            for at in range(len(block)):
                cell = Box(rest.left_mm + _SPECIES_MM + wide * at, y, wide, _TALLY_ROW_MM)
                pen.rectangle(cell, None, _RULE)
        rest = rest.split_top(_MARK_MM + 3.2 + _TALLY_ROW_MM * n_rows + 1.5)[1]
    return rest


def _draw_block(pen: Pen, box: Box, labels: Labels, block: Sequence[MarkedBand], wide: float) -> None:
    """Draw the heads of one row of boxes: letter, colour and pattern, and below them the class."""
    pen.write(labels("field_sheet.species"), box.left_mm + 1, box.top_mm - _MARK_MM - 2.4, _WORD)
    for at, mark in enumerate(block):
        left = box.left_mm + _SPECIES_MM + wide * at
        draw_band(pen, Box(left, box.top_mm - _MARK_MM, wide, _MARK_MM), mark, 3.8)
        look = Type(size_pt=_SMALL.size_pt, align="centre")
        name = pen.shortened(mark.name, wide - 0.3, look)
        pen.write(name, left + wide / 2, box.top_mm - _MARK_MM - 2.6, look)


def _draw_stems(pen: Pen, box: Box, labels: Labels) -> None:
    """Draw lines for stems, as many as there is room for."""
    pen.write(labels("field_sheet.stems"), box.left_mm, box.top_mm - 3, _HEAD)
    head = box.top_mm - 8.5
    n_rows = int((head - box.bottom_mm) // _STEM_ROW_MM)
    x = box.left_mm
    low = head - n_rows * _STEM_ROW_MM
    for key, width in _STEMS:
        words = pen.shortened(labels(f"field_sheet.{key}"), width - 1, _SMALL)
        pen.write(words, x + 0.8, head + 1.2, _SMALL)
        pen.line(x, head + 3.6, x, low, _RULE)
        x += width
    pen.line(x, head + 3.6, x, low, _RULE)
    for row in range(n_rows + 1):
        y = head - row * _STEM_ROW_MM
        pen.line(box.left_mm, y, x, y, _RULE)
    pen.line(box.left_mm, head + 3.6, x, head + 3.6, _RULE)


def _draw_remark(pen: Pen, box: Box, labels: Labels) -> None:
    """Draw two lines for a remark."""
    _blank(pen, labels("field_sheet.remark"), box.left_mm, box.top_mm - 6, box.width_mm + 2)
    pen.line(box.left_mm, box.top_mm - 12.5, box.right_mm, box.top_mm - 12.5, _LINE)
