"""Settings of heights, density and volume: sections of ``survey.toml``."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from plotmap.model.settings_base import Section

ANY_SPECIES = "*"
"""What stands for all species that have no entry of their own."""
_NEEDED = {"power": "ab", "log": "ab", "d2h": "ab", "form-factor": "f"}
"""Coefficients that each kind of equation needs."""
_ALLOWED = {"power": "abc", "log": "abc", "d2h": "ab", "form-factor": "f"}

_Size = Annotated[float, Field(ge=0, le=400)]
_Height = Annotated[float, Field(ge=0, le=120)]


class HeightsSection(Section):
    """``[heights]``: what a height curve needs, and what a plausible tree is."""

    min_pairs: Annotated[int, Field(ge=3, le=1000)] = 10
    min_slenderness: Annotated[float, Field(ge=0, le=100)] = 15.0
    max_slenderness: Annotated[float, Field(gt=0, le=1000)] = 200.0

    @model_validator(mode="after")
    def _band(self) -> Self:
        """Refuse a band that is empty."""
        if self.min_slenderness >= self.max_slenderness:
            raise ValueError(
                f"min_slenderness is {self.min_slenderness:g}, but must be less than max_slenderness, "
                f"{self.max_slenderness:g}"
            )
        return self


class SpeciesEntry(Section):
    """An entry of a list that names the species it is for."""

    species: Annotated[str, Field(min_length=1)]


class MaximumSetting(SpeciesEntry):
    """One entry of ``[density] maxima``: the largest Reineke index a stand of a species can have."""

    index: Annotated[float, Field(gt=0, le=20_000)]


class DensitySection(Section):
    """``[density]``: constants of Reineke's index. Diameter in cm, index in stems per hectare."""

    reineke_exponent: Annotated[float, Field(gt=0, le=4)] = 1.605
    reineke_dbh_cm: Annotated[float, Field(ge=1, le=200)] = 25.0
    maxima: tuple[MaximumSetting, ...] = ()

    @model_validator(mode="after")
    def _once(self) -> Self:
        """Refuse two maxima of one species."""
        _refuse_twice("maxima", [entry.species for entry in self.maxima])
        return self


class VolumeSetting(SpeciesEntry):
    """One entry of ``[volume] equations``: v in m³ from d in cm and h in m, with where it comes from."""

    kind: Literal["power", "log", "d2h", "form-factor"]
    a: float | None = None
    b: float | None = None
    c: float | None = None
    f: Annotated[float, Field(ge=0.1, le=1)] | None = None
    min_dbh_cm: _Size
    max_dbh_cm: _Size
    min_height_m: _Height | None = None
    max_height_m: _Height | None = None
    bark: Literal["over", "under"]
    volume_bark: Literal["over", "under"]
    source: Annotated[str, Field(min_length=1)]

    @property
    def uses_height(self) -> bool:
        """Whether the equation asks for the height."""
        return self.kind in {"d2h", "form-factor"} or bool(self.c)

    @property
    def text(self) -> str:
        """The equation as it is printed, with its coefficients."""
        a, b, c = (f"{value:.10g}" if value is not None else "" for value in (self.a, self.b, self.c))
        with_height = {"power": f" · h^{c}", "log": f" + {c} · ln h"}.get(self.kind, "") if self.c else ""
        return {
            "power": f"v = {a} · d^{b}{with_height}",
            "log": f"ln v = {a} + {b} · ln d{with_height}",
            "d2h": f"v = {a} + {b} · d² · h",
            "form-factor": f"v = g · h · {self.f:.10g}" if self.f is not None else "",
        }[self.kind]

    @model_validator(mode="after")
    def _complete(self) -> Self:
        """Refuse missing and needless coefficients, and ranges that are empty or not given."""
        if not self.source.strip():
            raise ValueError("source is blank, but must say where the equation comes from")
        given = {key for key in "abcf" if getattr(self, key) is not None}
        if lacking := sorted(set(_NEEDED[self.kind]) - given):
            raise ValueError(f"kind = '{self.kind}' needs {', '.join(lacking)}")
        if extra := sorted(given - set(_ALLOWED[self.kind])):
            raise ValueError(f"kind = '{self.kind}' has no {', '.join(extra)}: leave it out")
        heights = (self.min_height_m, self.max_height_m)
        if self.uses_height and None in heights:
            raise ValueError("the equation uses the height: give min_height_m and max_height_m, its range")
        for low, high, name in (
            (self.min_dbh_cm, self.max_dbh_cm, "dbh_cm"),
            (self.min_height_m, self.max_height_m, "height_m"),
        ):
            if low is not None and high is not None and low >= high:
                raise ValueError(f"min_{name} is {low:g}, but must be less than max_{name}, {high:g}")
        return self


class VolumeSection(Section):
    """``[volume]``: the user's own equations; volume is computed by nothing else but form factors."""

    equations: tuple[VolumeSetting, ...] = ()

    @model_validator(mode="after")
    def _once(self) -> Self:
        """Refuse two equations of one species."""
        _refuse_twice("equations", [entry.species for entry in self.equations])
        return self


def _refuse_twice(what: str, names: list[str]) -> None:
    """Raise where a species has two entries."""
    if twice := sorted({name for name in names if names.count(name) > 1}):
        raise ValueError(f"{what} name {twice[0]} twice: keep one of them")
