"""From cells as written to typed columns in plotmap's units; every cell that cannot be read is a finding."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import polars as pl

from plotmap.fielddata.angles import read_degrees
from plotmap.fielddata.headings import Heading
from plotmap.fielddata.raw import RawTable
from plotmap.model.columns import Column, Kind, Table
from plotmap.model.field_tables import SOURCE_ROW
from plotmap.model.finding_rules import RULES
from plotmap.model.findings import Findings, finding, findings_of
from plotmap.units import Dimension

_ISO_DATE = r"^(\d{4}-\d{2}-\d{2})(?:[T ].*)?$"
_TYPES: dict[Kind, pl.DataType] = {
    Kind.NUMBER: pl.Float64(),
    Kind.COUNT: pl.Int64(),
    Kind.DATE: pl.Date(),
}
_THOUSANDS = r"^[+-]?[1-9]\d{0,2},\d{3}$"
_DAY_FIRST = r"^(\d{1,2})[./-]\d{1,2}[./-]\d{4}$"
_MOST_MONTHS = 12
_AXES = ("lon", "lat")
_EXACT = 2.0**53
"""Whole numbers below this are exact in a float."""
_SHOWN = 200
_PLACE = "_place"
_RAW = "_raw"
_WHY = "_why"
_VALUE = "_value"


@dataclass(frozen=True, slots=True)
class TypedTable:
    """A table in its declared types and units.

    Attributes
    ----------
    frame : polars.DataFrame
        Every declared column (null where the file has none; numbered ones as often as they came) and
        ``source_row``.
    n_read, n_blank : int
        Rows of the file, and the blank ones among them, which are not in `frame`.
    kept : polars.Series of int
        Places of the rows of `frame` among the rows of the file, from 0.
    findings : Findings
        Of conversion.
    """

    frame: pl.DataFrame
    n_read: int
    n_blank: int
    kept: pl.Series
    findings: Findings


def empty_frame(table: Table) -> pl.DataFrame:
    """Return the typed table without rows, for a table that is not there."""
    schema = {_first_name(column): _TYPES.get(column.kind, pl.String()) for column in table.columns}
    return pl.DataFrame(schema=schema | {SOURCE_ROW: pl.Int64()})


def convert(table: Table, raw: RawTable, headings: list[Heading], source: str) -> TypedTable:
    """Convert all cells of a file.

    Parameters
    ----------
    table : Table
        Declaration.
    raw : RawTable
        Cells as written.
    headings : list of Heading
        The headings that were understood.
    source : str
        File, for findings.

    Returns
    -------
    TypedTable
        With the findings number-unreadable, decimal-mixed, comma-thousands, angle-in-parts,
        date-unreadable, choice-unknown, value-missing,
        value-out-of-range and row-blank.
    """
    kept = _filled_rows(raw)
    n_read, n_blank = raw.cells.height, raw.cells.height - kept.height
    rows = (kept[_PLACE].cast(pl.Int64) + raw.first_row).alias(SOURCE_ROW)
    findings = [raw.findings]
    if n_blank:
        words = "row is" if n_blank == 1 else "rows are"
        findings.append(finding("row-blank", source, f"{n_blank} of {n_read} {words} blank"))
    plot = next((_text_of(kept[f"c{h.position}"]) for h in headings if h.name == "plot"), None)
    columns: dict[str, pl.Series] = {}
    for heading in headings:
        cell = _Cells(kept[f"c{heading.position}"], rows, plot, heading, source)
        series, found = _CONVERTERS.get(heading.column.kind, _as_text)(cell)
        columns[heading.name] = series.alias(heading.name)
        findings.append(found)
        if heading.column.required:
            findings.append(_blank_cells(cell))
    frame = _complete(table, pl.DataFrame([*columns.values(), rows]), rows)
    return TypedTable(frame, n_read, n_blank, kept[_PLACE], Findings.join(findings))


def _filled_rows(raw: RawTable) -> pl.DataFrame:
    """Return the rows that hold anything, text without blanks at its ends; a feature with geometry always does."""
    text = pl.col(pl.String).str.strip_chars().replace("", None)
    cells = raw.cells.with_columns(text).with_row_index(_PLACE, offset=0)
    if raw.geometry is not None:
        return cells
    return cells.filter(pl.any_horizontal(pl.exclude(_PLACE).is_not_null()))


@dataclass(frozen=True, slots=True)
class _Cells:
    """One column of cells with what findings about it need."""

    raw: pl.Series
    rows: pl.Series
    plot: pl.Series | None
    heading: Heading
    source: str

    def frame(self, value: pl.Series | None = None) -> pl.DataFrame:
        """Return rows, plots, cells as text and values side by side."""
        nothing = pl.Series("plot", [None], dtype=pl.String).new_from_index(0, len(self.raw))
        series = [
            self.rows,
            (nothing if self.plot is None else self.plot).alias("plot"),
            _shortened(self.text).alias(_RAW),
        ]
        return pl.DataFrame(series if value is None else [*series, value.alias(_VALUE)])

    @property
    def text(self) -> pl.Series:
        """Cells as text."""
        return _text_of(self.raw)

    def findings(
        self, code: str, faulty: pl.DataFrame, message: pl.Expr, hint: pl.Expr | None = None
    ) -> Findings:
        """Return one finding for each faulty row."""
        if not faulty.height:
            return Findings.none()
        return findings_of(
            code,
            faulty,
            self.source,
            message,
            plot="plot",
            column=self.heading.written,
            value=_RAW,
            hint=hint,
        )


def _first_name(column: Column) -> str:
    """Return the name a column has in frames; the first of numbered ones."""
    return f"d1_{column.suffix}" if column.numbered else column.name


def _complete(table: Table, frame: pl.DataFrame, rows: pl.Series) -> pl.DataFrame:
    """Add the columns the file does not have, and put all in the declared order."""
    missing = {
        _first_name(column): pl.lit(None, dtype=_TYPES.get(column.kind, pl.String()))
        for column in table.columns
        if not column.numbered and column.name not in frame.columns
    }
    readings = sorted(
        (n for n in frame.columns if n[0] == "d" and n[1:2].isdigit()), key=lambda n: int(n[1:-3])
    )
    if not readings and any(column.numbered for column in table.columns):
        missing["d1_cm"] = pl.lit(None, dtype=pl.Float64())
        readings = ["d1_cm"]
    order: list[str] = []
    for column in table.columns:
        order += readings if column.numbered else [column.name]
    return frame.with_columns(**missing).select(*order, rows.name)


def _as_text(cells: _Cells) -> tuple[pl.Series, Findings]:
    """Convert to text."""
    return cells.text, Findings.none()


def _as_choice(cells: _Cells) -> tuple[pl.Series, Findings]:
    """Convert to one of the words allowed, without regard to capitals."""
    column = cells.heading.column
    words = cells.text.str.to_lowercase()
    if "yes" in column.choices:
        words = words.replace({"true": "yes", "false": "no"})
    value = pl.select(pl.when(words.is_in(list(column.choices))).then(words)).to_series()
    faulty = cells.frame(value).filter(pl.col(_RAW).is_not_null() & pl.col(_VALUE).is_null())
    message = pl.format(f"{cells.heading.written} is {{}}, but must be one of: {column.allowed}", _RAW)
    return value, cells.findings("choice-unknown", faulty, message)


def _as_date(cells: _Cells) -> tuple[pl.Series, Findings]:
    """Convert to dates; a time of day after the date is left out."""
    if cells.raw.dtype in (pl.Date, pl.Datetime):
        return cells.raw.cast(pl.Date), Findings.none()
    value = cells.text.str.extract(_ISO_DATE).str.to_date("%Y-%m-%d", strict=False)
    faulty = cells.frame(value).filter(pl.col(_RAW).is_not_null() & pl.col(_VALUE).is_null())
    name = cells.heading.written
    either = pl.col(_RAW).str.contains(_DAY_FIRST)
    why = (
        pl.when(either).then(pl.lit("; day and month cannot be told apart in general")).otherwise(pl.lit(""))
    )
    message = pl.format(f"{name} is {{}}, but must be a day as YYYY-MM-DD{{}}", _RAW, why)
    return value, cells.findings("date-unreadable", faulty, message, _day_first_hint(faulty[_RAW]))


def _day_first_hint(texts: pl.Series) -> pl.Expr | None:
    """Return a hint where all dates that were refused can be day, month, year, and one of them nothing else."""
    days = texts.str.extract(_DAY_FIRST).cast(pl.Int64, strict=False)
    plain = texts.str.replace_all(r"[/-]", ".")
    if days.null_count() or plain.str.to_date("%d.%m.%Y", strict=False).null_count():
        return None
    if not (days > _MOST_MONTHS).any():
        return None
    return pl.lit("All of them can be day, month, year. If that is meant, write them as YYYY-MM-DD.")


def _as_number(cells: _Cells) -> tuple[pl.Series, Findings]:
    """Convert to numbers in the column's unit and check their range."""
    written, found = _numbers_as_written(cells)
    value = _to_unit(written, cells.heading)
    column = cells.heading.column
    tolerance = 1e-9
    low = -math.inf if column.low is None else column.low - tolerance
    high = math.inf if column.high is None else column.high + tolerance
    faulty = cells.frame(value).filter(~pl.col(_VALUE).is_between(low, high))
    message = pl.format(f"{cells.heading.written} is {{}}, outside {_range(cells.heading)}", _RAW)
    out = cells.findings("value-out-of-range", faulty, message, _slip_hint(cells.heading))
    return value, Findings.join([found, out])


