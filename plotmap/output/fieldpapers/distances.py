"""Pocket tables of limiting distances and of lengths on slopes: A4 landscape to be folded in three, and CSV."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import polars as pl

from plotmap.errors import OutputError
from plotmap.files import whole_file
from plotmap.model.labels import Labels, labels_of
from plotmap.model.limits import AngleLimits, DistanceTables, Floats, LengthsOnSlopes
from plotmap.model.settings import Settings
from plotmap.output.paper.document import FOOTER_MM, Document
from plotmap.output.paper.of_survey import page_furniture, survey_document
from plotmap.output.paper.pen import Pen, Stroke, Type, bold
from plotmap.output.paper.sizes import Box, paper
from plotmap.output.paper.target import check_pdf_file

_MARGIN_MM = 10.0
_PANELS = 3
_GAP_MM = 6.0
_TITLE = Type(size_pt=12, bold=True)
_WORDS, _CELL = Type(size_pt=7.2), Type(size_pt=7.6, align="right")
_HEAD = Type(size_pt=6.8, bold=True, align="right")
_LINE = Stroke("#9aa09a", 0.1)
_FOLD = Stroke("#9aa09a", 0.12, (1.2, 1.2))
_SHADE = "#ececea"
_ROW_MM = 4.5
_WIDEST_MM = 24.0
_TABLES_A_PANEL = 2
_SEVERAL_TABLES = _PANELS * _TABLES_A_PANEL


def write_distances(
    tables: DistanceTables, path: Path | str, settings: Settings, folder: Path | None = None
) -> tuple[int, str]:
    """Write the tables as a PDF, A4 landscape with two fold lines.

    The same tables give the same bytes.

    Parameters
    ----------
    tables : DistanceTables
        Distances and lengths in m.
    path : Path or str
        File to write; a PDF of plotmap is replaced.
    settings : Settings
        Title, language, own labels, author and font.
    folder : Path, optional
        Survey folder, which ``[paper] font`` starts from.

    Returns
    -------
    n_pages : int
        Pages written.
    missing : str
        Letters that no font had.

    Raises
    ------
    SettingsError
        The font cannot be used.
    OutputError
        The file must not be replaced, or cannot be written.
    """
    path = Path(path)
    check_pdf_file(path, "table")
    labels = labels_of(settings)
    furniture = page_furniture(labels, labels("distances.footer"), _MARGIN_MM)
    survey = settings.survey.title.strip()
    sheet = paper("A4", "landscape")
    document = survey_document(settings, folder, sheet, (labels("distances.title"), survey), furniture)
    body = sheet.box.inset(_MARGIN_MM).split_bottom(FOOTER_MM)[1]
    for limits in tables.angle_limits:
        _draw_angle_pages(document, body, limits, labels, survey, along_ground=tables.along_ground)
    for first in range(0, len(tables.lengths), _SEVERAL_TABLES):
        with document.page() as pen:
            few = tables.lengths[first : first + _SEVERAL_TABLES]
            _draw_lengths(pen, body, few, labels, survey, along_ground=tables.along_ground)
    document.save(path)
    return document.n_pages, document.missing_letters


def check_distance_csv(path: Path, columns: Sequence[str]) -> None:
    """Refuse a file that the CSV must not replace.

    Raises
    ------
    OutputError
        `path` is a folder, does not end in ``.csv``, its folder is not there, or it is there and holds something
        else.
    """
    if path.is_dir() or path.suffix.lower() != ".csv":
        raise OutputError(f"{path}: the table is a file that ends in .csv. Name a file, as distances.csv.")
    if not path.parent.is_dir():
        raise OutputError(f"{path}: its folder is not there. Make the folder, or name another place.")
    if path.exists():
        first = path.read_bytes()[:4096].split(b"\n")[0].rstrip(b"\r")
        if first and first != ",".join(columns).encode():
            raise OutputError(
                f"{path}: this file is there and holds something else, so it is not replaced. Name another file, or "
                "move it away."
            )


def write_distance_csv(frame: pl.DataFrame, path: Path) -> None:
    """Write the long frame of the tables as CSV, whole or not at all; distances to the millimetre.

    Raises
    ------
    OutputError
        As of `check_distance_csv`, or the file cannot be written.
    """
    check_distance_csv(path, frame.columns)
    with whole_file(path, "the table") as beside:
        frame.with_columns(pl.selectors.float().round(3)).write_csv(beside)


def _panels(pen: Pen, body: Box) -> list[Box]:
    """Draw the fold lines at a third and two thirds of the page, and return the panels between them."""
    whole = body.width_mm + 2 * _MARGIN_MM
    for part in range(1, _PANELS):
        x_mm = body.left_mm - _MARGIN_MM + whole * part / _PANELS
        pen.line(x_mm, body.bottom_mm, x_mm, body.top_mm + _MARGIN_MM, _FOLD)
    wide = whole / _PANELS
    boxes = []
    for part in range(_PANELS):
        left = body.left_mm - _MARGIN_MM + part * wide
        low = left + (_MARGIN_MM if part == 0 else _GAP_MM)
        high = left + wide - (_MARGIN_MM if part == _PANELS - 1 else _GAP_MM)
        boxes.append(Box(low, body.bottom_mm, high - low, body.height_mm))
    return boxes


def _draw_angle_pages(
    document: Document, body: Box, limits: AngleLimits, labels: Labels, survey: str, *, along_ground: bool
) -> None:
    """Draw the limits of one factor: words over all panels, the diameters down one panel after the other."""
    done = 0
    while done < len(limits.dbh_cm):
        with document.page() as pen:
            panels = _panels(pen, body)
            high = max(_draw_angle_words(pen, panels, limits, labels, survey, along_ground=along_ground))
            for panel in panels:
                room = panel.split_top(high)[1]
                n_rows = int((room.height_mm - _ROW_MM) // _ROW_MM)
                rows = slice(done, done + n_rows)
                if done < len(limits.dbh_cm):
                    _draw_angle_rows(pen, room, limits, rows, labels)
                done += n_rows


def _draw_angle_words(
    pen: Pen, panels: list[Box], limits: AngleLimits, labels: Labels, survey: str, *, along_ground: bool
) -> list[float]:
    """Draw title and rules over the panels, and return how high they are."""
    title = labels("distances.angle", baf=f"{limits.baf_m2_per_ha:g}")
    per_cm = 0.5 / math.sqrt(limits.baf_m2_per_ha)
    used = pen.paragraph(title, panels[0], _TITLE) + 1
    used += pen.paragraph(survey, panels[0].split_top(used)[1], _WORDS) if survey else 0.0
    rule = labels("distances.angle_rule", metres=f"{per_cm:.6f}".rstrip("0"), mm=f"{per_cm / 10:.4f}")
    first = used + pen.paragraph(rule, panels[0].split_top(used + 0.5)[1], _WORDS) + 1.5
    way = labels("distances.angle_ground" if along_ground else "distances.angle_level")
    second = pen.paragraph(way, panels[1], _WORDS) + 1.0
    second += pen.paragraph(labels("distances.angle_face"), panels[1].split_top(second)[1], _WORDS) + 1.5
    third = pen.paragraph(labels("distances.angle_in"), panels[2], _WORDS) + 1.5
    return [first, second, third]


def _draw_angle_rows(pen: Pen, box: Box, limits: AngleLimits, rows: slice, labels: Labels) -> None:
    """Draw some diameters with their limits."""
    columns = [limits.dbh_cm[rows], limits.level_m[rows], limits.face_m[rows]]
    heads = [labels(f"distances.column_{name}") for name in ("dbh", "level", "face")]
    for number, slope in enumerate(limits.slope_pct.tolist()):
        if slope > 0:
            columns.append(limits.slope_m[rows, number])
            heads.append(labels("distances.column_slope", slope=f"{slope:g}"))
    _draw_rows(pen, box, heads, columns, [0, *[2] * (len(columns) - 1)])


def _draw_rows(pen: Pen, box: Box, heads: list[str], columns: list[Floats], decimals: list[int]) -> None:
    """Draw columns of numbers from the top of a box down, every other row shaded."""
    wide = min(box.width_mm / len(columns), _WIDEST_MM)
    for number in range(0, len(columns[0]), 2):
        y = box.top_mm - _ROW_MM * (number + 2)
        pen.rectangle(Box(box.left_mm, y, wide * len(columns), _ROW_MM), _SHADE)
    right = [box.left_mm + wide * (at + 1) - 0.8 for at in range(len(columns))]
    for x, head in zip(right, heads, strict=True):
        pen.write(pen.shortened(head, wide - 0.4, _HEAD), x, box.top_mm - _ROW_MM + 1.2, _HEAD)
    for number, row in enumerate(np.column_stack(columns).tolist()):
        y = box.top_mm - _ROW_MM * (number + 2) + 1.2
        for at, (x, value, places) in enumerate(zip(right, row, decimals, strict=True)):
            if not math.isnan(value):
                pen.write(f"{value:.{places}f}", x, y, bold(_CELL) if at == 0 else _CELL)
    y = box.top_mm - _ROW_MM
    pen.line(box.left_mm, y, box.left_mm + wide * len(columns), y, _LINE)


def _draw_lengths(
    pen: Pen,
    body: Box,
    few: Sequence[LengthsOnSlopes],
    labels: Labels,
    survey: str,
    *,
    along_ground: bool,
) -> None:
    """Draw up to six lengths on slopes, two a panel."""
    panels = _panels(pen, body)
    used = pen.paragraph(labels("distances.lengths"), panels[0], _TITLE) + 1
    used += pen.paragraph(survey, panels[0].split_top(used)[1], _WORDS) if survey else 0.0
    way = labels("distances.lengths_ground" if along_ground else "distances.lengths_level")
    high = [used, pen.paragraph(way, panels[1], _WORDS)]
    if any(lengths.kind == "side" for lengths in few):
        high.append(pen.paragraph(labels("distances.lengths_side"), panels[2], _WORDS))
    top = max(high) + 3
    each = 1 if len(few) <= _PANELS else _TABLES_A_PANEL
    for number, lengths in enumerate(few):
        panel = panels[number // each].split_top(top)[1]
        box = panel if number % each == 0 else panel.split_top(panel.height_mm / each)[1]
        _draw_length(pen, box, lengths, labels, every=each, along_ground=along_ground)


def _draw_length(
    pen: Pen, box: Box, lengths: LengthsOnSlopes, labels: Labels, *, every: int, along_ground: bool
) -> None:
    """Draw one radius, ring or side on every slope, or every other one."""
    used = pen.paragraph(length_words(labels, lengths), box, Type(size_pt=8.5, bold=True)) + 0.8
    rows = slice(None, None, every)
    heads, columns, decimals = [labels("distances.column_percent")], [lengths.slope_pct[rows]], [0]
    heads.append(labels("distances.column_along"))
    columns.append(lengths.along_m[rows])
    decimals.append(2)
    last = lengths.level_area_m2 if along_ground else lengths.same_area_m
    if not np.isnan(last).all():
        heads.append(labels("distances.column_area" if along_ground else "distances.column_same"))
        columns.append(last[rows])
        decimals.append(1 if along_ground else 2)
    _draw_rows(pen, box.split_top(used)[1], heads, columns, decimals)


def length_words(labels: Labels, lengths: LengthsOnSlopes) -> str:
    """Return what a length is of: a radius, a ring with its diameters, a side."""
    metres = f"{lengths.level_m:.2f}"
    if lengths.kind != "ring":
        return labels("distances.radius" if lengths.kind == "radius" else "distances.side", metres=metres)
    low = f"{lengths.from_cm:g}"
    if math.isinf(lengths.below_cm):
        return labels("distances.ring_up", metres=metres, low=low)
    return labels("distances.ring", metres=metres, low=low, high=f"{lengths.below_cm:g}")
