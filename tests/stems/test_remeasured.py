"""Check measurements: partners, differences, what is missed and extra, tallies, findings, set aside."""

from __future__ import annotations

from typing import Any

import numpy as np
import polars as pl
import pytest
from scipy import stats

from plotmap.model.check_table import CheckComparison
from plotmap.workflow import compile_survey
from tests.stems.check_example import (
    BANDS,
    PLOT,
    compared,
    outcomes,
    stems,
    summary,
)
from tests.survey_example import survey_example

# --- partners ---------------------------------------------------------------------------------------------


def test_a_survey_without_check_has_no_rows_and_no_findings() -> None:
    found = compared(stems([20.0]))
    assert found.differences.height == found.summary.height == found.confusion.height == 0
    assert (len(found.findings), found.set_aside.height, found.rows_used) == (0, 0, 0)


def test_stems_of_one_number_are_partners_however_far_apart_they_are() -> None:
    found = compared(stems([20.0, 60.0], ["1", "2"]), stems([61.0, 20.5], ["2", "1"]))
    assert outcomes(found) == [("pair", 60.0, 61.0, "number"), ("pair", 20.0, 20.5, "number")]


def test_the_same_number_on_another_plot_is_another_stem() -> None:
    plots = {"plot": ["P1", "P2"], "crew": ["north", "north"]}
    trees = {"plot": ["P1", "P2"], "tree": ["1", "1"], "d1_cm": [20.0, 30.0]}
    found = compared(trees, {"plot": ["P2"], "tree": ["1"], "d1_cm": [30.2]}, plots=plots)
    assert outcomes(found) == [("pair", 30.0, 30.2, "number")]  # P1 was not checked: nothing is extra there


def test_stems_without_common_number_are_partners_within_the_limit_of_position() -> None:
    # Geometry: at 10 m, 1 m apart along the circle is an angle of 2 asin(1 / 20) = 5.7320°.
    at_10 = {"distance_m": [10.0]}
    crew = stems([20.0], ["1"], azimuth_deg=[0.0], **at_10)
    inside = stems([35.0], ["9"], azimuth_deg=[5.7319], **at_10)
    outside = stems([20.0], ["9"], azimuth_deg=[5.7321], **at_10)
    assert outcomes(compared(crew, inside)) == [("pair", 20.0, 35.0, "position")]
    assert [row[0] for row in outcomes(compared(crew, outside))] == ["missed", "extra"]


def test_a_position_beyond_north_is_near_one_before_it() -> None:
    crew = stems([20.0, 21.0], azimuth_deg=[359.0, 90.0], distance_m=[8.0, 8.0])
    again = stems([30.0], azimuth_deg=[1.0], distance_m=[8.0])
    assert outcomes(compared(crew, again))[0] == ("pair", 20.0, 30.0, "position")


@pytest.mark.parametrize(("size", "outcome"), [(23.0, "pair"), (23.0001, "missed")])
def test_stems_without_number_and_position_are_partners_within_the_limit_of_size(
    size: float, outcome: str
) -> None:
    found = compared(stems([20.0]), stems([size]), settings={"check": {"match_mm": 30}})
    assert outcomes(found)[0][0] == outcome


def test_stems_that_were_both_positioned_are_never_partners_by_size_alone() -> None:
    crew = stems([20.0], azimuth_deg=[0.0], distance_m=[5.0])
    again = stems([20.0], azimuth_deg=[90.0], distance_m=[5.0])
    assert [row[0] for row in outcomes(compared(crew, again))] == ["missed", "extra"]


def test_partners_by_size_are_of_one_species_and_a_missing_species_fits_any() -> None:
    crew = stems([20.0])
    other = {**stems([20.0]), "species": ["ash"]}
    unknown = {**stems([20.0]), "species": [None]}
    assert [row[0] for row in outcomes(compared(crew, other))] == ["missed", "extra"]
    assert [row[0] for row in outcomes(compared(crew, unknown))] == ["pair"]


def test_partners_by_size_are_both_live_or_both_dead() -> None:
    crew = stems([20.0, 30.0], condition=["live", "dead"])
    again = stems([20.0, 30.0], condition=["dead", "dead"])
    assert outcomes(compared(crew, again)) == [("pair", 30.0, 30.0, "size"), ("extra", 20.0, None, None)]


