"""Degrees as people write them: with a letter for the side, or in degrees, minutes and seconds."""

from __future__ import annotations

import polars as pl

_NUMBER = r"\d{1,3}(?:[.,]\d+)?"
_MARKED = (
    r"^([NSEWO])?\s*([+-])?(?<degrees>" + _NUMBER + r")(?<first>\s*[°:\-]\s*|\s+)?"
    r"(?:(?<minutes>"
    + _NUMBER
    + r")(?<second>\s*[':\-]\s*|\s+)?(?:(?<seconds>"
    + _NUMBER
    + r")\s*\"?)?)?\s*([NSEWO])?$"
)
_SIGNS = {
    "º": "°", "˚": "°", "′": "'", "’": "'", "‘": "'", "´": "'", "''": '"', "″": '"', "”": '"', "“": '"', "−": "-",
    "–": "-",
}  # fmt: skip
_PARTS = 60.0


def degrees_in_parts(text: pl.Series, *, is_longitude: bool) -> pl.Series:
    """Read degrees that are no plain numbers.

    Parameters
    ----------
    text : polars.Series of str
        Cells, for instance ``22°45'30"N``, ``22 45 30 N``, ``22-45-30``, ``22:45:30``, ``22°45.5'``, ``N 22,7583``.
    is_longitude : bool
        Which letters belong to the column: E and W, or N and S. ``O`` is east in German and west in the
        Romance languages: it is read only where the other cells of the column have W or E, but not both.

    Returns
    -------
    polars.Series of float
        Degrees, south and west negative; missing where the cell is none of these forms: minutes or seconds of
        60 or more, decimals in another part than the last, a sign and a letter at once, a letter of the other
        axis, or two numbers with neither a degree sign nor a letter.
    """
    plain = text.str.to_uppercase()
    for sign, usual in _SIGNS.items():
        plain = plain.str.replace_all(sign, usual, literal=True)
    names = ["before", "sign", "degrees", "first", "minutes", "second", "seconds", "after"]
    groups = plain.str.extract_groups(_MARKED).struct.unnest()
    parts = groups.rename(dict(zip(groups.columns, names, strict=True)))
    letter = pl.coalesce("before", "after")
    values = {
        name: pl.col(name).str.replace(",", ".", literal=True).cast(pl.Float64) for name in names[2:7:2]
    }
    in_parts = parts.with_columns(letter.alias("letter"), **values)
    with_decimals = [pl.col(name).str.contains(r"[.,]") for name in ("degrees", "minutes")]
    misplaced = parts.select(
        (with_decimals[0] & pl.col("minutes").is_not_null())
        | (with_decimals[1] & pl.col("seconds").is_not_null()).fill_null(value=False)
    ).to_series()
    marked = (
        pl.col("first").str.contains("°", literal=True).fill_null(value=False)
        | pl.col("letter").is_not_null()
        | pl.col("seconds").is_not_null()
    )
    parted = pl.col("minutes").is_null() | pl.col("first").is_not_null()
    ends = pl.col("seconds").is_null() | pl.col("second").is_not_null()
    good = (
        pl.col("degrees").is_not_null()
        & ~pl.Series(misplaced).fill_null(value=False)
        & marked
        & parted
        & ends
        & (pl.col("minutes").fill_null(0) < _PARTS)
        & (pl.col("seconds").fill_null(0) < _PARTS)
        & ~(pl.col("before").is_not_null() & pl.col("after").is_not_null())
        & ~(pl.col("sign").is_not_null() & pl.col("letter").is_not_null())
    )
    size = pl.col("degrees") + pl.col("minutes").fill_null(0) / 60 + pl.col("seconds").fill_null(0) / 3600
    by_letter = _sides(in_parts["letter"], is_longitude=is_longitude)
    by_sign = pl.when(pl.col("sign") == "-").then(-1.0).otherwise(1.0)
    side = pl.when(pl.col("letter").is_null()).then(by_sign).otherwise(by_letter)
    return in_parts.select(pl.when(good).then(size * side)).to_series().alias(text.name)


def _sides(letters: pl.Series, *, is_longitude: bool) -> pl.Expr:
    """Return 1 for the letters of the positive side of the axis and −1 for those of the other."""
    there = set(letters.drop_nulls().unique())
    positive, negative = ({"E"}, {"W"}) if is_longitude else ({"N"}, {"S"})
    if is_longitude and "W" in there and "E" not in there:
        positive = {"E", "O"}
    elif is_longitude and "E" in there and "W" not in there:
        negative = {"W", "O"}
    letter = pl.col("letter")
    return pl.when(letter.is_in(list(positive))).then(1.0).when(letter.is_in(list(negative))).then(-1.0)
