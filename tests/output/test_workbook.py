"""The workbook is read back with openpyxl, which did not write it, and compared with the stand."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import openpyxl
import polars as pl
import pytest

from plotmap.model.columns import Kind
from plotmap.model.result_tables import PLOT_RESULTS, RESULT_TABLES, TREE_RESULTS
from plotmap.model.survey import Stand
from plotmap.output import workbook
from plotmap.output.tables import PRINTED_TABLES, printed_frames, write_workbook
from plotmap.output.workbook_about import about_stand
from tests.stand_example import stand_example


@pytest.fixture(scope="module")
def stand() -> Stand:
    return stand_example()


def read(path: Path) -> Any:
    """Return an opened workbook whose file is closed again."""
    with path.open("rb") as file:
        return openpyxl.load_workbook(file)


def about(book: Any) -> list[tuple[Any, ...]]:
    return [row[:2] for row in book["About"].iter_rows(values_only=True)]


@pytest.fixture(scope="module")
def book(stand, tmp_path_factory) -> Any:
    path = tmp_path_factory.mktemp("book") / "tables.xlsx"
    write_workbook(stand, path)
    return read(path)


@pytest.mark.parametrize("table", PRINTED_TABLES, ids=lambda table: table.name)
def test_every_sheet_holds_its_table_exactly(stand, book, table) -> None:
    rows = list(book[table.name].iter_rows(values_only=True))
    assert list(rows[0]) == [column.heading for column in table.columns]
    for row, cells in zip(rows[1:], printed_frames(stand)[table.name].iter_rows(), strict=True):
        for column, value, cell in zip(table.columns, row, cells, strict=True):
            if cell is None:
                assert value is None
            elif column.kind is Kind.DATE:
                assert value.date() == cell
            elif column.kind in {Kind.NUMBER, Kind.COUNT}:
                assert value == pytest.approx(cell, rel=1e-14)  # the format keeps 16 to 17 digits
            else:
                assert value == cell


def test_sheets_come_in_order_between_about_and_columns(book) -> None:
    assert book.sheetnames == ["About", *(table.name for table in RESULT_TABLES), "Columns"]


def test_headings_are_frozen_and_can_be_filtered(book) -> None:
    for table in RESULT_TABLES:
        assert book[table.name].freeze_panes == "A2"
        assert book[table.name].auto_filter.ref.startswith("A1:")


def test_texts_never_become_formulas_links_or_numbers(stand, tmp_path) -> None:
    texts = ["=1+1", "+1", "-1", "@A1", "\tx", "https://example.org", "001", "{=A1}", "<b>&amp;"]
    trees = stand.trees.head(len(texts)).with_columns(pl.Series("tree", texts))
    write_workbook(replace(stand, trees=trees), tmp_path / "tables.xlsx")
    sheet = read(tmp_path / "tables.xlsx")["trees"]
    at = 1 + TREE_RESULTS.names.index("tree")
    cells = [sheet.cell(row, at) for row in range(2, 2 + len(texts))]
    assert [(cell.data_type, cell.value, cell.hyperlink) for cell in cells] == [
        ("s", text, None) for text in texts
    ]


@pytest.mark.parametrize(
    ("table", "column", "format_"),
    [
        ("compartments", "basal_area_m2_per_ha_se", "0.0"),
        ("compartments", "stems_per_ha", "0"),
        ("compartments", "area_ha", "#,##0.00"),
        ("compartments", "n_plots", "0"),
        ("plots", "date", "yyyy-mm-dd"),
        ("plots", "plot", "@"),
        ("trees", "basal_area_m2", "0.0000"),
    ],
)
def test_numbers_are_shown_with_the_digits_their_unit_calls_for(book, table, column, format_) -> None:
    declared = next(one for one in PRINTED_TABLES if one.name == table)
    assert book[table].cell(2, 1 + declared.names.index(column)).number_format == format_


def test_every_column_is_explained(book) -> None:
    rows = list(book["Columns"].iter_rows(min_row=2, values_only=True))
    assert rows == [
        (table.name, column.name, column.heading, column.unit, column.meaning)
        for table in PRINTED_TABLES
        for column in table.columns
    ]


def test_about_tells_what_the_figures_rest_on(stand, book) -> None:
    told = dict(about(book))
    total = stand.survey_total.iloc[0]
    assert told["Survey"] == stand.settings.survey.title
    assert told["Confidence of all limits"] == "95 %"
    assert told["Size classes"] == stand.settings.class_rule.describe()
    assert told["Plots in the estimates"] == total["n_plots"]
    assert told["Compartments left out"] == total["n_left_out"]
    assert told["Area left out (ha)"] == pytest.approx(total["area_left_out_ha"])
    assert told["Plots set aside: unvisited"] == 1
    assert told["Plots checked"] == 2
    assert told["Difference allowed of one diameter"] == "5 mm, or 1 % if more"
    assert told["Mean difference allowed of a crew"] == "2 mm"
    cautions = " ".join(str(value) for name, value in about(book) if name == "Caution")
    assert "Findings of severity warning: 1." in cautions
    assert "never means zero" in cautions


def test_about_says_nothing_of_checks_where_no_plot_was_checked(stand, tmp_path) -> None:
    write_workbook(
        replace(stand, check_differences=stand.check_differences.clear()), tmp_path / "tables.xlsx"
    )
    assert "Plots checked" not in dict(about(read(tmp_path / "tables.xlsx")))


def test_a_table_that_is_too_long_is_left_to_its_csv_and_about_says_so(stand, tmp_path, monkeypatch) -> None:
    monkeypatch.setattr(workbook, "MAX_ROWS", stand.trees.height - 1)
    write_workbook(replace(stand, classes=stand.classes.clear()), tmp_path / "tables.xlsx")
    book = read(tmp_path / "tables.xlsx")
    assert "trees" not in book.sheetnames
    assert dict(about(book))["Sheet left out: trees"] == f"{stand.trees.height} rows: see tables/trees.csv"
    monkeypatch.setattr(workbook, "MAX_ROWS", stand.trees.height)
    write_workbook(replace(stand, classes=stand.classes.clear()), tmp_path / "tables.xlsx")
    assert "trees" in read(tmp_path / "tables.xlsx").sheetnames


def test_two_runs_are_byte_identical_and_leave_nothing_beside(stand, tmp_path) -> None:
    write_workbook(stand, tmp_path / "one.xlsx")
    write_workbook(stand, tmp_path / "two.xlsx")
    assert (tmp_path / "one.xlsx").read_bytes() == (tmp_path / "two.xlsx").read_bytes()
    assert sorted(path.name for path in tmp_path.iterdir()) == ["one.xlsx", "two.xlsx"]


def test_an_empty_table_is_a_sheet_with_headings(stand, tmp_path) -> None:
    write_workbook(replace(stand, tallied=stand.tallied.clear()), tmp_path / "tables.xlsx")
    assert read(tmp_path / "tables.xlsx")["tallied"].max_row == 1


def test_positions_are_explained_in_the_unit_they_have() -> None:
    printed = next(table for table in PRINTED_TABLES if table.name == PLOT_RESULTS.name)
    assert [column.heading for column in printed.columns[-2:]] == ["Easting (m)", "Northing (m)"]


def test_the_first_sheet_says_what_the_error_is_made_of_and_how_many_plots_would_do(stand) -> None:
    error = "basal_area_m2_per_ha_se"
    told = {"scope": "survey", error: 0.8, f"{error}_between_plots": 0.7, f"{error}_grouping": 0.1}
    told |= {f"{error}_readings": None, f"{error}_checks": None, "helps_most": "more plots"}
    told |= {"target_error_pct": 5.0, "n_plots_needed": 120}
    parts = stand.error_parts.head(1).with_columns(pl.lit(value).alias(name) for name, value in told.items())
    sections = pl.DataFrame(
        {
            "mean": ["arithmetic", "geometric"],
            "used": ["yes", "no"],
            "difference_pct": [0.0, -0.42],
            "n_stems": [9, 9],
        }
    )
    log = pl.DataFrame({"basal_area_taken_off_m2": [0.02, 0.01]})
    frames = printed_frames(stand) | {"error_parts": parts, "section_effect": sections, "instrument_log": log}
    rows = dict(about_stand(frames, stand.settings))
    assert rows["Standard error of basal area (m²/ha)"] == 0.8
    assert rows["Standard error of basal area (m²/ha): single readings"] == "not known"
    assert rows["Standard error of basal area (m²/ha): tallies"] == 0.1
    assert rows["What would make it smaller"] == "more plots"
    assert rows["Plots for a sampling error of 5 %"] == 120
    assert rows["Basal area by the geometric mean of readings"] == "-0.42 % (9 stems)"
    assert rows["Basal area of stems taken off for random errors of instruments (m²)"] == pytest.approx(0.03)
