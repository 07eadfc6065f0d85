"""Compartments, classes and totals of small surveys whose answers can be worked by hand."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from plotmap.plots import compute_plots
from plotmap.stand import Estimates, estimate_stand
from plotmap.stems import measure_stems
from tests.survey_example import survey_example

_PLOTS = {"design": "circle", "area_m2": 500.0}


def _estimates(settings: dict[str, Any] | None = None, **given: Any) -> Estimates:
    """Return the estimates of a made-up survey of plots of 500 m²."""
    survey = survey_example(settings={"plots": _PLOTS, **(settings or {})}, **given)
    return estimate_stand(survey, compute_plots(survey, measure_stems(survey)))


def _two_by_two(n_stems: list[int], homes: list[str], **more: Any) -> Estimates:
    """Return the estimates of plots with so many stems of 20 cm in compartments A and B."""
    names = [f"P{i}" for i in range(len(homes))]
    stems = [name for name, n in zip(names, n_stems, strict=True) for _ in range(n)]
    return _estimates(
        trees={"plot": stems, "d1_cm": [20.0] * len(stems)},
        plots={"plot": names, "compartment": homes, "state": ["measured" if n else "empty" for n in n_stems]},
        **more,
    )


_BY_T: dict[str, Any] = {"settings": {"estimates": {"interval": "t"}}}


def test_mean_error_and_interval_of_three_plots_are_those_of_the_textbook() -> None:
    found = _two_by_two([2, 4, 6, 1], ["A", "A", "A", "B"], **_BY_T)
    row = found.compartments.set_index("compartment").loc["A"]
    assert row["interval"] == "t"
    assert row["stems_per_ha"] == pytest.approx(80, rel=1e-12)
    assert row["stems_per_ha_se"] == pytest.approx(40 / math.sqrt(3), rel=1e-12)
    half = stats.t.ppf(0.975, 2) * 40 / math.sqrt(3)
    assert row["stems_per_ha_low"] == max(0, 80 - half) == 0
    assert row["stems_per_ha_high"] == pytest.approx(80 + half, rel=1e-12)
    assert row["sampling_error_pct"] == pytest.approx(100 * half / 80, rel=1e-12)
    assert row["n_plots"] == 3
    assert row["n_trees"] == 12
    assert row["status"] == "estimated"
    assert row["dg_cm"] == row["mean_dbh_cm"] == pytest.approx(20, rel=1e-12)


def test_totals_are_area_times_mean_with_the_same_relative_error() -> None:
    row = _two_by_two([2, 4, 6, 1], ["A", "A", "A", "B"]).compartments.iloc[0]
    for total, per_ha in (("stems_total", "stems_per_ha"), ("basal_area_m2_total", "basal_area_m2_per_ha")):
        for suffix in ("", "_se", "_low", "_high"):
            assert row[total + suffix] == pytest.approx(row["area_ha"] * row[per_ha + suffix], rel=1e-12)


def test_a_compartment_with_one_plot_has_a_mean_but_no_error() -> None:
    row = _two_by_two([2, 4, 5], ["A", "A", "B"]).compartments.set_index("compartment").loc["B"]
    assert row["status"] == "one plot"
    assert row["stems_per_ha"] == pytest.approx(100, rel=1e-12)
    assert pd.isna(
        row[["stems_per_ha_se", "stems_per_ha_low", "stems_per_ha_high", "sampling_error_pct"]]
    ).all()


def test_a_compartment_without_plots_has_nothing_and_is_never_zero() -> None:
    found = _two_by_two([2, 4], ["A", "A"])
    row = found.compartments.set_index("compartment").loc["B"]
    assert row["status"] == "no plots"
    assert row["n_plots"] == 0
    figures = [
        "stems_per_ha",
        "basal_area_m2_per_ha",
        "stems_total",
        "basal_area_m2_total_se",
        "dg_cm",
        "mean_dbh_cm",
    ]
    assert pd.isna(row[figures]).all()
    total = found.survey_total.iloc[0]
    assert total["n_left_out"] == 1
    assert total["area_left_out_ha"] == pytest.approx(row["area_ha"], rel=1e-12)


def test_a_compartment_of_empty_plots_is_a_real_zero() -> None:
    row = _two_by_two([0, 0, 3], ["A", "A", "B"]).compartments.set_index("compartment").loc["A"]
    assert row["status"] == "estimated"
    assert row["stems_per_ha"] == row["basal_area_m2_per_ha"] == row["stems_per_ha_se"] == 0
    assert pd.isna(row[["dg_cm", "mean_dbh_cm", "sampling_error_pct"]]).all()


def test_unequal_plots_are_weighted_by_their_area() -> None:
    found = _estimates(
        trees={"plot": ["P1"] * 2 + ["P2"] * 9, "d1_cm": [20.0] * 11},
        plots={"plot": ["P1", "P2"], "compartment": ["A", "A"], "area_m2": [200.0, 600.0]},
    )
    row = found.compartments.iloc[0]
    assert row["stems_per_ha"] == pytest.approx(11 / 0.08, rel=1e-12)
    residual = np.array([2 - 137.5 * 0.02, 9 - 137.5 * 0.06])
    se = math.sqrt(2 * (residual**2).sum()) / 0.08
    assert row["stems_per_ha_se"] == pytest.approx(se, rel=1e-12)


def test_the_total_adds_the_compartments_and_their_variances() -> None:
    found = _two_by_two([2, 4, 6, 8, 9], ["A", "A", "A", "B", "B"], **_BY_T)
    rows, total = found.compartments, found.survey_total.iloc[0]
    assert total["stems_total"] == pytest.approx(rows["stems_total"].sum(), rel=1e-12)
    variances = rows["stems_total_se"] ** 2
    assert total["stems_total_se"] == pytest.approx(math.sqrt(variances.sum()), rel=1e-12)
    df = variances.sum() ** 2 / (variances**2 / (rows["n_plots"] - 1)).sum()
    half = stats.t.ppf(0.975, df) * total["stems_total_se"]
    assert total["stems_total_high"] == pytest.approx(total["stems_total"] + half, rel=1e-9)
    assert total["stems_per_ha"] == pytest.approx(total["stems_total"] / rows["area_ha"].sum(), rel=1e-12)
    assert total["status"] == "estimated"


def test_a_total_with_a_compartment_of_one_plot_has_no_error_unless_it_is_pooled() -> None:
    total = _two_by_two([2, 4, 5], ["A", "A", "B"]).survey_total.iloc[0]
    assert total["status"] == "partly"
    assert total["n_one_plot"] == 1
    assert math.isnan(total["stems_total_se"])
    pooled = _two_by_two([2, 4, 5], ["A", "A", "B"], settings={"estimates": {"one_plot_variance": "pooled"}})
    total, area = pooled.survey_total.iloc[0], pooled.compartments["area_ha"]
    variance_between_plots = np.var([40.0, 80.0], ddof=1)
    expected = math.sqrt(area[0] ** 2 * variance_between_plots / 2 + area[1] ** 2 * variance_between_plots)
    assert total["stems_total_se"] == pytest.approx(expected, rel=1e-9)
    assert total["status"] == "estimated"


def test_strata_add_up_to_the_survey_total() -> None:
    found = _two_by_two([2, 4, 6, 8], ["A", "A", "B", "B"])
    assert len(found.strata) == 1
    for name in ("stems_total", "basal_area_m2_total", "n_plots", "area_ha", "dg_cm"):
        assert found.strata[name].item() == found.survey_total[name].item()


def test_a_survey_without_plots_that_enter_has_no_figures_at_all() -> None:
    found = _estimates(plots={"plot": ["P1"], "state": ["unvisited"]})
    assert found.compartments["status"].to_list() == ["no plots", "no plots"]
    total = found.survey_total.iloc[0]
    assert total["status"] == "no plots"
    assert pd.isna(total[["stems_per_ha", "stems_total", "stems_total_se", "sampling_error_pct"]]).all()
    assert found.tables.classes.height == 0


def test_an_empty_class_between_others_stays_with_zero_and_a_plot_without_a_class_counts_as_zero() -> None:
    found = _estimates(
        trees={"plot": ["P1", "P2"], "d1_cm": [12.0, 23.0]},
        plots={"plot": ["P1", "P2"], "compartment": ["A", "A"]},
    )
    table = found.tables.class_totals
    assert table["class"].to_list() == ["10–<15", "15–<20", "20–<25"]
    assert table["stems_per_ha"].to_list() == pytest.approx([10, 0, 10], rel=1e-12)
    assert table["stems_per_ha_se"].to_list() == pytest.approx([10, 0, 10], rel=1e-12)


def test_classes_and_species_add_up_to_the_compartment() -> None:
    found = _estimates(
        trees={
            "plot": ["P1", "P1", "P2", "P2", "P2"],
            "species": ["ash", "oak", "ash", "ash", None],
            "d1_cm": [12.0, 31.0, 23.0, 12.5, 55.0],
        },
        plots={"plot": ["P1", "P2"], "compartment": ["A", "A"]},
    )
    row = found.compartments.iloc[0]
    for table in (found.tables.classes, found.tables.class_totals, found.tables.species_totals):
        for name in ("stems_per_ha", "basal_area_m2_per_ha", "n_trees"):
            assert table[name].sum() == pytest.approx(row[name], rel=1e-12)
    assert found.tables.species_totals["species"].to_list() == ["ash", "not recorded", "oak"]


def test_a_class_gap_of_a_compartment_with_one_plot_has_a_zero_without_an_error() -> None:
    found = _estimates(
        trees={"plot": ["P1", "P1"], "d1_cm": [12.0, 23.0]}, plots={"plot": ["P1"], "compartment": ["A"]}
    )
    gap = found.tables.class_totals.row(1, named=True)
    assert gap["stems_per_ha"] == 0
    assert gap["stems_per_ha_se"] is None
