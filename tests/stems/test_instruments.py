"""Which check is in force, and what it does to a reading. Arithmetic that can be done in the head."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import polars as pl
import pytest

from plotmap.model.stem_table import Stems
from plotmap.stems import measure_stems
from tests.survey_example import survey_example

_ONE_CHECK = {"instrument": ["C"], "kind": ["caliper"], "date": ["2026-05-01"], "zero_mm": [3.0]}
_STEM = {"plot": ["P1"], "d1_cm": [30.0], "instrument": ["C"]}


def _measure(
    checks: dict[str, Sequence[Any]],
    trees: dict[str, Sequence[Any]] = _STEM,
    day: str | None = "2026-05-14",
    **stems: Any,
) -> Stems:
    plots = {"plot": ["P1"], "date": [day]}
    return measure_stems(
        survey_example(trees=trees, instruments=checks, plots=plots, settings={"stems": stems})
    )


def _dbh(stems: Stems) -> list[float]:
    return stems.measured["dbh_cm"].to_list()


def _only(stems: Stems, code: str) -> dict[str, Any]:
    found = stems.findings.frame.filter(pl.col("code") == code)
    assert found.height == 1
    return found.row(0, named=True)


def test_the_zero_is_taken_off_every_reading() -> None:
    stems = _measure(_ONE_CHECK)
    assert _dbh(stems) == pytest.approx([29.7])
    assert stems.measured["correction_mm"].to_list() == pytest.approx([-3.0])
    assert len(stems.findings) == 0


def test_a_zero_below_the_mark_is_added() -> None:
    assert _dbh(_measure({**_ONE_CHECK, "zero_mm": [-3.0]})) == pytest.approx([30.3])


def test_a_bar_gives_the_gain_after_the_zero() -> None:
    # the bar of 300 mm reads 253 mm, 250 mm less the zero: gain 1.2; (300 - 3) mm * 1.2 = 356.4 mm
    checks = {**_ONE_CHECK, "bar_mm": [300.0], "bar_reading_mm": [253.0]}
    assert _dbh(_measure(checks)) == pytest.approx([35.64])


def test_a_missing_zero_is_nought_and_a_bar_without_reading_gives_no_gain() -> None:
    checks = {**_ONE_CHECK, "zero_mm": [None], "bar_mm": [300.0], "bar_reading_mm": [None]}
    assert _dbh(_measure(checks)) == [30.0]


def test_a_missing_kind_is_a_caliper() -> None:
    assert _dbh(_measure({**_ONE_CHECK, "kind": [None]})) == pytest.approx([29.7])


def test_a_tape_corrects_the_girth_before_it_is_divided_by_pi() -> None:
    trees = {"plot": ["P1"], "girth_cm": [94.5], "instrument": ["T"]}
    checks = {**_ONE_CHECK, "instrument": ["T"], "kind": ["tape"]}
    assert _dbh(_measure(checks, trees)) == pytest.approx([94.2 / 3.141592653589793])


@pytest.mark.parametrize(
    ("day", "zero_mm"),
    [("2026-05-01", 1.0), ("2026-05-09", 1.0), ("2026-05-10", 2.0), ("2026-05-19", 2.0), ("2026-06-01", 4.0)],
)
def test_the_last_check_up_to_the_day_is_in_force(day: str, zero_mm: float) -> None:
    checks = {
        "instrument": ["C", "D", "C", "C"],
        "date": ["2026-05-20", "2026-05-13", "2026-05-01", "2026-05-10"],
        "zero_mm": [4.0, 50.0, 1.0, 2.0],
    }
    assert _dbh(_measure(checks, day=day)) == pytest.approx([30 - zero_mm / 10])


def test_a_day_before_the_first_check_stays_uncorrected() -> None:
    stems = _measure(_ONE_CHECK, day="2026-04-30")
    assert _dbh(stems) == [30.0]
    found = _only(stems, "instrument-check-missing")
    assert (found["file"], found["row"], found["plot"], found["value"]) == ("trees.csv", 2, "P1", "C")
    assert "2026-04-30" in found["message"]


@pytest.mark.parametrize(("day", "old"), [("2026-05-31", False), ("2026-06-01", True)])
def test_a_check_older_than_allowed_is_found_and_used(day: str, *, old: bool) -> None:
    stems = _measure(_ONE_CHECK, day=day, check_days=30)
    assert _dbh(stems) == pytest.approx([29.7])
    assert ("instrument-check-old" in stems.findings.codes) is old
    if old:
        assert "31 days old" in _only(stems, "instrument-check-old")["message"]


def test_an_unknown_instrument_is_found_once_with_the_number_of_its_stems() -> None:
    trees = {"plot": ["P1"] * 4, "d1_cm": [30.0] * 4, "instrument": [None, "X", "X", "C"]}
    stems = _measure(_ONE_CHECK, trees)
    found = _only(stems, "instrument-unknown")
    assert (found["row"], found["column"], found["value"]) == (3, "instrument", "X")
    assert "(stems: 2)" in found["message"]
    assert _dbh(stems) == pytest.approx([30, 30, 30, 29.7])


def test_without_an_instruments_table_nothing_is_unknown() -> None:
    stems = measure_stems(survey_example(trees=_STEM))
    assert _dbh(stems) == [30.0]
    assert stems.measured["correction_mm"].to_list() == [0.0]
    assert len(stems.findings) == 0


def test_a_plot_without_a_date_is_found_once_and_its_stems_stay_uncorrected() -> None:
    trees = {"plot": ["P1"] * 2, "d1_cm": [30.0, 20.0], "instrument": ["C", "C"]}
    stems = _measure(_ONE_CHECK, trees, day=None)
    found = _only(stems, "plot-date-missing")
    assert (found["file"], found["row"], found["plot"], found["column"]) == ("plots.csv", 2, "P1", "date")
    assert _dbh(stems) == [30.0, 20.0]


def test_a_plot_without_a_date_is_found_once_for_its_stems_and_tallies_together() -> None:
    trees = {"plot": ["P1"] * 2, "d1_cm": [30.0, 20.0], "instrument": ["C", "C"]}
    tallies = {
        "plot": ["P1"] * 3,
        "class": ["10-15", "15-20", "20-25"],
        "count": [4, 3, 2],
        "instrument": ["C"] * 3,
    }
    plots = {"plot": ["P1"], "date": [None]}
    survey = survey_example(trees=trees, tallies=tallies, instruments=_ONE_CHECK, plots=plots)
    found = _only(measure_stems(survey), "plot-date-missing")
    assert (found["file"], found["row"], found["plot"]) == ("plots.csv", 2, "P1")
    assert "(stems: 2, tally rows: 3)" in found["message"]


def test_a_plot_without_a_date_is_no_matter_where_no_instrument_is_named() -> None:
    stems = _measure(_ONE_CHECK, {"plot": ["P1"], "d1_cm": [30.0]}, day=None)
    assert stems.findings.codes == {"instrument-not-recorded", "instrument-unused"}


@pytest.mark.parametrize(
    ("kind", "reading", "expected"),
    [("tape", {"d1_cm": [30.0]}, 30.0), ("caliper", {"girth_cm": [94.2]}, 94.2 / 3.141592653589793)],
)
def test_a_reading_by_the_other_kind_stays_uncorrected(
    kind: str, reading: dict[str, list[float]], expected: float
) -> None:
    stems = _measure({**_ONE_CHECK, "kind": [kind]}, {"plot": ["P1"], "instrument": ["C"], **reading})
    assert _dbh(stems) == [pytest.approx(expected)]
    assert kind in _only(stems, "instrument-kind-differs")["message"]


def test_two_checks_on_one_day_are_an_error() -> None:
    checks = {"instrument": ["C", "C", "D"], "date": ["2026-05-01"] * 3, "zero_mm": [1.0, 2.0, 3.0]}
    stems = _measure(checks)
    found = _only(stems, "instrument-check-twice")
    assert (found["severity"], found["file"], found["row"]) == ("error", "instruments.csv", 3)
    assert "rows 2, 3" in found["message"]
    assert stems.measured.height == 1


@pytest.mark.parametrize(
    ("reading_mm", "usable"), [(375.0, True), (376.0, False), (240.0, True), (239.0, False)]
)
def test_a_gain_outside_the_limits_is_an_error_and_taken_as_one(reading_mm: float, *, usable: bool) -> None:
    # gains 0.8, 0.798, 1.25, 1.255 of a bar of 300 mm
    stems = _measure({**_ONE_CHECK, "zero_mm": [0.0], "bar_mm": [300.0], "bar_reading_mm": [reading_mm]})
    assert ("bar-unusable" not in stems.findings.codes) is usable
    assert _dbh(stems) == pytest.approx([30 * 300 / reading_mm if usable else 30.0])


def test_a_bar_reading_that_the_zero_eats_up_is_an_error() -> None:
    stems = _measure({**_ONE_CHECK, "zero_mm": [40.0], "bar_mm": [30.0], "bar_reading_mm": [40.0]})
    assert _only(stems, "bar-unusable")["severity"] == "error"
    assert _dbh(stems) == pytest.approx([26.0])


def test_a_plot_entered_twice_does_not_double_its_stems() -> None:
    plots = {"plot": ["P1", "P1"], "date": ["2026-05-14", "2026-05-15"]}
    stems = measure_stems(survey_example(trees=_STEM, instruments=_ONE_CHECK, plots=plots))
    assert _dbh(stems) == pytest.approx([29.7])


def test_a_file_name_with_braces_is_taken_literally() -> None:
    survey = survey_example(trees={**_STEM, "instrument": ["X"]}, instruments=_ONE_CHECK)
    named = replace(survey, sources=dict.fromkeys(survey.sources, "checks {}.csv"))
    assert "is not in checks {}.csv" in _only(measure_stems(named), "instrument-unknown")["message"]


def test_stems_that_name_no_instrument_are_counted_once() -> None:
    trees = {"plot": ["P1"] * 4, "d1_cm": [30.0, None, 31.0, 32.0], "instrument": ["C", None, None, None]}
    found = _only(_measure(_ONE_CHECK, trees), "instrument-not-recorded")
    assert (found["severity"], found["file"], found["row"], found["plot"]) == (
        "warning",
        "trees.csv",
        4,
        "P1",
    )
    assert found["message"].startswith(
        "2 of 4 rows name no instrument"
    )  # the one without a reading is no matter


@pytest.mark.parametrize(
    ("instruments", "says"),
    [
        (
            ["C", "C", None],
            "1 of 3 rows names no instrument, so nothing is corrected there; each row names the",
        ),
        (["C", None, None], "2 of 3 rows name no instrument, so"),
    ],
)
def test_one_stem_and_many_without_an_instrument_have_their_own_verb(instruments: list, says: str) -> None:
    trees = {"plot": ["P1"] * 3, "d1_cm": [30.0, 31.0, 32.0], "instrument": instruments}
    assert _only(_measure(_ONE_CHECK, trees), "instrument-not-recorded")["message"].startswith(says)


def test_all_stems_with_an_instrument_are_no_finding() -> None:
    assert "instrument-not-recorded" not in _measure(_ONE_CHECK).findings.codes


@pytest.mark.parametrize(
    ("marks", "found"), [([None, None], False), (["C", None], True), (["C", "C"], False)]
)
def test_tallies_need_an_instrument_only_where_others_name_one(
    marks: list[str | None], *, found: bool
) -> None:
    tallies = {"plot": ["P1"] * 2, "class": ["10-15"] * 2, "count": [1, 1], "instrument": marks}
    findings = measure_stems(survey_example(trees=_STEM, tallies=tallies, instruments=_ONE_CHECK)).findings
    rows = findings.frame.filter(pl.col("code") == "instrument-not-recorded")
    assert rows.select("file", "row").rows() == ([("tallies.csv", 3)] if found else [])


def test_an_instrument_that_nobody_names_is_a_note() -> None:
    checks = {
        "instrument": ["C", "D", "D"],
        "date": ["2026-05-01", "2026-05-01", "2026-05-02"],
        "zero_mm": [3.0] * 3,
    }
    found = _only(_measure(checks), "instrument-unused")
    assert (found["severity"], found["file"], found["row"], found["value"]) == (
        "note",
        "instruments.csv",
        3,
        "D",
    )
    assert "(rows here: 2)" in found["message"]


def test_an_instrument_named_by_a_tally_alone_is_used() -> None:
    tallies = {"plot": ["P1"], "class": ["10-15"], "count": [1], "instrument": ["C"]}
    stems = measure_stems(survey_example(tallies=tallies, instruments=_ONE_CHECK))
    assert "instrument-unused" not in stems.findings.codes


@pytest.mark.parametrize(
    ("day", "interpolated", "kept"),
    [
        ("2026-05-01", 1.0, 1.0),
        ("2026-05-06", 2.0, 1.0),  # half of ten days: half of the way from 1 to 3 mm
        ("2026-05-11", 3.0, 3.0),
        ("2026-06-01", 3.0, 3.0),  # no check follows
    ],
)
def test_a_zero_runs_straight_to_the_next_check_only_where_asked(
    day: str, interpolated: float, kept: float
) -> None:
    checks = {"instrument": ["C", "C"], "date": ["2026-05-01", "2026-05-11"], "zero_mm": [1.0, 3.0]}
    assert _dbh(_measure(checks, day=day, interpolate_checks=True)) == pytest.approx([30 - interpolated / 10])
    assert _dbh(_measure(checks, day=day)) == pytest.approx([30 - kept / 10])


def test_a_gain_is_interpolated_too() -> None:
    # gains 1 and 1.02 eight days apart; two days on it is 1.005
    checks = {
        "instrument": ["C", "C"],
        "date": ["2026-05-01", "2026-05-09"],
        "zero_mm": [0.0, 0.0],
        "bar_mm": [306.0, 306.0],
        "bar_reading_mm": [306.0, 300.0],
    }
    assert _dbh(_measure(checks, day="2026-05-03", interpolate_checks=True)) == pytest.approx([30 * 1.005])


def test_nothing_is_interpolated_before_the_first_check() -> None:
    assert _dbh(_measure(_ONE_CHECK, day="2026-04-30", interpolate_checks=True)) == [30.0]