def _as_count(cells: _Cells) -> tuple[pl.Series, Findings]:
    """Convert to whole numbers and check their range."""
    value, found = _as_number(cells)
    fraction = cells.frame(value).filter(pl.col(_VALUE) != pl.col(_VALUE).round(0))
    message = pl.format(f"{cells.heading.written} is {{}}, but must be a whole number", _RAW)
    out = cells.findings("number-unreadable", fraction, message)
    whole = pl.select(pl.when(value == value.round(0)).then(value)).to_series()
    return whole.cast(pl.Int64, strict=False), Findings.join([found, out])


def _numbers_as_written(cells: _Cells) -> tuple[pl.Series, Findings]:
    """Read numbers with a decimal point or comma, in the unit of the file."""
    why = pl.Series(_WHY, [None], dtype=pl.String).new_from_index(0, len(cells.raw))
    if cells.raw.dtype.is_numeric():
        value = cells.raw.cast(pl.Float64)
        found = Findings.none()
    else:
        text = cells.text
        value = text.str.replace(",", ".", literal=True).cast(pl.Float64, strict=False)
        value = pl.select(pl.when(value.is_finite()).then(value)).to_series()
        found = Findings.join([_mixed_marks(cells, text), _thousands(cells, text)])
        if cells.heading.name in _AXES and value.null_count() > text.null_count():
            value, why, told = _with_angles(cells, value, text)
            found = Findings.join([found, told])
    faulty = (
        cells.frame(value)
        .with_columns(why.alias(_WHY))
        .filter(pl.col(_RAW).is_not_null() & ~pl.col(_VALUE).is_finite().fill_null(value=False))
    )
    reason = pl.coalesce(pl.format("; {}", _WHY), pl.lit(""))
    message = pl.format(f"{cells.heading.written} is {{}}, but must be a number{{}}", _RAW, reason)
    value = pl.select(pl.when(value.is_finite()).then(value)).to_series()
    return value, Findings.join([found, cells.findings("number-unreadable", faulty, message)])


