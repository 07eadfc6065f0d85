"""The rule of the size classes in words."""

from __future__ import annotations

from plotmap.model.class_rule import ClassEdge, ClassMeasure, ClassRule
from plotmap.model.labels.labels import Labels


def class_rule_words(labels: Labels, rule: ClassRule) -> str:
    """Return the rule of the size classes in one line (in English as `ClassRule.describe` says it)."""
    classes = labels("words.classes_girth" if rule.on is ClassMeasure.GIRTH else "words.classes_diameter")
    edge = labels("words.class_edge_lower" if rule.edge is ClassEdge.LOWER else "words.class_edge_upper")
    if rule.width_cm is not None:
        return labels("words.classes_wide", classes=classes, width=f"{rule.width_cm:g}", edge=edge)
    edges = ", ".join(f"{one:g}" for one in rule.edges_cm)
    return labels("words.classes_between", classes=classes, edges=edges, edge=edge)
