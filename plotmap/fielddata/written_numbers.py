"""Reading the numbers of a column, in the unit of the file: decimal marks, angles, other digits, units in cells."""

from __future__ import annotations

import numpy as np
import polars as pl
from numpy.typing import NDArray

from plotmap.fielddata.angles import read_degrees
from plotmap.fielddata.cells import RAW, VALUE, Cells
from plotmap.fielddata.number_forms import (
    in_ascii_digits,
    own_suffix,
    split_units,
    to_heading_unit,
    unit_label,
)
from plotmap.model.field_tables import SOURCE_ROW
from plotmap.model.findings import Findings, finding

_THOUSANDS = r"^[+-]?[1-9]\d{0,2},\d{3}$"
_WHY = "_why"
_AXES = ("lon", "lat")
_OTHER_DIGIT = r"[\p{Nd}--[0-9]]"


def numbers_as_written(cells: Cells) -> tuple[pl.Series, Findings]:
    """Read numbers with a decimal point or comma, in the unit of the file.

    Parameters
    ----------
    cells : Cells
        A column of numbers.

    Returns
    -------
    value : polars.Series of float
        Missing where blank, or where it cannot be read.
    findings : Findings
        number-unreadable, decimal-mixed, comma-thousands, other-digits, unit-in-cell, angle-in-parts.
    """
    why = pl.Series(_WHY, [None], dtype=pl.String).new_from_index(0, len(cells.raw))
    if cells.raw.dtype.is_numeric():
        value, found = cells.raw.cast(pl.Float64), Findings.none()
    else:
        value, found, why = _from_text(cells, why)
    faulty = (
        cells.frame(value)
        .with_columns(why.alias(_WHY))
        .filter(pl.col(RAW).is_not_null() & ~pl.col(VALUE).is_finite().fill_null(value=False))
    )
    reason = pl.coalesce(pl.format("; {}", _WHY), pl.lit(""))
    message = pl.format(f"{cells.heading.written} is {{}}, but must be a number{{}}", RAW, reason)
    value = pl.select(pl.when(value.is_finite()).then(value)).to_series()
    return value, Findings.join([found, cells.findings("number-unreadable", faulty, message)])


def _from_text(cells: Cells, why: pl.Series) -> tuple[pl.Series, Findings, pl.Series]:
    """Read numbers from text: plain, in other digits, with units, as angles; say why others are not read."""
    text = cells.text
    value = _plain(text)
    found: list[Findings] = []
    if value.null_count() > text.null_count():
        text, told = _other_digits(cells, value, text)
        value = _plain(text)
        found.append(told)
    if value.null_count() > text.null_count() and cells.heading.name not in _AXES:
        value, text, told = _without_units(cells, value, text)
        found.append(told)
    found += [_mixed_marks(cells, text), _thousands(cells, text)]
    if cells.heading.name in _AXES and value.null_count() > text.null_count():
        value, why, told = _with_angles(cells, value, text)
        found.append(told)
    return value, Findings.join(found), why


def _plain(text: pl.Series) -> pl.Series:
    """Return plain numbers, missing where a cell is none."""
    value = text.str.replace(",", ".", literal=True).cast(pl.Float64, strict=False)
    return pl.select(pl.when(value.is_finite()).then(value)).to_series()


def _other_digits(cells: Cells, value: pl.Series, text: pl.Series) -> tuple[pl.Series, Findings]:
    """Return the cells in ASCII digits, and other-digits where that makes a number of any."""
    failed = _failed(value, text)
    written = text.gather(failed)
    changed = in_ascii_digits(written)
    differs = changed != written
    if not differs.any():
        return text, Findings.none()
    told = text.clone().scatter(failed, changed)
    number, _ = split_units(changed, cells.heading)
    places = failed[(differs & (_plain(changed).is_not_null() | number.is_not_null())).to_numpy()]
    if not len(places):
        return told, Findings.none()
    first = int(places[0])
    are = "1 cell is" if len(places) == 1 else f"{len(places)} cells are"
    where = cells.table.listed(places, cells.heading.position)
    read = f"{cells.text[first]} is read as {told[first]}"
    message = f"in {cells.heading.written} {are} written in other digits ({where}); {read}"
    return told, cells.told("other-digits", message, first)


def _failed(value: pl.Series, text: pl.Series) -> NDArray[np.int64]:
    """Return the places of cells that hold something, but of which no number was made."""
    return np.flatnonzero((value.is_null() & text.is_not_null()).to_numpy())


