"""Settings of laying out plots before the field: section ``[layout]`` of ``survey.toml``."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from plotmap.model.settings_base import Section

_Coordinate = Annotated[float, Field(ge=-30_000_000, le=30_000_000)]
_Cv = Annotated[float, Field(gt=0, le=1000)]


class LayoutMethod(StrEnum):
    """How plots are put onto the ground."""

    SQUARE = "square"
    TRIANGULAR = "triangular"
    STRIPS = "strips"
    RANDOM = "random"
    BALANCED = "balanced"


GRIDS = (LayoutMethod.SQUARE, LayoutMethod.TRIANGULAR, LayoutMethod.STRIPS)
"""Methods with one random start."""


class LayoutSection(Section):
    """``[layout]``: how many plots, where, and in which days. Lengths in m, errors and variation in %."""

    method: LayoutMethod = LayoutMethod.SQUARE
    seed: Annotated[int, Field(ge=0, le=2**53)] = 1
    n_plots: Annotated[int, Field(ge=1, le=100_000)] | None = None
    spacing_m: Annotated[float, Field(ge=1, le=100_000)] | None = None
    strip_ratio: Annotated[float, Field(ge=1, le=100)] = 4.0
    bearing_deg: Annotated[float, Field(ge=0, lt=360)] | None = None
    allocation: Literal["proportional", "neyman"] = "proportional"
    min_per_stratum: Annotated[int, Field(ge=1, le=1000)] = 2
    cv_pct: _Cv | None = None
    cv_pct_by_stratum: dict[str, _Cv] = Field(default_factory=dict)
    pilot: str = ""
    crew_days: Annotated[float, Field(gt=0, le=100_000)] | None = None
    plots_per_day: Annotated[int, Field(ge=1, le=200)] | None = None
    enough_plots: Annotated[int, Field(ge=1, le=1000)] = 2
    reserve: Annotated[int, Field(ge=0, le=1000)] = 0
    exclude: tuple[str, ...] = ()
    start: Annotated[tuple[_Coordinate, ...], Field(min_length=2, max_length=2)] | None = None

    @model_validator(mode="after")
    def _of_grids(self) -> Self:
        """Refuse a spacing or a bearing of what is no grid, and a spacing beside a number."""
        if self.method not in GRIDS:
            if self.spacing_m is not None or self.bearing_deg is not None:
                raise ValueError(
                    f"spacing_m and bearing_deg do not fit method = '{self.method}': leave them out"
                )
        elif self.spacing_m is not None and self.n_plots is not None:
            raise ValueError("spacing_m and n_plots are both given: keep one of them")
        if self.spacing_m is not None and self.allocation == "neyman":
            raise ValueError("spacing_m gives every stratum one density: leave allocation = 'neyman' out")
        return self

    @model_validator(mode="after")
    def _one_variation(self) -> Self:
        """Refuse two sources of one figure, and days without their plots."""
        if self.cv_pct is not None and self.pilot:
            raise ValueError("cv_pct and pilot are both given: keep one of them")
        if self.crew_days is not None and self.plots_per_day is None:
            raise ValueError("crew_days needs plots_per_day: how many plots a crew does in a day")
        return self
