"""How many plots: stated, for a target error, or of the crew-days; shared out over strata."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from plotmap.errors import SettingsError
from plotmap.layout import plan_layout
from plotmap.layout.land import Land, land_of
from plotmap.layout.numbers import Numbers, numbers_of
from plotmap.layout.variation import variation_of
from plotmap.statistics import plots_needed, stratified_error_pct
from tests.layout_example import TWO, at, ground_example

STRATA = ["wet", "dry"]
ANGLES = {"design": "angle-count", "baf_m2_per_ha": 4}
NESTS = [{"radius_m": 5, "min_dbh_cm": 0}, {"radius_m": 10, "min_dbh_cm": 20}]


def _numbers(layout: dict, **keys: Any) -> tuple[Numbers, Land]:
    ground = ground_example(layout, **keys)
    land = land_of(ground)
    return numbers_of(land, variation_of(land, ground.settings.layout, None), ground.settings), land


def _sizes(layout: dict, **keys: Any) -> list[dict]:
    return plan_layout(ground_example(layout, **keys)).sample_sizes.to_dicts()


def test_a_target_error_needs_the_plots_of_the_formula_in_a_finite_population() -> None:
    numbers, land = _numbers({"cv_pct": 50}, estimates={"target_error_pct": 15})
    whole = 400_000 / (math.pi * 12.62**2)  # geometry
    assert land.fitting == pytest.approx([whole])
    assert numbers.wanted.sum() == plots_needed(50, 15, 0.95, population=whole)
    assert numbers.basis == "target error"


def test_crew_days_that_do_not_suffice_give_what_they_can_and_both_are_told() -> None:
    survey, *_ = _sizes({"cv_pct": 50, "crew_days": 2.5, "plots_per_day": 8, "method": "random"})
    assert (survey["n_from_crew_days"], survey["n_wanted"], survey["n_planned"]) == (20, 20, 20)
    assert survey["n_for_target"] > 60
    expected = stratified_error_pct([1.0], [50.0], [20], 0.95, population=400_000 / (math.pi * 12.62**2))
    assert survey["error_from_crew_days_pct"] == pytest.approx(expected)
    assert survey["error_pct"] == pytest.approx(expected)


def test_crew_days_to_spare_are_not_used_up() -> None:
    numbers, _ = _numbers({"cv_pct": 30, "crew_days": 90, "plots_per_day": 8})
    assert numbers.basis == "target error"
    assert numbers.wanted.sum() < numbers.from_days.sum() == 720


def test_proportional_plots_go_by_area_and_neymans_by_variation_too() -> None:
    polygons = {"A": at(0, 0, 400, 400), "B": at(400, 0, 800, 400)}
    own = {"wet": 90.0, "dry": 30.0}
    base = {"n_plots": 40, "cv_pct_by_stratum": own, "method": "random"}
    assert _numbers(base, polygons=polygons, strata=STRATA)[0].wanted.tolist() == [20, 20]
    neyman = _numbers(base | {"allocation": "neyman"}, polygons=polygons, strata=STRATA)[0]
    assert neyman.wanted.tolist() == [30, 10]
    assert not neyman.one_density


def test_the_handbooks_strata_get_the_handbooks_plots() -> None:
    """USDA Forest Service Handbook 2409.12 (2000): 30, 10, 20, 40 acres, CV 40 65 80 35 %: 86 are 21 12 28 25."""
    side = 4046.8564224 / 100  # strips of 100 m whose areas are acres
    west = np.concatenate([[0], np.cumsum([30, 10, 20, 40])]) * side
    polygons = {name: at(west[k], 0, west[k + 1], 100) for k, name in enumerate("abcd")}
    layout = {"n_plots": 86, "allocation": "neyman", "method": "random"}
    layout["cv_pct_by_stratum"] = dict(zip("abcd", [40, 65, 80, 35], strict=True))
    assert _numbers(layout, polygons=polygons, strata=list("abcd"))[0].wanted.tolist() == [21, 12, 28, 25]


def test_a_small_stratum_gets_its_least_and_a_tiny_one_what_fits() -> None:
    polygons = {"A": at(0, 0, 1000, 1000), "B": at(1000, 0, 1050, 50), "C": at(2000, 0, 2010, 10)}
    numbers, land = _numbers(
        {"n_plots": 30, "min_per_stratum": 3, "method": "random"}, polygons=polygons, strata=list("xyz")
    )
    assert numbers.wanted.tolist() == [26, 3, 1]  # C is smaller than a plot
    assert land.fitting[2] < 1
    assert not numbers.one_density


def test_a_stated_spacing_gives_one_density() -> None:
    for method, cell in (("square", 2500), ("triangular", 2500 * math.sqrt(3) / 2), ("strips", 2500 * 4)):
        numbers, _ = _numbers({"spacing_m": 50, "method": method}, strata=STRATA)
        assert numbers.wanted == pytest.approx([240_000 / cell, 160_000 / cell])
        assert numbers.one_density


def test_a_compartment_of_median_area_is_told_with_its_expected_plots() -> None:
    polygons = {"A": at(0, 0, 100, 400), "B": at(100, 0, 300, 400), "C": at(300, 0, 1000, 400)}
    *_, median = _sizes({"n_plots": 50, "cv_pct": 40, "method": "random"}, polygons=polygons)
    assert (median["scope"], median["name"]) == ("median compartment", "B")
    assert median["n_wanted"] == pytest.approx(10, rel=1e-3)


def test_angle_counts_have_no_finite_population() -> None:
    numbers, land = _numbers({"cv_pct": 50}, plots=ANGLES)
    assert np.isinf(land.fitting).all()
    assert numbers.wanted.sum() == 99  # the published figure for 50 % and 10 %


def test_a_target_that_needs_everything_is_a_full_count_of_plots() -> None:
    survey, *_ = _sizes(
        {"cv_pct": 80, "method": "random"},
        polygons={"A": at(0, 0, 100, 60)},
        estimates={"target_error_pct": 0.01},
    )
    assert survey["n_for_target"] == math.floor(6000 / (math.pi * 12.62**2))
    assert survey["error_pct"] == 0


@pytest.mark.parametrize(
    ("layout", "keys", "words"),
    [
        ({}, {}, "does not say how many plots"),
        ({"allocation": "neyman", "n_plots": 9}, {}, "but that is not known"),
        ({"cv_pct_by_stratum": {"moor": 50}}, {}, "names 'moor', but the strata are all"),
        ({"n_plots": 3}, {"strata": STRATA}, "that is 3 plots, but 2 strata need 4 at least"),
        ({"crew_days": 0.1, "plots_per_day": 5}, {}, "that is 0 plots, but the survey needs 2 at least"),
        ({"n_plots": 5000}, {}, "799 of 500 m² cover all of"),
        ({"cv_pct": 50}, {"estimates": {"target_error_pct": 1e-6}, "plots": ANGLES}, "which no number"),
        ({"n_plots": 9}, {"plots": {"design": "full"}}, "laid out for samples only"),
        ({"n_plots": 9}, {"excluded": [at(-5, -5, 2000, 2000)]}, "leaves nothing of any compartment"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_in_words(layout, keys, words) -> None:
    with pytest.raises(SettingsError, match=words):
        plan_layout(ground_example(layout, **keys))


def test_the_area_of_a_plot_is_that_of_its_design() -> None:
    for plots, radius, area in (
        ({"design": "circle", "area_m2": 500}, math.sqrt(500 / math.pi), 500),
        ({"design": "nested", "nests": NESTS}, 10, 100 * math.pi),
        ({"design": "rectangle", "area_m2": 400}, math.nan, 400),
    ):  # fmt: skip
        land = land_of(ground_example({"n_plots": 9}, TWO, plots=plots))
        assert land.radius_m == pytest.approx(radius, nan_ok=True)
        assert land.plot_m2 == pytest.approx(area)
