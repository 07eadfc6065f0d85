"""Settings of the map: section ``[map]`` of ``survey.toml``."""

from __future__ import annotations

import re
from itertools import pairwise
from typing import Annotated, Self
from urllib.parse import urlsplit

from pydantic import Field, field_validator, model_validator

from plotmap.model.settings_base import Section

SPECIES_SHARE = "basal_area_share_pct"
"""Theme of the map: share of one species in the basal area, in per cent."""
MAP_THEMES = ("basal_area_m2_per_ha", "stems_per_ha", "dg_cm", "sampling_error_pct", SPECIES_SHARE)
"""What compartments can be coloured by, in the order of the switch."""
_MOST_BREAKS = 8
"""More classes than the ramp has colours cannot be told apart."""
_HOST = re.compile(r"[A-Za-z0-9](?:[A-Za-z0-9.-]*[A-Za-z0-9])?(?::[0-9]{1,5})?")
_REST = re.compile(r"[A-Za-z0-9/._~%!$&()*+,:=?@{}-]*")
_BRACES = re.compile(r"\{[^{}]*\}")
_PLACES = ("{z}", "{x}", "{y}")

_Breaks = Annotated[tuple[float, ...], Field(min_length=1, max_length=_MOST_BREAKS)]


class MapLayerSetting(Section):
    """One entry of ``[map] layers``: lines, polygons or points of the user's own, drawn plainly."""

    file: Annotated[str, Field(min_length=1)]
    layer: str = ""
    name: str = ""

    @property
    def title(self) -> str:
        """What the check box is called: the name given, else the layer, else the file."""
        return self.name.strip() or self.layer or self.file


class MapSection(Section):
    """``[map]``: what the map shows beside the figures, and in which classes."""

    large_error_pct: Annotated[float, Field(gt=0, le=1000)] = 50.0
    breaks: dict[str, _Breaks] = Field(default_factory=dict)
    species: str = ""
    layers: tuple[MapLayerSetting, ...] = ()
    background: str = ""
    background_credit: str = ""

    @field_validator("breaks")
    @classmethod
    def _rising(cls, breaks: dict[str, tuple[float, ...]]) -> dict[str, tuple[float, ...]]:
        """Refuse breaks of what is no theme, and such as do not rise."""
        for theme, edges in breaks.items():
            if theme not in MAP_THEMES:
                raise ValueError(f"{theme} is no theme of the map; allowed are {', '.join(MAP_THEMES)}")
            for below, above in pairwise(edges):
                if above <= below:
                    raise ValueError(
                        f"{theme} has {above:g} after {below:g}, but must rise from each to the next"
                    )
            if edges[0] < 0:
                raise ValueError(f"{theme} begins at {edges[0]:g}, but nothing on the map is below 0")
        return breaks

    @field_validator("background")
    @classmethod
    def _tiles(cls, address: str) -> str:
        """Refuse an address that is no template of tiles of exactly one host."""
        if not address:
            return address
        parts = urlsplit(address)
        if parts.scheme not in {"https", "http"} or not _HOST.fullmatch(parts.netloc):
            raise ValueError(
                "must be the address of tiles of one host, as https://host/{z}/{x}/{y}.png, with the host spelled out"
            )
        rest = address.removeprefix(f"{parts.scheme}://{parts.netloc}")
        if not _REST.fullmatch(rest) or sorted(_BRACES.findall(rest)) != sorted(_PLACES):
            raise ValueError(
                "must have {z}, {x} and {y} once each after the host, no other braces, and no blanks or quotes"
            )
        return address

    @model_validator(mode="after")
    def _credited(self) -> Self:
        """Refuse a background that does not say whose it is."""
        if self.background and not self.background_credit.strip():
            raise ValueError(
                "background needs background_credit: who made it, as its terms of use ask, to stand on the map"
            )
        return self

    @property
    def background_host(self) -> str:
        """Scheme and host that the background is asked from, for the page's policy; empty without one."""
        parts = urlsplit(self.background)
        return f"{parts.scheme}://{parts.netloc}" if self.background else ""
