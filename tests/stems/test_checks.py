"""Readings that look like something else: both sides of each limit, and nothing is ever converted."""

import math
from typing import Any

import polars as pl
import pytest

from plotmap.model.stem_table import Stems
from plotmap.stems import measure_stems
from tests.survey_example import survey_example


def _measure(trees: dict[str, list[Any]], homes: str = "AA", **stems: Any) -> Stems:
    count = len(next(iter(trees.values())))
    plots = {"plot": ["P1", "P2"], "compartment": list(homes)}
    survey = survey_example(trees={"plot": ["P1"] * count, **trees}, plots=plots, settings={"stems": stems})
    return measure_stems(survey)


def _codes(stems: Stems) -> list[str]:
    return stems.findings.frame["code"].to_list()


@pytest.mark.parametrize(
    ("girth", "told"), [(16.9, False), (17.1, True), (20.0, True), (24.9, True), (25.3, False)]
)
def test_a_girth_about_as_large_as_the_diameter_looks_like_a_diameter(girth: float, *, told: bool) -> None:
    # limits 0.85 and 1.25 of a diameter of 20 cm; beyond them the readings merely differ
    stems = _measure({"d1_cm": [20.0], "girth_cm": [girth], "tree": ["7"]})
    assert _codes(stems) == (["girth-like-diameter"] if told else ["readings-differ"])
    (found,) = stems.findings.frame.rows(named=True)
    assert (found["row"], found["plot"]) == (2, "P1")
    assert stems.measured["dbh_cm"].to_list() == [20.0]


@pytest.mark.parametrize(
    ("times", "told"),
    [(math.pi * 0.84, False), (math.pi * 0.86, True), (math.pi * 1.14, True), (math.pi * 1.16, False)],
)
def test_a_diameter_about_pi_times_the_girth_looks_like_a_girth(times: float, *, told: bool) -> None:
    stems = _measure({"d1_cm": [20.0 * times], "girth_cm": [20.0]})
    assert _codes(stems) == (["diameter-like-girth"] if told else ["readings-differ"])
    assert stems.findings.frame["column"].to_list() == ["d1_cm"]


def test_a_girth_of_pi_times_the_diameter_is_fine() -> None:
    assert _codes(_measure({"d1_cm": [20.0], "girth_cm": [20 * math.pi]})) == []


@pytest.mark.parametrize(("second", "differ"), [(25.6, False), (25.8, True)])
def test_readings_differ_by_more_than_a_share_of_their_mean(second: float, *, differ: bool) -> None:
    # 20 and 25.71 cm differ by 25 % of 22.86 cm
    stems = _measure({"d1_cm": [20.0], "d2_cm": [second]})
    assert _codes(stems) == (["readings-differ"] if differ else [])
    assert stems.measured["dbh_cm"].to_list() == [(20 + second) / 2]


def test_a_smaller_share_may_be_allowed() -> None:
    assert _codes(_measure({"d1_cm": [20.0], "d2_cm": [21.5]}, max_reading_difference_pct=5)) == [
        "readings-differ"
    ]


def test_a_girth_differs_from_calipers_as_a_diameter() -> None:
    # 82 / π = 26.1 cm, 26.5 % of the mean more than 20 cm
    assert _codes(_measure({"d1_cm": [20.0], "girth_cm": [82.0]})) == ["readings-differ"]
    assert _codes(_measure({"d1_cm": [20.0], "girth_cm": [82.0]}, max_reading_difference_pct=30)) == []


def test_calipers_are_still_compared_where_the_girth_is_told_to_be_a_diameter() -> None:
    codes = _codes(_measure({"d1_cm": [20.0], "d2_cm": [30.0], "girth_cm": [25.0]}))
    assert sorted(codes) == ["girth-like-diameter", "readings-differ"]


def _two_plots(second: dict[str, list[float]], count: int, first: int = 20) -> dict[str, list[Any]]:
    (column, values) = next(iter(second.items()))
    trees: dict[str, list[Any]] = {
        "plot": ["P1"] * first + ["P2"] * count,
        "d1_cm": [30.0] * first + [None] * count,
        "girth_cm": [None] * (first + count),
    }
    trees[column][first:] = values
    return trees


