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


@pytest.mark.parametrize("label", ["11-16", "10-20", "violet", "≥45", "45+", "1000000000-1000000005", ""])
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


_EDGES = {"edges_cm": [10, 20, 45]}


@pytest.mark.parametrize("label", ["≥45", ">45", "45+", ">=45", "≥ 45 cm", " 45 cm+ "])
def test_the_open_top_class_is_tallied_with_its_stated_mean(label: str) -> None:
    # an exponential tail above 45 cm with the mean 60: mean square 60² + 15²
    (row,) = _measure([label], [7], {**_EDGES, "top_mean_cm": 60}).tallied.rows(named=True)
    assert (row["class_index"], row["count"]) == (2, 7.0)
    assert row["dbh_cm"] == pytest.approx(60.0)
    assert row["square_cm2"] == pytest.approx(3825.0)


def test_an_open_class_of_girths_has_its_mean_as_a_girth() -> None:
    rules = {"edges_cm": [30, 60], "on": "girth", "top_mean_cm": 90}
    (row,) = _measure([">60"], [7], rules).tallied.rows(named=True)
    assert row["dbh_cm"] == pytest.approx(90 / math.pi)
    assert row["square_cm2"] == pytest.approx((90**2 + 30**2) / math.pi**2)


def test_an_open_class_without_a_stated_mean_is_an_error_that_says_so() -> None:
    stems = _measure(["≥45"], [7], _EDGES)
    (message,) = stems.findings.frame["message"]
    assert "needs its mean, [classes] top_mean_cm" in message
    assert stems.tallied.is_empty()


def test_an_open_band_is_shared_out_with_its_mean_and_mean_square_kept() -> None:
    # above 40 cm with the mean 50: shares of the 10 cm classes are e^-0 - e^-1, e^-1 - e^-2, … (μ is 10)
    bands = [{"name": "thick", "low_cm": 40, "mean_cm": 50}]
    tallied = _measure(["thick"], [1000], {"width_cm": 10, "bands": bands}).tallied
    assert tallied["class_index"].to_list() == list(range(4, 11))
    shares = [math.exp(-i) - math.exp(-i - 1) for i in range(6)] + [math.exp(-6)]
    assert tallied["count"].to_list() == pytest.approx([1000 * share for share in shares])
    count = tallied["count"]
    assert (count * tallied["dbh_cm"]).sum() / 1000 == pytest.approx(50.0)
    assert (count * tallied["square_cm2"]).sum() / 1000 == pytest.approx(50**2 + 10**2)


def test_the_band_below_an_open_one_leans_as_the_open_one_says() -> None:
    # 30-40 holds 10 stems (1 a cm); the open band 40 with mean 45 holds 40, so 4 a cm about 45, with 20-30 empty:
    # the one-sided slope is (4 - 1) / (45 - 35) but at most 2 * 1 / 10
    bands = [{"name": "mid", "low_cm": 30, "high_cm": 40}, {"name": "thick", "low_cm": 40, "mean_cm": 45}]
    tallied = _measure(["mid", "thick"], [10, 40], {"edges_cm": [30, 40], "bands": bands}).tallied
    assert tallied["dbh_cm"][0] == pytest.approx(35 + 0.2 * 100 / 12)


def test_bands_may_be_named_by_their_letter_and_carry_it() -> None:
    tallied = _measure(["A", "band 20", "10-15"], [1, 2, 3], {"bands": _bands(10, 20, 30)}).tallied
    letters = tallied.group_by("source_row").agg(pl.col("band_letter").first()).sort("source_row")
    assert letters["band_letter"].to_list() == ["A", "B", None]


def test_a_band_in_other_capitals_is_an_error_that_names_it() -> None:
    (message,) = _measure(["BAND 10"], [3], {"bands": _bands(10, 20)}).findings.frame["message"]
    assert message.endswith("; the band band 10 differs only in capitals")


@pytest.mark.parametrize(
    ("label", "smallest", "found"),
    [
        ("10-15", 10, False),
        ("10-15", 10.1, True),
        ("10-15", 0, False),
        ("band 5", 10, True),
        ("band 10", 10, False),
    ],
)
def test_a_tally_that_begins_below_the_smallest_diameter_is_found(
    label: str, smallest: float, *, found: bool
) -> None:
    stems = _measure([label] * 2, [3, 4], {"bands": _bands(5, 10, 20)}, min_dbh_cm=smallest)
    cells = stems.findings.frame.filter(pl.col("code") == "tally-below-threshold")
    assert cells.select("severity", "row", "value").rows() == ([("warning", 2, label)] if found else [])
    assert not found or "(stems: 7)" in cells["message"][0]
    assert stems.tallied["count"].sum() == pytest.approx(7)


def test_the_threshold_is_a_diameter_where_classes_are_girths() -> None:
    stems = _measure(
        ["30-60"], [3], {"width_cm": 30, "on": "girth"}, min_dbh_cm=10
    )  # 30 cm of girth are 9.55 cm
    (message,) = stems.findings.frame["message"]
    assert "begins at a diameter of 9.55 cm" in message


def _by_instrument(label: str, checks: dict[str, Any], rules: dict[str, Any], **stems: Any) -> Stems:
    tallies = {"plot": ["P1"], "class": [label], "count": [9], "instrument": ["C"]}
    instruments = {"instrument": ["C"], "date": ["2026-05-01"], **checks}
    return measure_stems(
        survey_example(tallies=tallies, instruments=instruments, settings={"classes": rules, "stems": stems})
    )


