"""The upper part of a field sheet: where the plot is, its size on the slope, and its boundary."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from pyproj import CRS

from plotmap.model.labels import Labels
from plotmap.model.settings import Design, PlotsSection, Settings, SlopeRule
from plotmap.output.paper.pen import Pen, Stroke, Type, bold
from plotmap.output.paper.sizes import Box

_TITLE, _PLAIN = Type(size_pt=17, bold=True), Type(size_pt=8.2)
_SMALL = Type(size_pt=7.0)
_CELL = Type(size_pt=7.6, align="right")
_SLOPES_PCT = (0.0, 10.0, 20.0, 30.0, 40.0, 50.0, 60.0)
_ROW_MM = 4.2
_NAME_MM = 41.0
_MOST_SIZES = 4


@dataclass(frozen=True, slots=True)
class Facts:
    """What the sheets of all plots have in common: settings, words, CRS in words, names of compartments."""

    rules: PlotsSection
    labels: Labels
    title: str
    crs_words: str
    names: dict[str, str]

    @classmethod
    def of(cls, settings: Settings, labels: Labels, crs: str, names: dict[str, str]) -> Facts:
        """Return them for a survey."""
        words = ""
        if crs:
            known = CRS.from_user_input(crs)
            words = labels("field_sheet.crs", crs=known.name, datum=known.datum.name if known.datum else "–")
        return cls(settings.plots, labels, settings.survey.title.strip(), words, names)


def draw_facts(pen: Pen, box: Box, facts: Facts, row: Any) -> None:
    """Draw title, position, sizes and boundary of one plot.

    Parameters
    ----------
    pen : Pen
        Draws.
    box : Box
        The upper part of the page.
    facts : Facts
        What all sheets have in common.
    row : named tuple
        A row of `plotmap.plots.sheet_rows.sheet_rows`.
    """
    labels = facts.labels
    head, rest = box.split_top(15.0)
    title = labels("field_sheet.title", plot=row.plot)
    pen.write(pen.shortened(title, head.width_mm * 0.5, _TITLE), head.left_mm, head.top_mm - 6.5, _TITLE)
    right = Type(size_pt=11, bold=True, align="right")
    home = pen.shortened(_home(facts, row), head.width_mm * 0.48, right)
    pen.write(home, head.right_mm, head.top_mm - 6, right)
    pen.write(pen.shortened(facts.title, head.width_mm, _SMALL), head.left_mm, head.top_mm - 11.5, _SMALL)
    left, sizes = rest.split_left(68.0)
    left = Box(left.left_mm, left.bottom_mm, left.width_mm - 3, left.height_mm)
    used = _paragraphs(pen, left, [(labels("field_sheet.position"), True), *_position(facts, row)])
    edge = [(labels("field_sheet.edge"), True), *((words, False) for words in _edge(facts, row))]
    _paragraphs(pen, left.split_top(used + 1.0)[1], edge)
    _draw_sizes(pen, sizes, facts, row)
    pen.line(box.left_mm, box.bottom_mm + 1, box.right_mm, box.bottom_mm + 1, Stroke("#9aa09a", 0.15))


def _paragraphs(pen: Pen, box: Box, parts: list[tuple[str, bool]]) -> float:
    """Write paragraphs below each other, some of them bold, and return their height."""
    used = 0.0
    for words, heavy in parts:
        used += pen.paragraph(words, box.split_top(used)[1], bold(_PLAIN) if heavy else _PLAIN) + 0.4
    return used


def _home(facts: Facts, row: Any) -> str:
    """Return the compartment with its name."""
    home = _text(row.located_in) or _text(row.compartment)
    if not home:
        return facts.labels("field_sheet.no_compartment")
    name = facts.names.get(home, "")
    return facts.labels(
        "field_sheet.compartment", compartment=f"{home} {name}" if name not in {"", home} else home
    )


def _position(facts: Facts, row: Any) -> list[tuple[str, bool]]:
    """Return the position on the grid and in degrees."""
    labels = facts.labels
    if math.isnan(row.easting):
        return [(labels("field_sheet.no_position"), False), (facts.crs_words, False)]
    east, north = (f"{metres:,.1f}".replace(",", "\u202f") for metres in (row.easting, row.northing))
    parts = [(labels("field_sheet.grid", easting=east, northing=north), True)]
    if not math.isnan(row.lon):
        lat = labels(
            "field_sheet.north" if row.lat >= 0 else "field_sheet.south", degrees=f"{abs(row.lat):.6f}"
        )
        lon = labels(
            "field_sheet.east" if row.lon >= 0 else "field_sheet.west", degrees=f"{abs(row.lon):.6f}"
        )
        parts.append((labels("field_sheet.degrees", lat=lat, lon=lon), False))
    return [*parts, (facts.crs_words, False)]


def _edge(facts: Facts, row: Any) -> list[str]:
    """Return how far the boundary is and what is done there."""
    labels = facts.labels
    rule = str(facts.rules.edge)
    words = {
        "whole": labels("field_sheet.rule_whole"),
        "inside": labels("field_sheet.rule_inside"),
        "mirage": labels("field_sheet.rule_mirage"),
        "positions": labels("field_sheet.rule_positions"),
    }[rule]
    if row.design == Design.FULL:
        return [labels("field_sheet.full")]
    if math.isnan(row.boundary_m) or math.isnan(row.reach_m):
        return [labels("field_sheet.edge_unknown"), words]
    metres = f"{row.boundary_m:.1f}"
    if row.boundary_m >= row.reach_m:
        return [labels("field_sheet.edge_inside", metres=metres)]
    near = labels("field_sheet.edge_near", metres=metres)
    if _text(row.beyond):
        near += " " + labels("field_sheet.edge_beyond", compartment=_text(row.beyond))
    return [near, words]


def _draw_sizes(pen: Pen, box: Box, facts: Facts, row: Any) -> None:
    """Draw the sizes of the plot on its slope, or on several slopes where it is not known."""
    labels, rules = facts.labels, facts.rules
    used = pen.paragraph(labels("field_sheet.size"), box, bold(_PLAIN)) + 0.6
    ground = rules.slope is SlopeRule.GROUND
    slopes = [float(row.slope_pct)] if not math.isnan(row.slope_pct) else list(_SLOPES_PCT)
    longer = np.sqrt(1 + (np.array(slopes) / 100) ** 2)
    lines: list[tuple[str, list[str]]] = []
    for name, length, is_round in _sizes(labels, rules, row)[:_MOST_SIZES]:
        if ground:
            lines.append((name, [f"{length:.2f}"]))
            continue
        lines.append((labels("field_sheet.along", name=name), [f"{length * by:.2f}" for by in longer]))
        if is_round:
            same = labels("field_sheet.same", name=name)
            lines.append((same, [f"{length * math.sqrt(by):.2f}" for by in longer]))
    words = labels("field_sheet.ground") if ground else labels("field_sheet.level")
    factor = row.baf_m2_per_ha if not math.isnan(row.baf_m2_per_ha) else rules.baf_m2_per_ha
    if row.design == Design.ANGLE_COUNT and factor:
        metres = f"{0.5 / math.sqrt(factor):.4f}"
        limit = labels("field_sheet.factor", baf=f"{factor:g}", metres=metres)
        used += pen.paragraph(limit, box.split_top(used)[1], _SMALL) + 0.4
        words = labels("distances.angle_ground" if ground else "distances.angle_level")
        lines = [] if ground else [(labels("field_sheet.longer"), [f"{by:.4f}" for by in longer])]
    elif not lines:
        words = labels("field_sheet.full" if row.design == Design.FULL else "field_sheet.no_size")
    if lines and not ground:
        known = len(slopes) == 1
        key = "field_sheet.slope_known" if known else "field_sheet.slope"
        heads = [labels(key, slope=f"{slope:g}") for slope in slopes]
        lines.insert(0, ("", heads))
    used = _draw_lines(pen, box, used, lines)
    pen.paragraph(words, box.split_top(used + 0.8)[1], _SMALL)


def _draw_lines(pen: Pen, box: Box, used: float, lines: list[tuple[str, list[str]]]) -> float:
    """Draw names with their numbers in columns, from so far below the top of a box, and return where they end."""
    wide = (box.width_mm - _NAME_MM) / max((len(cells) for _, cells in lines), default=1)
    wide = min(wide, 22.0)
    for name, cells in lines:
        y = box.top_mm - used - _ROW_MM + 1.2
        pen.write(pen.shortened(name, _NAME_MM, _SMALL), box.left_mm, y, _SMALL)
        for at, cell in enumerate(cells):
            look = _CELL if name else bold(_CELL)
            pen.write(cell, box.left_mm + _NAME_MM + wide * (at + 1) - 0.5, y, look)
        used += _ROW_MM
        pen.line(box.left_mm, y - 1.0, box.right_mm, y - 1.0, Stroke("#c9ccc9", 0.08))
    return used


def _sizes(labels: Labels, rules: PlotsSection, row: Any) -> list[tuple[str, float, bool]]:
    """Return name, level length in m and whether it is a radius, of every size of a plot."""
    if row.design == Design.NESTED:
        return [
            (
                labels("field_sheet.ring", metres=f"{nest.radius_m:.2f}", low=f"{nest.min_dbh_cm:g}"),
                nest.radius_m,
                True,
            )
            for nest in rules.nests
        ]
    if row.design == Design.CIRCLE and not math.isnan(row.reach_m):
        return [(labels("field_sheet.radius", metres=f"{row.reach_m:.2f}"), float(row.reach_m), True)]
    if row.design in {Design.RECTANGLE, Design.STRIP}:
        width = rules.width_m if math.isnan(row.width_m) else row.width_m
        sides = [float(side) for side in (row.length_m, width) if side is not None and not math.isnan(side)]
        return [(labels("field_sheet.side", metres=f"{side:.2f}"), side, False) for side in sides]
    return []


def _text(value: object) -> str:
    """Return a cell as text, empty where it is missing."""
    return value if isinstance(value, str) else ""
