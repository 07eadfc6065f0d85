"""Designs other than the single circle. Expected figures are worked by hand."""

from __future__ import annotations

import math
from typing import Any

import pytest

from plotmap.model.plot_table import PlotValues
from plotmap.plots import compute_plots
from plotmap.stand import Estimates, estimate_stand
from plotmap.stems import measure_stems
from tests.survey_example import survey_example

_NESTS = [{"radius_m": 5.0, "min_dbh_cm": 10}, {"radius_m": 10.0, "min_dbh_cm": 30}]


def _values(plots: dict[str, Any], settings: dict[str, Any], **tables: Any) -> PlotValues:
    """Return plot values under [plots] settings."""
    survey = survey_example(plots=plots, settings={"plots": settings}, **tables)
    return compute_plots(survey, measure_stems(survey))


def _estimates(plots: dict[str, Any], settings: dict[str, Any], **tables: Any) -> Estimates:
    """Return estimates under [plots] settings."""
    survey = survey_example(plots=plots, settings={"plots": settings}, **tables)
    return estimate_stand(survey, compute_plots(survey, measure_stems(survey)))


def _stems(*dbh_cm: float, plot: str = "P1") -> dict[str, Any]:
    """Return a trees table of one plot."""
    return {"plot": [plot] * len(dbh_cm), "d1_cm": list(dbh_cm)}


def test_a_stem_counts_on_the_ring_of_its_size_and_the_edge_belongs_to_the_wider_ring() -> None:
    values = _values(
        {"plot": ["P1"]}, {"design": "nested", "nests": _NESTS}, trees=_stems(10.0, 29.9, 30.0, 50.0)
    )
    small, large = 10_000 / (25 * math.pi), 10_000 / (100 * math.pi)
    assert values.trees["stems_per_ha"].to_list() == pytest.approx([small, small, large, large], rel=1e-12)
    assert values.plots["area_m2"].item() == pytest.approx(100 * math.pi, rel=1e-12)
    assert values.plots["stems_per_ha"].item() == pytest.approx(2 * small + 2 * large, rel=1e-12)


@pytest.mark.parametrize(("dbh_cm", "kept"), [(9.9, 0), (10.0, 1)])
def test_a_stem_thinner_than_the_smallest_ring_is_set_aside_and_said(dbh_cm: float, kept: int) -> None:
    values = _values({"plot": ["P1"]}, {"design": "nested", "nests": _NESTS}, trees=_stems(40.0, dbh_cm))
    assert values.trees.height == 1 + kept
    assert ("stem-below-rings" in values.findings.codes) is (kept == 0)
    if not kept:
        assert ("trees", "below the smallest ring", 1) in values.set_aside.rows()
        assert "counts from 10 cm" in values.findings.frame.filter(code="stem-below-rings")["message"].item()


@pytest.mark.parametrize(("tallied", "found"), [("25-30", False), ("30-35", False), ("20-40", True)])
def test_a_tallied_class_must_not_reach_over_the_edge_of_a_ring(tallied: str, found: bool) -> None:  # noqa: FBT001
    survey = survey_example(
        plots={"plot": ["P1"]},
        tallies={"plot": ["P1"], "class": [tallied], "count": [3]},
        settings={
            "plots": {"design": "nested", "nests": _NESTS},
            "classes": {"width_cm": 20} if tallied == "20-40" else {},
        },
    )
    values = compute_plots(survey, measure_stems(survey))
    assert ("tally-across-rings" in values.findings.codes) is found
    assert values.tallied["count"].sum() == pytest.approx(3, rel=1e-12)


def test_every_ring_is_cut_by_the_boundary_on_its_own() -> None:
    plots = {"plot": ["P1"], "easting": [499_807.0], "northing": [5_600_100.0]}
    values = _values(plots, {"design": "nested", "nests": _NESTS, "edge": "inside"}, trees=_stems(20.0, 40.0))
    segment = 100 * math.acos(0.7) - 7 * math.sqrt(51)  # beyond the boundary, 7 m from the centre of 10 m
    expected = [10_000 / (25 * math.pi), 10_000 / (100 * math.pi - segment)]
    assert values.trees["stems_per_ha"].to_list() == pytest.approx(expected, rel=1e-9)


def test_an_angle_count_up_a_slope_stands_for_more_where_the_slope_was_not_allowed_for() -> None:
    plots = {"plot": ["P1"], "slope_pct": [30.0]}
    for slope, factor in (("horizontal", 1.0), ("ground", 1.044031)):
        values = _values(
            plots, {"design": "angle-count", "baf_m2_per_ha": 4, "slope": slope}, trees=_stems(20.0, 30.0)
        )
        assert values.plots["basal_area_m2_per_ha"].item() == pytest.approx(8 * factor, rel=5e-7)


