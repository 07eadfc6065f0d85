"""Declared columns: names, units and what is allowed in words; every declaration is complete."""

from __future__ import annotations

import pytest

from plotmap.model.columns import Column, Kind, Table
from plotmap.model.field_tables import FIELD_TABLES, TREES
from plotmap.model.result_tables import RESULT_TABLES
from plotmap.units import Dimension, units_of

ALL = [(table, column) for table in (*FIELD_TABLES, *RESULT_TABLES) for column in table.columns]


@pytest.mark.parametrize(
    ("column", "allowed"),
    [
        (Column("a_cm", Kind.NUMBER, "A", "A.", unit="cm", low=3, high=600), "3 to 600 cm"),
        (Column("a", Kind.NUMBER, "A", "A.", low=0.5), "0.5 or more"),
        (Column("a_cm", Kind.NUMBER, "A", "A.", unit="cm", low=0), "0 cm or more"),
        (Column("a", Kind.NUMBER, "A", "A.", high=1), "at most 1"),
        (Column("a", Kind.CHOICE, "A", "A.", choices=("yes", "no")), "yes, no"),
        (Column("a", Kind.TEXT, "A", "A."), "any text"),
    ],
)
def test_what_is_allowed_is_said_in_words(column: Column, allowed: str) -> None:
    assert column.allowed == allowed


def test_a_column_with_a_dimension_ends_in_its_unit() -> None:
    girth = TREES["girth_cm"]
    assert (girth.base, girth.suffix, girth.heading) == ("girth", "cm", "Girth (cm)")
    assert (TREES["remark"].base, TREES["remark"].suffix, TREES["remark"].heading) == ("remark", "", "Remark")


def test_a_column_that_is_not_declared_is_no_key() -> None:
    with pytest.raises(KeyError, match="table trees declares no column dbh"):
        TREES["dbh"]


@pytest.mark.parametrize("table", [*FIELD_TABLES, *RESULT_TABLES], ids=lambda table: table.name)
def test_names_come_once_and_the_key_is_among_them(table: Table) -> None:
    assert len(set(table.names)) == len(table.names)
    assert set(table.key) <= set(table.names)


@pytest.mark.parametrize(("table", "column"), ALL, ids=lambda value: value.name)
def test_every_column_says_what_it_is(table: Table, column: Column) -> None:
    assert column.title
    assert column.meaning.endswith((".", "…")), f"{table.name}.{column.name}"
    assert column.name == column.name.lower()
    assert bool(column.choices) == (column.kind is Kind.CHOICE)


MEASURED = [(table, column) for table in FIELD_TABLES for column in table.columns if column.dimension]


@pytest.mark.parametrize(("table", "column"), MEASURED, ids=lambda value: value.name)
def test_a_measurement_ends_in_a_suffix_of_its_dimension_and_has_bounds(table: Table, column: Column) -> None:
    assert isinstance(column.dimension, Dimension)
    unit = units_of(column.dimension)[column.suffix]
    assert column.unit == unit.label, f"{table.name}.{column.name}"
    assert column.low is not None
    assert column.high is not None
    assert column.low < column.high
