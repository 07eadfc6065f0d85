"""Findings: what is wrong or odd in the data, all collected and shown at once, never raised."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import polars as pl

from plotmap.model.finding_rules import RULES, Severity

FINDING_SCHEMA: dict[str, type[pl.DataType]] = {
    "code": pl.String,
    "severity": pl.String,
    "file": pl.String,
    "row": pl.Int64,
    "plot": pl.String,
    "compartment": pl.String,
    "column": pl.String,
    "value": pl.String,
    "message": pl.String,
    "hint": pl.String,
}
_ORDER = {severity.value: order for order, severity in enumerate(Severity)}
_Cell = pl.Expr | str | None


@dataclass(frozen=True, slots=True)
class Findings:
    """An immutable list of findings.

    Attributes
    ----------
    frame : polars.DataFrame
        Columns of `FINDING_SCHEMA`: stable code, severity, file, row (missing where the finding is about a
        whole file), plot, compartment, column, value as written, message, hint.
    """

    frame: pl.DataFrame

    @classmethod
    def none(cls) -> Findings:
        """Return an empty list."""
        return cls(pl.DataFrame(schema=FINDING_SCHEMA))

    @classmethod
    def join(cls, parts: Iterable[Findings]) -> Findings:
        """Return all findings of `parts`: errors first, then by file, code and row."""
        frames = [part.frame for part in parts if part.frame.height]
        if not frames:
            return cls.none()
        frame = pl.concat(frames)
        order = pl.col("severity").replace_strict(_ORDER, return_dtype=pl.Int8)
        return cls(frame.sort(order, "file", "code", "row", "column", "value", nulls_last=True))

    def of(self, severity: Severity) -> pl.DataFrame:
        """Return the findings of one severity."""
        return self.frame.filter(pl.col("severity") == severity.value)

    @property
    def has_errors(self) -> bool:
        """Whether any finding stops the run."""
        return self.of(Severity.ERROR).height > 0

    @property
    def codes(self) -> set[str]:
        """Codes that occur."""
        return set(self.frame["code"].to_list())

    def __len__(self) -> int:
        return self.frame.height


def finding(  # noqa: PLR0913 - one argument a cell
    code: str,
    file: str,
    message: str,
    *,
    row: int | None = None,
    plot: str | None = None,
    compartment: str | None = None,
    column: str | None = None,
    value: str | None = None,
    hint: str | None = None,
) -> Findings:
    """Return one finding of a declared rule.

    Parameters
    ----------
    code : str
        Code of a rule in `RULES`; severity and hint come from there unless `hint` is given.
    file, message : str
        Where, and what is wrong with what is allowed.
    row : int, optional
        Row in the file, as a spreadsheet numbers it.
    plot, compartment, column, value, hint : str, optional
        What they are about; missing where they do not apply.

    Raises
    ------
    KeyError
        No rule has the code.
    """
    rule = RULES[code]
    cells = (
        code,
        rule.severity.value,
        file,
        row,
        plot,
        compartment,
        column,
        value,
        message,
        hint or rule.hint,
    )
    return Findings(pl.DataFrame([cells], schema=FINDING_SCHEMA, orient="row"))


def findings_of(  # noqa: PLR0913 - one argument a cell
    code: str,
    rows: pl.DataFrame | pl.LazyFrame,
    file: str,
    message: pl.Expr,
    *,
    row: _Cell = "source_row",
    plot: _Cell = None,
    compartment: _Cell = None,
    column: _Cell = None,
    value: _Cell = None,
    hint: _Cell = None,
) -> Findings:
    """Return one finding for each row of `rows`.

    Parameters
    ----------
    code : str
        Code of a rule in `RULES`.
    rows : polars.DataFrame or polars.LazyFrame
        The faulty rows only.
    file : str
        File (and sheet) they come from.
    message : polars.Expr
        Text of the message, made from the columns of `rows`.
    row, plot, compartment, value : str or polars.Expr, optional
        Column or expression for each; missing where None.
    column, hint : str or polars.Expr, optional
        Literal text, or an expression; the hint is the rule's own where None.

    Raises
    ------
    KeyError
        No rule has the code.
    """
    rule = RULES[code]

    def cell(given: _Cell, name: str, *, literal: bool = False) -> pl.Expr:
        """Return an expression for one cell of the finding."""
        if given is None or (literal and isinstance(given, str)):
            made = pl.lit(given)
        else:
            made = pl.col(given) if isinstance(given, str) else given
        return made.cast(FINDING_SCHEMA[name]).alias(name)

    made = rows.lazy().select(
        cell(pl.lit(code), "code"),
        cell(pl.lit(rule.severity.value), "severity"),
        cell(pl.lit(file), "file"),
        cell(row, "row"),
        cell(plot, "plot"),
        cell(compartment, "compartment"),
        cell(column, "column", literal=True),
        cell(value, "value"),
        cell(message, "message"),
        cell(rule.hint if hint is None else hint, "hint", literal=True),
    )
    return Findings(made.collect())
