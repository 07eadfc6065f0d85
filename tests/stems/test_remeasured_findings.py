"""Findings of check measurements: about the rows of the check, and about the crews."""

from __future__ import annotations

from dataclasses import replace

import polars as pl
import pytest

from plotmap.model.field_tables import CHECK_TREES
from plotmap.stems import compare_checks, measure_stems
from plotmap.workflow import check
from tests.folder_example import the_finding
from tests.stems.check_example import (
    PLOT,
    compared,
    outcomes,
    stems,
    summary,
)
from tests.survey_example import field_table, survey_example


def test_a_check_stem_on_a_plot_that_is_not_there_is_an_error() -> None:
    found = compared(stems([20.0], ["1"]), {"plot": ["P1", "P9"], "tree": ["1", "1"], "d1_cm": [20.0, 30.0]})
    row = the_finding(found.findings, "check-plot-unknown")
    assert (row["severity"], row["file"], row["row"], row["value"]) == ("error", "check_trees.csv", 3, "P9")
    assert row["message"] == "plot P9 is not in the plots table"
    assert "check-plot-unknown" not in compared(stems([20.0]), stems([20.0])).findings.codes


@pytest.mark.parametrize("state", ["lost", "unvisited"])
def test_a_check_stem_on_a_plot_that_was_not_measured_is_set_aside(state: str) -> None:
    found = compared(None, stems([20.0]), plots={**PLOT, "state": [state]})
    row = the_finding(found.findings, "check-on-unmeasured-plot")
    assert (row["severity"], row["row"], row["message"]) == (
        "warning",
        2,
        f"the plot is marked {state}, so the row is set aside",
    )
    assert found.set_aside.rows() == [("check_trees", f"plot {state}", 1)]


def test_check_stems_on_an_empty_plot_are_missed() -> None:
    found = compared(None, stems([20.0]), plots={**PLOT, "state": ["empty"]})
    assert outcomes(found) == [("missed", None, 20.0, None)]
    assert "check-on-unmeasured-plot" not in found.findings.codes


def test_a_number_that_comes_twice_in_the_check_is_an_error() -> None:
    again = stems([20.0, 20.2, 30.0, 31.0], ["1", "1", None, None])
    found = compared(stems([20.0], ["1"]), again)
    row = the_finding(found.findings, "check-stem-twice")
    assert summary(found)["n_missed"] == 2  # the copy is no stem of its own
    assert found.set_aside.rows() == [("check_trees", "number comes twice", 1)]
    assert (row["severity"], row["row"], row["plot"], row["value"]) == ("error", 3, "P1", "1")
    assert row["message"] == "plot P1, tree 1 comes again; it is first in row 2"


def test_stems_missed_are_named_with_their_rows_plot_by_plot() -> None:
    found = compared(stems([20.0], ["1"]), stems([20.0, 50.0, 60.0], ["1", "2", "3"]))
    row = the_finding(found.findings, "check-stems-missed")
    assert (row["severity"], row["row"], row["plot"], row["value"]) == ("warning", 3, "P1", "2")
    assert row["message"] == (
        "north: 2 of the 3 stems that the check found are missed (rows 3, 4); none is allowed"
    )
    assert "check-stems-missed" not in compared(stems([20.0]), stems([20.0])).findings.codes


@pytest.mark.parametrize(
    ("crew", "check", "says"),
    [
        ([20.0], [20.0, 60.0], "1 of the 2 stems that the check found is missed (row 3)"),
        ([60.0], [20.0], "the only stem that the check found is missed (row 2)"),
    ],
)
def test_one_stem_missed_is_no_plural(crew: list[float], check: list[float], says: str) -> None:
    found = compared(stems(crew), stems(check))
    assert the_finding(found.findings, "check-stems-missed")["message"] == f"north: {says}; none is allowed"


def test_stems_that_only_the_crew_found_are_named() -> None:
    found = compared(stems([20.0, 50.0], ["1", "2"]), stems([20.0], ["1"]))
    row = the_finding(found.findings, "check-stems-extra")
    assert (row["severity"], row["row"], row["plot"], row["value"]) == ("warning", 2, "P1", "1")
    assert (
        row["message"] == "north: stems that the check did not find: 1 (row 3 of the trees); none is allowed"
    )
    assert "check-stems-extra" not in compared(stems([20.0]), stems([20.0])).findings.codes


def test_a_plot_without_any_stem_in_common_is_a_finding() -> None:
    found = compared(stems([20.0, 21.0]), stems([50.0]))
    row = the_finding(found.findings, "check-without-pairs")
    assert (row["severity"], row["row"], row["value"]) == ("warning", 2, "P1")
    assert row["message"].startswith("north: none of the stems of the check (1) and of the crew (2)")
    assert "check-without-pairs" not in compared(stems([20.0, 21.0]), stems([20.0])).findings.codes


