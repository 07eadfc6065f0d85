"""Degrees as people write them: with a letter for the side, in degrees and minutes, or with seconds as well."""

from __future__ import annotations

import polars as pl

_NUMBER = r"\d{1,3}(?:[.,]\d+)?"
_LETTERS = "[NSEWO]|NORTH|SOUTH|EAST|WEST"
_DEGREE = r"(?:°|D(?:EG(?:REES?)?)?\.?)"
_MINUTE = r"(?:'|M(?:IN(?:UTES?)?)?\.?)"
_SECOND = r"(?:\"|SEC(?:ONDS?)?\.?)"
_FORM = (
    rf"^(?P<before>{_LETTERS})?\s*(?P<sign>[+-])?\s*(?P<degrees>{_NUMBER})"
    rf"(?:(?P<first>\s*(?:{_DEGREE}|O|[:\-])\s*|\s+)(?P<minutes>{_NUMBER})"
    rf"(?:(?P<second>\s*(?:{_MINUTE}|[:\-])\s*|\s+)"
    rf"(?:(?P<seconds>{_NUMBER})\s*(?P<third>{_SECOND}|S)??)?)?|\s*(?P<alone>{_DEGREE}))?"
    rf"\s*(?P<after>{_LETTERS})?$"
)
_GROUPS = ("before", "sign", "degrees", "first", "minutes", "second", "seconds", "third", "alone", "after")
_SIGNS = {
    "º": "°", "˚": "°", "′": "'", "’": "'", "‘": "'", "´": "'", "`": "'", "ʹ": "'", "''": '"', "″": '"', "”": '"',
    "“": '"', "ʺ": '"', "−": "-", "–": "-",
}  # fmt: skip
_PARTS = 60.0
_WHY, _DEGREES = "why", "degrees"


def read_degrees(text: pl.Series, *, is_longitude: bool) -> pl.DataFrame:
    """Read degrees that are no plain numbers.

    Parameters
    ----------
    text : polars.Series of str
        Cells, for instance ``22°45'30"N``, ``22d45m30s N``, ``22 45 30 N``, ``22-45-30``, ``22:45:30``, ``22°45.5'``,
        ``22 45,5``, ``N 22,7583`` (the table in docs/field_files.md). Any capitals; every usual sign for degrees,
        minutes and seconds; point or comma.
    is_longitude : bool
        Which letters belong to the column: E and W, or N and S. ``O`` is east in German and west in the
        Romance languages: it is read only where the other cells of the column have W or E, but not both.

    Returns
    -------
    polars.DataFrame
        A row a cell.

        - ``degrees`` (float): south and west negative; missing where the cell is none of these forms.
        - ``why`` (str): what is wrong with a cell that looks like degrees but is not read: minutes or seconds of 60
          or more, decimals in another part than the last, a sign and a letter at once, a letter of the other axis,
          two numbers that nothing marks as degrees and minutes. Missing where it was read, or looks like none.
    """
    spelled = text.str.strip_chars()
    for sign, usual in _SIGNS.items():
        spelled = spelled.str.replace_all(sign, usual, literal=True)
    groups = spelled.str.to_uppercase().str.extract_groups(_FORM).struct.unnest()
    parts = groups.rename(dict(zip(groups.columns, _GROUPS, strict=True))).with_columns(
        spelled.str.contains(r"S\s*$").fill_null(value=False).alias("capital_s")
    )
    parts = _second_or_south(parts, is_longitude=is_longitude)
    letter = pl.coalesce("before", "after").str.slice(0, 1)
    numbers = {
        f"{name}_value": pl.col(name).str.replace(",", ".", literal=True).cast(pl.Float64)
        for name in ("degrees", "minutes", "seconds")
    }
    parts = parts.with_columns(letter.alias("letter"), **numbers)
    size = (
        pl.col("degrees_value")
        + pl.col("minutes_value").fill_null(0) / _PARTS
        + pl.col("seconds_value").fill_null(0) / _PARTS**2
    )
    by_letter = _sides(parts["letter"], is_longitude=is_longitude)
    by_sign = pl.when(pl.col("sign") == "-").then(-1.0).otherwise(1.0)
    side = pl.when(pl.col("letter").is_null()).then(by_sign).otherwise(by_letter)
    told = parts.with_columns(_faults(side, is_longitude=is_longitude).alias(_WHY))
    is_angle = pl.col("degrees").is_not_null() & _marked() & pl.col(_WHY).is_null()
    return told.select(pl.when(is_angle).then(size * side).alias(_DEGREES), _WHY)


def _second_or_south(parts: pl.DataFrame, *, is_longitude: bool) -> pl.DataFrame:
    """Take an S after d and m for seconds, but not a capital one in a column of latitudes: that may be south."""
    lettered = pl.col("first").str.contains("D") & pl.col("second").str.contains("M")
    only_s = (pl.col("after") == "S") & pl.col("third").is_null() & pl.col("seconds").is_not_null()
    for_seconds = (lettered & only_s).fill_null(value=False)
    doubtful = for_seconds & pl.col("capital_s") & (not is_longitude) & pl.col("before").is_null()
    return parts.with_columns(
        pl.when(for_seconds & ~doubtful).then(None).otherwise(pl.col("after")).alias("after"),
        doubtful.alias("doubtful"),
    )


def _marked() -> pl.Expr:
    """Say whether anything tells degrees from a plain number, or from two numbers in one cell."""
    first = pl.col("first").str.strip_chars()
    return (
        pl.col("alone").is_not_null()
        | pl.coalesce("before", "after").is_not_null()
        | pl.col("seconds").is_not_null()
        | first.is_in(["", "-"]).not_().fill_null(value=False)
        | pl.col("minutes").str.contains(r"[.,]").fill_null(value=False)
    )


def _faults(side: pl.Expr, *, is_longitude: bool) -> pl.Expr:
    """Return why something that looks like degrees is not read."""

    def decimals(name: str) -> pl.Expr:
        """Say whether a part has decimals."""
        return pl.col(name).str.contains(r"[.,]").fill_null(value=False)

    has_minutes, has_seconds = pl.col("minutes").is_not_null(), pl.col("seconds").is_not_null()
    axis, letters = ("longitude", "E or W") if is_longitude else ("latitude", "N or S")
    faults = (
        (pl.col("before").is_not_null() & pl.col("after").is_not_null(), "it has two letters for the side"),
        (
            pl.col("sign").is_not_null() & pl.col("letter").is_not_null(),
            "it has a sign and a letter for the side: keep one",
        ),
        (pl.col("doubtful"), "the S at its end may be seconds or south"),
        (
            pl.col("letter").is_not_null() & side.is_null(),
            f"its letter does not say the side of a {axis}, which is {letters}",
        ),
        ((decimals("degrees") & has_minutes) | (decimals("minutes") & has_seconds),
         "only the last of its parts may have decimals"),
        (pl.col("minutes_value") >= _PARTS, "its minutes are 60 or more"),
        (pl.col("seconds_value") >= _PARTS, "its seconds are 60 or more"),
        (has_minutes & ~_marked(), "nothing marks it as degrees and minutes: write 22°45' or 22:45"),
    )  # fmt: skip
    looks = pl.col("degrees").is_not_null()
    return pl.coalesce(
        *(pl.when(looks & which.fill_null(value=False)).then(pl.lit(why)) for which, why in faults)
    )


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