def test_a_zero_moves_the_edges_of_a_class_and_not_its_count() -> None:
    # 20 mm too much on the caliper: what was tallied as 10-20 cm is 8 to 18 cm, of which 8-10 is the class below
    stems = _by_instrument("10-20", {"zero_mm": [20.0]}, {"width_cm": 10})
    tallied = stems.tallied
    assert tallied["class_index"].to_list() == [0, 1]
    assert tallied["count"].to_list() == pytest.approx([1.8, 7.2])
    assert tallied["dbh_cm"].to_list() == pytest.approx([9.0, 14.0])
    assert tallied["square_cm2"].to_list() == pytest.approx([81 + 4 / 12, 196 + 64 / 12])
    (found,) = stems.findings.frame.rows(named=True)
    assert (found["code"], found["severity"], found["row"], found["value"]) == (
        "band-edges-moved",
        "note",
        2,
        "C",
    )
    assert "zero of 20.0 mm and a gain of 1.0" in found["message"]
    assert "10-20 to 8.0–18.0 cm" in found["message"]


def test_a_gain_stretches_the_edges_of_a_band() -> None:
    # gain 300 / 250 = 1.2: 10-20 cm on the caliper are 12 to 24 cm
    rules = {"width_cm": 20, "bands": _bands(10, 20)}
    checks = {"bar_mm": [300.0], "bar_reading_mm": [250.0]}
    tallied = _by_instrument("band 10", checks, rules, max_gain_off_pct=20).tallied
    assert tallied["count"].to_list() == pytest.approx([6.0, 3.0])
    assert tallied["dbh_cm"].to_list() == pytest.approx([16.0, 22.0])


def test_the_zero_of_a_tape_is_one_of_girths() -> None:
    # 10 mm too much on the tape; class of girths 30-60 cm becomes 29-59 cm
    checks = {"zero_mm": [10.0], "kind": ["tape"]}
    tallied = _by_instrument("30-60", checks, {"width_cm": 30, "on": "girth"}).tallied
    assert tallied["count"].to_list() == pytest.approx([0.3, 8.7])
    assert tallied["dbh_cm"].to_list() == pytest.approx([29.5 / math.pi, 44.5 / math.pi])


def test_an_open_class_moves_with_its_mean() -> None:
    tallied = _by_instrument("45+", {"zero_mm": [50.0]}, {**_EDGES, "top_mean_cm": 60}).tallied
    assert tallied["class_index"].to_list() == [1, 2]  # 40-45 and the rest
    assert tallied["count"].to_list() == pytest.approx([9 * (1 - math.exp(-1 / 3)), 9 * math.exp(-1 / 3)])
    assert (tallied["count"] * tallied["dbh_cm"]).sum() / 9 == pytest.approx(55.0)


def test_no_size_falls_below_nothing_whatever_the_zero_is() -> None:
    tallied = _by_instrument("0-5", {"zero_mm": [50.0]}, {"width_cm": 5}).tallied
    assert tallied["count"].to_list() == [9.0]
    assert tallied["dbh_cm"].to_list() == [0.0]
    tallied = _by_instrument("0-5", {"zero_mm": [20.0]}, {"width_cm": 5}).tallied
    assert tallied["dbh_cm"].to_list() == pytest.approx([1.5])  # evenly from 2 to 5, less 2


@pytest.mark.parametrize("checks", [{"zero_mm": [0.0]}, {"zero_mm": [20.0], "date": ["2026-06-01"]}])
def test_a_true_instrument_and_one_checked_too_late_move_nothing(checks: dict[str, Any]) -> None:
    stems = _by_instrument("10-15", checks, {})
    assert stems.tallied["dbh_cm"].to_list() == [12.5]
    assert "band-edges-moved" not in stems.findings.codes
    assert ("instrument-check-missing" in stems.findings.codes) is ("date" in checks)


@pytest.mark.parametrize(("bark", "found"), [("over", False), ("under", True)])
def test_tallies_where_results_are_under_bark_are_said_once_and_stay(bark: str, *, found: bool) -> None:
    stems = _measure(["10-20", "20-30"], [7, 3], {"width_cm": 10}, bark=bark)
    assert stems.tallied["count"].to_list() == [7.0, 3.0]
    rows = stems.findings.frame.filter(code="tally-over-bark")
    assert rows.height == found
    if found:
        assert rows.select("severity", "row", "value").rows() == [("warning", 2, "10-20")]
        assert "2 tally rows are taken by their classes as written" in rows["message"].item()


def test_one_tally_where_results_are_under_bark_is_no_plural() -> None:
    stems = _measure(["10-20"], [7], {"width_cm": 10}, bark="under")
    (message,) = stems.findings.frame.filter(code="tally-over-bark")["message"]
    assert "but 1 tally row is taken by its class as written" in message


@pytest.mark.parametrize(("zero_mm", "found"), [(29.9, False), (30.0, True)])
def test_a_zero_that_eats_up_a_band_is_an_error(zero_mm: float, *, found: bool) -> None:
    survey = survey_example(
        tallies={"plot": ["P1"], "class": ["reed"], "count": [4], "instrument": ["K1"]},
        instruments={"instrument": ["K1"], "date": ["2020-01-01"], "zero_mm": [zero_mm]},
        settings={"classes": {"bands": [{"name": "reed", "low_cm": 1, "high_cm": 3}]}},
    )
    rows = measure_stems(survey).findings.frame.filter(code="tally-not-positive")
    assert rows.height == found
    if found:
        assert rows.select("severity", "row", "column", "value").rows() == [("error", 2, "class", "reed")]
        assert "after a zero of 30.0 mm; its upper edge must be more than 0 cm" in rows["message"].item()
