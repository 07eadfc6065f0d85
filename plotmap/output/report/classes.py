"""The size classes of each compartment as charts."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from plotmap.model.class_rule import ClassEdge, ClassMeasure, ClassRule
from plotmap.model.result_tables import FULL_COUNT
from plotmap.output.report.class_chart import ClassBar, ClassChart, chart_top
from plotmap.output.report.figures import pct_text, texts
from plotmap.output.webmap.figures import numbers

if TYPE_CHECKING:
    from plotmap.model.labels import Labels
    from plotmap.model.survey import Stand


def class_charts(stand: Stand, labels: Labels) -> dict[str, ClassChart]:
    """Return the chart of each compartment that has size classes.

    Parameters
    ----------
    stand : Stand
        ``class_totals`` and the settings are read.
    labels : Labels
        Words of the survey.
    """
    totals, rule = stand.class_totals, stand.settings.class_rule
    status = dict(zip(stand.compartments["compartment"], stand.compartments["status"], strict=True))
    cells = zip(
        totals["compartment"].to_list(),
        totals["low_cm"].to_list(),
        *(numbers(totals[f"stems_per_ha{end}"]).tolist() for end in ("", "_low", "_high")),
        strict=True,
    )
    found: dict[str, dict[float | None, tuple[float, float, float]]] = {}
    for compartment, low_cm, *figures in cells:
        found.setdefault(compartment, {})[low_cm] = (figures[0], figures[1], figures[2])
    return {name: _chart(_bars(of, rule), str(status.get(name)), stand, labels) for name, of in found.items()}


def _bars(classes: dict[float | None, tuple[float, float, float]], rule: ClassRule) -> tuple[ClassBar, ...]:
    """Return a bar for each class from the lowest to the highest."""
    bars = []
    for index in rule.span(classes):
        value, low, high = classes.get(rule.low_cm(index), (0.0, np.nan, np.nan))
        known = np.isfinite(low) and np.isfinite(high)
        bars.append(ClassBar(rule.short_label(index), value, low if known else None, high if known else None))
    return tuple(bars)


def _chart(bars: tuple[ClassBar, ...], status: str, stand: Stand, labels: Labels) -> ClassChart:
    """Return the chart of some bars with its words."""
    rule = stand.settings.class_rule
    pct = pct_text(100 * stand.settings.survey.confidence)
    if status == FULL_COUNT:
        note = labels("report.chart_counted")
    elif any(bar.high is not None for bar in bars):
        note = labels("report.chart_limits", pct=pct)
        top = chart_top(bars)
        if any(bar.high is not None and bar.high > top for bar in bars):
            note += " " + labels("report.chart_cut")
    else:
        note = labels("report.chart_no_error")
    values = texts(np.array([bar.value for bar in bars]), 0)
    said = ", ".join(
        labels("report.chart_bar", label=bar.label, stems=value)
        for bar, value in zip(bars, values, strict=True)
    )
    return ClassChart(
        bars,
        labels("report.chart_stems"),
        _classes_title(rule, labels),
        note,
        labels("report.chart_said", classes=said),
    )


def _classes_title(rule: ClassRule, labels: Labels) -> str:
    """Return what the classes are of, and which edge they are named by."""
    edge = labels("report.edge_lower" if rule.edge is ClassEdge.LOWER else "report.edge_upper")
    girth = rule.on is ClassMeasure.GIRTH
    return labels("report.chart_girth_edge" if girth else "report.chart_diameter_edge", edge=edge)
