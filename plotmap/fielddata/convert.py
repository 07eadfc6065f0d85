"""From cells as written to typed columns in plotmap's units; every cell that cannot be read is a finding."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import polars as pl

from plotmap.fielddata.cells import PLACE, RAW, VALUE, Cells, TableRows, text_of
from plotmap.fielddata.eaten_identifiers import dates_for_identifiers
from plotmap.fielddata.headings import Heading
from plotmap.fielddata.raw import TITLE_ROW, RawTable
from plotmap.fielddata.totals_rows import TOTALS_ROW, totals_rows
from plotmap.fielddata.written_numbers import numbers_as_written
from plotmap.model.columns import Column, Kind, Table
from plotmap.model.field_tables import SOURCE_ROW
from plotmap.model.finding_rules import RULES
from plotmap.model.findings import Findings, finding
from plotmap.units import Dimension

_ISO_DATE = r"^(\d{4}-\d{2}-\d{2})(?:[T ].*)?$"
_TYPES: dict[Kind, pl.DataType] = {
    Kind.NUMBER: pl.Float64(),
    Kind.COUNT: pl.Int64(),
    Kind.DATE: pl.Date(),
}
_DAY_FIRST = r"^(\d{1,2})[./-]\d{1,2}[./-]\d{4}$"
_MOST_MONTHS = 12


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
    set_aside : dict of str to int
        Other rows that are not in `frame`: how many for each reason.
    kept : polars.Series of int
        Places of the rows of `frame` among the rows of the file, from 0.
    findings : Findings
        Of conversion.
    """

    frame: pl.DataFrame
    n_read: int
    n_blank: int
    set_aside: dict[str, int]
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
        With the findings number-unreadable, decimal-mixed, comma-thousands, angle-in-parts, other-digits,
        unit-in-cell, date-unreadable, choice-unknown, identifier-is-date, value-missing, value-out-of-range,
        row-blank, totals-row and totals-row-doubtful.
    """
    filled = _filled_rows(raw)
    n_read, n_blank = raw.cells.height, raw.cells.height - filled.height
    kept, set_aside, aside_findings = _without_what_is_no_data(raw, filled, headings, source)
    findings = [raw.findings, aside_findings]
    if n_blank:
        words = f"{'row' if n_read == 1 else 'rows'} {'is' if n_blank == 1 else 'are'} blank"
        findings.append(finding("row-blank", source, f"{n_blank} of {n_read} {words}"))
    rows = _numbers_of(kept, raw)
    at = TableRows(rows, source, raw.first_row)
    plot = next((text_of(kept[f"c{h.position}"]) for h in headings if h.name == "plot"), None)
    columns: dict[str, pl.Series] = {}
    for heading in headings:
        name = f"c{heading.position}"
        cell = Cells(kept[name], at, plot, heading)
        series, found = _CONVERTERS.get(heading.column.kind, _as_text)(cell)
        columns[heading.name] = series.alias(heading.name)
        findings.append(found)
        if heading.column.required:
            findings.append(_blank_cells(cell))
        if name in raw.dates:
            findings.append(dates_for_identifiers(cell, raw.dates[name].gather(kept[PLACE])))
    frame = _complete(table, pl.DataFrame([*columns.values(), rows]), rows)
    return TypedTable(frame, n_read, n_blank, set_aside, kept[PLACE], Findings.join(findings))


def _numbers_of(cells: pl.DataFrame, raw: RawTable) -> pl.Series:
    """Return the numbers that rows have in the file."""
    return (cells[PLACE].cast(pl.Int64) + raw.first_row).alias(SOURCE_ROW)


def _without_what_is_no_data(
    raw: RawTable, filled: pl.DataFrame, headings: list[Heading], source: str
) -> tuple[pl.DataFrame, dict[str, int], Findings]:
    """Leave out titles between the rows and rows of totals; return how many, and title-row and totals-row."""
    if raw.geometry is not None:
        return filled, {}, Findings.none()
    kept = filled.filter(~pl.col(PLACE).is_in(list(raw.titles))) if raw.titles else filled
    n_titles = filled.height - kept.height
    is_total, found = totals_rows(kept, headings, TableRows(_numbers_of(kept, raw), source, raw.first_row))
    n_totals = int(is_total.sum())
    counts = {TITLE_ROW: n_titles, TOTALS_ROW: n_totals}
    return (
        kept.filter(~is_total) if n_totals else kept,
        {reason: count for reason, count in counts.items() if count},
        found,
    )


def _filled_rows(raw: RawTable) -> pl.DataFrame:
    """Return the rows that hold anything, text without blanks at its ends; a feature with geometry always does."""
    text = pl.col(pl.String).str.strip_chars().replace("", None)
    cells = raw.cells.with_columns(text).with_row_index(PLACE, offset=0)
    if raw.geometry is not None:
        return cells
    return cells.filter(pl.any_horizontal(pl.exclude(PLACE).is_not_null()))


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


def _as_text(cells: Cells) -> tuple[pl.Series, Findings]:
    """Convert to text."""
    return cells.text, Findings.none()


def _as_choice(cells: Cells) -> tuple[pl.Series, Findings]:
    """Convert to one of the words allowed, without regard to capitals."""
    column = cells.heading.column
    words = cells.text.str.to_lowercase()
    if "yes" in column.choices:
        words = words.replace({"true": "yes", "false": "no"})
    value = pl.select(pl.when(words.is_in(list(column.choices))).then(words)).to_series()
    faulty = cells.frame(value).filter(pl.col(RAW).is_not_null() & pl.col(VALUE).is_null())
    message = pl.format(f"{cells.heading.written} is {{}}, but must be one of: {column.allowed}", RAW)
    return value, cells.findings("choice-unknown", faulty, message)


def _as_date(cells: Cells) -> tuple[pl.Series, Findings]:
    """Convert to dates; a time of day after the date is left out."""
    if cells.raw.dtype in (pl.Date, pl.Datetime):
        return cells.raw.cast(pl.Date), Findings.none()
    value = cells.text.str.extract(_ISO_DATE).str.to_date("%Y-%m-%d", strict=False)
    faulty = cells.frame(value).filter(pl.col(RAW).is_not_null() & pl.col(VALUE).is_null())
    name = cells.heading.written
    either = pl.col(RAW).str.contains(_DAY_FIRST)
    why = (
        pl.when(either).then(pl.lit("; day and month cannot be told apart in general")).otherwise(pl.lit(""))
    )
    message = pl.format(f"{name} is {{}}, but must be a day as YYYY-MM-DD{{}}", RAW, why)
    return value, cells.findings("date-unreadable", faulty, message, _day_first_hint(faulty[RAW]))


def _day_first_hint(texts: pl.Series) -> pl.Expr | None:
    """Return a hint where all dates that were refused can be day, month, year, and one of them nothing else."""
    days = texts.str.extract(_DAY_FIRST).cast(pl.Int64, strict=False)
    plain = texts.str.replace_all(r"[/-]", ".")
    if days.null_count() or plain.str.to_date("%d.%m.%Y", strict=False).null_count():
        return None
    if not (days > _MOST_MONTHS).any():
        return None
    return pl.lit("All of them can be day, month, year. If that is meant, write them as YYYY-MM-DD.")


def _as_number(cells: Cells) -> tuple[pl.Series, Findings]:
    """Convert to numbers in the column's unit and check their range."""
    written, found = numbers_as_written(cells)
    value = _to_unit(written, cells.heading)
    column = cells.heading.column
    tolerance = 1e-9
    low = -math.inf if column.low is None else column.low - tolerance
    high = math.inf if column.high is None else column.high + tolerance
    faulty = cells.frame(value).filter(~pl.col(VALUE).is_between(low, high))
    message = pl.format(f"{cells.heading.written} is {{}}, outside {_range(cells.heading)}", RAW)
    out = cells.findings("value-out-of-range", faulty, message, _slip_hint(cells.heading))
    return value, Findings.join([found, out])


