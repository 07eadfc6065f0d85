"""Named places in a label that figures are put in: ``{n}``, and nothing else between braces."""

from __future__ import annotations

import re
from collections.abc import Mapping

_PLACEHOLDER = re.compile(r"\{([a-z][a-z0-9_]*)\}")


def placeholders(text: str) -> set[str]:
    """Return the names of the placeholders of a label."""
    return set(_PLACEHOLDER.findall(text))


def stray_braces(text: str) -> bool:
    """Return whether a label has braces that are no placeholder."""
    return bool(re.search(r"[{}]", _PLACEHOLDER.sub("", text)))


def filled(key: str, text: str, values: Mapping[str, object]) -> str:
    """Return a label with values in its places; what stands in a value is never read as a placeholder.

    Raises
    ------
    KeyError
        A placeholder has no value, or a value no placeholder: a fault of the code that asks.
    """
    if placeholders(text) != set(values):
        raise KeyError(f"label {key} has the places {sorted(placeholders(text))}, not {sorted(values)}")
    return _PLACEHOLDER.sub(lambda found: str(values[found[1]]), text)
