"""Limits of compartments, classes and totals, above all of what was not found."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from plotmap.plots import compute_plots
from plotmap.stand import Estimates, estimate_stand
from plotmap.stems import measure_stems
from tests.survey_example import survey_example

NOTHING = -math.log(0.025)
"""Garwood's upper limit of a count of 0 at 95 %: exp(-m) = 0.025."""
CIRCLES = {"design": "circle", "area_m2": 500.0}


def _estimates(
    n_stems: list[int], homes: list[str], plots: dict[str, Any] = CIRCLES, **more: Any
) -> Estimates:
    """Return the estimates of plots with so many stems of 12 cm, each also with one of 33 cm where it has any."""
    names = [f"P{i}" for i in range(len(homes))]
    stems = [name for name, n in zip(names, n_stems, strict=True) for _ in range(n)]
    thick = sorted(set(stems))
    survey = survey_example(
        settings={"plots": plots, **more.pop("settings", {})},
        trees={"plot": stems + thick, "d1_cm": [12.0] * len(stems) + [33.0] * len(thick)},
        plots={"plot": names, "compartment": homes, "state": ["measured" if n else "empty" for n in n_stems]},
        **more,
    )
    return estimate_stand(survey, compute_plots(survey, measure_stems(survey)))


def test_a_class_without_stems_could_still_hold_what_the_area_searched_leaves_open() -> None:
    table = _estimates([3, 2, 4], ["A"] * 3).tables.class_totals
    assert table["class"].to_list() == ["10–<15", "15–<20", "20–<25", "25–<30", "30–<35"]
    gap = table.row(1, named=True)
    assert gap["stems_per_ha"] == gap["stems_per_ha_low"] == 0
    assert gap["stems_per_ha_high"] == pytest.approx(NOTHING / 0.15, rel=1e-9)
    upper_edge_m2 = math.pi * 0.20**2 / 4
    assert gap["basal_area_m2_per_ha_high"] == pytest.approx(NOTHING / 0.15 * upper_edge_m2, rel=1e-9)
    assert table["interval"].to_list() == ["gamma", "Poisson", "Poisson", "Poisson", "gamma"]


def test_a_class_by_girth_has_the_stem_of_its_upper_girth() -> None:
    rule = {"classes": {"on": "girth", "width_cm": 20}}
    gap = _estimates([3, 2, 4], ["A"] * 3, settings=rule).tables.class_totals.row(1, named=True)
    assert gap["class"] == "40–<60"  # 12 cm is a girth of 37.7 cm
    edge_m2 = 0.60**2 / (4 * math.pi)
    assert gap["basal_area_m2_per_ha_high"] == pytest.approx(gap["stems_per_ha_high"] * edge_m2, rel=1e-9)


@pytest.mark.parametrize("kind", ["auto", "t", "log"])
def test_every_kind_says_what_could_stand_where_nothing_was_found(kind: str) -> None:
    found = _estimates([3, 2, 4], ["A"] * 3, settings={"estimates": {"interval": kind}})
    assert found.tables.class_totals["interval"][1] == "Poisson"
    assert found.compartments["interval"].iloc[0] == {"auto": "gamma"}.get(kind, kind)
    assert found.compartments["not_found_stems_per_ha_high"].iloc[0] == pytest.approx(
        NOTHING / 0.15, rel=1e-9
    )


def test_the_kind_moves_limits_but_neither_estimates_nor_errors() -> None:
    by_t, by_gamma = (
        _estimates([3, 2, 9], ["A"] * 3, settings={"estimates": {"interval": kind}}).compartments.iloc[0]
        for kind in ("t", "auto")
    )
    same = [f"{name}{end}" for name in ("stems_per_ha", "basal_area_m2_per_ha") for end in ("", "_se")]
    assert by_t[[*same, "sampling_error_pct"]].equals(by_gamma[[*same, "sampling_error_pct"]])
    assert by_gamma["stems_per_ha_high"] > by_t["stems_per_ha_high"]
    assert by_gamma["stems_per_ha_low"] > by_t["stems_per_ha_low"] == 0


def test_a_class_on_which_plots_agree_by_chance_is_believed_to_its_count_only() -> None:
    """One stem of 33 cm on each of three plots, one in four of all stems: three over (1 - 1/4) is 4."""
    row = _estimates([3, 3, 3], ["A"] * 3).tables.class_totals.row(-1, named=True)
    assert row["stems_per_ha_se"] == 0
    assert row["stems_per_ha"] == pytest.approx(20)
    assert row["stems_per_ha_low"] == pytest.approx(20 * 1.0899 / 4, rel=1e-4)  # Garwood's limits of 4
    assert row["stems_per_ha_high"] == pytest.approx(20 * 10.2416 / 4, rel=1e-4)