@pytest.mark.parametrize(("first", "count", "told"), [(20, 5, True), (20, 4, False), (19, 5, False)])
def test_girths_of_a_plot_that_look_like_diameters_are_found_from_enough_stems(
    first: int, count: int, *, told: bool
) -> None:
    stems = _measure(_two_plots({"girth_cm": [30.0] * count}, count, first))
    assert _codes(stems) == (["girth-like-diameter"] if told else [])
    if told:
        (found,) = stems.findings.frame.rows(named=True)
        assert (found["plot"], found["row"], found["column"]) == ("P2", 22, "girth_cm")


@pytest.mark.parametrize(
    ("share", "told"), [(0.87 / math.pi, False), (0.89 / math.pi, True), (1.11 / math.pi, True), (0.5, False)]
)
def test_girths_of_a_plot_look_like_diameters_near_one_over_pi(share: float, *, told: bool) -> None:
    girths = [30.0 * share * math.pi] * 5
    assert _codes(_measure(_two_plots({"girth_cm": girths}, 5))) == (["girth-like-diameter"] if told else [])


@pytest.mark.parametrize(
    ("times", "told"),
    [(0.87 * math.pi, False), (0.89 * math.pi, True), (1.11 * math.pi, True), (1.13 * math.pi, False)],
)
def test_diameters_of_a_plot_look_like_girths_near_pi(times: float, *, told: bool) -> None:
    stems = _measure(_two_plots({"d1_cm": [30.0 * times] * 5}, 5))
    assert _codes(stems) == (["diameter-like-girth"] if told else [])
    assert stems.measured["dbh_cm"].to_list() == [30.0] * 20 + [30.0 * times] * 5


def test_thick_stems_beside_a_compartment_of_thin_ones_are_no_mix_up() -> None:
    trees = _two_plots({"d1_cm": [30.0 * math.pi] * 5}, 5)
    assert _codes(_measure(trees, homes="AA")) == ["diameter-like-girth"]
    assert _codes(_measure(trees, homes="AB")) == []


@pytest.mark.parametrize(("count", "girth", "told"), [(5, 40.0, True), (4, 40.0, False), (5, 43.0, False)])
def test_girths_that_make_trees_too_slender_are_found_for_the_file(
    count: int, girth: float, *, told: bool
) -> None:
    # 20 m over 40 / π cm is a slenderness of 157, over 43 / π cm of 146
    stems = _measure({"girth_cm": [girth] * count, "height_m": [20.0] * count})
    told_of = stems.findings.frame.filter(pl.col("code") == "girth-like-diameter")
    assert told_of.height == told
    if told:
        (found,) = told_of.rows(named=True)
        assert (found["file"], found["row"], found["plot"]) == ("trees.csv", None, None)
        assert found["value"] == "157"


def test_girths_that_make_one_plot_too_slender_are_found_for_the_plot() -> None:
    trees = {
        "plot": ["P1"] * 6 + ["P2"] * 5,
        "girth_cm": [60.0] * 6 + [30.0] * 5,
        "height_m": [20.0] * 11,
    }
    told_of = _measure(trees).findings.frame.filter(pl.col("code") == "girth-like-diameter")
    assert told_of.select("plot", "row").rows() == [("P2", 8)]


def test_every_finding_says_what_is_allowed_or_expected() -> None:
    stems = _measure({"d1_cm": [20.0, 20.0], "d2_cm": [None, 30.0], "girth_cm": [20.0, None]})
    messages = stems.findings.frame.select("code", "message").rows()
    assert dict(messages).keys() == {"girth-like-diameter", "readings-differ"}
    assert "a girth of about 62.8 cm is expected" in dict(messages)["girth-like-diameter"]
    assert "25 % is allowed" in dict(messages)["readings-differ"]
    assert stems.findings.frame.select(pl.col("hint").is_not_null().all()).item()
