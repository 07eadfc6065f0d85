"""Labels of the survey's own: what is wrong with them."""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from difflib import get_close_matches

from plotmap.model.labels.catalogue import known_keys
from plotmap.model.labels.placeholders import placeholders, stray_braces

LONGEST = 1000
"""Most characters of an own label."""


def own_label_faults(own: Mapping[str, str]) -> list[str]:
    """Return what is wrong with own labels, each as key, value and what is allowed.

    Parameters
    ----------
    own : mapping of str to str
        As of ``[labels] own``.

    Returns
    -------
    list of str
        In the order of `own`; empty where all is well.
    """
    if not own:
        return []
    known = known_keys()
    return [fault for key, text in own.items() if (fault := _fault(key, text, known))]


def _fault(key: str, text: str, known: Mapping[str, str]) -> str:
    """Return what is wrong with one own label, empty where nothing is."""
    if key not in known:
        near = get_close_matches(key, known, n=3)
        like = f" Like it: {', '.join(near)}." if near else ""
        return f"{key!r} is no label.{like} All labels are listed in docs/labels.md."
    if not text.strip():
        return f"{key!r} is blank, but must have words. Leave the key out for {known[key]!r}."
    if len(text) > LONGEST:
        return f"{key!r} has {len(text)} characters, but must have at most {LONGEST}."
    if any(unicodedata.category(letter) in {"Cc", "Cs"} for letter in text):
        return f"{key!r} is {text!r}, but must be one line without control characters."
    wanted = placeholders(known[key])
    if stray_braces(text) or placeholders(text) != wanted:
        places = ", ".join(f"{{{name}}}" for name in sorted(wanted)) or "no {…} at all"
        return f"{key!r} is {text!r}, but must hold {places}, as {known[key]!r} does."
    return ""
