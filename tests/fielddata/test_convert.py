"""From cells to values: exact units, both sides of every bound, and a finding for every cell that cannot be read."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from typing import Any

import polars as pl
import pytest

from plotmap.fielddata.convert import TypedTable, convert, empty_frame
from plotmap.fielddata.headings import match_headings
from plotmap.fielddata.raw import RawTable
from plotmap.model.columns import Column, Kind, Table
from plotmap.model.field_tables import FIELD_TABLES, INSTRUMENTS, PLOTS, SPECIES, TALLIES, TREES
from plotmap.model.findings import Findings
from tests.folder_example import found, the_finding


def _convert(table: Table, cells: Mapping[str, Sequence[Any]], first_row: int = 2) -> TypedTable:
    """Convert columns given by their headings; text, or numbers as Parquet has them."""
    columns = [
        pl.Series(f"c{i}", values, strict=False)
        if any(isinstance(value, float | int | dt.date) for value in values)
        else pl.Series(f"c{i}", values, dtype=pl.String)
        for i, values in enumerate(cells.values())
    ]
    raw = RawTable(tuple(cells), pl.DataFrame(columns), first_row, Findings.none())
    headings, _ = match_headings(table, raw.headings, {}, "a.csv")
    return convert(table, raw, headings, "a.csv")


def _value(table: Table, heading: str, cell: Any) -> float:
    """Return what one cell below a heading becomes."""
    name = next(h.name for h in match_headings(table, [heading], {}, "a.csv")[0])
    return _convert(table, {heading: [cell]}).frame[name].item()


@pytest.mark.parametrize(
    "word", ["001", "NA", "10E2", "3-5", "null", "True", "nan", "1.0", "None", "-", "é–×"]
)
def test_identifiers_stay_as_they_are_written(word: str) -> None:
    frame = _convert(TREES, {"plot": [word], "tree": [word], "species": [word]}).frame
    assert frame.select("plot", "tree", "species").row(0) == (word, word, word)


@pytest.mark.parametrize(
    ("number", "text"),
    [
        (1.0, "1"),
        (2.5, "2.5"),
        (-3.0, "-3"),
        (7, "7"),
        (9_007_199_254_740_991, "9007199254740991"),
    ],
)
def test_identifiers_of_a_number_column_lose_only_a_zero_after_the_point(number: float, text: str) -> None:
    assert _convert(TREES, {"plot": [number, 0.5]}).frame["plot"][0] == text


def test_an_identifier_too_large_for_a_whole_number_is_not_lost() -> None:
    assert float(_convert(TREES, {"plot": [1e300]}).frame["plot"][0]) == 1e300


@pytest.mark.parametrize(
    ("table", "heading", "cell", "expected"),
    [
        (TREES, "d1_cm", "31.5", 31.5),
        (TREES, "d1_mm", "315", 31.5),
        (TREES, "d1_m", "0.315", 31.5),
        (TREES, "d1_in", "10", 25.4),
        (TREES, "d1_ft", "1", 30.48),
        (TREES, "girth_in", "100", 254.0),
        (TREES, "bark_cm", "1.5", 15.0),
        (TREES, "bark_in", "1", 25.4),
        (TREES, "height_ft", "100", 30.48),
        (TREES, "distance_ft", "10", 3.048),
        (TREES, "azimuth_gon", "400", 360.0),
        (PLOTS, "radius_ft", "10", 3.048),
        (PLOTS, "area_ha", "0.05", 500.0),
        (PLOTS, "area_ac", "1", 4046.8564224),
        (PLOTS, "area_ft2", "100", 9.290304),
        (PLOTS, "slope_pct", "35", 35.0),
        (PLOTS, "slope_deg", "45", 100.0),
        (PLOTS, "slope_deg", "30", 100 / math.sqrt(3)),
        (PLOTS, "slope_deg", "0", 0.0),
        (INSTRUMENTS, "zero_cm", "-0.2", -2.0),
        (INSTRUMENTS, "bar_in", "10", 254.0),
    ],
)
def test_values_are_brought_into_the_unit_of_the_column(
    table: Table, heading: str, cell: str, expected: float
) -> None:
    """1 in = 2.54 cm, 1 ft = 0.3048 m, 1 ac = 43 560 ft² by definition; the tangent of 45° is 1, of 30° is 1/√3."""
    assert _value(table, heading, cell) == pytest.approx(expected, rel=1e-14, abs=1e-14)


@pytest.mark.parametrize(
    ("cell", "expected"),
    [
        ("31.5", 31.5),
        ("31,5", 31.5),
        (" 31.5 ", 31.5),
        ("\u00a031.5", 31.5),
        ("3.15e1", 31.5),
        ("+31.5", 31.5),
        ("31", 31.0),
    ],
)
def test_numbers_are_read_with_point_or_comma(cell: str, expected: float) -> None:
    typed = _convert(TREES, {"d1_cm": [cell]})
    assert typed.frame["d1_cm"].item() == expected
    assert not len(typed.findings)


@pytest.mark.parametrize(
    "cell",
    [
        "31 kg",
        "31 cm 5",
        "cm 31",
        "abc",
        "1.234,5",
        "1,234.5",
        "1 2",
        "NaN",
        "nan",
        "inf",
        "-inf",
        "1e999",
        "0x10",
        "31..5",
        "--1",
    ],
)
def test_a_cell_that_is_no_number_is_an_error_and_missing(cell: str) -> None:
    typed = _convert(TREES, {"plot": ["P1", "P2"], "d1_cm": ["30", cell]})
    error = the_finding(typed.findings, "number-unreadable")
    assert (error["severity"], error["file"], error["row"]) == ("error", "a.csv", 3)
    assert (error["plot"], error["column"], error["value"]) == ("P2", "d1_cm", cell)
    assert error["message"] == f"d1_cm is {cell}, but must be a number"
    assert "the unit belongs in the heading" in error["hint"]
    assert typed.frame["d1_cm"].to_list() == [30.0, None]


@pytest.mark.parametrize("cell", ["2.5", "2,5"])
def test_a_count_with_decimals_is_an_error(cell: str) -> None:
    typed = _convert(TALLIES, {"count": [cell, "3"]})
    error = the_finding(typed.findings, "number-unreadable")
    assert (error["row"], error["value"]) == (2, cell)
    assert error["message"] == f"count is {cell}, but must be a whole number"
    assert typed.frame["count"].to_list() == [None, 3]


@pytest.mark.parametrize("cell", ["3", "3.0", 3, 3.0])
def test_a_count_may_be_written_with_a_zero_after_the_point(cell: Any) -> None:
    typed = _convert(TALLIES, {"count": [cell]})
    assert typed.frame["count"].to_list() == [3]
    assert "number-unreadable" not in typed.findings.codes


NUMBERS = [
    (table, column)
    for table in FIELD_TABLES
    for column in table.columns
    if column.kind in {Kind.NUMBER, Kind.COUNT}
]


def _heading(column: Column) -> str:
    return column.name.replace("d_cm", "d1_cm")


def _step(column: Column, bound: float) -> float:
    """Return a small step: 1 for counts, a millionth of the bound elsewhere."""
    return 1.0 if column.kind is Kind.COUNT else max(abs(bound), 1.0) * 1e-6


@pytest.mark.parametrize(("table", "column"), NUMBERS, ids=lambda value: value.name)
def test_both_bounds_of_every_number_are_allowed_and_a_step_beyond_is_not(
    table: Table, column: Column
) -> None:
    assert column.low is not None
    assert column.high is not None
    inside = _convert(table, {_heading(column): [repr(column.low), repr(column.high)]})
    assert "value-out-of-range" not in inside.findings.codes
    low, high = column.low - _step(column, column.low), column.high + _step(column, column.high)
    outside = _convert(table, {_heading(column): [f"{low:.9f}", f"{high:.9f}"]})
    errors = found(outside.findings, "value-out-of-range")
    assert [error["row"] for error in errors] == [2, 3]
    assert {error["severity"] for error in errors} == {"error"}
    for error in errors:
        assert error["message"].endswith(f"outside {column.allowed}")
        assert error["hint"]


def test_a_missing_cell_is_never_out_of_range() -> None:
    typed = _convert(TREES, {"plot": ["A", "B"], "d1_cm": ["", None]})
    assert not len(typed.findings)
    assert typed.frame["d1_cm"].to_list() == [None, None]


def test_a_number_that_is_not_one_never_passes_the_range() -> None:
    typed = _convert(TREES, {"plot": ["A", "B"], "d1_cm": [math.nan, math.inf]})
    assert [error["row"] for error in found(typed.findings, "number-unreadable")] == [2, 3]
    assert typed.frame["d1_cm"].to_list() == [None, None]


@pytest.mark.parametrize(
    ("table", "heading", "cell", "allowed"),
    [
        (TREES, "d1_cm", "401", "0.5 to 400 cm"),
        (TREES, "d1_mm", "4001", "5 to 4000 mm"),
        (TREES, "height_ft", "400", "4.265 to 393.7 ft"),
        (PLOTS, "slope_pct", "301", "0 to 300 %"),
        (PLOTS, "slope_deg", "72", "0 to 71.57 °"),
        (PLOTS, "area_ha", "11", "0.0001 to 10 ha"),
        (SPECIES, "bark_factor", "1.1", "0.5 to 1"),
        (TREES, "times", "5", "1 to 4"),
        (PLOTS, "lat", "91", "-90 to 90 °"),
    ],
)
def test_a_value_out_of_range_is_told_with_what_is_allowed_in_the_unit_of_the_file(
    table: Table, heading: str, cell: str, allowed: str
) -> None:
    """1.3 m are 4.265 ft; the arc tangent of 3 is 71.57°."""
    error = the_finding(_convert(table, {heading: [cell]}).findings, "value-out-of-range")
    assert (error["column"], error["value"]) == (heading, cell)
    assert error["message"] == f"{heading} is {cell}, outside {allowed}"


def test_a_diameter_that_would_fit_in_millimetres_brings_that_hint() -> None:
    typed = _convert(TREES, {"d1_cm": ["1240", "0.2", "99999"]})
    hints = [error["hint"] for error in found(typed.findings, "value-out-of-range")]
    assert (
        hints[0] == "If it was measured in millimetres, head the column d1_mm. Otherwise correct the value."
    )
    assert "millimetres" not in hints[1]
    assert "millimetres" not in hints[2]


def test_points_and_commas_in_one_column_are_a_warning() -> None:
    typed = _convert(TREES, {"plot": ["A", "B", "C"], "d1_cm": ["30.5", "31,5", "32,5"]})
    warning = the_finding(typed.findings, "decimal-mixed")
    assert (warning["severity"], warning["row"], warning["column"]) == ("warning", 3, "d1_cm")
    assert warning["value"] == "31,5"
    assert warning["message"] == "d1_cm has 2 cells with a decimal comma and 1 with a decimal point"
    assert "make the column uniform" in warning["hint"]
    assert typed.frame["d1_cm"].to_list() == [30.5, 31.5, 32.5]


@pytest.mark.parametrize("cells", [["30.5", "31.5", "32"], ["30,5", "31,5", "32"], ["30", "31", "32"]])
def test_one_decimal_mark_throughout_is_no_finding(cells: list[str]) -> None:
    assert not len(_convert(TREES, {"d1_cm": cells}).findings.frame.filter(pl.col("code") == "decimal-mixed"))


@pytest.mark.parametrize("cell", ["2026-05-14", "2026-05-14T09:30:00", "2026-05-14 09:30"])
def test_dates_are_read_by_year_month_and_day(cell: str) -> None:
    assert _convert(PLOTS, {"date": [cell]}).frame["date"].item() == dt.date(2026, 5, 14)


def test_dates_of_a_date_column_are_taken_as_they_are() -> None:
    assert _convert(PLOTS, {"date": [dt.date(2026, 5, 14)]}).frame["date"].item() == dt.date(2026, 5, 14)
    times = [dt.datetime.fromisoformat("2026-05-14T23:59")]
    assert _convert(PLOTS, {"date": times}).frame["date"].item() == dt.date(2026, 5, 14)


@pytest.mark.parametrize(
    "cell", ["14.05.2026", "05/14/2026", "2026-13-01", "2026-02-30", "2026-5-14", "May", "46156"]
)
def test_a_date_written_otherwise_is_an_error(cell: str) -> None:
    typed = _convert(PLOTS, {"plot": ["P1"], "date": [cell]})
    error = the_finding(typed.findings, "date-unreadable")
    assert (error["severity"], error["row"], error["plot"]) == ("error", 2, "P1")
    assert (error["column"], error["value"]) == ("date", cell)
    either = cell in {"14.05.2026", "05/14/2026"}
    why = "; day and month cannot be told apart in general" if either else ""
    assert error["message"] == f"date is {cell}, but must be a day as YYYY-MM-DD{why}"
    assert "YYYY-MM-DD" in error["hint"]
    assert typed.frame["date"].item() is None


@pytest.mark.parametrize("cell", ["measured", "Empty", " LOST ", "unvisited", ""])
def test_the_words_allowed_are_read_without_regard_to_capitals(cell: str) -> None:
    typed = _convert(PLOTS, {"plot": ["A"], "state": [cell]})
    assert typed.frame["state"].item() == (cell.strip().lower() or None)
    assert not len(typed.findings)


def test_another_word_is_an_error_with_those_allowed() -> None:
    typed = _convert(PLOTS, {"plot": ["A", "B"], "state": ["measured", "mesured"]})
    error = the_finding(typed.findings, "choice-unknown")
    assert (error["severity"], error["row"], error["plot"], error["value"]) == ("error", 3, "B", "mesured")
    assert error["message"] == "state is mesured, but must be one of: measured, empty, unvisited, lost"
    assert error["hint"] == "Use one of the words allowed."
    assert typed.frame["state"].to_list() == ["measured", None]


@pytest.mark.parametrize(
    ("cell", "expected"), [("yes", "yes"), ("No", "no"), ("TRUE", "yes"), ("False", "no")]
)
def test_truth_values_of_a_workbook_are_yes_and_no(cell: str, expected: str) -> None:
    assert _convert(SPECIES, {"sensitive": [cell]}).frame["sensitive"].item() == expected


REQUIRED = [(table, column) for table in FIELD_TABLES for column in table.columns if column.required]


@pytest.mark.parametrize(("table", "column"), REQUIRED, ids=lambda value: value.name)
def test_a_blank_cell_of_a_required_column_is_an_error(table: Table, column: Column) -> None:
    words = {Kind.TEXT, Kind.IDENTIFIER, Kind.CHOICE}
    other = next(c for c in table.columns if c is not column and c.kind in words)
    word = other.choices[0] if other.choices else "a"
    full = {Kind.COUNT: "3", Kind.DATE: "2026-05-14"}.get(column.kind, "x")
    typed = _convert(table, {column.name: [full, " "], other.name: [word, word]})
    errors = [e for e in found(typed.findings, "value-missing") if e["column"] == column.name]
    assert [(error["severity"], error["row"], error["value"]) for error in errors] == [("error", 3, None)]
    assert errors[0]["message"] == f"{column.name} is blank"
    assert "Fill the cell" in errors[0]["hint"]


def test_blank_rows_are_noted_left_out_and_do_not_shift_the_others() -> None:
    typed = _convert(TREES, {"plot": ["A", None, " ", "B"], "d1_cm": ["30", "", None, "x"]})
    note = the_finding(typed.findings, "row-blank")
    assert (note["severity"], note["row"]) == ("note", None)
    assert note["message"] == "2 of 4 rows are blank"
    assert note["hint"]
    assert typed.frame["source_row"].to_list() == [2, 5]
    assert (typed.n_read, typed.n_blank, typed.kept.to_list()) == (4, 2, [0, 3])
    assert the_finding(typed.findings, "number-unreadable")["row"] == 5


def test_a_table_without_blank_rows_has_no_such_note() -> None:
    assert "row-blank" not in _convert(TREES, {"plot": ["A"], "d1_cm": [""]}).findings.codes


def test_rows_of_a_layer_are_numbered_from_one() -> None:
    assert _convert(TREES, {"plot": ["A", "B"]}, first_row=1).frame["source_row"].to_list() == [1, 2]


def test_every_declared_column_is_there_in_its_order_and_readings_by_their_number() -> None:
    cells = {"d10_cm": ["30"], "plot": ["A"], "d2_mm": ["310"]}
    names = _convert(TREES, cells).frame.columns
    expected = [name for name in TREES.names if name != "d_cm"]
    assert [name for name in names if name[1:2] not in set("0123456789")] == [*expected, "source_row"]
    assert [name for name in names if name[1:2] in set("0123456789")] == ["d2_cm", "d10_cm"]


@pytest.mark.parametrize("table", FIELD_TABLES, ids=lambda table: table.name)
def test_a_table_that_is_not_there_has_the_columns_of_one_that_is(table: Table) -> None:
    column = next(column for column in table.columns if column.kind is Kind.IDENTIFIER)
    there = _convert(table, {column.name: ["a"]}).frame
    assert empty_frame(table).schema == there.schema
    assert not empty_frame(table).height


def test_a_very_long_cell_is_shortened_in_the_finding() -> None:
    error = the_finding(_convert(TREES, {"d1_cm": ["x" * 1_000_000]}).findings, "number-unreadable")
    assert error["value"] == "x" * 200 + "…"
    assert len(error["message"]) < 300


@pytest.mark.parametrize(
    ("cells", "proposed"),
    [
        (["14.05.2026", "03.05.2026"], True),
        (["14/5/2026", "3/5/2026"], True),
        (["11.05.2026", "03.05.2026"], False),  # both could be month, day
        (["14.05.2026", "05/14/2026"], False),
        (["14.05.2026", "May"], False),
        (["31.02.2026"], False),
    ],
)
def test_day_month_year_is_proposed_where_it_can_be_nothing_else(cells: list[str], *, proposed: bool) -> None:
    typed = _convert(PLOTS, {"date": cells})
    hints = {row["hint"] for row in found(typed.findings, "date-unreadable")}
    assert hints == {
        "All of them can be day, month, year. If that is meant, write them as YYYY-MM-DD."
        if proposed
        else "Write the date as YYYY-MM-DD."
    }
    assert typed.frame["date"].null_count() == len(cells)


@pytest.mark.parametrize(
    ("cells", "told"),
    [
        (["1,000", "23,500"], True),
        (["-1,000"], True),
        (["1,000", "23,5"], False),
        (["1,00"], False),
        (["0,125"], False),  # no thousand begins with a zero
        (["1234,500"], False),
        (["1.000"], False),
    ],
)
def test_commas_before_three_digits_may_be_thousands(cells: list[str], *, told: bool) -> None:
    typed = _convert(PLOTS, {"easting": cells})
    warnings = found(typed.findings, "comma-thousands")
    assert [row["row"] for row in warnings] == ([2] if told else [])
    assert typed.frame["easting"].to_list() == [float(cell.replace(",", ".")) for cell in cells]
    if told:
        assert (warnings[0]["severity"], warnings[0]["value"]) == ("warning", cells[0])
        assert f"as in {cells[0]}; read as a decimal comma" in warnings[0]["message"]