def test_plots_of_an_angle_count_are_averaged_alike() -> None:
    trees = {"plot": ["P1", "P1", "P2"], "d1_cm": [20.0, 30.0, 40.0]}
    plots = {"plot": ["P1", "P2", "P3"], "compartment": ["A"] * 3, "state": ["measured", "measured", "empty"]}
    row = _estimates(plots, {"design": "angle-count", "baf_m2_per_ha": 4}, trees=trees).compartments.iloc[0]
    assert row["basal_area_m2_per_ha"] == pytest.approx(4, rel=1e-12)
    assert row["basal_area_m2_per_ha_se"] == pytest.approx(4 / math.sqrt(3), rel=1e-12)


def test_a_strip_is_its_length_times_its_own_or_the_common_width() -> None:
    plots = {"plot": ["P1", "P2", "P3"], "length_m": [50.0, 50.0, None], "width_m": [None, 8.0, None],
             "area_m2": [None, None, 700.0]}  # fmt: skip
    values = _values(plots, {"design": "strip", "width_m": 10}, trees=_stems(20.0))
    assert values.plots["area_m2"].to_list() == [500.0, 400.0, 700.0]
    assert values.plots["share_inside"].isna().all()


def test_a_plot_may_have_a_design_of_its_own() -> None:
    plots = {
        "plot": ["P1", "P2"],
        "design": [None, "angle-count"],
        "baf_m2_per_ha": [None, 2.0],
        "compartment": ["A", "B"],
    }
    trees = {"plot": ["P1", "P2", "P2"], "d1_cm": [20.0, 20.0, 40.0]}
    values = _values(plots, {"design": "circle", "area_m2": 500}, trees=trees)
    assert values.plots["design"].to_list() == ["circle", "angle-count"]
    assert values.plots["basal_area_m2_per_ha"].to_list() == pytest.approx(
        [0.01 * math.pi * 20, 4.0], rel=1e-12
    )


def test_plots_of_several_designs_in_one_compartment_weigh_alike() -> None:
    plots = {
        "plot": ["P1", "P2"],
        "design": ["circle", "angle-count"],
        "baf_m2_per_ha": [None, 2.0],
        "compartment": ["A", "A"],
    }
    trees = {"plot": ["P1", "P2", "P2"], "d1_cm": [20.0, 20.0, 40.0]}
    row = _estimates(plots, {"design": "circle", "area_m2": 500}, trees=trees).compartments.iloc[0]
    assert row["basal_area_m2_per_ha"] == pytest.approx((0.2 * math.pi + 4) / 2, rel=1e-12)


def test_a_full_count_has_no_sampling_error_and_adds_none_to_the_total() -> None:
    plots = {"plot": ["P1", "P2", "P3"], "compartment": ["A", "B", "B"], "design": ["full", None, None]}
    trees = {"plot": ["P1"] * 40 + ["P2", "P3", "P3"], "d1_cm": [20.0] * 43}
    found = _estimates(plots, {"design": "circle", "area_m2": 500}, trees=trees)
    whole, sampled = (found.compartments.set_index("compartment").loc[name] for name in "AB")
    assert whole["status"] == "full count"
    assert whole["stems_total"] == pytest.approx(40, rel=1e-12)
    assert whole["stems_total_se"] == whole["sampling_error_pct"] == 0
    assert whole["stems_total_low"] == whole["stems_total_high"] == whole["stems_total"]
    total = found.survey_total.iloc[0]
    assert total["stems_total"] == pytest.approx(40 + sampled["stems_total"], rel=1e-12)
    assert total["stems_total_se"] == pytest.approx(sampled["stems_total_se"], rel=1e-12)
    assert total["status"] == "estimated"
    assert (found.tables.class_totals.filter(compartment="A")["stems_per_ha_se"] == 0).all()


def test_a_full_count_on_two_sheets_is_one_count() -> None:
    plots = {"plot": ["P1", "P2"], "compartment": ["A", "A"], "design": ["full", "full"]}
    trees = {"plot": ["P1"] * 3 + ["P2"] * 4, "d1_cm": [20.0] * 7}
    row = _estimates(plots, {"design": "full"}, trees=trees).compartments.iloc[0]
    assert row["stems_total"] == pytest.approx(7, rel=1e-12)
    assert row["stems_total_se"] == 0


def test_a_sample_plot_in_a_compartment_that_was_counted_whole_is_an_error() -> None:
    plots = {"plot": ["P1", "P2"], "compartment": ["A", "A"], "design": ["full", None]}
    found = _values(plots, {"design": "circle", "area_m2": 500}, trees=_stems(20.0)).findings.frame
    assert found.select("code", "plot", "value").rows() == [("full-count-with-plots", "P2", "circle")]


