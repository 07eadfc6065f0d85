"""Symbols of the GeoPackage's styles, written as OGC SLD 1.0 and in the desktop GIS's own language."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

_MM_PER_PIXEL = 0.28  # the pixel of SLD 1.0 (OGC 02-070, 12.2.1)
_OUTLINE_PX = 1.0
_DASHED_PX = 2.0
_HATCH_PX = 8.0
_HATCH_COLOUR = "#4d4d4d"
Hatch = Literal["x", "cross"]
"""Lines over a fill: slanted both ways, or level and upright; marks that every SLD renderer knows."""


@dataclass(frozen=True, slots=True)
class Fill:
    """A polygon's fill, hatching and outline; colours are #rrggbb.

    Attributes
    ----------
    colour : str or None
        Of the fill; None for none.
    outline : str
        Of the boundary.
    hatch : {"x", "cross"} or None
        Dark lines over the fill.
    dashed : bool
        A thicker broken boundary.
    """

    colour: str | None
    outline: str = "#737373"
    hatch: Hatch | None = None
    dashed: bool = False


@dataclass(frozen=True, slots=True)
class Marker:
    """A point's shape, fill and outline; colours are #rrggbb, the size is in pixels of 0.28 mm."""

    shape: Literal["circle", "square", "triangle", "x"]
    colour: str
    outline: str = "#ffffff"
    size_px: float = 9.0


def sld_symbol(symbol: Fill | Marker) -> str:
    """Return a symbol as an SLD 1.0 symbolizer."""
    if isinstance(symbol, Marker):
        graphic = _sld_graphic(symbol.shape, symbol.colour, symbol.outline, symbol.size_px)
        return f"<PointSymbolizer>{graphic}</PointSymbolizer>"
    width = _DASHED_PX if symbol.dashed else _OUTLINE_PX
    dash = _parameter("stroke-dasharray", "6 4") if symbol.dashed else ""
    stroke = _parameter("stroke", symbol.outline) + _parameter("stroke-width", f"{width:g}") + dash
    fill = f"<Fill>{_parameter('fill', symbol.colour)}</Fill>" if symbol.colour else ""
    hatching = ""
    if symbol.hatch:
        graphic = _sld_graphic(symbol.hatch, _HATCH_COLOUR, _HATCH_COLOUR, _HATCH_PX)
        hatching = f"<PolygonSymbolizer><Fill><GraphicFill>{graphic}</GraphicFill></Fill></PolygonSymbolizer>"
        if not symbol.colour:
            outline = f"<LineSymbolizer><Stroke>{stroke}</Stroke></LineSymbolizer>"
            return hatching + outline
    return f"<PolygonSymbolizer>{fill}<Stroke>{stroke}</Stroke></PolygonSymbolizer>{hatching}"


def qml_symbol(symbol: Fill | Marker, name: str) -> str:
    """Return a symbol in the desktop GIS's style language; lengths in mm."""
    if isinstance(symbol, Marker):
        options = {
            "name": "cross2" if symbol.shape == "x" else symbol.shape,
            "color": _rgba(symbol.colour),
            "outline_color": _rgba(symbol.outline),
            "outline_width": f"{_OUTLINE_PX * _MM_PER_PIXEL:g}",
            "outline_width_unit": "MM",
            "size": f"{symbol.size_px * _MM_PER_PIXEL:g}",
            "size_unit": "MM",
        }
        return _qml(name, "marker", "SimpleMarker", [options])
    outline = {
        "outline_color": _rgba(symbol.outline),
        "outline_style": "dash" if symbol.dashed else "solid",
        "outline_width": f"{(_DASHED_PX if symbol.dashed else _OUTLINE_PX) * _MM_PER_PIXEL:g}",
        "outline_width_unit": "MM",
    }
    plain = {
        "color": _rgba(symbol.colour or "#ffffff"),
        "style": "solid" if symbol.colour else "no",
        **outline,
    }
    if not symbol.hatch:
        return _qml(name, "fill", "SimpleFill", [plain])
    lines = {
        "color": _rgba(_HATCH_COLOUR),
        "style": "diagonal_x" if symbol.hatch == "x" else "cross",
        "outline_style": "no",
    }
    return _qml(name, "fill", "SimpleFill", [plain, lines])


def _sld_graphic(shape: str, colour: str, outline: str, size_px: float) -> str:
    """Return a Graphic element with one of the well-known marks."""
    return (
        f"<Graphic><Mark><WellKnownName>{shape}</WellKnownName><Fill>{_parameter('fill', colour)}</Fill>"
        f"<Stroke>{_parameter('stroke', outline)}{_parameter('stroke-width', f'{_OUTLINE_PX:g}')}</Stroke></Mark>"
        f"<Size>{size_px:g}</Size></Graphic>"
    )


def _parameter(name: str, value: str) -> str:
    """Return a CssParameter element."""
    return f'<CssParameter name="{name}">{value}</CssParameter>'


def _qml(name: str, kind: str, layer: str, layers: list[dict[str, str]]) -> str:
    """Return a symbol of layers of one class, each with its options."""
    parts = "".join(
        f'<layer class="{layer}" enabled="1" locked="0" pass="0">'
        f'<Option type="Map">{_options(options)}</Option></layer>'
        for options in layers
    )
    return f'<symbol type="{kind}" name="{name}" alpha="1" clip_to_extent="1" force_rhr="0">{parts}</symbol>'


def _options(options: dict[str, str]) -> str:
    """Return the options of a symbol layer."""
    return "".join(f'<Option type="QString" name="{key}" value="{value}"/>' for key, value in options.items())


def _rgba(colour: str) -> str:
    """Return #rrggbb as ``r,g,b,255``."""
    return ",".join(str(int(colour[at : at + 2], 16)) for at in (1, 3, 5)) + ",255"
