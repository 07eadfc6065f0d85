"""Lays the report out on A4: what was found on one page, then tables, cards, methods and findings."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from plotmap.model.labels import labels_of
from plotmap.output.paper.document import Document, Furniture
from plotmap.output.paper.marginalia import draw_legend
from plotmap.output.paper.of_survey import survey_document
from plotmap.output.paper.pen import Pen, Stroke, Type
from plotmap.output.paper.sizes import Box, paper
from plotmap.output.report.blocks import Text
from plotmap.output.report.cards import cards
from plotmap.output.report.content import Report, report_of
from plotmap.output.report.figures import Estimate
from plotmap.output.report.flow import Flow
from plotmap.output.report.laid_tables import LaidTable
from plotmap.output.report.pdf_cards import LOCATOR_BOX, LaidCard
from plotmap.output.report.pictures import Locator, MapPicture, draw_map, map_height, map_picture

if TYPE_CHECKING:
    from plotmap.model.labels import Labels
    from plotmap.model.survey import Stand

_TITLE, _SUBTITLE = Type(size_pt=19.0, bold=True), Type(size_pt=9.0, colour="#4a4f4a")
_PLAIN, _BOLD = Type(size_pt=8.5), Type(size_pt=9.5, bold=True)
_SMALL, _LARGE = Type(size_pt=7.0, colour="#3a3f3a"), Type(size_pt=12.0, bold=True)
_EDGE, _ACCENT, _WARN = Stroke("#c9cec9", 0.2), "#1d4e89", "#9a3412"
_LEGEND_MM, _GAP_MM = 50.0, 4.0
_MAP_LOWEST_MM = 62.0
_HEADLINE_MM = 16.5
_BETWEEN_CARDS_MM, _CARD_MM = 4.0, 118.0
"""Room between cards, and that of an ordinary one."""


def write_report_pdf(
    stand: Stand,
    path: Path | str,
    folder: Path | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> None:
    """Write the report as a PDF of A4 pages, with bookmarks and embedded fonts.

    Finished pages are kept packed, so that memory stays small for thousands of compartments. The same stand gives
    the same bytes.

    Parameters
    ----------
    stand : Stand
        Everything that was computed.
    path : Path or str
        File to write; its folder exists. A file there is replaced.
    folder : Path, optional
        Survey folder, which ``[paper] font`` starts from.
    progress : callable, optional
        Called with the number of the card that begins and the number of all.

    Raises
    ------
    SettingsError
        The font of the settings is none.
    OutputError
        The file cannot be written.
    """
    labels = labels_of(stand.settings)
    report = report_of(stand, labels)
    document = _document(stand, report, labels, folder)
    flow = Flow(document)
    _first_page(flow, report, map_picture(stand, labels), labels)
    _tables(flow, report)
    flow.section(report.sure)
    _cards(flow, stand, report, labels, progress or (lambda _card, _of: None))
    for section in (report.methods, report.findings, report.aside, report.inputs):
        flow.section(section)
    flow.close()
    document.save(path)


def _document(stand: Stand, report: Report, labels: Labels, folder: Path | None) -> Document:
    """Return the document, still without pages."""
    settings = stand.settings
    furniture = Furniture(
        report.title,
        labels("report.heading"),
        report.footer,
        lambda number, of: labels("report.page_of", n=number, all=of),
    )
    titles = report.title, labels("report.heading")
    return survey_document(settings, folder, paper("A4"), titles, furniture)


# --- the first page ---------------------------------------------------------------------------------------------


def _first_page(flow: Flow, report: Report, picture: MapPicture, labels: Labels) -> None:
    """Draw what was found: headline, map, total, cautions; the map takes the room that is left."""
    flow.new_page()
    body, pen = flow.body, flow.pen
    flow.document.bookmark(labels("report.found"), body.top_mm)
    flow.lines(report.title, body.left_mm, body.width_mm, _TITLE)
    flow.lines(report.subtitle, body.left_mm, body.width_mm, _SUBTITLE)
    flow.skip(2.0)
    for words in report.lead:
        flow.lines(words, body.left_mm, body.width_mm, _PLAIN)
    flow.skip(2.0)
    _headline(pen, Box(body.left_mm, flow.y_mm - _HEADLINE_MM, body.width_mm, _HEADLINE_MM), report.headline)
    flow.skip(_HEADLINE_MM + 3.0)
    totals = LaidTable(pen, report.totals, body.width_mm)
    cautions = list(_caution_lines(pen, report, body.width_mm))
    below = totals.height() + _cautions_height(cautions) + 9.0
    wanted = map_height(picture, body.width_mm - _LEGEND_MM - _GAP_MM)
    high = min(max(flow.room_mm - below, _MAP_LOWEST_MM), max(wanted, _MAP_LOWEST_MM))
    _map(pen, Box(body.left_mm, flow.y_mm - high, body.width_mm, high), picture)
    flow.skip(high + 3.0)
    flow.need(totals.height())
    flow.skip(totals.draw(body.left_mm, flow.y_mm) + 4.0)
    flow.need(_cautions_height(cautions))
    _cautions(flow, report, cautions)


def _headline(pen: Pen, box: Box, figures: tuple[Estimate, ...]) -> None:
    """Draw the figures of the whole survey side by side."""
    wide = (box.width_mm - (len(figures) - 1) * 2.0) / len(figures)
    for number, one in enumerate(figures):
        left = box.left_mm + number * (wide + 2.0)
        pen.rectangle(Box(left, box.bottom_mm, wide, box.height_mm), None, _EDGE)
        pen.rectangle(Box(left, box.bottom_mm, 1.1, box.height_mm), _ACCENT)
        inner, x = wide - 4.5, left + 3.0
        value = f"{one.value} {one.unit}".strip() if one.value else one.why
        below = [part for part in (one.half, one.limits) if part] or ([one.why] if one.value else [])
        pen.write(pen.shortened(one.title, inner, _SMALL), x, box.top_mm - 3.8, _SMALL)
        look = _LARGE if pen.width_mm(value, _LARGE) <= inner else _BOLD
        pen.write(pen.shortened(value, inner, look), x, box.top_mm - 9.4, look)
        pen.write(pen.shortened(" · ".join(below), inner, _SMALL), x, box.bottom_mm + 2.2, _SMALL)


def _map(pen: Pen, box: Box, picture: MapPicture) -> None:
    """Draw the map, true to scale, with its legend at the right."""
    legend, rest = box.split_right(_LEGEND_MM)
    room = rest.split_right(_GAP_MM)[1]
    draw_map(pen, room, picture, numeric=True)
    draw_legend(pen, legend, picture.keys, 4.8)


def _caution_lines(pen: Pen, report: Report, width_mm: float) -> Iterator[list[str]]:
    """Yield the lines of each caution."""
    for block in report.cautions.blocks:
        if isinstance(block, Text):
            yield pen.lines_of(block.words, width_mm - 10.0, _PLAIN)


def _cautions_height(cautions: list[list[str]]) -> float:
    """Return the height of the cautions in mm."""
    return 8.5 + sum(len(lines) * _PLAIN.line_mm + 0.5 for lines in cautions)


def _cautions(flow: Flow, report: Report, cautions: list[list[str]]) -> None:
    """Draw the cautions in a frame that stands out."""
    body, high = flow.body, _cautions_height(cautions)
    flow.pen.rectangle(Box(body.left_mm, flow.y_mm - high, body.width_mm, high), "#fdf5f0")
    flow.pen.rectangle(Box(body.left_mm, flow.y_mm - high, 1.1, high), _WARN)
    y = flow.y_mm - 1.5
    flow.pen.write(report.cautions.title, body.left_mm + 4.0, y - _BOLD.size_mm, _BOLD)
    y -= 5.2
    for lines in cautions:
        flow.pen.write("•", body.left_mm + 4.0, y - _PLAIN.size_mm, _PLAIN)
        for line in lines:
            flow.pen.write(line, body.left_mm + 7.5, y - _PLAIN.size_mm, _PLAIN)
            y -= _PLAIN.line_mm
        y -= 0.5
    flow.skip(high + 3.0)


# --- tables and cards -------------------------------------------------------------------------------------------


def _tables(flow: Flow, report: Report) -> None:
    """Write the table of the compartments; it begins a page."""
    flow.new_page()
    flow.section(report.tables)


def _cards(
    flow: Flow, stand: Stand, report: Report, labels: Labels, progress: Callable[[int, int], None]
) -> None:
    """Draw the cards, as many as fit on each page, or say why there are none."""
    if not report.has_cards:
        flow.heading(report.cards_title, kept_mm=8.0)
        flow.text(Text(report.cards_note))
        return
    locator = Locator.of(stand, LOCATOR_BOX)
    flow.heading(report.cards_title, kept_mm=_CARD_MM)
    locator.draw_all(flow.pen)
    for card in cards(stand, labels):
        progress(card.row + 1, len(stand.compartments))
        laid = LaidCard(flow.pen, card, flow.body.width_mm)
        flow.need(laid.height_mm)
        flow.document.bookmark(card.heading, flow.y_mm + 2.0, level=1)
        laid.draw(flow.body.left_mm, flow.y_mm, locator)
        flow.skip(laid.height_mm + _BETWEEN_CARDS_MM)
