"""Sentences that several parts of the report share."""

from __future__ import annotations

from typing import TYPE_CHECKING

from plotmap.model.result_tables_errors import MODEL_BASED, MODEL_BASED_RESULTS
from plotmap.output.report.figures import estimates

if TYPE_CHECKING:
    from plotmap.model.labels import Labels
    from plotmap.model.survey import Stand


def measured_words(first: str, last: str, labels: Labels) -> str:
    """Return when something was measured, from its first and last day (ISO 8601)."""
    if first == last:
        return labels("report.measured_on", day=first)
    return labels("report.measured_between", first=first, last=last)


def modelled_words(stand: Stand, labels: Labels) -> dict[str, str]:
    """Return what a model says of each compartment that was estimated by one, labelled as such."""
    frame = stand.model_based
    if frame.is_empty():
        return {}
    status = frame["status"].to_list()
    areas = estimates(frame, MODEL_BASED_RESULTS, "basal_area_m2_per_ha", status, labels)
    stems = estimates(frame, MODEL_BASED_RESULTS, "stems_per_ha", status, labels)
    head = labels("report.model")
    words = {}
    for row, (name, method) in enumerate(frame.select("compartment", "method").iter_rows()):
        if status[row] != MODEL_BASED or not areas[row].value:
            words[name] = labels("report.model_none")
            continue
        key = "report.method_composite" if method == "composite" else "report.method_synthetic"
        said = labels(
            "report.model_is",
            value=areas[row].value,
            limits=areas[row].uncertainty,
            stems=stems[row].value,
            stems_limits=stems[row].uncertainty,
            method=labels(key),
        )
        words[name] = f"{head}: {said}"
    return words