def test_partners_by_size_are_the_best_in_all_not_the_nearest_first() -> None:
    # By hand: 20 and 22 against 22 and 24 within 3 cm; nearest first would leave 20 and 24 over.
    found = compared(stems([20.0, 22.0]), stems([22.0, 24.0]))
    assert outcomes(found) == [("pair", 20.0, 22.0, "size"), ("pair", 22.0, 24.0, "size")]


def test_a_number_without_partner_falls_back_to_size() -> None:
    found = compared(stems([20.0, 40.0], ["1", "2"]), stems([40.3, 20.1], ["2", "7"]))
    assert outcomes(found) == [("pair", 40.0, 40.3, "number"), ("pair", 20.0, 20.1, "size")]
    assert summary(found)["n_by_size"] == 1


# --- what counts ------------------------------------------------------------------------------------------


def test_a_stem_that_only_one_side_left_out_finds_its_partner_all_the_same() -> None:
    found = compared(
        stems([10.1, 30.0], ["1", "2"], condition=["live", "dead"]),
        stems([9.9, 30.2], ["1", "2"], condition=["live", "live"]),
        settings={"stems": {"min_dbh_cm": 10}},
    )
    rows = found.differences.select("outcome", "set_aside", "check_set_aside").rows()
    assert rows == [("pair", None, "below 10 cm"), ("pair", "dead", None)]


def test_stems_that_do_not_count_are_neither_missed_nor_extra_but_set_aside() -> None:
    found = compared(
        stems([9.0, 20.0], ["1", "2"], condition=["live", "dead"]),
        stems([8.0, 40.0, None], ["8", "9", "10"], condition=["live", "dead", "dead"]),
        settings={"stems": {"min_dbh_cm": 10}, "check": {"match_mm": 1}},
    )
    assert found.differences.height == 0
    assert found.set_aside.rows() == [("check_trees", "below 10 cm", 1), ("check_trees", "dead", 2)]
    assert found.rows_used == 0


def test_both_sides_are_corrected_by_the_check_of_the_instrument_on_their_own_day() -> None:
    found = compared(
        stems([20.0], ["1"], instrument=["K1"]),
        stems([20.0], ["1"], instrument=["K1"], date=["2026-05-20"], crew=["audit"]),
        plots={**PLOT, "date": ["2026-05-14"]},
        instruments={"instrument": ["K1"] * 2, "date": ["2026-05-01", "2026-05-18"], "zero_mm": [2.0, -1.0]},
    )
    # By hand: 200 − 2 = 198 mm by the crew, 200 + 1 = 201 mm by the check.
    assert found.differences["difference_mm"].to_list() == [pytest.approx(-3.0)]
    assert found.differences["check_crew"].to_list() == ["audit"]


def test_a_plot_checked_on_two_days_takes_the_instrument_check_of_each_day() -> None:
    found = compared(
        stems([20.0, 30.0], ["1", "2"]),
        stems([20.0, 30.0], ["1", "2"], instrument=["K1"] * 2, date=["2026-05-10", "2026-05-20"]),
        instruments={"instrument": ["K1"] * 2, "date": ["2026-05-01", "2026-05-18"], "zero_mm": [2.0, -1.0]},
    )
    assert found.differences["check_dbh_cm"].to_list() == pytest.approx([19.8, 30.1])
    assert set(found.differences["plot"]) == {"P1"}


def test_girth_by_the_check_and_caliper_by_the_crew_compare_as_diameters() -> None:
    again = {"plot": ["P1"], "tree": ["1"], "species": ["oak"], "girth_cm": [20 * np.pi]}
    assert compared(stems([20.4], ["1"]), again).differences["difference_mm"][0] == pytest.approx(4.0)


def test_estimates_do_not_change_by_a_check() -> None:
    trees = stems([20.0, 30.0, 40.0], ["1", "2", "3"])
    plain = survey_example(trees=trees, plots=PLOT)
    checked = survey_example(trees=trees, plots=PLOT, check_trees=stems([25.0, 36.0], ["1", "2"]))
    without, with_check = compile_survey(plain), compile_survey(checked)
    assert with_check.check_differences.height == 3
    assert without.check_differences.height == without.check_summary.height == 0
    assert with_check.survey_total.equals(without.survey_total)
    assert with_check.trees.equals(without.trees)