def _with_angles(cells: _Cells, value: pl.Series, text: pl.Series) -> tuple[pl.Series, pl.Series, Findings]:
    """Fill in degrees in parts or with a letter; return also why others are not read, and angle-in-parts."""
    angles, why = read_degrees(text, is_longitude=cells.heading.name == "lon").get_columns()
    taken = value.is_null() & angles.is_not_null()
    if not taken.any():
        return value, why, Findings.none()
    first = cells.frame(angles).filter(taken).row(0, named=True)
    n_taken = int(taken.sum())
    name = cells.heading.written
    read = "1 cell is" if n_taken == 1 else f"{n_taken} cells are"
    message = f"in {name} {read} no plain number; {first[_RAW]} is read as {first[_VALUE]:.6f}°"
    told = finding(
        "angle-in-parts", cells.source, message, row=first[SOURCE_ROW], column=name, value=first[_RAW]
    )
    return value.fill_null(angles), why, told


def _mixed_marks(cells: _Cells, text: pl.Series) -> Findings:
    """Return decimal-mixed where a column has both points and commas."""
    comma = text.str.contains(",", literal=True).fill_null(value=False)
    n_point = int(text.str.contains(".", literal=True).fill_null(value=False).sum())
    if not comma.any() or not n_point:
        return Findings.none()
    first = cells.frame().filter(comma).row(0, named=True)
    name = cells.heading.written
    message = f"{name} has {int(comma.sum())} cells with a decimal comma and {n_point} with a decimal point"
    return finding(
        "decimal-mixed", cells.source, message, row=first[SOURCE_ROW], column=name, value=first[_RAW]
    )


