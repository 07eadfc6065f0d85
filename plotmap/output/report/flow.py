"""Lets content flow over pages from the top down."""

from __future__ import annotations

from contextlib import ExitStack

from plotmap.output.paper.document import Document
from plotmap.output.paper.pen import Pen, Stroke, Type
from plotmap.output.paper.sizes import Box
from plotmap.output.report.blocks import Block, Facts, Section, TableBlock, Text
from plotmap.output.report.laid_tables import LaidTable, note_look, title_height

_H2, _H3 = Type(size_pt=13.0, bold=True), Type(size_pt=9.0, bold=True)
_PLAIN = Type(size_pt=8.5)
_TERM = Type(size_pt=8.5, bold=True)
_RULE = Stroke("#1d4e89", 0.45)
_TERM_MM = 48.0
_BULLET_MM = 4.0
_KEPT_MM, _KEPT_WITH_TABLE_MM = 22.0, 40.0
"""Room that must be left below a heading, and below one with a table."""
_AFTER_MM = 1.4


class Flow:
    """Writes blocks one below the other, and opens a new page where one is full.

    Parameters
    ----------
    document : Document
        What is written; its pages are opened and closed here.

    Attributes
    ----------
    y_mm : float
        Height on the page that was reached.
    """

    def __init__(self, document: Document) -> None:
        self.document = document
        self.body: Box = document.body()
        self.y_mm = 0.0
        self._open: ExitStack | None = None

    @property
    def pen(self) -> Pen:
        """Draws on the page that is open."""
        return self.document.pen

    @property
    def room_mm(self) -> float:
        """Height that is left on the page."""
        return self.y_mm - self.body.bottom_mm if self._open else 0.0

    @property
    def is_at_top(self) -> bool:
        """Whether nothing is on the page yet."""
        return self._open is not None and self.y_mm >= self.body.top_mm

    def new_page(self) -> None:
        """Finish the page that is open, and open the next."""
        self.close()
        self._open = ExitStack()
        self._open.enter_context(self.document.page())
        self.y_mm = self.body.top_mm

    def close(self) -> None:
        """Finish the page that is open."""
        if self._open is not None:
            self._open.close()
            self._open = None

    def need(self, height_mm: float) -> None:
        """Open a new page unless so much room is left; what is higher than a page begins on a new one."""
        if self._open is None or (height_mm > self.room_mm and not self.is_at_top):
            self.new_page()

    def skip(self, height_mm: float) -> None:
        """Leave room."""
        self.y_mm -= height_mm

    def section(self, section: Section) -> None:
        """Write a part of the report with its heading."""
        has_table = any(isinstance(block, TableBlock) for block in section.blocks[:2])
        self.heading(section.title, _KEPT_WITH_TABLE_MM if has_table else _KEPT_MM)
        for block in section.blocks:
            self.block(block)

    def heading(self, title: str, kept_mm: float = _KEPT_MM) -> None:
        """Write the heading of a part, with a bookmark, and so much room kept below it."""
        self.need(kept_mm + 12.0)
        if not self.is_at_top:
            self.skip(5.0)
        self.document.bookmark(title, self.y_mm + 2.0)
        lines = self.pen.lines_of(title, self.body.width_mm, _H2)
        for line in lines:
            self.pen.write(line, self.body.left_mm, self.y_mm - _H2.size_mm, _H2)
            self.skip(_H2.line_mm)
        self.pen.line(self.body.left_mm, self.y_mm, self.body.right_mm, self.y_mm, _RULE)
        self.skip(2.6)

    def block(self, block: Block) -> None:
        """Write one block."""
        if isinstance(block, TableBlock):
            self.table(block)
        elif isinstance(block, Facts):
            self.facts(block)
        else:
            self.text(block)

    def text(self, text: Text) -> None:
        """Write words, over pages where they need it."""
        body = self.body
        if text.kind == "heading":
            self.need(14.0)
            self.skip(1.4)
            self.lines(text.words, body.left_mm, body.width_mm, _H3)
        elif text.kind == "bullet":
            self.need(_PLAIN.line_mm)
            self.pen.write("•", body.left_mm + 1.0, self.y_mm - _PLAIN.size_mm, _PLAIN)
            self.lines(text.words, body.left_mm + _BULLET_MM, body.width_mm - _BULLET_MM, _PLAIN)
            self.skip(0.5)
        else:
            look = note_look() if text.kind == "note" else _PLAIN
            self.lines(text.words, body.left_mm, body.width_mm, look)
            self.skip(_AFTER_MM)

    def lines(self, words: str, left_mm: float, width_mm: float, look: Type) -> None:
        """Write words in lines of a width, over pages where they need it."""
        for line in self.pen.lines_of(words, width_mm, look):
            self.need(look.line_mm)
            self.pen.write(line, left_mm, self.y_mm - look.size_mm, look)
            self.skip(look.line_mm)

    def facts(self, facts: Facts) -> None:
        """Write pairs: terms at the left, what is said of them at the right."""
        self.skip(0.8)
        width = self.body.width_mm - _TERM_MM
        for term, said in facts.pairs:
            terms = self.pen.lines_of(term, _TERM_MM - 3.0, _TERM)
            lines = self.pen.lines_of(said, width, _PLAIN)
            self.need(max(len(terms), len(lines)) * _PLAIN.line_mm + 1.2)
            top = self.y_mm
            for number, line in enumerate(terms):
                y = top - _TERM.size_mm - number * _TERM.line_mm
                self.pen.write(line, self.body.left_mm, y, _TERM)
            for number, line in enumerate(lines):
                y = top - _PLAIN.size_mm - number * _PLAIN.line_mm
                self.pen.write(line, self.body.left_mm + _TERM_MM, y, _PLAIN)
            self.skip(max(len(terms), len(lines)) * _PLAIN.line_mm + 1.2)

    def table(self, block: TableBlock, size_pt: float = 7.5) -> None:
        """Draw a table; its headings come again on each page."""
        table = LaidTable(self.pen, block, self.body.width_mm, size_pt)
        left, begun = self.body.left_mm, False
        self.need(title_height(table) + table.head.height_mm + 12.0)
        self.skip(table.draw_title(left, self.y_mm))
        for row, is_strong in table.rows():
            if not begun or row.height_mm > self.room_mm:
                if begun:
                    self.new_page()
                self.skip(table.draw_head(left, self.y_mm))
                begun = True
            self.skip(table.draw_row(row, left, self.y_mm, strong=is_strong))
        if block.note:
            self.skip(0.8)
            self.lines(block.note, left, self.body.width_mm, note_look())
        self.skip(3.0)