@pytest.mark.parametrize(("distance_m", "found"), [(10.04, False), (10.06, True)])
def test_a_stem_beyond_the_radius_of_its_plot_is_found(distance_m: float, found: bool) -> None:  # noqa: FBT001
    trees = {"plot": ["P1"], "d1_cm": [20.0], "distance_m": [distance_m], "azimuth_deg": [0.0]}
    values = _values({"plot": ["P1"]}, {"design": "circle", "radius_m": 10}, trees=trees)
    assert ("stem-beyond-radius" in values.findings.codes) is found
    assert values.trees.height == 1


@pytest.mark.parametrize(("dbh_cm", "found"), [(29.0, True), (30.0, False)])
def test_a_stem_beyond_the_ring_of_its_size_is_found(dbh_cm: float, found: bool) -> None:  # noqa: FBT001
    trees = {"plot": ["P1"], "d1_cm": [dbh_cm], "distance_m": [7.0]}
    values = _values({"plot": ["P1"]}, {"design": "nested", "nests": _NESTS}, trees=trees)
    assert ("stem-beyond-radius" in values.findings.codes) is found


@pytest.mark.parametrize(("distance_m", "found"), [(5.04, False), (5.06, True)])
def test_a_stem_beyond_its_limiting_distance_is_found(distance_m: float, found: bool) -> None:  # noqa: FBT001
    trees = {"plot": ["P1"], "d1_cm": [20.0], "distance_m": [distance_m]}
    values = _values({"plot": ["P1"]}, {"design": "angle-count", "baf_m2_per_ha": 4}, trees=trees)
    assert ("stem-beyond-limit" in values.findings.codes) is found


def test_positions_need_every_stem_placed_and_none_tallied() -> None:
    trees = {
        "plot": ["P1", "P1"],
        "d1_cm": [20.0, 30.0],
        "azimuth_deg": [90.0, None],
        "distance_m": [3.0, 3.0],
    }
    tallies = {"plot": ["P1"], "class": ["10-15"], "count": [2]}
    settings = {"design": "circle", "radius_m": 10, "edge": "positions"}
    found = _values({"plot": ["P1"]}, settings, trees=trees, tallies=tallies).findings.frame
    assert found.select("code", "row").rows() == [("tally-without-position", 2), ("stem-without-position", 3)]


def test_a_stem_beyond_the_survey_goes_with_the_land_it_stands_on() -> None:
    plots = {"plot": ["P1"], "easting": [499_802.0], "northing": [5_600_100.0]}
    trees = {
        "plot": ["P1", "P1"],
        "d1_cm": [20.0, 30.0],
        "azimuth_deg": [90.0, 270.0],
        "distance_m": [3.0, 3.0],
    }
    values = _values(plots, {"design": "circle", "radius_m": 10, "edge": "positions"}, trees=trees)
    assert values.trees["dbh_cm"].to_list() == [20.0]
    assert ("trees", "outside all compartments", 1) in values.set_aside.rows()
    share = values.plots["share_inside"].item()
    assert values.trees["stems_per_ha"].item() == pytest.approx(10_000 / (100 * math.pi * share), rel=1e-9)


def test_azimuth_and_distance_give_coordinates_on_the_grid() -> None:
    plots = {"plot": ["P1"], "easting": [499_900.0], "northing": [5_600_100.0]}
    trees = {"plot": ["P1"] * 2, "d1_cm": [20.0] * 2, "azimuth_deg": [90.0, 180.0], "distance_m": [3.0, 4.0]}
    stems = _values(plots, {"design": "circle", "radius_m": 10}, trees=trees).trees
    assert stems["easting"].to_list() == pytest.approx([499_903.0, 499_900.0], abs=1e-6)
    assert stems["northing"].to_list() == pytest.approx([5_600_100.0, 5_600_096.0], abs=1e-6)


def test_a_magnetic_azimuth_is_turned_by_the_declination() -> None:
    plots = {"plot": ["P1"], "easting": [500_000.0], "northing": [5_600_100.0]}
    trees = {"plot": ["P1"], "d1_cm": [20.0], "azimuth_deg": [80.0], "distance_m": [10.0]}
    settings = {"design": "circle", "radius_m": 12, "azimuth": "magnetic", "declination_deg": 10.0}
    stems = _values(plots, settings, trees=trees).trees
    assert stems["easting"].item() == pytest.approx(500_010.0, abs=1e-4)
    assert stems["northing"].item() == pytest.approx(5_600_100.0, abs=1e-4)
