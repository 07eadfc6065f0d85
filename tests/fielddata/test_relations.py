"""Checks across tables: what plots, stems, tallies and species say of one another."""

from __future__ import annotations

from pathlib import Path

import pytest

from plotmap.fielddata import read_survey
from plotmap.model.survey import Survey
from tests.folder_example import FILES, TALLIES, edited, folder_example, found, settings_text, the_finding


def _plots(tmp_path: Path, *edits: tuple[int, str, str]) -> Survey:
    return read_survey(folder_example(tmp_path, {"plots.csv": edited("plots.csv", *edits)}))


def _trees(tmp_path: Path, *edits: tuple[int, str, str], **settings: str) -> Survey:
    """Row 2 is tree 1 of P1, an oak; row 3 tree 2, an ash."""
    files = {"trees.csv": edited("trees.csv", *edits), "survey.toml": settings_text(**settings)}
    return read_survey(folder_example(tmp_path, files))


def _tallies(tmp_path: Path, *edits: tuple[int, str, str]) -> Survey:
    """Row 2 is P1, oak, 10-15, 3 stems; row 3 P1, ash, 15-20; row 4 P2, oak, 10-15."""
    return read_survey(folder_example(tmp_path, {"tallies.csv": edited("tallies.csv", *edits)}))


def test_tables_that_hang_together_have_no_finding(tmp_path: Path) -> None:
    assert not len(read_survey(folder_example(tmp_path, {"tallies.csv": TALLIES})).findings)


def test_a_plot_that_comes_twice_is_an_error(tmp_path: Path) -> None:
    error = the_finding(_plots(tmp_path, (3, "plot", "P1")), "plot-twice")
    assert (error["severity"], error["file"], error["row"]) == ("error", "plots.csv", 3)
    assert (error["plot"], error["value"]) == ("P1", "P1")
    assert error["message"] == "plot P1 comes again; it is first in row 2"
    assert "delete one row" in error["hint"]


def test_a_plot_in_three_rows_is_two_findings(tmp_path: Path) -> None:
    survey = _plots(tmp_path, (3, "plot", "P1"), (4, "plot", "P1"))
    assert [row["row"] for row in found(survey, "plot-twice")] == [3, 4]


@pytest.mark.parametrize("other", ["p1", "P01", "P1.0"])
def test_identifiers_that_are_not_the_same_text_are_not_the_same(tmp_path: Path, other: str) -> None:
    assert "plot-twice" not in _plots(tmp_path, (3, "plot", other)).findings.codes


def test_a_stem_that_comes_twice_is_an_error(tmp_path: Path) -> None:
    error = the_finding(_trees(tmp_path, (3, "tree", "1")), "stem-twice")
    assert (error["severity"], error["file"], error["row"]) == ("error", "trees.csv", 3)
    assert (error["plot"], error["column"], error["value"]) == ("P1", "tree", "1")
    assert error["message"] == "plot P1, tree 1 comes again; it is first in row 2"
    assert "forked" in error["hint"]


def test_stems_without_a_number_are_not_the_same_stem(tmp_path: Path) -> None:
    assert not len(_trees(tmp_path, (2, "tree", ""), (3, "tree", "")).findings)


def test_forked_stems_numbered_apart_are_two(tmp_path: Path) -> None:
    assert not len(_trees(tmp_path, (2, "tree", "1a"), (3, "tree", "1b")).findings)


def test_a_class_tallied_twice_is_a_warning(tmp_path: Path) -> None:
    row = the_finding(_tallies(tmp_path, (3, "species", "oak"), (3, "class", "10-15")), "tally-twice")
    assert (row["severity"], row["file"], row["row"]) == ("warning", "tallies.csv", 3)
    assert (row["plot"], row["value"]) == ("P1", "10-15")
    assert row["message"] == "plot P1, species oak, class 10-15 comes again; it is first in row 2"
    assert "Delete the row" in row["hint"]


def test_a_class_tallied_twice_without_species_is_a_warning_too(tmp_path: Path) -> None:
    survey = _tallies(tmp_path, (2, "species", ""), (3, "species", ""), (3, "class", "10-15"))
    assert "species not recorded" in the_finding(survey, "tally-twice")["message"]


def test_one_class_of_two_species_is_not_tallied_twice(tmp_path: Path) -> None:
    assert "tally-twice" not in _tallies(tmp_path, (3, "class", "10-15")).findings.codes