def test_the_ledger_accounts_for_every_row_of_the_check() -> None:
    survey = survey_example(
        trees=stems([20.0], ["1"]),
        plots={"plot": ["P1", "P2"], "state": ["measured", "lost"]},
        check_trees={"plot": ["P1", "P1", "P1", "P2"], "d1_cm": [20.1, 50.0, 30.0, 20.0],
                     "condition": [None, None, "dead", None]},
    )  # fmt: skip
    ledger = compile_survey(survey).ledger.filter(pl.col("table") == "check_trees")
    assert ledger.select("outcome", "reason", "rows").rows() == [
        ("read", "", 4),
        ("used", "", 2),
        ("set aside", "dead", 1),
        ("set aside", "plot lost", 1),
    ]


# --- differences ------------------------------------------------------------------------------------------


def test_mean_and_interval_are_those_of_a_paired_t_test() -> None:
    rng = np.random.default_rng(3)
    true = rng.uniform(12, 60, 25)
    crew, again = (np.round(true + rng.normal(m, 0.3, 25), 1) for m in (0.2, 0.0))
    numbers = [str(k) for k in range(25)]
    row = summary(compared(stems(crew.tolist(), numbers), stems(again.tolist(), numbers)))
    expected = stats.ttest_rel(10 * crew, 10 * again).confidence_interval(0.95)
    difference = 10 * (crew - again)
    assert row["bias_mm"] == pytest.approx(difference.mean())
    assert row["sd_mm"] == pytest.approx(difference.std(ddof=1))
    assert (row["bias_low_mm"], row["bias_high_mm"]) == pytest.approx((expected.low, expected.high))
    assert row["n_pairs"] == 25
    # definition: basal areas of the same stems by crew and by check
    assert row["basal_area_pct"] == pytest.approx(100 * ((crew**2).sum() / (again**2).sum() - 1))


def test_a_gain_of_two_per_cent_shows_as_four_per_cent_of_basal_area_to_first_order() -> None:
    # Arithmetic: 2 · 2 % = 4 % to first order; 1.02² − 1 = 4.04 % exactly, whatever the sizes.
    again = [20.0, 30.0, 50.0]
    row = summary(compared(stems([20.4, 30.6, 51.0], ["1", "2", "3"]), stems(again, ["1", "2", "3"])))
    assert row["basal_area_first_order_pct"] == pytest.approx(4.0)
    assert row["basal_area_pct"] == pytest.approx(4.04)


def test_one_pair_has_a_difference_but_no_interval_and_no_scatter() -> None:
    row = summary(compared(stems([20.0], ["1"]), stems([20.3], ["1"])))
    assert (row["bias_mm"], row["status"]) == (pytest.approx(-3.0), "one pair")
    assert [row[name] for name in ("bias_low_mm", "bias_high_mm", "sd_mm", "agreement_low_mm")] == [None] * 4


def test_without_pairs_every_figure_of_the_differences_is_missing() -> None:
    row = summary(compared(stems([20.0]), stems([50.0])))
    assert row["status"] == "no pairs"
    names = ("bias_mm", "within_pct", "basal_area_pct", "basal_area_first_order_pct", "sd_mm")
    assert [row[name] for name in names] == [None] * 5
    assert (row["n_missed"], row["n_extra"]) == (1, 1)


@pytest.mark.parametrize(
    ("crew", "again", "tolerance", "within"),
    [
        (20.5, 20.0, 5.0, "yes"),
        (20.51, 20.0, 5.0, "no"),
        (19.5, 20.0, 5.0, "yes"),
        (80.8, 80.0, 8.0, "yes"),  # 1 % of 800 mm
        (80.81, 80.0, 8.0, "no"),
    ],
)
def test_the_tolerance_is_the_larger_of_millimetres_and_per_cent(
    crew: float, again: float, tolerance: float, within: str
) -> None:
    found = compared(stems([crew], ["1"]), stems([again], ["1"]))
    assert found.differences.select("tolerance_mm", "within").rows() == [(pytest.approx(tolerance), within)]


def test_the_summary_has_a_row_for_each_crew_instrument_and_class() -> None:
    found = compared(
        {"plot": ["P1", "P1", "P2"], "tree": ["1", "2", "1"], "d1_cm": [20.1, 33.0, 21.0],
         "instrument": ["K1", "K2", None]},
        {"plot": ["P1", "P1", "P2"], "tree": ["1", "2", "1"], "d1_cm": [20.0, 32.0, 20.0]},
        plots={"plot": ["P1", "P2"], "crew": ["north", None]},
    )  # fmt: skip
    assert found.summary.select("group", "value", "n_pairs").rows() == [
        ("all", "all", 3),
        ("crew", "north", 2),
        ("crew", "not known", 1),
        ("instrument", "K1", 1),
        ("instrument", "K2", 1),
        ("instrument", "not known", 1),
        ("class", "20–<25", 2),
        ("class", "30–<35", 1),
    ]
    assert summary(found, "crew", "north")["bias_mm"] == pytest.approx((1 + 10) / 2)
    assert summary(found, "instrument", "K1")["n_missed"] is None  # no instrument missed a stem
    assert summary(found, "class", "20–<25")["bias_mm"] == pytest.approx((1 + 10) / 2)