def _as_count(cells: Cells) -> tuple[pl.Series, Findings]:
    """Convert to whole numbers and check their range."""
    value, found = _as_number(cells)
    fraction = cells.frame(value).filter(pl.col(VALUE) != pl.col(VALUE).round(0))
    message = pl.format(f"{cells.heading.written} is {{}}, but must be a whole number", RAW)
    out = cells.findings("number-unreadable", fraction, message)
    whole = pl.select(pl.when(value == value.round(0)).then(value)).to_series()
    return whole.cast(pl.Int64, strict=False), Findings.join([found, out])


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
    fits = (pl.col(VALUE) * heading.factor / 10).is_between(column.low, column.high)
    base = heading.name.rpartition("_")[0]
    hint = f"If it was measured in millimetres, head the column {base}_mm. Otherwise correct the value."
    return pl.when(fits).then(pl.lit(hint)).otherwise(pl.lit(RULES["value-out-of-range"].hint))


def _blank_cells(cells: Cells) -> Findings:
    """Return value-missing for the blank cells of a required column."""
    faulty = cells.frame().filter(pl.col(RAW).is_null())
    return cells.findings("value-missing", faulty, pl.lit(f"{cells.heading.written} is blank"))


_CONVERTERS: dict[Kind, Callable[[Cells], tuple[pl.Series, Findings]]] = {
    Kind.NUMBER: _as_number,
    Kind.COUNT: _as_count,
    Kind.DATE: _as_date,
    Kind.CHOICE: _as_choice,
}