def test_a_crew_that_reads_too_high_is_a_finding_with_its_interval() -> None:
    numbers = [str(k) for k in range(4)]
    found = compared(stems([20.3, 30.3, 40.2, 50.4], numbers), stems([20.0, 30.0, 40.0, 50.0], numbers))
    row = the_finding(found.findings, "check-bias")
    # by hand: 3, 3, 2 and 4 mm: mean 3.0, s 0.8165, t(3) 3.182: ± 1.3
    assert (row["severity"], row["value"], row["column"]) == ("warning", "3.0", "crew")
    assert row["message"].startswith(
        "north reads 3.0 mm too high on average (95 % interval 1.7 to 4.3 mm, pairs: 4); 2 mm is allowed. "
        "Basal area is 1."
    )


@pytest.mark.parametrize(
    ("differences_cm", "is_found"),
    [
        ([0.2, 0.2, 0.2], False),  # 2 mm is allowed itself
        ([0.21, 0.21, 0.21], True),
        ([-0.21, -0.21, -0.21], True),
        ([0.9, -0.3, 0.3], False),  # 3 mm on average, but the interval holds zero
        ([0.5], False),  # one pair has no interval
    ],
)
def test_a_bias_must_be_too_large_and_surely_not_zero(differences_cm: list[float], is_found: bool) -> None:  # noqa: FBT001
    numbers = [str(k) for k in range(len(differences_cm))]
    again = [20.0 + 10 * k for k in range(len(numbers))]
    crew = [size + more for size, more in zip(again, differences_cm, strict=True)]
    found = compared(stems(crew, numbers), stems(again, numbers))
    assert ("check-bias" in found.findings.codes) is is_found


@pytest.mark.parametrize(("n_off", "is_found"), [(1, False), (2, True)])
def test_a_share_within_the_tolerance_below_the_least_is_a_finding(n_off: int, is_found: bool) -> None:  # noqa: FBT001
    again = [20.0 + k for k in range(10)]
    crew = [size + (0.6 if k < n_off else 0.0) for k, size in enumerate(again)]
    numbers = [str(k) for k in range(10)]
    found = compared(stems(crew, numbers), stems(again, numbers))
    assert ("check-outside-tolerance" in found.findings.codes) is is_found
    if is_found:
        row = the_finding(found.findings, "check-outside-tolerance")
        assert (row["severity"], row["value"]) == ("warning", "80.0")
        assert row["message"] == (
            "north: 80.0 % of 10 diameters are within 5 mm or 1 % (whichever is more) of the check; "
            "90 % is the least allowed"
        )


def test_odd_rows_of_the_check_are_found_in_its_own_file_and_plot() -> None:
    again = stems([20.0, None], ["1", "2"], instrument=["K9", None], date=["2026-05-20", "2026-05-21"])
    instruments = {"instrument": ["K1"], "date": ["2026-05-01"]}
    found = compared(stems([20.0], ["1"]), again, instruments=instruments)
    bare, unknown = (
        the_finding(found.findings, code) for code in ("stem-without-diameter", "instrument-unknown")
    )
    assert [(row["file"], row["row"], row["plot"]) for row in (bare, unknown)] == [
        ("check_trees.csv", 3, "P1"),
        ("check_trees.csv", 2, "P1"),
    ]


def test_findings_about_the_stems_of_the_crew_are_not_made_twice() -> None:
    survey = survey_example(
        trees=stems([20.0], ["1"], instrument=["K9"]),
        plots=PLOT,
        check_trees=stems([20.0], ["1"]),
        instruments={"instrument": ["K1", "K1"], "date": ["2026-05-01"] * 2, "zero_mm": [1.0, 2.0]},
    )
    codes = check(survey).frame["code"].to_list()
    assert codes.count("instrument-unknown") == codes.count("instrument-check-twice") == 1


def test_a_check_without_a_single_usable_row_gives_no_differences() -> None:
    found = compared(stems([20.0]), {"plot": [None, "P9"], "d1_cm": [20.0, 30.0]})
    assert (found.differences.height, found.rows_used) == (0, 0)
    assert found.summary.filter(pl.col("n_pairs") > 0).is_empty()


def test_numbers_that_are_no_numbers_are_passed_over() -> None:
    again = stems([float("nan"), 1e9, -5.0, 20.0], [None, None, None, "1"])
    found = compared(stems([20.1], ["1"]), again)
    assert [row for row in outcomes(found) if row[0] == "pair"] == [("pair", 20.1, 20.0, "number")]


def test_rows_in_another_order_give_the_same_summary() -> None:
    trees = field_table(CHECK_TREES, stems([20.0, 21.5, 30.0, 41.0], [None, None, "3", "4"]))
    survey = survey_example(
        trees=stems([20.3, 22.0, 30.1, 40.0], [None, None, "3", "4"]), plots=PLOT, check_trees=trees
    )
    turned = replace(survey, trees=survey.trees.reverse(), check_trees=survey.check_trees.reverse())
    first, second = (compare_checks(one, measure_stems(one)) for one in (survey, turned))
    assert first.differences.equals(second.differences)
    assert first.summary.equals(second.summary)