def test_species_that_differ_are_counted_only_where_both_are_recorded() -> None:
    again = {**stems([20.0, 30.0, 40.0], ["1", "2", "3"]), "species": ["ash", "oak", None]}
    assert summary(compared(stems([20.0, 30.0, 40.0], ["1", "2", "3"]), again))["n_species_differ"] == 1


# --- tallies ----------------------------------------------------------------------------------------------


def tally(bands: list[str], counts: list[int]) -> dict[str, Any]:
    """Return a tally of oaks on P1."""
    return {"plot": ["P1"] * len(bands), "species": ["oak"] * len(bands), "class": bands, "count": counts}


def in_bands(bands: list[str], counts: list[int], again: list[float], **classes: Any) -> CheckComparison:
    """Return the comparison of a tallied plot with stems measured by the check."""
    given = {"classes": {"width_cm": 5, "bands": BANDS, **classes}}
    return compared(check_trees=stems(again), tallies=tally(bands, counts), settings=given)


def confused(found: CheckComparison) -> dict[tuple[str | None, str | None], float]:
    """Return the stems by class of the crew and of the check."""
    return {(row["class"], row["check_class"]): row["n_stems"] for row in found.confusion.to_dicts()}


def test_a_stem_tallied_one_band_too_low_stands_off_the_diagonal() -> None:
    found = in_bands(["ochre", "slate"], [3, 1], [12.0, 15.0, 20.4, 35.0])
    assert confused(found) == {("ochre", "ochre"): 2, ("ochre", "slate"): 1, ("slate", "slate"): 1}
    assert set(found.confusion["basis"]) == {"counts"}
    row = summary(found)
    assert (row["n_tallied"], row["n_same_class"], row["n_missed"], row["n_extra"]) == (4, 3, 0, 0)
    assert summary(found, "band", "slate")["n_tallied"] == 2


def test_counts_that_are_left_are_extra_and_stems_that_are_left_are_missed() -> None:
    found = in_bands(["ochre"], [4], [12.0, 35.0])
    assert confused(found) == {("ochre", "ochre"): 1, ("ochre", None): 3, (None, "slate"): 1}
    extra = found.differences.filter(pl.col("outcome") == "extra")
    assert extra.select("n_stems", "check_source_row").rows() == [(3.0, None)]


@pytest.mark.parametrize(("size", "outcome"), [(23.0, "tallied"), (23.001, "missed")])
def test_a_stem_is_put_in_another_band_only_within_the_limit_of_its_edge(size: float, outcome: str) -> None:
    assert outcomes(in_bands(["ochre"], [1], [size]))[0][0] == outcome


@pytest.mark.parametrize(
    ("edge", "band", "other"), [("lower", "slate", "ochre"), ("upper", "ochre", "slate")]
)
def test_a_single_stem_on_the_edge_leaves_the_other_band_extra(edge: str, band: str, other: str) -> None:
    assert confused(in_bands(["ochre", "slate"], [1, 1], [20.0], edge=edge)) == {
        (band, band): 1,
        (other, None): 1,
    }


@pytest.mark.parametrize(("edge", "band"), [("lower", "slate"), ("upper", "ochre")])
def test_a_stem_on_the_edge_of_two_bands_goes_to_the_one_the_edge_belongs_to(edge: str, band: str) -> None:
    found = in_bands(["ochre", "slate"], [1, 1], [20.0, 20.0], edge=edge)
    other = {"slate": "ochre", "ochre": "slate"}[band]
    assert confused(found) == {(band, band): 1, (other, band): 1}


def test_bands_by_girth_are_compared_by_girth() -> None:
    # 13 cm is a girth of 40.8 cm, so it lies in the band of 40 to 80 cm of girth.
    bands = [{"name": "low", "low_cm": 20, "high_cm": 40}, {"name": "high", "low_cm": 40, "high_cm": 80}]
    given = {"classes": {"width_cm": 20, "on": "girth", "bands": bands}}
    found = compared(check_trees=stems([13.0, 12.0]), tallies=tally(["low", "high"], [1, 1]), settings=given)
    assert confused(found) == {("low", "low"): 1, ("high", "high"): 1}


