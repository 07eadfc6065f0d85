"""Tables on paper: cells broken into lines, rows drawn one by one."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from plotmap.output.paper.pen import Pen, Stroke, Type
from plotmap.output.paper.sizes import Box
from plotmap.output.report.blocks import Head, TableBlock

_PAD_MM, _WIDE_PAD_MM = 0.8, 2.6
"""Free at the sides of a cell; at the right of figures with words beside them."""
_HEAD_RULE, _ROW_RULE = Stroke("#4a4f4a", 0.25), Stroke("#d5d8d5", 0.12)
_STRONG = "#f1f4f8"
_NOTE_PT = 7.0
_TITLE_PT = 8.5


@dataclass(frozen=True, slots=True)
class LaidRow:
    """One row: the lines of each cell, and its height in mm."""

    cells: tuple[tuple[str, ...], ...]
    height_mm: float


class LaidTable:
    """A table of a width on paper.

    Parameters
    ----------
    pen : Pen
        Draws, and knows how wide words are.
    block : TableBlock
        What it says.
    width_mm : float
        Its width.
    size_pt : float
        Size of the letters.
    row_pad_mm : float
        Free above and below the words of a row.
    """

    def __init__(
        self, pen: Pen, block: TableBlock, width_mm: float, size_pt: float = 7.5, row_pad_mm: float = 0.55
    ) -> None:
        self._pen = pen
        self.block = block
        self.width_mm = width_mm
        self._pad_mm = row_pad_mm
        self._look = Type(size_pt=size_pt)
        self._bold = replace(self._look, bold=True)
        whole = sum(head.share for head in block.heads)
        words = [not head.numeric for head in block.heads[1:]] + [False]
        self._rights = [
            _WIDE_PAD_MM if head.numeric and beside else _PAD_MM
            for head, beside in zip(block.heads, words, strict=True)
        ]
        self._widths = [head.share / whole * width_mm for head in block.heads]
        self.head = self._laid(tuple(head.words for head in block.heads), self._bold)

    def rows(self) -> Iterator[tuple[LaidRow, bool]]:
        """Yield the rows, and whether they stand out."""
        for at, row in enumerate(self.block.rows):
            is_strong = at < self.block.n_bold
            yield self._laid(row, self._bold if is_strong else self._look), is_strong

    def draw_title(self, left_mm: float, top_mm: float) -> float:
        """Write the title, and return the height it takes; 0 without one."""
        if not self.block.shown_title:
            return 0.0
        look = Type(size_pt=_TITLE_PT, bold=True)
        self._pen.write(self.block.shown_title, left_mm, top_mm - look.size_mm, look)
        return title_height(self)

    def draw_head(self, left_mm: float, top_mm: float) -> float:
        """Draw the headings, at the foot of their lines, and return their height."""
        self._draw_cells(self.head, left_mm, top_mm, self._bold, at_foot=True)
        foot = top_mm - self.head.height_mm
        self._pen.line(left_mm, foot, left_mm + self.width_mm, foot, _HEAD_RULE)
        return self.head.height_mm

    def draw_row(self, row: LaidRow, left_mm: float, top_mm: float, *, strong: bool) -> float:
        """Draw one row, and return its height."""
        foot = top_mm - row.height_mm
        if strong:
            self._pen.rectangle(Box(left_mm, foot, self.width_mm, row.height_mm), _STRONG)
        self._draw_cells(row, left_mm, top_mm, self._bold if strong else self._look)
        self._pen.line(left_mm, foot, left_mm + self.width_mm, foot, _ROW_RULE)
        return row.height_mm

    def draw(self, left_mm: float, top_mm: float) -> float:
        """Draw the whole table with its title and note, and return its height."""
        y = top_mm - self.draw_title(left_mm, top_mm)
        y -= self.draw_head(left_mm, y)
        for row, is_strong in self.rows():
            y -= self.draw_row(row, left_mm, y, strong=is_strong)
        if self.block.note:
            room = Box(left_mm, 0.0, self.width_mm, y - 0.8)
            y -= 0.8 + self._pen.paragraph(self.block.note, room, note_look())
        return top_mm - y

    def height(self) -> float:
        """Return the height of the whole table in mm."""
        height = title_height(self) + self.head.height_mm + sum(row.height_mm for row, _ in self.rows())
        if self.block.note:
            lines = self._pen.lines_of(self.block.note, self.width_mm, note_look())
            height += 0.8 + len(lines) * note_look().line_mm
        return height

    def _laid(self, row: tuple[str, ...], look: Type) -> LaidRow:
        """Return a row broken into lines."""
        cells = tuple(
            tuple(self._pen.lines_of(words, width - _PAD_MM - right, look)) if words else ()
            for words, width, right in zip(row, self._widths, self._rights, strict=True)
        )
        n_lines = max(1, *(len(lines) for lines in cells))
        return LaidRow(cells, n_lines * look.line_mm + 2 * self._pad_mm)

    def _draw_cells(
        self, row: LaidRow, left_mm: float, top_mm: float, look: Type, *, at_foot: bool = False
    ) -> None:
        """Write the cells of a row."""
        x, most = left_mm, max(len(lines) for lines in row.cells)
        columns = zip(self.block.heads, row.cells, self._widths, self._rights, strict=True)
        for head, lines, width, right in columns:
            y = top_mm - self._pad_mm - look.size_mm
            y -= (most - len(lines)) * look.line_mm if at_foot else 0.0
            at, of = _set(head, x, width - right, look)
            for line in lines:
                self._pen.write(line, at, y, of)
                y -= look.line_mm
            x += width


def note_look() -> Type:
    """Return how notes look."""
    return Type(size_pt=_NOTE_PT, colour="#4a4f4a")


def title_height(table: LaidTable) -> float:
    """Return the height of the title of a table; 0 without one."""
    return Type(size_pt=_TITLE_PT).line_mm + 0.8 if table.block.shown_title else 0.0


def _set(head: Head, left_mm: float, to_right_mm: float, look: Type) -> tuple[float, Type]:
    """Return where the words of a column stand, and how."""
    if head.numeric:
        return left_mm + to_right_mm, replace(look, align="right")
    return left_mm + _PAD_MM, look
