"""Settings of thinning proposals: section ``[thinning]`` of ``survey.toml``."""

from __future__ import annotations

from typing import Annotated, Self

from pydantic import Field, model_validator

from plotmap.model.settings_base import Section

_HALF = 0.5


class ThinningSection(Section):
    """``[thinning]``: how sure a proposal must be, and how its ranges are drawn."""

    likely_from: Annotated[float, Field(gt=0, lt=1)] = 0.9
    unlikely_to: Annotated[float, Field(gt=0, lt=1)] = 0.1
    draws: Annotated[int, Field(ge=100, le=10_000)] = 500
    seed: Annotated[int, Field(ge=0, le=2**31 - 1)] = 1
    heavy_share_pct: Annotated[float, Field(ge=1, le=100)] = 30.0

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        """Refuse thresholds that overlap, or by which even odds would be unlikely."""
        if self.unlikely_to > self.likely_from:
            raise ValueError(
                f"unlikely_to is {self.unlikely_to:g}, but must be at most likely_from, {self.likely_from:g}"
            )
        if self.unlikely_to >= _HALF:
            raise ValueError(f"unlikely_to is {self.unlikely_to:g}, but must be less than 0.5")
        return self
