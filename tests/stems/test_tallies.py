"""Tallies shared out over size classes. Expected parts are integrals of straight lines, done by hand."""

import math
from itertools import pairwise
from typing import Any

import polars as pl
import pytest

from plotmap.model.stem_table import Stems
from plotmap.stems import measure_stems
from tests.survey_example import survey_example


def _measure(
    classes: list[str | None],
    counts: list[int | None],
    rules: dict[str, Any] | None = None,
    **stems: Any,
) -> Stems:
    tallies = {"plot": ["P1"] * len(classes), "class": classes, "count": counts}
    return measure_stems(survey_example(tallies=tallies, settings={"classes": rules or {}, "stems": stems}))


def _bands(*edges: float) -> list[dict[str, Any]]:
    pairs = pairwise(edges)
    return [{"name": f"band {low:g}", "low_cm": low, "high_cm": high} for low, high in pairs]


@pytest.mark.parametrize("label", ["10–<20", "10-20", "10 to 20", ">10–20", " 10-20 cm "])
def test_every_way_to_write_a_class_is_that_class(label: str) -> None:
    tallied = _measure([label], [7], {"width_cm": 10}).tallied
    assert tallied.select("class_index", "count", "tallied_as").rows() == [(1, 7.0, label)]


def test_one_class_alone_is_filled_evenly() -> None:
    # mean square of an even density from 10 to 20: (20³ − 10³) / (3 · 10)
    (row,) = _measure(["10-20"], [7], {"width_cm": 10}).tallied.rows(named=True)
    assert row["dbh_cm"] == pytest.approx(15.0)
    assert row["square_cm2"] == pytest.approx(7000 / 30)


def test_two_spellings_of_a_class_are_one_class() -> None:
    one = _measure(["10-20", "20-30"], [10, 4], {"width_cm": 10}).tallied
    two = _measure(["10-20", "10–<20", "20-30"], [6, 4, 4], {"width_cm": 10}).tallied
    assert two["dbh_cm"].to_list() == pytest.approx([one["dbh_cm"][0]] * 2 + [one["dbh_cm"][1]])


def test_classes_lean_towards_the_fuller_neighbour() -> None:
    tallied = _measure(["10-20", "20-30", "30-40"], [10, 6, 2], {"width_cm": 10}).tallied
    assert tallied["dbh_cm"][1] < 25
    assert tallied["square_cm2"][1] < (30**3 - 20**3) / 30


def test_a_class_in_which_nothing_was_found_makes_its_neighbours_lean_away() -> None:
    # 20–30 was looked for and holds nothing: the density of 10–20 falls towards it
    tallied = _measure(["10-20", "30-40"], [10, 2], {"width_cm": 10}).tallied
    assert tallied["class_index"].to_list() == [1, 3]
    assert tallied["dbh_cm"][0] < 15


def test_classes_from_the_smallest_diameter_up_were_looked_for() -> None:
    # with 10 cm as the smallest diameter, 10–20 was empty, so 20–30 rises from it
    stated = _measure(["20-30", "30-40"], [5, 5], {"width_cm": 10}, min_dbh_cm=10).tallied
    unknown = _measure(["20-30", "30-40"], [5, 5], {"width_cm": 10}).tallied
    assert unknown["dbh_cm"][0] == pytest.approx(25)
    assert stated["dbh_cm"][0] > 25


def test_a_band_is_cut_at_the_classes_edges() -> None:
    # one band of 8–17 cm, even density 1 / 9 a cm: 2, 5 and 2 cm of it in classes 5–10, 10–15, 15–20
    tallied = _measure(["ochre"], [9], {"bands": [{"name": "ochre", "low_cm": 8, "high_cm": 17}]}).tallied
    assert tallied["class_index"].to_list() == [1, 2, 3]
    assert tallied["count"].to_list() == pytest.approx([2, 5, 2])
    assert tallied["dbh_cm"].to_list() == pytest.approx([9, 12.5, 16])
    assert tallied["source_row"].to_list() == [2, 2, 2]


