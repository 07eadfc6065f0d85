"""Words that people read, in the language of the survey, with its own labels put over them."""

from plotmap.model.labels.catalogue import LANGUAGES, catalogue, known_keys
from plotmap.model.labels.class_rules import class_rule_words
from plotmap.model.labels.labels import Labels, labels_of
from plotmap.model.labels.own import own_label_faults

__all__ = [
    "LANGUAGES",
    "Labels",
    "catalogue",
    "class_rule_words",
    "known_keys",
    "labels_of",
    "own_label_faults",
]
