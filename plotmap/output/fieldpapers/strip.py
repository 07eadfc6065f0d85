"""A strip of class bands at true scale, to paint or stick on a caliper's beam or a girth tape."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import numpy as np

from plotmap.model.field_papers import BandStrip, PaintedBand
from plotmap.model.field_tables import TAPE
from plotmap.model.labels import Labels, labels_of
from plotmap.model.settings import Settings
from plotmap.output.fieldpapers.patterns import draw_band
from plotmap.output.fieldpapers.ruler import CROSS_MM, RULER_HIGH_MM, draw_cross, draw_ruler, draw_ticks
from plotmap.output.paper.document import FOOTER_MM, Document
from plotmap.output.paper.of_survey import page_furniture, survey_document
from plotmap.output.paper.pen import Align, Pen, Stroke, Type
from plotmap.output.paper.sizes import Box, Paper, paper
from plotmap.output.paper.target import check_pdf_file

MM_PER_CM = 10.0
OVERLAP_MM = 10.0
"""What a piece of the strip repeats of the one before."""
_MARGIN_MM, _SIDE_MM = 12.0, 8.0
_SCALE_MM = 7.8
_BAND_MM = {"caliper": 16.0, "tape": 10.0}
_LABELS_MM = 12.0
_GAP_MM = 5.0
_NARROW_MM = 13.0
"""Bands narrower than this have their readings written upright."""
_HEAD_MM = 32.0
_ROW_MM = 6.4
_TITLE, _PLAIN, _BOLD = Type(size_pt=15, bold=True), Type(size_pt=8.5), Type(size_pt=8.5, bold=True)
_SMALL = Type(size_pt=6.5, align="centre")
_CUT = Stroke("#5d625d", 0.15, (1.5, 1.0))
_COLUMNS_MM = (0.0, 14.0, 46.0, 76.0, 106.0, 128.0)


@dataclass(frozen=True, slots=True)
class StripWritten:
    """What was written: pages, pieces of the strip, and letters that no font had."""

    n_pages: int
    n_pieces: int
    missing_letters: str


def write_bands(
    strip: BandStrip, path: Path | str, settings: Settings, folder: Path | None = None, size: str = "A4"
) -> StripWritten:
    """Write bands as a strip at true scale, with a check ruler on every page, a table and cautions.

    The strip begins at the instrument's own 0 and is cut into pieces as long as the page, each of which repeats
    10 mm of the one before. The same strip gives the same bytes.

    Parameters
    ----------
    strip : BandStrip
        Bands where the instrument reads their edges.
    path : Path or str
        File to write; a PDF of plotmap is replaced.
    settings : Settings
        Language, own labels, author and font.
    folder : Path, optional
        Survey folder, which ``[paper] font`` starts from.
    size : str
        Of `plotmap.model.paper.SIZES_MM`; the pages are landscape.

    Raises
    ------
    SettingsError
        Size or font cannot be used.
    OutputError
        The file must not be replaced, or cannot be written.
    """
    path = Path(path)
    check_pdf_file(path, "strip")
    labels = labels_of(settings)
    sheet = paper(size, "landscape")
    document = _document(strip, labels, settings, folder, sheet)
    body = sheet.box.inset(_MARGIN_MM).split_bottom(FOOTER_MM)[1]
    rest = list(strip.bands)
    while rest:
        with document.page() as pen:
            n_shown = _draw_instructions(pen, body, strip, labels, rest)
        rest = rest[n_shown:]
    pieces = pieces_mm(strip.bands[-1].high_reading_cm * MM_PER_CM, body.width_mm - 2 * _SIDE_MM)
    each = _SCALE_MM + _BAND_MM[strip.state.kind] + _LABELS_MM + _GAP_MM
    per_page = max(1, int((body.height_mm - _HEAD_MM) // each))
    for first in range(0, len(pieces), per_page):
        with document.page() as pen:
            top = _draw_strip_head(pen, body, strip, labels)
            for number in range(first, min(first + per_page, len(pieces))):
                _draw_piece(pen, body.left_mm + _SIDE_MM, top, strip, pieces, number, labels)
                top -= each
    document.save(path)
    return StripWritten(document.n_pages, len(pieces), document.missing_letters)


def pieces_mm(length_mm: float, room_mm: float) -> list[tuple[float, float]]:
    """Return from where to where each piece of a strip goes, in mm from its 0; each repeats `OVERLAP_MM`."""
    pieces = [(0.0, min(length_mm, room_mm))]
    while pieces[-1][1] < length_mm - 1e-9:
        start = pieces[-1][1] - OVERLAP_MM
        pieces.append((start, min(length_mm, start + room_mm)))
    return pieces


def band_name(labels: Labels, strip: BandStrip) -> str:
    """Return what the strip is for: caliper K1."""
    kind = labels("bands.tape") if strip.state.kind == TAPE else labels("bands.caliper")
    named = labels("bands.instrument", kind=kind, instrument=strip.state.instrument)
    return named if strip.state.instrument else labels("bands.any_instrument", kind=kind)


def correction_words(labels: Labels, strip: BandStrip) -> str:
    """Return what the edges are shifted by."""
    state = strip.state
    if not state.instrument:
        return labels("bands.no_correction")
    return labels(
        "bands.correction",
        zero=f"{state.zero_cm * MM_PER_CM:+.2f}".replace("-", "−"),
        gain=f"{state.gain:.4f}",
        day=state.checked_on.isoformat() if state.checked_on else "",
    )


def _document(
    strip: BandStrip, labels: Labels, settings: Settings, folder: Path | None, sheet: Paper
) -> Document:
    """Return the document, still without pages."""
    title = f"{labels('bands.title')} – {band_name(labels, strip)}"
    furniture = page_furniture(labels, labels("bands.footer"), _MARGIN_MM)
    return survey_document(settings, folder, sheet, (title, strip.title), furniture)


def _draw_instructions(
    pen: Pen, body: Box, strip: BandStrip, labels: Labels, bands: list[PaintedBand]
) -> int:
    """Draw table, ruler, cross and words; return how many of the bands the table had room for."""
    title = f"{labels('bands.title')}: {band_name(labels, strip)}"
    pen.write(pen.shortened(title, body.width_mm, _TITLE), body.left_mm, body.top_mm - 5.5, _TITLE)
    pen.write(pen.shortened(strip.title, body.width_mm, _PLAIN), body.left_mm, body.top_mm - 11, _PLAIN)
    draw_ruler(pen, body.left_mm + 3, body.bottom_mm + 2)
    table, side = Box(body.left_mm, body.bottom_mm + 14, body.width_mm, body.height_mm - 28).split_left(
        body.width_mm * 0.56
    )
    used = pen.paragraph(correction_words(labels, strip), table.inset(0), _BOLD)
    table = table.split_top(used + 1.5)[1]
    shown = bands[: max(1, int((table.height_mm - _ROW_MM) // _ROW_MM))]
    _draw_table(pen, table, strip, labels, shown)
    side = side.split_right(side.width_mm - 6)[0]
    cross = Box(side.right_mm - CROSS_MM - 2, side.bottom_mm - 12, CROSS_MM, CROSS_MM)
    draw_cross(pen, cross)
    for heading, keys in _notes(strip):
        side = side.split_top(pen.paragraph(labels(heading), side, _BOLD) + 0.6)[1]
        for key in keys:
            side = side.split_top(pen.paragraph(f"• {labels(key)}", side, Type(size_pt=7.6)) + 0.5)[1]
        side = side.split_top(1.2)[1]
    return len(shown)


def _notes(strip: BandStrip) -> list[tuple[str, list[str]]]:
    """Return headings and what stands below them, as keys of labels."""
    use = ["bands.use_print", "bands.use_zero", "bands.use_scale", "bands.use_stick"]
    use.append("bands.edge_lower" if strip.lower_belongs else "bands.edge_upper")
    use.append("bands.tally_band" if strip.of_settings else "bands.tally_class")
    if strip.state.instrument:
        use.append("bands.tally_no_instrument")
    if strip.under_bark:
        use.append("bands.under_bark")
    paint = ["bands.paint_sheet", "bands.paint_air", "bands.paint_skin", "bands.paint_water"]
    return [
        ("bands.use", use),
        ("bands.paint", [*paint, "bands.paint_maker", "bands.paint_clear", "bands.paint_colour"]),
    ]


def _draw_table(pen: Pen, box: Box, strip: BandStrip, labels: Labels, bands: list[PaintedBand]) -> None:
    """Draw a row a band: sample, class, edges, readings of the edges, colour and pattern."""
    edges = "bands.column_girth" if strip.on_girth else "bands.column_diameter"
    reading = "bands.column_reading_tape" if strip.state.kind == TAPE else "bands.column_reading"
    heads = ("bands.column_letter", "bands.column_class", edges, reading, "bands.column_colour",
             "bands.column_pattern")  # fmt: skip
    y = box.top_mm - 4.0
    for key, at in zip(heads, _COLUMNS_MM, strict=True):
        pen.write(labels(key), box.left_mm + at, y, Type(size_pt=7, bold=True))
    for number, band in enumerate(bands):
        y = box.top_mm - _ROW_MM * (number + 2) + 1.6
        mark = band.mark
        draw_band(pen, Box(box.left_mm, y - 1.4, 11.0, _ROW_MM - 1.0), mark, 3.6)
        low = f"{mark.low_cm:g}"
        high = labels("bands.and_up") if band.is_open else f"– {mark.high_cm:g}"
        last = labels("bands.and_up") if band.is_open else f"– {band.high_reading_cm:.2f}"
        cells = (
            pen.shortened(mark.name, 30, _PLAIN),
            f"{low} {high}",
            f"{band.low_reading_cm:.2f} {last}",
            mark.colour,
            labels(f"bands.pattern_{mark.pattern}"),
        )
        for words, at in zip(cells, _COLUMNS_MM[1:], strict=True):
            pen.write(words, box.left_mm + at, y, _PLAIN)


def _draw_strip_head(pen: Pen, body: Box, strip: BandStrip, labels: Labels) -> float:
    """Draw the head of a page with pieces of the strip, and return where the first piece begins."""
    name = band_name(labels, strip)
    title = f"{name[:1].upper()}{name[1:]}. {correction_words(labels, strip)}"
    pen.write(pen.shortened(title, body.width_mm, _BOLD), body.left_mm, body.top_mm - 4, _BOLD)
    words = Box(body.left_mm, body.bottom_mm, 206, body.height_mm - 6)
    pen.paragraph(labels("bands.use_print"), words, Type(size_pt=7.6))
    draw_ruler(pen, body.left_mm + 3, body.top_mm - 16 - RULER_HIGH_MM)
    return body.top_mm - _HEAD_MM


def _draw_piece(
    pen: Pen,
    left_mm: float,
    top_mm: float,
    strip: BandStrip,
    pieces: list[tuple[float, float]],
    number: int,
    labels: Labels,
) -> None:
    """Draw one piece: scale, bands, readings of the edges, cutting lines and overlaps."""
    start, end = pieces[number]
    high = _BAND_MM[strip.state.kind]
    scale = Box(left_mm, top_mm - _SCALE_MM, end - start, _SCALE_MM)
    bands = Box(left_mm, scale.bottom_mm - high, end - start, high)
    draw_ticks(pen, scale, start, upward=True)
    for cm in range(int(np.ceil(start / 10 - 1e-9)), int(np.floor(end / 10 + 1e-9)) + 1):
        pen.write(str(cm), left_mm + cm * 10 - start, scale.top_mm - 2.4, _SMALL)
    narrow = min(band.high_reading_cm - band.low_reading_cm for band in strip.bands) * 10 < _NARROW_MM
    for band in strip.bands:
        low, top = (max(band.low_reading_cm * 10, start), min(band.high_reading_cm * 10, end))
        if top > low:
            piece = Box(left_mm + low - start, bands.bottom_mm, top - low, high)
            draw_band(pen, piece, band.mark, high * 0.55)
    for edge in _edges(strip):
        if start - 1e-9 <= edge * 10 <= end + 1e-9:
            _write_edge(pen, left_mm + edge * 10 - start, bands.bottom_mm, f"{edge:.2f}", upright=narrow)
    pen.rectangle(Box(left_mm, bands.bottom_mm, end - start, high + _SCALE_MM), None, _CUT)
    last = number == len(pieces) - 1
    words = labels(
        "bands.piece", n=number + 1, all=len(pieces), low=f"{start / 10:g}", high=f"{end / 10:.2f}"
    )
    pen.write(words, left_mm, bands.bottom_mm - _LABELS_MM + 1.2, Type(size_pt=6.5))
    if number:
        _draw_overlap(
            pen, left_mm + OVERLAP_MM, bands.bottom_mm, scale.top_mm, (labels("bands.overlap_start"), "left")
        )
    if not last:
        at = left_mm + end - start - OVERLAP_MM
        _draw_overlap(pen, at, bands.bottom_mm, scale.top_mm, (labels("bands.overlap_end"), "right"))


def _draw_overlap(pen: Pen, x_mm: float, low_mm: float, top_mm: float, words: tuple[str, Align]) -> None:
    """Draw the line that the neighbouring piece reaches, with words on one side of it."""
    pen.line(x_mm, low_mm - 3, x_mm, top_mm + 1.5, Stroke("#9a1b4a", 0.25, (0.8, 0.6)))
    pen.write(words[0], x_mm, top_mm + 0.6, Type(size_pt=5.5, colour="#9a1b4a", align=words[1]))


def _edges(strip: BandStrip) -> list[float]:
    """Return the readings of all edges once, in their order; ends of open bands are none."""
    found = {band.low_reading_cm for band in strip.bands}
    found |= {band.high_reading_cm for band in strip.bands if not band.is_open}
    ordered = sorted(found)
    return [ordered[0], *(high for low, high in pairwise(ordered) if high - low > 1e-6)]  # noqa: PLR2004


def _write_edge(pen: Pen, x_mm: float, y_mm: float, words: str, *, upright: bool) -> None:
    """Write the reading of an edge below it."""
    pen.line(x_mm, y_mm, x_mm, y_mm - 1.6, Stroke("#000000", 0.15))
    if upright:
        pen.write(words, x_mm + 0.8, y_mm - 2.0, Type(size_pt=5.5, align="right", angle_deg=90))
    else:
        pen.write(words, x_mm, y_mm - 4.4, _SMALL)