def _without_units(cells: Cells, value: pl.Series, text: pl.Series) -> tuple[pl.Series, pl.Series, Findings]:
    """Return values and cells without the units written in them, in the heading's unit, and unit-in-cell."""
    failed = _failed(value, text)
    number, suffix = split_units(text.gather(failed), cells.heading)
    value, text = value.clone(), text.clone()
    found: list[Findings] = []
    for unit in suffix.drop_nulls().unique().sort().to_list():
        of_unit = (suffix == unit).fill_null(value=False)
        places, plain = failed[of_unit.to_numpy()], number.filter(of_unit)
        read = pl.select(to_heading_unit(cells.heading, unit)(pl.lit(_plain(plain)))).to_series()
        value, text = value.scatter(places, read), text.scatter(places, plain)
        found.append(_unit_told(cells, unit, places, read[0]))
    return value, text, Findings.join(found)


def _unit_told(cells: Cells, unit: str, places: NDArray[np.int64], first_value: float) -> Findings:
    """Return unit-in-cell for all cells of a column that are written in one unit."""
    heading, first = cells.heading, int(places[0])
    own = own_suffix(heading)
    read = f"{first_value:.10g}" + ("" if unit == own else f" {unit_label(heading, own)}")
    what = "with the unit" if unit == own else f"in {unit_label(heading, unit)}"
    are = "1 cell is" if len(places) == 1 else f"{len(places)} cells are"
    where = cells.table.listed(places, heading.position)
    message = f"in {heading.written} {are} written {what} ({where}); {cells.text[first]} is read as {read}"
    return cells.told("unit-in-cell", message, first)


def _with_angles(cells: Cells, value: pl.Series, text: pl.Series) -> tuple[pl.Series, pl.Series, Findings]:
    """Fill in degrees in parts or with a letter; return also why others are not read, and angle-in-parts."""
    ascii_only = pl.select(pl.when(~text.str.contains(_OTHER_DIGIT)).then(text)).to_series()
    angles, why = read_degrees(ascii_only, is_longitude=cells.heading.name == "lon").get_columns()
    taken = value.is_null() & angles.is_not_null()
    if not taken.any():
        return value, why, Findings.none()
    first = cells.frame(angles).filter(taken).row(0, named=True)
    n_taken = int(taken.sum())
    name = cells.heading.written
    read = "1 cell is" if n_taken == 1 else f"{n_taken} cells are"
    message = f"in {name} {read} no plain number; {first[RAW]} is read as {first[VALUE]:.6f}°"
    told = finding(
        "angle-in-parts", cells.source, message, row=first[SOURCE_ROW], column=name, value=first[RAW]
    )
    return value.fill_null(angles), why, told


def _mixed_marks(cells: Cells, text: pl.Series) -> Findings:
    """Return decimal-mixed where a column has both points and commas."""
    comma = text.str.contains(",", literal=True).fill_null(value=False)
    n_point = int(text.str.contains(".", literal=True).fill_null(value=False).sum())
    if not comma.any() or not n_point:
        return Findings.none()
    first = cells.frame().filter(comma).row(0, named=True)
    name = cells.heading.written
    n_comma = int(comma.sum())
    commas = "1 cell" if n_comma == 1 else f"{n_comma} cells"
    message = f"{name} has {commas} with a decimal comma and {n_point} with a decimal point"
    return finding(
        "decimal-mixed", cells.source, message, row=first[SOURCE_ROW], column=name, value=first[RAW]
    )


def _thousands(cells: Cells, text: pl.Series) -> Findings:
    """Return comma-thousands where every comma of a column stands before exactly three digits."""
    comma = text.str.contains(",", literal=True).fill_null(value=False)
    if not comma.any() or not text.filter(comma).str.contains(_THOUSANDS).all():
        return Findings.none()
    first = cells.frame().filter(comma).row(0, named=True)
    n_commas = int(comma.sum())
    all_of = "the 1 comma stands" if n_commas == 1 else f"all {n_commas} commas stand"
    message = f"in {cells.heading.written} {all_of} before three digits, as in {first[RAW]}; read as a decimal comma"
    return finding(
        "comma-thousands",
        cells.source,
        message,
        row=first[SOURCE_ROW],
        column=cells.heading.written,
        value=first[RAW],
    )
