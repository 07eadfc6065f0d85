"""Identifiers that a spreadsheet made a date of, and identifiers in other digits: told, never changed."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from plotmap.fielddata import read_survey
from plotmap.model.survey import Survey
from plotmap.workflow import check
from tests.folder_example import FILES, TALLIES, folder_example, found, rows_of, the_finding, write_book


def _with_date(folder: Path, table: str, column: int, day: object) -> Survey:
    """Return a survey in a workbook, with a date in the second row of a column."""
    texts = FILES | {"tallies.csv": TALLIES}
    rows: list[list[object]] = [list(row) for row in rows_of(texts[f"{table}.csv"])]
    rows[1][column] = day
    folder_example(folder, {f"{table}.csv": None})
    write_book(folder / f"{table}.xlsx", {table: rows})
    return read_survey(folder)


@pytest.mark.parametrize(
    ("day", "proposed"),
    [
        (dt.date(2026, 5, 3), "3-5 or 5-3"),
        (dt.date(2026, 5, 5), "5-5"),
        (dt.date(2026, 5, 31), "31-5 or 5-31"),
        (dt.date(2020, 3, 1), "1-3 or 3-1 or 3-20"),
        (dt.datetime.fromisoformat("2026-05-03T12:00"), "3-5 or 5-3"),
    ],
)
def test_a_date_in_the_place_of_a_plot_is_an_error_with_what_may_have_been_typed(
    tmp_path: Path, day: object, proposed: str
) -> None:
    survey = _with_date(tmp_path, "trees", 0, day)
    error = the_finding(survey, "identifier-is-date")
    assert (error["severity"], error["file"], error["row"], error["column"]) == (
        "error", "trees.xlsx, sheet trees", 2, "plot",
    )  # fmt: skip
    day_text = str(day)[:10]
    says = f"the cell A2 is the date {day_text}, but plot is an identifier; {proposed} may have been typed"
    assert error["message"] == says
    assert survey.trees["plot"][0].startswith(day_text)


def test_what_follows_from_an_eaten_plot_is_not_told(tmp_path: Path) -> None:
    assert check(_with_date(tmp_path, "trees", 0, dt.date(2026, 5, 3))).codes == {"identifier-is-date"}


def test_a_class_of_a_tally_can_be_eaten_too(tmp_path: Path) -> None:
    survey = _with_date(tmp_path, "tallies", 2, dt.date(2026, 10, 15))
    assert the_finding(survey, "identifier-is-date")["message"].startswith(
        "the cell C2 is the date 2026-10-15"
    )


def test_a_date_in_a_column_of_dates_and_text_like_a_date_are_no_finding(tmp_path: Path) -> None:
    survey = _with_date(tmp_path / "a", "plots", 5, dt.date(2026, 5, 3))
    assert not found(survey, "identifier-is-date")
    text = FILES["trees.csv"].replace("P1,1,", "P1,2026-05-03,", 1)
    assert not found(read_survey(folder_example(tmp_path / "b", {"trees.csv": text})), "identifier-is-date")


def test_whole_numbers_of_a_workbook_stay_whole_identifiers(tmp_path: Path) -> None:
    survey = _with_date(tmp_path, "trees", 1, 12.0)
    assert survey.trees["tree"][0] == "12"


def _plots(folder: Path, in_plots: str, in_trees: str) -> Survey:
    """Return a survey whose plot P1 is spelled anew in both tables."""
    files = {
        "plots.csv": FILES["plots.csv"].replace("P1,", f"{in_plots},"),
        "trees.csv": FILES["trees.csv"].replace("P1,", f"{in_trees},"),
    }
    return read_survey(folder_example(folder, files))


@pytest.mark.parametrize(
    ("in_plots", "in_trees"), [("12", "١٢"), ("१२", "12"), ("A１２", "A12"), ("١٢", "१२")]
)
def test_a_plot_in_other_digits_than_in_the_plots_table_is_told(
    tmp_path: Path, in_plots: str, in_trees: str
) -> None:
    survey = _plots(tmp_path, in_plots, in_trees)
    warning = the_finding(survey, "identifier-other-digits")
    assert (warning["severity"], warning["file"], warning["row"], warning["value"]) == (
        "warning", "trees.csv", 2, in_trees,
    )  # fmt: skip
    assert warning["message"] == f"plot {in_trees} is spelled {in_plots} in plots.csv; 6 rows have it"
    assert len(found(survey, "stem-without-plot")) == 6
    assert survey.trees["plot"][0] == in_trees


@pytest.mark.parametrize(("in_plots", "in_trees"), [("١٢", "١٢"), ("12", "12"), ("13", "١٢"), ("é", "è")])
def test_identifiers_spelled_alike_or_really_different_are_not_told(
    tmp_path: Path, in_plots: str, in_trees: str
) -> None:
    assert not found(_plots(tmp_path, in_plots, in_trees), "identifier-other-digits")


def test_compartments_of_the_plots_are_compared_with_the_layer(tmp_path: Path) -> None:
    text = FILES["species.csv"].replace("oak,", "oak1,")
    trees = FILES["trees.csv"].replace(",oak,", ",oak१,")
    survey = read_survey(folder_example(tmp_path, {"species.csv": text, "trees.csv": trees}))
    assert the_finding(survey, "identifier-other-digits")["column"] == "species"