def test_a_leaning_band_is_shared_out_by_its_straight_line() -> None:
    # bands 0–10, 10–20, 20–30 with 30, 20, 10 stems: the middle density falls from 2.5 to 1.5 a cm, so that
    # 5 cm · 2.25 = 11.25 of its 20 stems are below 15 cm
    tallied = _measure(["band 10"], [20], {"bands": _bands(10, 20)}).tallied
    assert tallied["count"].to_list() == pytest.approx([10, 10])
    tallied = _measure(
        ["band 0", "band 10", "band 20"], [30, 20, 10], {"bands": _bands(0, 10, 20, 30)}
    ).tallied.filter(pl.col("source_row") == 3)
    assert tallied["count"].to_list() == pytest.approx([11.25, 8.75])
    # ∫ t · (2.5 − 0.1 (t − 10)) dt from 10 to 15, over 11.25
    integral = 3.5 / 2 * (15**2 - 10**2) - 0.1 / 3 * (15**3 - 10**3)
    assert tallied["dbh_cm"][0] == pytest.approx(integral / 11.25)


def test_bands_reach_into_the_open_classes_below_and_above() -> None:
    rules = {"edges_cm": [10, 20, 30], "bands": _bands(5, 35)}
    tallied = _measure(["band 5"], [30], rules).tallied
    assert tallied["class_index"].to_list() == [-1, 0, 1, 2]
    assert tallied["count"].to_list() == pytest.approx([5, 10, 10, 5])


def test_classes_of_girths_become_diameters() -> None:
    (row,) = _measure(["30-60"], [4], {"width_cm": 30, "on": "girth"}).tallied.rows(named=True)
    assert row["class_index"] == 1
    assert row["dbh_cm"] == pytest.approx(45 / math.pi)
    assert row["square_cm2"] == pytest.approx((60**3 - 30**3) / 90 / math.pi**2)


def test_bands_of_girths_are_cut_at_the_girth_classes() -> None:
    rules = {"width_cm": 30, "on": "girth", "bands": _bands(45, 75)}
    tallied = _measure(["band 45"], [4], rules).tallied
    assert tallied["class_index"].to_list() == [1, 2]
    assert tallied["count"].to_list() == pytest.approx([2, 2])


def test_a_count_of_nought_is_used() -> None:
    stems = _measure(["10-15"], [0])
    assert stems.tallied["count"].to_list() == [0.0]
    assert stems.set_aside.is_empty()


def test_a_tally_class_below_the_smallest_diameter_is_taken_as_it_stands() -> None:
    stems = _measure(["5-10"], [3], min_dbh_cm=10)
    assert stems.tallied["count"].to_list() == [3.0]
    assert stems.set_aside.is_empty()


@pytest.mark.parametrize("label", ["11-16", "10-20", "violet", "≥45", "1000000000-1000000005", ""])
def test_a_class_that_is_none_is_an_error_with_its_row(label: str) -> None:
    stems = _measure(["10-15", label], [3, 4])
    (found,) = stems.findings.frame.rows(named=True)
    assert (found["code"], found["severity"], found["file"]) == (
        "tally-class-unknown",
        "error",
        "tallies.csv",
    )
    assert (found["row"], found["plot"], found["column"], found["value"]) == (3, "P1", "class", label)
    assert "10–<15" in found["message"]
    assert stems.set_aside.rows() == [("tallies", "class unknown", 1)]


def test_the_bands_are_named_where_a_class_is_unknown() -> None:
    (message,) = _measure(["violet"], [3], {"bands": _bands(10, 20, 30)}).findings.frame["message"]
    assert "band 10, band 20" in message


def test_rows_without_class_or_count_are_set_aside_by_reason() -> None:
    stems = _measure([None, "10-15", "10-15"], [3, None, 2])
    assert stems.set_aside.rows() == [("tallies", "class unknown", 1), ("tallies", "no count", 1)]
    assert stems.tallied["count"].to_list() == [2.0]


def test_bands_and_classes_do_not_lean_on_one_another() -> None:
    rules = {"bands": _bands(0, 10)}
    both = _measure(["10-15", "band 0"], [10, 10], rules).tallied
    assert both["dbh_cm"].to_list() == pytest.approx([12.5, 2.5, 7.5])
