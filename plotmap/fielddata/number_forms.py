"""Numbers as people write them: in the digits of any script, and with their unit in the cell."""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Callable

import polars as pl

from plotmap.fielddata.headings import Heading
from plotmap.units import Dimension, Unit, conversion_factor, units_of

_ASCII = 128
_SIGNS = {
    "٫": ".",
    "．": ".",
    "，": ",",
    "−": "-",
    "－": "-",
    "＋": "+",
    "％": "%",
    "\u200e": "",
    "\u200f": "",
    "\u061c": "",
}
"""Decimal marks and signs that go with other digits; marks of the direction of writing say nothing."""
_WITH_UNIT = r"^([+-]?(?:[0-9]+[.,]?[0-9]*|[.,][0-9]+))\s*([^0-9.,\s+-].*)$"
_WORDS = {
    "mm": ("mm", "millimetre", "millimetres", "millimeter", "millimeters"),
    "cm": ("cm", "centimetre", "centimetres", "centimeter", "centimeters"),
    "m": ("m", "metre", "metres", "meter", "meters"),
    "in": ("in", "inch", "inches"),
    "ft": ("ft", "foot", "feet"),
    "m2": ("m2", "m²", "sq m", "sqm"),
    "ha": ("ha", "hectare", "hectares"),
    "ft2": ("ft2", "ft²", "sq ft", "sqft"),
    "ac": ("ac", "acre", "acres"),
    "pct": ("%", "pct", "percent", "per cent"),
    "deg": ("°", "deg", "degree", "degrees"),
    "gon": ("gon",),
}
"""How units are written in cells; quotes for feet and inches are not taken, as they also stand for minutes."""


def in_ascii_digits(text: pl.Series) -> pl.Series:
    """Return cells with the decimal digits of every script as 0 to 9.

    Parameters
    ----------
    text : polars.Series of str
        Cells.

    Returns
    -------
    polars.Series of str
        Any Unicode decimal digit (category Nd) becomes the ASCII digit of its value, and the decimal marks and signs
        written with them become ASCII ones. Cells without such digits, and cells that mix the digits of two
        scripts, stay as they are.
    """
    foreign = text.str.len_bytes() != text.str.len_chars()
    if not foreign.any():
        return text
    letters = set("".join(text.filter(foreign).unique().drop_nulls().to_list()))
    digits = {c: unicodedata.decimal(c) for c in letters if unicodedata.category(c) == "Nd"}
    scripts: dict[int, list[str]] = {}
    for letter, value in digits.items():
        scripts.setdefault(ord(letter) - value, []).append(letter)
    if not scripts.keys() - {ord("0")}:
        return text
    signs = {sign: usual for sign, usual in _SIGNS.items() if sign in letters}
    usual = {letter: str(value) for letter, value in digits.items()} | signs
    n_scripts = pl.sum_horizontal(
        pl.col("text").str.contains("[" + "".join(map(re.escape, own)) + "]").cast(pl.Int8)
        for own in scripts.values()
    )
    others = [letter for letter in digits if ord(letter) >= _ASCII]
    changed = pl.col("text").str.replace_many(list(usual), list(usual.values()))
    has_other = pl.col("text").str.contains("[" + "".join(others) + "]")
    frame = pl.DataFrame({"text": text})
    return frame.select(
        pl.when(has_other & (n_scripts == 1)).then(changed).otherwise(pl.col("text"))
    ).to_series()


def split_units(text: pl.Series, heading: Heading) -> tuple[pl.Series, pl.Series]:
    """Part numbers from units written beside them.

    Parameters
    ----------
    text : polars.Series of str
        Cells that are no plain numbers.
    heading : Heading
        Says which units can be meant: those of its column's dimension, or the column's only unit.

    Returns
    -------
    number, suffix : polars.Series of str
        The number as written and the suffix of its unit (of `plotmap.units`); both missing where the cell is no
        number with such a unit.
    """
    parts = text.str.extract_groups(_WITH_UNIT).struct.unnest()
    number, word = (parts.to_series(i) for i in range(2))
    word = word.str.strip_chars(" .").str.to_lowercase().str.replace_all(r"\s+", " ")
    words = {word: suffix for suffix, written in allowed_units(heading).items() for word in written}
    suffix = (
        word.replace_strict(words, default=None, return_dtype=pl.String) if words else word.clear(len(word))
    )
    both = pl.DataFrame({"number": number, "suffix": suffix}).select(
        pl.when(pl.col("suffix").is_not_null()).then("number"), "suffix"
    )
    return both.to_series(0), both.to_series(1)


def allowed_units(heading: Heading) -> dict[str, tuple[str, ...]]:
    """Return how the units that a column can be written in are spelled, by their suffix."""
    column = heading.column
    if column.dimension is not None:
        return {suffix: _WORDS[suffix] for suffix in units_of(column.dimension)}
    plain = column.unit.lower()
    return {plain: (plain, plain.replace("²", "2"))} if plain else {}


def to_heading_unit(heading: Heading, suffix: str) -> Callable[[pl.Expr], pl.Expr]:
    """Return what brings a number in a unit of the column's dimension into the unit of its heading."""
    column = heading.column
    own = own_suffix(heading)
    if column.dimension is None or suffix == own:
        return lambda value: value
    if column.dimension is Dimension.SLOPE:
        if suffix == "deg":
            return lambda value: (value * (math.pi / 180)).tan() * 100
        return lambda value: (value / 100).arctan() * (180 / math.pi)
    factor = conversion_factor(column.dimension, suffix, own)
    return lambda value: value * factor


def own_suffix(heading: Heading) -> str:
    """Return the suffix of a heading's unit."""
    return heading.unit.suffix if heading.unit else heading.column.unit.lower()


def unit_label(heading: Heading, suffix: str) -> str:
    """Return a unit as printed."""
    units: dict[str, Unit] = units_of(heading.column.dimension) if heading.column.dimension else {}
    return units[suffix].label if suffix in units else heading.column.unit
