"""Rows of totals: set aside where they add up, kept and told where not. Sums are worked by hand."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pytest

from plotmap.fielddata import read_survey
from plotmap.fielddata.convert import TypedTable, convert
from plotmap.fielddata.headings import match_headings
from plotmap.fielddata.text_files import read_text
from plotmap.model.columns import Table
from plotmap.model.field_tables import PLOTS, TALLIES, TREES
from plotmap.workflow import check, compile_survey
from tests.folder_example import (
    FILES,
    as_csv,
    folder_example,
    found,
    the_finding,
    write_book,
)
from tests.folder_example import (
    TALLIES as TALLIES_CSV,
)

HEADING = ["plot", "species", "class", "count"]
TALLY = [["P1", "oak", "10-15", "3"], ["P1", "ash", "10-15", "2"], ["P2", "oak", "10-15", "4"]]


def _typed(folder: Path, table: Table, *rows: Sequence[str]) -> TypedTable:
    path = folder / "a.csv"
    path.write_text(as_csv(rows))
    raw = read_text(path, "", "a.csv")
    headings, _ = match_headings(table, raw.headings, {}, "a.csv")
    return convert(table, raw, headings, "a.csv")


WORDS = [
    "Total",
    "TOTAL:",
    "total",
    "Totals",
    "Sum",
    "Σ",
    "∑",
    "Summe",
    "Grand total",
    "Subtotal",
    "sub-total",
    "Gesamt",
]


@pytest.mark.parametrize("word", WORDS)
def test_a_row_with_a_word_for_totals_and_the_sum_is_set_aside(tmp_path: Path, word: str) -> None:
    typed = _typed(tmp_path, TALLIES, HEADING, *TALLY, [word, "", "", "9"])
    assert typed.frame["count"].to_list() == [3, 2, 4]
    assert (typed.n_read, typed.n_blank, typed.set_aside) == (4, 0, {"row of totals": 1})
    warning = the_finding(typed.findings, "totals-row")
    assert typed.findings.codes == {"totals-row"}
    assert (warning["severity"], warning["row"], warning["column"], warning["value"]) == (
        "warning",
        5,
        "plot",
        word,
    )
    assert (
        warning["message"] == f"1 row says {word} (A5) and holds the sums of those above: no data, set aside"
    )


@pytest.mark.parametrize("word", ["Total P1", "P1 Total", "P1 total:", "Sum P1"])
def test_sums_between_blocks_are_set_aside_and_the_sum_of_all_too(tmp_path: Path, word: str) -> None:
    rows = [*TALLY[:2], [word, "", "", "5"], TALLY[2], ["P2 total", "", "", "4"], ["Total", "", "", "9"]]
    typed = _typed(tmp_path, TALLIES, HEADING, *rows)
    assert typed.frame["count"].to_list() == [3, 2, 4]
    assert typed.set_aside == {"row of totals": 3}
    says = f"3 rows say {word} (A4, A6, A7) and hold the sums of those above: no data, set aside"
    assert the_finding(typed.findings, "totals-row")["message"] == says


@pytest.mark.parametrize("count", ["8", "10", "0", "3", "4"])
def test_a_row_that_does_not_add_up_is_kept_and_told(tmp_path: Path, count: str) -> None:
    typed = _typed(tmp_path, TALLIES, HEADING, *TALLY, ["Total", "oak", "10-15", count])
    assert typed.frame["count"].to_list() == [3, 2, 4, int(count)]
    assert not typed.set_aside
    warning = the_finding(typed.findings, "totals-row-doubtful")
    assert (warning["severity"], warning["row"], warning["value"]) == ("warning", 5, "Total")
    says = "1 row says Total (A5) but its numbers are not the sums of the rows above: read as data"
    assert warning["message"] == says


def test_sums_without_a_word_are_data(tmp_path: Path) -> None:
    typed = _typed(tmp_path, TALLIES, HEADING, *TALLY, ["P3", "oak", "10-15", "9"])
    assert typed.frame["count"].to_list() == [3, 2, 4, 9]
    assert not len(typed.findings)


@pytest.mark.parametrize("word", ["Sumac", "totally rotten", "assumed", "sum of two forks", "total loss"])
def test_other_words_are_not_taken_for_totals(tmp_path: Path, word: str) -> None:
    rows = [["plot", "d1_cm", "remark"], ["P1", "30", ""], ["P1", "31", word]]
    typed = _typed(tmp_path, TREES, *rows)
    assert typed.frame["d1_cm"].to_list() == [30, 31]
    assert not len(typed.findings)


def test_a_tree_called_total_that_follows_trees_of_other_sizes_is_kept(tmp_path: Path) -> None:
    rows = [["plot", "tree", "d1_cm"], ["P1", "1", "30"], ["P1", "Total", "31"], ["P1", "2", "32"]]
    typed = _typed(tmp_path, TREES, *rows)
    assert typed.frame["tree"].to_list() == ["1", "Total", "2"]
    assert typed.findings.codes == {"totals-row-doubtful"}


def test_a_first_row_called_total_is_kept(tmp_path: Path) -> None:
    typed = _typed(tmp_path, TALLIES, HEADING, ["Total", "oak", "10-15", "5"], *TALLY)
    assert typed.frame["count"].to_list() == [5, 3, 2, 4]


def test_zeros_prove_nothing(tmp_path: Path) -> None:
    rows = [["plot", "slope_pct"], ["A", "0"], ["B", "0"], ["Total", "0"]]
    typed = _typed(tmp_path, PLOTS, *rows)
    assert typed.frame["plot"].to_list() == ["A", "B", "Total"]


def test_means_and_numbers_of_rows_may_stand_beside_a_sum_but_not_alone(tmp_path: Path) -> None:
    heading = ["plot", "tree", "d1_cm", "d2_cm", "height_m"]
    data = [["P1", "1", "30", "31", "20"], ["P1", "2", "40", "42", "23"]]
    sums = _typed(tmp_path, TREES, heading, *data, ["Total", "", "70", "2", "21.5"])
    assert sums.set_aside == {"row of totals": 1}
    assert not _typed(tmp_path, TREES, heading, *data, ["Total", "", "35", "36.5", "21.5"]).set_aside
    assert not _typed(tmp_path, TREES, heading, *data, ["Total", "", "70", "50", "21.5"]).set_aside


def test_sums_of_columns_that_are_not_read_count_too(tmp_path: Path) -> None:
    rows = [["plot", "tree", "volume"], ["P1", "1", "0.5"], ["P1", "2", "0,7"], ["Σ", "", "1.2"]]
    assert _typed(tmp_path, TREES, *rows).set_aside == {"row of totals": 1}


@pytest.mark.parametrize(
    ("written", "aside"), [("61.7", True), ("61.8", True), ("62", True), ("61", False), ("61.6", False)]
)
def test_a_sum_may_be_rounded_as_far_as_it_is_written(tmp_path: Path, written: str, aside: bool) -> None:  # noqa: FBT001
    rows = [["plot", "d1_cm"], ["P1", "30.25"], ["P1", "31.5"], ["Total", written]]  # the sum is 61.75
    assert bool(_typed(tmp_path, TREES, *rows).set_aside) is aside


def test_the_ledger_counts_rows_of_totals_of_a_workbook(tmp_path: Path) -> None:
    rows = [*[line.split(",") for line in TALLIES_CSV.split()], ["Total", None, None, 9]]
    numbers = [[*cells[:3], int(cells[3])] for cells in rows[1:]]
    folder_example(tmp_path)
    write_book(tmp_path / "tallies.xlsx", {"tallies": [rows[0], *numbers]})
    survey = read_survey(tmp_path)
    assert check(survey).codes == {"totals-row"}
    assert the_finding(survey, "totals-row")["message"].startswith("1 row says Total (A5)")
    ledger = compile_survey(survey).ledger.filter(table="tallies")
    assert ledger.select("outcome", "reason", "rows").rows() == [
        ("read", "", 4),
        ("used", "", 3),
        ("set aside", "row of totals", 1),
    ]


def test_features_of_layers_are_never_totals(tmp_path: Path) -> None:
    survey = read_survey(folder_example(tmp_path, {"species.csv": FILES["species.csv"]}))
    assert not found(survey, "totals-row")
    assert survey.rows_no_data["compartments"] == {}