def test_class_tallies_are_compared_by_class() -> None:
    found = in_bands(["10-15", "15-20"], [1, 2], [12.0, 14.0, 16.0])
    assert confused(found) == {
        ("10–<15", "10–<15"): 1,
        ("15–<20", "10–<15"): 1,
        ("15–<20", "15–<20"): 1,
    }


@pytest.mark.parametrize("written", ["ochre", "A", " ochre"])
def test_a_band_by_its_letter_is_the_band(written: str) -> None:
    assert confused(in_bands([written], [1], [12.0])) == {("ochre", "ochre"): 1}


def test_an_open_class_is_compared_as_one_class() -> None:
    found = compared(
        check_trees=stems([31.0, 70.0]),
        tallies=tally(["≥30"], [2]),
        settings={"classes": {"edges_cm": [10, 20, 30], "top_mean_cm": 45}},
    )
    assert confused(found) == {("≥30", "≥30"): 2}


def test_a_zero_that_moves_the_edges_changes_neither_name_nor_count_of_a_tallied_class() -> None:
    found = compared(
        check_trees=stems([12.0, 13.0, 14.0]),
        tallies={**tally(["10-15"], [3]), "instrument": ["K1"]},
        instruments={"instrument": ["K1"], "date": ["2026-05-01"], "zero_mm": [12.0]},
        settings={"classes": {"width_cm": 5}},
    )
    assert confused(found) == {("10–<15", "10–<15"): 3}


def test_a_stem_beyond_all_bands_is_outside_the_bands() -> None:
    assert confused(in_bands(["slate"], [1], [41.0])) == {("slate", "outside the bands"): 1}


def test_the_species_of_a_tally_are_added_up() -> None:
    tallies = {"plot": ["P1"] * 2, "species": ["oak", "ash"], "class": ["ochre"] * 2, "count": [1, 2]}
    found = compared(check_trees=stems([12.0] * 3), tallies=tallies, settings={"classes": {"bands": BANDS}})
    assert confused(found) == {("ochre", "ochre"): 3}


def test_on_a_plot_measured_and_tallied_the_tally_gets_what_measuring_left() -> None:
    found = compared(
        stems([45.0], ["1"]),
        stems([44.8, 12.0, 18.0], ["1", None, None]),
        tallies=tally(["ochre"], [2]),
        settings={"classes": {"width_cm": 5, "bands": BANDS}},
    )
    assert [row[0] for row in outcomes(found)] == ["pair", "tallied", "tallied"]
    assert confused(found) == {("45–<50", "40–<45"): 1, ("ochre", "ochre"): 2}
    assert found.differences["check_class"].to_list() == ["40–<45", "ochre", "ochre"]


def test_a_dead_stem_of_the_check_is_in_no_tally() -> None:
    again = stems([12.0, 12.0], condition=["live", "dead"])
    found = compared(check_trees=again, tallies=tally(["ochre"], [2]), settings={"classes": {"bands": BANDS}})
    assert confused(found) == {("ochre", "ochre"): 1, ("ochre", None): 1}


def test_of_two_stems_close_together_each_finds_the_one_of_its_size() -> None:
    # at 5 m: the crew's azimuths 10° and 20°, the check's 10° and 15.5°; by place alone 20 cm would become 40.2
    crew = stems([20.0, 40.0], azimuth_deg=[10.0, 20.0], distance_m=[5.0, 5.0])
    again = stems([40.2, 20.1], azimuth_deg=[10.0, 15.5], distance_m=[5.0, 5.0])
    found = sorted(outcomes(compared(crew, again)))
    assert found == [("pair", 20.0, 20.1, "position"), ("pair", 40.0, 40.2, "position")]


def test_stems_of_one_size_close_together_find_the_nearer_one() -> None:
    crew = stems([30.0, 30.2], azimuth_deg=[10.0, 15.0], distance_m=[5.0, 5.0])
    again = stems([30.2, 30.0], azimuth_deg=[10.0, 15.0], distance_m=[5.0, 5.0])
    assert sorted(outcomes(compared(crew, again))) == [
        ("pair", 30.0, 30.2, "position"),
        ("pair", 30.2, 30.0, "position"),
    ]