def test_a_measured_plot_without_stems_is_a_warning(tmp_path: Path) -> None:
    row = the_finding(_plots(tmp_path, (7, "state", "measured")), "plot-without-stems")
    assert (row["severity"], row["file"], row["row"]) == ("warning", "plots.csv", 7)
    assert (row["plot"], row["column"], row["value"]) == ("P6", "state", "measured")
    assert row["message"] == "the plot is marked measured, but has no stems; it counts as a zero"
    assert "Set its state to empty" in row["hint"]


def test_a_plot_whose_state_is_blank_is_taken_as_measured(tmp_path: Path) -> None:
    assert the_finding(_plots(tmp_path, (7, "state", "")), "plot-without-stems")["plot"] == "P6"


@pytest.mark.parametrize("state", ["empty", "lost", "unvisited"])
def test_other_plots_may_be_without_stems(tmp_path: Path, state: str) -> None:
    assert "plot-without-stems" not in _plots(tmp_path, (7, "state", state)).findings.codes


def test_a_tally_is_stems_too(tmp_path: Path) -> None:
    files = {
        "plots.csv": edited("plots.csv", (7, "state", "measured")),
        "tallies.csv": edited("tallies.csv", (4, "plot", "P6")),
    }
    assert "plot-without-stems" not in read_survey(folder_example(tmp_path, files)).findings.codes


def test_a_tally_of_no_stem_is_none(tmp_path: Path) -> None:
    files = {
        "plots.csv": edited("plots.csv", (7, "state", "measured")),
        "tallies.csv": edited("tallies.csv", (4, "plot", "P6"), (4, "count", "0")),
    }
    assert the_finding(read_survey(folder_example(tmp_path, files)), "plot-without-stems")["plot"] == "P6"


@pytest.mark.parametrize(
    "files",
    [
        {"trees.csv": b""},
        {"trees.csv": FILES["trees.csv"].replace("plot,", "plot no,", 1)},
        {"trees.tsv": FILES["trees.csv"].replace(",", "\t")},
    ],
    ids=["unreadable", "without plot column", "given twice"],
)
def test_no_plot_is_said_to_lack_stems_where_the_stems_could_not_be_read(tmp_path: Path, files: dict) -> None:
    survey = read_survey(folder_example(tmp_path, files))
    assert survey.findings.has_errors
    assert not survey.findings.codes & {"plot-without-stems", "no-rows"}


def test_an_empty_plot_with_stems_is_an_error(tmp_path: Path) -> None:
    error = the_finding(_plots(tmp_path, (6, "state", "empty")), "plot-empty-with-stems")
    assert (error["severity"], error["file"], error["row"]) == ("error", "plots.csv", 6)
    assert (error["plot"], error["column"], error["value"]) == ("P5", "state", "empty")
    assert error["message"] == "the plot is marked empty, but 6 stems name it"
    assert "Correct the state" in error["hint"]


def test_an_empty_plot_with_a_tally_of_no_stem_is_fine(tmp_path: Path) -> None:
    assert not len(_tallies(tmp_path, (2, "plot", "P6"), (2, "count", "0")).findings)


def test_a_stem_on_a_plot_that_is_not_there_is_an_error(tmp_path: Path) -> None:
    error = the_finding(_trees(tmp_path, (2, "plot", "P9")), "stem-without-plot")
    assert (error["severity"], error["file"], error["row"]) == ("error", "trees.csv", 2)
    assert (error["plot"], error["column"], error["value"]) == ("P9", "plot", "P9")
    assert error["message"] == "plot P9 is not in the plots table"
    assert "Add the plot" in error["hint"]


def test_a_tally_on_a_plot_that_is_not_there_is_an_error(tmp_path: Path) -> None:
    error = the_finding(_tallies(tmp_path, (4, "plot", "P9")), "tally-without-plot")
    assert (error["severity"], error["file"], error["row"], error["plot"]) == (
        "error",
        "tallies.csv",
        4,
        "P9",
    )
    assert error["message"] == "plot P9 is not in the plots table"
    assert error["hint"]


@pytest.mark.parametrize("state", ["lost", "unvisited"])
def test_stems_and_tallies_on_a_plot_that_was_not_measured_are_warnings(tmp_path: Path, state: str) -> None:
    files = {"plots.csv": edited("plots.csv", (2, "state", state)), "tallies.csv": TALLIES}
    survey = read_survey(folder_example(tmp_path, files))
    for code, file, rows in (
        ("stem-on-unmeasured-plot", "trees.csv", [2, 3, 4, 5, 6, 7]),
        ("tally-on-unmeasured-plot", "tallies.csv", [2, 3]),
    ):
        warnings = found(survey, code)
        assert [(row["severity"], row["file"], row["row"]) for row in warnings] == [
            ("warning", file, number) for number in rows
        ]
        assert {row["message"] for row in warnings} == {
            f"the plot is marked {state}, so the row is set aside"
        }
        assert {row["plot"] for row in warnings} == {"P1"}
        assert all("Set the state of the plot" in row["hint"] for row in warnings)
    assert not survey.findings.codes & {"stem-without-plot", "tally-without-plot"}