def test_a_compartment_of_empty_plots_has_a_limit_for_stems_and_none_for_basal_area() -> None:
    found = _estimates([0, 0, 3], ["A", "A", "B"])
    row = found.compartments.set_index("compartment").loc["A"]
    assert row["interval"] == "Poisson"
    assert row["stems_per_ha_low"] == row["basal_area_m2_per_ha_low"] == 0
    assert row["stems_per_ha_high"] == pytest.approx(NOTHING / 0.1, rel=1e-9)
    assert row["stems_total_high"] == pytest.approx(row["area_ha"] * NOTHING / 0.1, rel=1e-9)
    assert np.isnan(row["basal_area_m2_per_ha_high"])


def test_a_total_of_empty_compartments_has_the_largest_limit_of_theirs() -> None:
    found = _estimates([0, 0, 0, 0, 0], ["A", "A", "A", "B", "B"])
    total = found.survey_total.iloc[0]
    assert total["stems_total_high"] == found.compartments["stems_total_high"].max() > 0
    assert total["interval"] == "Poisson"
    assert np.isnan(total["basal_area_m2_total_high"])


def test_an_empty_class_of_the_survey_has_the_largest_limit_of_its_compartments() -> None:
    found = _estimates([3, 2, 4, 3, 1], ["A", "A", "A", "B", "B"])
    area = found.compartments.set_index("compartment")["area_ha"]
    largest = max(area["A"] * NOTHING / 0.15, area["B"] * NOTHING / 0.10)
    gap = found.class_sums.row(1, named=True)
    assert (gap["scope"], gap["class"], gap["interval"]) == ("survey", "15–<20", "Poisson")
    assert gap["stems_total"] == gap["stems_total_low"] == 0
    assert gap["stems_total_high"] == pytest.approx(largest, rel=1e-9)
    edge_m2 = math.pi * 0.20**2 / 4
    assert gap["basal_area_m2_total_high"] == pytest.approx(largest * edge_m2, rel=1e-9)
    assert gap["basal_area_m2_per_ha_high"] == pytest.approx(largest * edge_m2 / area.sum(), rel=1e-9)


def test_the_total_of_one_compartment_has_its_limits() -> None:
    found = _estimates([3, 2, 9], ["A"] * 3)
    row, total = found.compartments.iloc[0], found.survey_total.iloc[0]
    for name in ("stems_total", "basal_area_m2_total"):
        for end in ("_low", "_high"):
            assert total[name + end] == pytest.approx(row[name + end], rel=1e-9)
    assert total["interval"] == row["interval"] == "gamma"


def test_rings_leave_open_what_the_smallest_ring_did_not_see() -> None:
    nests = [{"radius_m": 5.0, "min_dbh_cm": 0}, {"radius_m": 12.0, "min_dbh_cm": 30}]
    row = _estimates([3, 2], ["A", "A"], {"design": "nested", "nests": nests}).compartments.iloc[0]
    searched_ha = 2 * math.pi * 5.0**2 / 10_000
    assert row["not_found_stems_per_ha_high"] == pytest.approx(NOTHING / searched_ha, rel=1e-9)


def test_angle_counts_say_nothing_of_what_was_not_found() -> None:
    found = _estimates([3, 2], ["A", "A"], {"design": "angle-count", "baf_m2_per_ha": 4.0})
    assert np.isnan(found.compartments["not_found_stems_per_ha_high"].iloc[0])
    gap = found.tables.class_totals.row(1, named=True)
    assert gap["stems_per_ha"] == 0
    assert gap["stems_per_ha_high"] is gap["basal_area_m2_per_ha_high"] is None
    assert gap["interval"] == "none"


def test_what_was_counted_whole_leaves_nothing_open() -> None:
    found = _estimates([3], ["A"], {"design": "full"})
    gap = found.tables.class_totals.row(1, named=True)
    assert gap["stems_per_ha_high"] == gap["basal_area_m2_per_ha_high"] == 0
    assert gap["interval"] == "none"
    assert np.isnan(found.compartments["not_found_stems_per_ha_high"].iloc[0])


def test_one_plot_has_no_limits_not_even_of_an_empty_class() -> None:
    found = _estimates([3], ["A"])
    assert found.tables.class_totals["stems_per_ha_high"].null_count() == 5
    assert set(found.tables.class_totals["interval"]) == {"none"}
    assert found.compartments["interval"].iloc[0] == "none"
