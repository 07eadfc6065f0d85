"""Settings of results for people outside the house: section ``[share]`` of ``survey.toml``."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from plotmap.model.settings_base import Section


class ShareSection(Section):
    """``[share]``: read by ``plotmap share`` only. Never written into what is shared."""

    round_sensitive_below: Annotated[int, Field(ge=0, le=100)] = 3
    phrase: Annotated[str, Field(max_length=1000)] = ""
    may_show: tuple[Annotated[str, Field(min_length=1)], ...] = ()