def test_an_unknown_species_is_one_warning_with_the_number_of_its_stems(tmp_path: Path) -> None:
    row = the_finding(_trees(tmp_path, (3, "species", "oka"), (5, "species", "oka")), "species-unknown")
    assert (row["severity"], row["file"], row["row"], row["plot"]) == ("warning", "trees.csv", 3, "P1")
    assert (row["column"], row["value"]) == ("species", "oka")
    assert row["message"] == "species oka is not in the species table; 2 rows have it; oak may be meant"
    assert "add the species" in row["hint"]


def test_an_unknown_species_of_a_tally_is_a_warning(tmp_path: Path) -> None:
    row = the_finding(_tallies(tmp_path, (2, "species", "elm")), "species-unknown")
    assert (row["file"], row["row"], row["value"]) == ("tallies.csv", 2, "elm")
    assert row["message"] == "species elm is not in the species table; 1 row has it"


def test_with_very_many_unknown_species_none_is_proposed(tmp_path: Path) -> None:
    rows = [f"P1,oaks{number * 'x'},{20 + number}.5" for number in range(201)]
    folder_example(tmp_path, {"trees.csv": "\n".join(["plot,species,d1_cm", *rows]) + "\n"})
    told = found(read_survey(tmp_path), "species-unknown")
    assert len(told) == 201
    assert not any("may be meant" in row["message"] for row in told)
    folder_example(tmp_path, {"trees.csv": "\n".join(["plot,species,d1_cm", *rows[:200]]) + "\n"})
    told = found(read_survey(tmp_path), "species-unknown")
    assert "oak may be meant" in told[0]["message"]


def test_a_species_that_was_not_recorded_is_not_unknown(tmp_path: Path) -> None:
    assert "species-unknown" not in _trees(tmp_path, (2, "species", "")).findings.codes


def test_without_a_species_table_no_species_is_unknown(tmp_path: Path) -> None:
    files = {"species.csv": None, "trees.csv": edited("trees.csv", (2, "species", "elm"))}
    assert not len(read_survey(folder_example(tmp_path, files)).findings)


@pytest.mark.parametrize("edge", ["whole", "inside"])
def test_a_stem_that_counts_twice_without_mirage_is_an_error(tmp_path: Path, edge: str) -> None:
    plots = f'design = "circle"\nradius_m = 12.62\nedge = "{edge}"'
    error = the_finding(_trees(tmp_path, (2, "times", "2"), plots=plots), "times-without-mirage")
    assert (error["severity"], error["file"], error["row"]) == ("error", "trees.csv", 2)
    assert (error["plot"], error["column"], error["value"]) == ("P1", "times", "2")
    assert error["message"] == "times is 2, but the edge rule of the settings is not mirage"
    assert "edge = 'mirage'" in error["hint"]


def test_a_stem_that_counts_once_needs_no_mirage(tmp_path: Path) -> None:
    assert "times-without-mirage" not in _trees(tmp_path, (2, "times", "1")).findings.codes


def test_under_mirage_stems_may_count_twice(tmp_path: Path) -> None:
    plots = 'design = "circle"\nradius_m = 12.62\nedge = "mirage"'
    assert "times-without-mirage" not in _trees(tmp_path, (2, "times", "2"), plots=plots).findings.codes


def test_a_species_that_comes_twice_is_an_error(tmp_path: Path) -> None:
    species = "species,bark_factor\noak,0.93\nash,0.9\noak,0.91\n"
    error = the_finding(read_survey(folder_example(tmp_path, {"species.csv": species})), "species-twice")
    assert (error["severity"], error["file"], error["row"]) == ("error", "species.csv", 4)
    assert (error["plot"], error["column"], error["value"]) == (None, "species", "oak")
    assert error["message"] == "species oak comes again; it is first in row 2"


def test_two_species_are_no_finding(tmp_path: Path) -> None:
    species = "species,bark_factor\noak,0.93\nOak,0.9\nash,0.9\n"
    survey = read_survey(folder_example(tmp_path, {"species.csv": species}))
    assert "species-twice" not in survey.findings.codes
