"""The card of one compartment on paper."""

from __future__ import annotations

from plotmap.output.paper.pen import Pen, Stroke, Type
from plotmap.output.paper.sizes import Box
from plotmap.output.report.cards import Card
from plotmap.output.report.class_chart import draw_chart
from plotmap.output.report.laid_tables import LaidTable
from plotmap.output.report.pictures import Locator

LOCATOR_BOX = Box(0.0, 0.0, 42.0, 23.0)
_HEADING, _BASE = Type(size_pt=11.0, bold=True), Type(size_pt=7.5, colour="#4a4f4a")
_PLAIN = Type(size_pt=8.0)
_PAD_MM, _GAP_MM, _BETWEEN_MM = 2.5, 5.0, 2.0
_CHART_MM, _SPECIES_MM = 41.0, 52.0
_FRAME, _WARN, _WARN_FILL = Stroke("#b5bab5", 0.2), "#9a3412", "#fdf5f0"


class LaidCard:
    """A card of a width; its height is known before it is drawn.

    Parameters
    ----------
    pen : Pen
        Draws, and knows how wide words are.
    card : Card
        What it says.
    width_mm : float
        Its width.
    """

    def __init__(self, pen: Pen, card: Card, width_mm: float) -> None:
        self._pen, self._card = pen, card
        self._width = width_mm
        self._inner = width_mm - 2 * _PAD_MM
        half = (self._inner - _GAP_MM) / 2
        self._half = half
        beside = self._inner - LOCATOR_BOX.width_mm - _GAP_MM
        self._head = [
            (line, look)
            for words, look in ((card.heading, _HEADING), (card.base, _BASE), (card.status, _PLAIN))
            if words
            for line in pen.lines_of(words, beside, look)
        ]
        plots_mm = self._inner - _SPECIES_MM - _GAP_MM if card.species else self._inner
        self._figures = LaidTable(pen, card.figures, half, 7.0, 0.35) if card.figures else None
        self._plots = LaidTable(pen, card.plots, plots_mm, 6.8, 0.25) if card.plots else None
        self._species = LaidTable(pen, card.species, _SPECIES_MM, 6.8, 0.25) if card.species else None
        self._cautions = [pen.lines_of(words, self._inner - 8.0, _PLAIN) for words in card.cautions]
        self._heights = [high for high in (self._head_height(), *self._row_heights()) if high]
        self.height_mm = 2 * _PAD_MM + sum(self._heights) + _BETWEEN_MM * (len(self._heights) - 1)

    def _head_height(self) -> float:
        """Return the height of heading, base and status, or of the locator beside them."""
        return max(sum(look.line_mm for _, look in self._head), LOCATOR_BOX.height_mm)

    def _row_heights(self) -> tuple[float, float, float]:
        """Return the heights of figures and chart, of plots and species, and of the cautions; 0 without any."""
        chart = _CHART_MM if self._card.chart is not None else 0.0
        figures = max(self._figures.height(), chart) if self._figures else 0.0
        tables = [table.height() for table in (self._plots, self._species) if table]
        return figures, max(tables, default=0.0), self._cautions_height()

    def _cautions_height(self) -> float:
        """Return the height of the cautions; 0 without any."""
        lines = sum(len(lines) for lines in self._cautions)
        return lines * _PLAIN.line_mm + 0.4 * len(self._cautions) + 2.0 if lines else 0.0

    def draw(self, left_mm: float, top_mm: float, locator: Locator) -> None:
        """Draw the card below a height."""
        x, y = left_mm + _PAD_MM, top_mm - _PAD_MM
        self._pen.rectangle(Box(left_mm, top_mm - self.height_mm, self._width, self.height_mm), None, _FRAME)
        self._draw_head(x, y, locator)
        parts = (self._draw_figures, self._draw_tables, self._draw_cautions)
        y -= self._head_height() + _BETWEEN_MM
        for high, draw_part in zip(self._row_heights(), parts, strict=True):
            if high:
                draw_part(x, y)
                y -= high + _BETWEEN_MM

    def _draw_head(self, x: float, y: float, locator: Locator) -> None:
        """Draw heading, base and status, with the locator at the right."""
        place = Box(x + self._inner - LOCATOR_BOX.width_mm, y - LOCATOR_BOX.height_mm, 0.0, 0.0)
        locator.draw_one(
            self._pen,
            self._card.row,
            place.left_mm - LOCATOR_BOX.left_mm,
            place.bottom_mm - LOCATOR_BOX.bottom_mm,
        )
        for line, look in self._head:
            self._pen.write(line, x, y - look.size_mm, look)
            y -= look.line_mm

    def _draw_figures(self, x: float, y: float) -> None:
        """Draw the figures, and the chart at their right, or why there is none."""
        if self._figures is not None:
            self._figures.draw(x, y)
        right = x + self._half + _GAP_MM
        if self._card.chart is not None:
            draw_chart(self._pen, Box(right, y - _CHART_MM, self._half, _CHART_MM), self._card.chart)
        elif self._card.no_chart:
            room = Box(right, y - _CHART_MM, self._half, _CHART_MM)
            self._pen.paragraph(self._card.no_chart, room, _PLAIN)

    def _draw_tables(self, x: float, y: float) -> None:
        """Draw the plots, and the species at their right."""
        if self._plots is not None:
            self._plots.draw(x, y)
        if self._species is not None:
            self._species.draw(x + self._inner - _SPECIES_MM, y)

    def _draw_cautions(self, x: float, y: float) -> None:
        """Draw the cautions on a ground of their own."""
        high = self._cautions_height()
        self._pen.rectangle(Box(x, y - high, self._inner, high), _WARN_FILL)
        self._pen.rectangle(Box(x, y - high, 0.9, high), _WARN)
        y -= 1.0
        for lines in self._cautions:
            self._pen.write("•", x + 2.5, y - _PLAIN.size_mm, _PLAIN)
            for line in lines:
                self._pen.write(line, x + 5.5, y - _PLAIN.size_mm, _PLAIN)
                y -= _PLAIN.line_mm
            y -= 0.4
