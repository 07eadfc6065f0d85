"""From the headings of a file to the columns of a table: own headings, unit suffixes, what is left over."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import polars as pl

from plotmap.fielddata.nearby import near_miss
from plotmap.model.columns import Column, Kind, Table
from plotmap.model.findings import Findings, finding
from plotmap.units import Dimension, Unit, conversion_factor, units_of

_NUMBERED = re.compile(r"^d(\d{1,2})_([a-z0-9]+)$")
_NUMBERED_BARE = re.compile(r"^d(\d{1,2})$")
_BRACKETED = re.compile(r"^(.+?)[\s_]*[(\[]\s*([^)\]]+?)\s*[)\]]$")
_UNIT_SIGNS = {"%": "pct", "°": "deg", "m²": "m2", "inches": "in", "feet": "ft"}
_MANY = 20
"""More unknown headings than this are reported together."""


@dataclass(frozen=True, slots=True)
class Heading:
    """One heading that was understood.

    Attributes
    ----------
    position : int
        Which cell column it stands over.
    written : str
        As in the file.
    name : str
        Name in plotmap, with plotmap's unit: ``girth_cm``, ``d2_cm``.
    column : Column
        Its declaration.
    unit : Unit or None
        Unit of the file; None where the column has none.
    """

    position: int
    written: str
    name: str
    column: Column
    unit: Unit | None

    @property
    def factor(self) -> float:
        """What values are multiplied by; not used for slopes in degrees."""
        if self.unit is None or self.column.dimension in {None, Dimension.SLOPE}:
            return 1.0
        assert self.column.dimension is not None  # noqa: S101 - for the type checker
        return conversion_factor(self.column.dimension, self.unit.suffix, self.column.suffix)


def understand(table: Table, name: str) -> Heading | None:
    """Return what a column name with its unit stands for, or None where it is none of the table's.

    The name is taken without regard to capitals, blanks at its ends count for nothing, and blanks inside
    for underscores. The unit may stand in brackets: ``D1 (cm)``.
    """
    plain = _plain(name)
    numbered = _NUMBERED.match(plain)
    for column in table.columns:
        if column.kind is Kind.GEOMETRY:
            continue
        if column.numbered:
            suffixes = units_of(column.dimension) if column.dimension else {}
            if numbered and numbered[2] in suffixes and int(numbered[1]) >= 1:
                own_name = f"d{int(numbered[1])}_{column.suffix}"
                return Heading(-1, name, own_name, column, suffixes[numbered[2]])
        elif column.dimension is None:
            if plain in {column.name, f"{column.name}_{_UNIT_SIGNS.get(column.unit, column.unit)}"}:
                return Heading(-1, name, column.name, column, None)
        else:
            base, _, suffix = plain.rpartition("_")
            unit = units_of(column.dimension).get(suffix)
            if base == column.base and unit is not None:
                return Heading(-1, name, column.name, column, unit)
    return None


def _plain(name: str) -> str:
    """Return a heading in small letters with underscores, and a unit in brackets as a suffix."""
    text = name.strip().casefold()
    if bracketed := _BRACKETED.match(text):
        text = f"{bracketed[1]}_{_UNIT_SIGNS.get(bracketed[2], bracketed[2])}"
    return re.sub(r"\s+", "_", text)


def match_headings(
    table: Table, written: Sequence[str], own: Mapping[str, str], source: str
) -> tuple[list[Heading], Findings]:
    """Match all headings of a file.

    Parameters
    ----------
    table : Table
        What the file is to hold.
    written : sequence of str
        Headings as they stand, doubles kept.
    own : mapping of str to str
        Own heading to plotmap column, from the settings.
    source : str
        File, for findings.

    Returns
    -------
    headings : list of Heading
        One for each column of the table that was found once.
    findings : Findings
        column-missing, column-twice, column-near-miss, column-unknown, column-without-unit.
    """
    by_own = {heading.strip().casefold(): target for heading, target in own.items()}
    own_left = dict(by_own)
    findings: list[Findings] = []
    found: dict[str, Heading] = {}
    unknown: list[str] = []
    for position, text in enumerate(written):
        if not text.strip():
            continue
        target = by_own.get(text.strip().casefold(), text)
        own_left.pop(text.strip().casefold(), None)
        heading = understand(table, target)
        if heading is None:
            if lacks_unit(table, target):
                findings.append(_without_unit(table, text, target, source))
            else:
                unknown.append(text)
        elif heading.name in found:
            first = found[heading.name].written
            message = f"the headings {first} and {text} both stand for {heading.name}"
            findings.append(finding("column-twice", source, message, column=heading.name, value=text))
        else:
            found[heading.name] = Heading(position, text.strip(), heading.name, heading.column, heading.unit)
    near = {text: name for text in unknown if (name := near_miss(table, text)) and name not in found}
    written_own = {heading.strip().casefold(): heading.strip() for heading in own}
    own_missing = {written_own[heading]: target for heading, target in own_left.items()}
    findings.append(_missing(table, found, own_missing, source))
    findings.append(_no_reading(table, found, written, near, source))
    findings += [_near(table, text, name, source) for text, name in near.items()]
    findings.append(_unknown(table, [text for text in unknown if text not in near], source))
    return list(found.values()), Findings.join(findings)


def without_heading(written: Sequence[str], cells: pl.DataFrame, source: str) -> Findings:
    """Return column-unknown for columns that hold something below a blank heading.

    Parameters
    ----------
    written : sequence of str
        Headings as they stand.
    cells : polars.DataFrame
        One column a heading, in order.
    source : str
        File, for findings.
    """
    findings: list[Findings] = []
    for position, text in enumerate(written):
        if text.strip():
            continue
        column = cells.to_series(position).cast(pl.String).str.strip_chars()
        n_filled = int((column != "").sum())
        if n_filled:
            number = position + 1
            cells_held = "1 cell" if n_filled == 1 else f"{n_filled} cells"
            message = f"column {number} has no heading, but holds {cells_held}; it is not read"
            first = str(column.filter(column != "").first())
            findings.append(finding("column-unknown", source, message, column=str(number), value=first))
    return Findings.join(findings)


def lacks_unit(table: Table, name: str) -> bool:
    """Say whether the name is a measurement of the table without its unit."""
    plain = _plain(name)
    bases = {column.base for column in table.columns if column.dimension and not column.numbered}
    numbered = any(column.numbered for column in table.columns)
    return plain in bases or bool(numbered and _NUMBERED_BARE.match(plain))


def _without_unit(table: Table, text: str, target: str, source: str) -> Findings:
    """Return the finding for a heading that lacks its unit."""
    base = target.strip().casefold()
    dimension = next((c.dimension for c in table.columns if c.base == base and c.dimension), Dimension.LENGTH)
    allowed = ", ".join(f"{base}_{suffix}" for suffix in units_of(dimension))
    message = f"the heading {text} has no unit; it must be one of {allowed}"
    return finding("column-without-unit", source, message, column=text, value=text)


def _missing(
    table: Table, found: Mapping[str, Heading], own_left: Mapping[str, str], source: str
) -> Findings:
    """Return column-missing for required columns and for own headings that are not in the file."""
    findings = [
        finding("column-missing", source, f"there is no column {column.name}", column=column.name)
        for column in table.columns
        if column.required and column.name not in found
    ]
    findings += [
        finding(
            "column-missing",
            source,
            f"survey.toml maps the heading {heading} to {target}, but the file has no such heading",
            column=target,
            value=heading,
            hint="Correct the heading under [columns] in survey.toml or in the file.",
        )
        for heading, target in own_left.items()
    ]
    return Findings.join(findings)


def _no_reading(
    table: Table, found: Mapping[str, Heading], written: Sequence[str], near: Mapping[str, str], source: str
) -> Findings:
    """Return column-missing where a table of stems has neither a caliper reading nor a girth."""
    is_of_stems = any(column.numbered for column in table.columns)
    if not is_of_stems or any(
        heading.column.numbered or name == "girth_cm" for name, heading in found.items()
    ):
        return Findings.none()
    meant = [text for text, name in near.items() if name.startswith(("d", "girth")) and name != "date"]
    meant += [text for text in written if _plain(text) == "girth" or _NUMBERED_BARE.match(_plain(text))]
    could = f"; {' or '.join(meant)} may be meant for one" if meant else ""
    message = f"there is no column of diameters: neither d1_cm, d2_cm, … nor girth_cm{could}"
    return finding("column-missing", source, message, column="d1_cm")


def no_position(names: set[str], source: str) -> Findings:
    """Return column-missing where a table of plots has no pair of coordinate columns.

    Parameters
    ----------
    names : set of str
        Columns that were understood.
    source : str
        File, for findings.
    """
    if {"easting", "northing"} <= names or {"lon", "lat"} <= names:
        return Findings.none()
    half = sorted(names & {"easting", "northing", "lon", "lat"})
    only = f", only {' and '.join(half)}" if half else ""
    message = f"there are no columns of positions: neither easting and northing nor lon and lat{only}"
    return finding("column-missing", source, message, column="easting")


def _near(table: Table, text: str, name: str, source: str) -> Findings:
    """Return column-near-miss."""
    message = f"the column {text} is none of table {table.name} and is not read; {name} may be meant"
    hint = (
        f"Name the column {name} if that is meant, or map it in survey.toml: "
        f'[columns.{table.name}] "{text}" = "{name}".'
    )
    return finding("column-near-miss", source, message, column=text, value=name, hint=hint)


def _unknown(table: Table, unknown: Sequence[str], source: str) -> Findings:
    """Return column-unknown: one finding each, or one for all where there are very many."""
    if len(unknown) > _MANY:
        some = ", ".join(unknown[:_MANY])
        message = f"{len(unknown)} columns are not used: {some}, …"
        return finding("column-unknown", source, message)
    return Findings.join(
        finding("column-unknown", source, f"the column {text} is none of table {table.name}", column=text)
        for text in unknown
    )