def _thousands(cells: _Cells, text: pl.Series) -> Findings:
    """Return comma-thousands where every comma of a column stands before exactly three digits."""
    comma = text.str.contains(",", literal=True).fill_null(value=False)
    if not comma.any() or not text.filter(comma).str.contains(_THOUSANDS).all():
        return Findings.none()
    first = cells.frame().filter(comma).row(0, named=True)
    n_commas = int(comma.sum())
    all_of = "the 1 comma stands" if n_commas == 1 else f"all {n_commas} commas stand"
    message = f"in {cells.heading.written} {all_of} before three digits, as in {first[_RAW]}; read as a decimal comma"
    return finding(
        "comma-thousands",
        cells.source,
        message,
        row=first[SOURCE_ROW],
        column=cells.heading.written,
        value=first[_RAW],
    )


def _to_unit(written: pl.Series, heading: Heading) -> pl.Series:
    """Bring values into the unit of the column."""
    if _in_degrees(heading):
        return (written * (math.pi / 180)).tan() * 100
    return written if heading.factor == 1.0 else written * heading.factor


def _in_degrees(heading: Heading) -> bool:
    """Say whether a slope is written in degrees."""
    return (
        heading.column.dimension is Dimension.SLOPE
        and heading.unit is not None
        and heading.unit.suffix == "deg"
    )


def _range(heading: Heading) -> str:
    """Return what is allowed, in the unit of the file."""
    column, unit = heading.column, heading.unit
    if unit is None or unit.suffix == column.suffix or column.low is None or column.high is None:
        return column.allowed
    low, high = (_from_unit(value, heading) for value in (column.low, column.high))
    return f"{low:.4g} to {high:.4g} {unit.label}"


def _from_unit(value: float, heading: Heading) -> float:
    """Bring a value in the unit of the column back into that of the file."""
    if _in_degrees(heading):
        return math.degrees(math.atan(value / 100))
    return value / heading.factor


def _slip_hint(heading: Heading) -> pl.Expr | None:
    """Return a hint for values that would be allowed in millimetres under a heading in centimetres."""
    column = heading.column
    if heading.unit is None or heading.unit.suffix != "cm" or column.low is None or column.high is None:
        return None
    fits = (pl.col(_VALUE) * heading.factor / 10).is_between(column.low, column.high)
    base = heading.name.rpartition("_")[0]
    hint = f"If it was measured in millimetres, head the column {base}_mm. Otherwise correct the value."
    return pl.when(fits).then(pl.lit(hint)).otherwise(pl.lit(RULES["value-out-of-range"].hint))


def _text_of(raw: pl.Series) -> pl.Series:
    """Return cells as text; whole numbers lose their .0."""
    if not raw.dtype.is_float():
        return raw.cast(pl.String)
    small = (raw == raw.round(0)) & (raw.abs() < _EXACT)
    whole = raw.cast(pl.Int64, strict=False).cast(pl.String)
    return pl.select(pl.when(small).then(whole).otherwise(raw.cast(pl.String))).to_series()


def _shortened(text: pl.Series) -> pl.Series:
    """Return cells cut to a length that findings can carry."""
    if (text.str.len_bytes().max() or 0) <= _SHOWN:  # type: ignore[operator]
        return text
    cut = text.str.slice(0, _SHOWN) + "…"
    return pl.select(pl.when(text.str.len_chars() > _SHOWN).then(cut).otherwise(text)).to_series()


def _blank_cells(cells: _Cells) -> Findings:
    """Return value-missing for the blank cells of a required column."""
    faulty = cells.frame().filter(pl.col(_RAW).is_null())
    return cells.findings("value-missing", faulty, pl.lit(f"{cells.heading.written} is blank"))


_CONVERTERS: dict[Kind, Callable[[_Cells], tuple[pl.Series, Findings]]] = {
    Kind.NUMBER: _as_number,
    Kind.COUNT: _as_count,
    Kind.DATE: _as_date,
    Kind.CHOICE: _as_choice,
}
