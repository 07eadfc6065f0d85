"""What comes of check measurements: differences stem by stem, their summary, and what was set aside."""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from plotmap.model.columns import Kind, Table
from plotmap.model.findings import Findings
from plotmap.model.result_tables import (
    BAND_CONFUSION_RESULTS,
    CHECK_DIFFERENCE_RESULTS,
    CHECK_SUMMARY_RESULTS,
)
from plotmap.model.stem_table import SET_ASIDE_SCHEMA

PAIR, BY_TALLY, MISSED, EXTRA = "pair", "tallied", "missed", "extra"
"""Words of ``outcome``."""
NUMBER, POSITION, SIZE, COUNT = "number", "position", "size", "count"
"""Words of ``compared_by``."""
BY_PAIRS, BY_COUNTS = "pairs", "counts"
"""Words of ``basis``."""
ALL, CREW, INSTRUMENT, CLASS, BAND = "all", "crew", "instrument", "class", "band"
"""Words of ``group``."""
NOT_KNOWN = "not known"
"""Stands for a crew or an instrument that is missing."""
ONE_PAIR, NO_PAIRS = "one pair", "no pairs"
"""Words of ``status`` beside estimated."""
_TYPES: dict[Kind, type[pl.DataType]] = {Kind.NUMBER: pl.Float64, Kind.COUNT: pl.Int64}


def _schema(table: Table) -> pl.Schema:
    """Return how the columns of a declared table are held."""
    return pl.Schema({column.name: _TYPES.get(column.kind, pl.String) for column in table.columns})


DIFFERENCE_SCHEMA = _schema(CHECK_DIFFERENCE_RESULTS)
SUMMARY_SCHEMA = _schema(CHECK_SUMMARY_RESULTS)
CONFUSION_SCHEMA = _schema(BAND_CONFUSION_RESULTS)


@dataclass(frozen=True, slots=True)
class CheckComparison:
    """The stems of checked plots by crew and check, side by side. No estimate uses it.

    Attributes
    ----------
    differences : polars.DataFrame
        Columns of `DIFFERENCE_SCHEMA`, by plot and row: pairs, tallied stems, missed and extra ones.
    summary : polars.DataFrame
        Columns of `SUMMARY_SCHEMA`: in all, by crew, instrument, size class and band.
    confusion : polars.DataFrame
        Columns of `CONFUSION_SCHEMA`.
    findings : Findings
        About the rows of the check, and about crews that measure otherwise.
    set_aside : polars.DataFrame
        Columns of `SET_ASIDE_SCHEMA`: rows of ``check_trees`` that are not compared, by reason.
    rows_used : int
        Rows of ``check_trees`` that are compared.
    """

    differences: pl.DataFrame
    summary: pl.DataFrame
    confusion: pl.DataFrame
    findings: Findings
    set_aside: pl.DataFrame
    rows_used: int

    @classmethod
    def none(cls) -> CheckComparison:
        """Return the comparison of a survey without check measurements."""
        return cls(
            differences=pl.DataFrame(schema=DIFFERENCE_SCHEMA),
            summary=pl.DataFrame(schema=SUMMARY_SCHEMA),
            confusion=pl.DataFrame(schema=CONFUSION_SCHEMA),
            findings=Findings.none(),
            set_aside=pl.DataFrame(schema=SET_ASIDE_SCHEMA),
            rows_used=0,
        )
