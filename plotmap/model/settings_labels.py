"""Settings of the words that people read: section ``[labels]`` of ``survey.toml``."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field

from plotmap.model.settings_base import Section


def flat_keys(own: object) -> object:
    """Return own labels by their whole keys, also where TOML nests them because the key stood without quotes."""
    if not isinstance(own, Mapping):
        return own
    flat: dict[str, Any] = {}
    for key, text in own.items():
        inner = flat_keys(text)
        flat |= (
            {f"{key}.{rest}": words for rest, words in inner.items()}
            if isinstance(inner, dict)
            else {key: inner}
        )
    return flat


class LabelsSection(Section):
    """``[labels]``: language of map, report, sheets and workbook, and labels of the survey's own.

    Keys of `own` and their placeholders are checked where settings are read (`plotmap.model.labels`).
    """

    language: Literal["en", "de"] = "en"
    own: Annotated[dict[str, str], BeforeValidator(flat_keys)] = Field(default_factory=dict)
