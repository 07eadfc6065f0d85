"""Settings of printed pages: section ``[paper]`` of ``survey.toml``."""

from __future__ import annotations

from plotmap.model.settings_base import Section


class PaperSection(Section):
    """``[paper]``: who answers for the pages, and a font for letters that the shipped fonts lack."""

    author: str = ""
    font: str = ""
