"""Mean and top height and density. Expected figures are worked by hand, or from the definitions."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import polars as pl
import pytest

from plotmap.plots import compute_plots
from plotmap.stand import estimate_stand
from plotmap.stems import measure_stems
from tests.survey_example import survey_example

_PLOTS = {"design": "circle", "area_m2": 500.0}
_IN_A = {"plot": ["P1", "P2"], "compartment": ["A", "A"]}


def _density(**given: Any) -> pl.DataFrame:
    """Return the density table of a survey of plots of 500 m²."""
    settings = {"plots": _PLOTS, **given.pop("settings", {})}
    survey = survey_example(settings=settings, **given)
    return estimate_stand(survey, compute_plots(survey, measure_stems(survey))).stand_density


def _of(table: pl.DataFrame, scope: str, name: str | None = None) -> dict[str, Any]:
    """Return one row."""
    named = pl.col("name").is_null() if name is None else pl.col("name") == name
    return table.row(by_predicate=(pl.col("scope") == scope) & named, named=True)


def test_loreys_height_weighs_by_basal_area_and_is_not_the_plain_mean() -> None:
    row = _of(
        _density(trees={"plot": ["P1"] * 2, "d1_cm": [10.0, 30.0], "height_m": [10.0, 20.0]}),
        "compartment",
        "A",
    )
    # geometry: basal areas are as 1 to 9
    assert row["lorey_height_m"] == pytest.approx((1 * 10 + 9 * 20) / 10, rel=1e-12)
    assert row["lorey_height_m"] != pytest.approx(15, rel=0.1)
    assert (row["heights"], row["n_height_measured"], row["status"]) == ("all measured", 2, "one plot")
    assert row["lorey_height_m_se"] is None


def test_loreys_height_of_an_angle_count_is_the_plain_mean_of_the_stems_counted() -> None:
    heights = [12.0, 18.0, 25.0, 21.0]
    row = _of(
        _density(
            trees={"plot": ["P1", "P1", "P1", "P2"], "d1_cm": [10.0, 30.0, 44.0, 20.0], "height_m": heights},
            plots=_IN_A,
            settings={"plots": {"design": "angle-count", "baf_m2_per_ha": 2.0}},
        ),
        "compartment",
        "A",
    )
    # Bitterlich 1948: every stem stands for one basal area
    assert row["lorey_height_m"] == pytest.approx(np.mean(heights), rel=1e-12)


def test_a_stem_counted_twice_weighs_twice_in_loreys_height() -> None:
    row = _of(
        _density(
            trees={"plot": ["P1"] * 2, "d1_cm": [20.0, 20.0], "height_m": [10.0, 22.0], "times": [2, 1]},
            settings={"plots": {**_PLOTS, "edge": "mirage"}},
        ),
        "compartment",
        "A",
    )
    assert row["lorey_height_m"] == pytest.approx(14, rel=1e-12)


def test_top_height_is_that_of_the_five_thickest_on_500_square_metres() -> None:
    row = _of(
        _density(
            trees={
                "plot": ["P1"] * 7,
                "d1_cm": [50.0, 45.0, 40.0, 35.0, 30.0, 25.0, 20.0],
                "height_m": [25.0, 26.0, 24.0, 22.0, 23.0, 40.0, 40.0],
            }
        ),
        "compartment",
        "A",
    )
    assert row["top_height_m"] == pytest.approx((25 + 26 + 24 + 22 + 23) / 5, rel=1e-12)
    assert row["n_plots_short"] == 0


def test_a_part_of_a_stem_counts_where_the_plot_asks_for_one() -> None:
    row = _of(
        _density(
            trees={"plot": ["P1"] * 3, "d1_cm": [40.0, 30.0, 20.0], "height_m": [20.0, 10.0, 5.0]},
            settings={"plots": {"design": "circle", "area_m2": 150.0}},
        ),
        "compartment",
        "A",
    )
    # 100 × 0.015 ha are one stem and a half
    assert row["top_height_m"] == pytest.approx((20 + 0.5 * 10) / 1.5, rel=1e-12)


@pytest.mark.parametrize(("count", "short"), [(5, 0), (4, 1)])
def test_a_plot_with_fewer_than_100_stems_per_hectare_is_counted(count: int, short: int) -> None:
    row = _of(
        _density(trees={"plot": ["P1"] * count, "d1_cm": [30.0] * count, "height_m": [20.0] * count}),
        "compartment",
        "A",
    )
    assert (row["n_plots_short"], row["top_height_m"]) == (short, pytest.approx(20, rel=1e-12))


def test_top_height_of_an_angle_count_takes_stems_by_what_they_stand_for() -> None:
    row = _of(
        _density(
            trees={"plot": ["P1"] * 2, "d1_cm": [40.0, 20.0], "height_m": [24.0, 12.0]},
            settings={"plots": {"design": "angle-count", "baf_m2_per_ha": 4.0}},
        ),
        "compartment",
        "A",
    )
    first = 4 / (math.pi * 0.2**2)  # 31.8 per hectare; the second stands for 127.3
    assert row["top_height_m"] == pytest.approx((first * 24 + (100 - first) * 12) / 100, rel=1e-12)


def test_top_height_of_a_full_count_is_that_of_the_whole_compartment() -> None:
    # 4 ha, so that the 400 thickest of 402 are taken; two sheets of one count
    thick, thin = 400, 2
    row = _of(
        _density(
            trees={
                "plot": ["F1"] * thick + ["F2"] * thin,
                "d1_cm": [40.0] * thick + [20.0] * thin,
                "height_m": [25.0] * thick + [5.0] * thin,
            },
            plots={"plot": ["F1", "F2"], "design": ["full", "full"], "compartment": ["A", "A"]},
        ),
        "compartment",
        "A",
    )
    assert row["top_height_m"] == pytest.approx(25, abs=0.05)  # the geodesic area is 4 ha to 0.1 %
    assert (row["top_height_m_se"], row["status"]) == (0, "full count")


def test_the_error_of_loreys_height_is_that_of_a_ratio() -> None:
    d, h = np.array([30.0, 20.0, 40.0, 25.0]), np.array([20.0, 15.0, 26.0, 19.0])
    row = _of(
        _density(
            trees={"plot": ["P1", "P1", "P2", "P2"], "d1_cm": list(d), "height_m": list(h)}, plots=_IN_A
        ),
        "compartment",
        "A",
    )
    g = d**2
    x, y = np.add.reduceat(g, [0, 2]), np.add.reduceat(g * h, [0, 2])
    ratio = y.sum() / x.sum()
    expected = math.sqrt(2 * ((y - ratio * x) ** 2).sum()) / x.sum()  # Cochran 1977, ch. 6, n = 2
    assert row["lorey_height_m"] == pytest.approx(ratio, rel=1e-12)
    assert row["lorey_height_m_se"] == pytest.approx(expected, rel=1e-9)


def test_both_forms_of_reinekes_index_agree_where_all_stems_are_alike() -> None:
    row = _of(_density(trees={"plot": ["P1"] * 10, "d1_cm": [25.0] * 10}), "compartment", "A")
    assert row["reineke_index"] == pytest.approx(200, rel=1e-12)
    assert row["reineke_sum"] == pytest.approx(200, rel=1e-12)


def test_the_summed_form_is_the_smaller_one_where_stems_differ() -> None:
    row = _of(_density(trees={"plot": ["P1"] * 2, "d1_cm": [10.0, 40.0]}), "compartment", "A")
    dg = math.sqrt((10**2 + 40**2) / 2)
    assert row["reineke_index"] == pytest.approx(40 * (dg / 25) ** 1.605, rel=1e-12)
    assert row["reineke_sum"] == pytest.approx(20 * ((10 / 25) ** 1.605 + (40 / 25) ** 1.605), rel=1e-12)
    assert row["reineke_sum"] < row["reineke_index"]
    assert row["curtis_density"] == pytest.approx(
        20 * math.pi / 40_000 * (100 + 1600) / math.sqrt(dg), rel=1e-12
    )


def test_relative_spacing_is_the_mean_distance_over_top_height() -> None:
    row = _of(
        _density(trees={"plot": ["P1"] * 20, "d1_cm": [20.0] * 20, "height_m": [25.0] * 20}),
        "compartment",
        "A",
    )
    assert row["relative_spacing_pct"] == pytest.approx(100 * 5 / 25, rel=1e-12)  # 400 per ha: 5 m apart


def test_relative_density_measures_each_species_by_its_maximum() -> None:
    trees = {"plot": ["P1"] * 3, "species": ["oak", "oak", "ash"], "d1_cm": [25.0] * 3}
    maxima = [{"species": "oak", "index": 800}, {"species": "*", "index": 400}]
    row = _of(_density(trees=trees, settings={"density": {"maxima": maxima}}), "compartment", "A")
    assert row["relative_density_pct"] == pytest.approx(100 * (40 / 800 + 20 / 400), rel=1e-12)
    without = _of(_density(trees=trees, settings={"density": {"maxima": maxima[:1]}}), "compartment", "A")
    assert without["relative_density_pct"] is None
    assert _of(_density(trees=trees), "compartment", "A")["relative_density_pct"] is None


def test_what_cannot_be_said_is_missing_with_a_word() -> None:
    table = _density(
        trees={"plot": ["P1", "P1"], "d1_cm": [20.0, 30.0], "height_m": [15.0, None]},
        plots={"plot": ["P1", "P2"], "state": ["measured", "unvisited"]},
    )
    with_stems, without = _of(table, "compartment", "A"), _of(table, "compartment", "B")
    assert (with_stems["heights"], with_stems["n_height_missing"]) == ("no curve", 1)
    assert with_stems["lorey_height_m"] is None
    assert with_stems["top_height_m"] is None
    assert with_stems["reineke_sum"] > 0
    assert (without["heights"], without["status"], without["reineke_sum"]) == ("no plots", "no plots", None)
    bare = _density(trees={"plot": ["P1"], "d1_cm": [20.0]})
    assert _of(bare, "survey")["heights"] == "no heights"


def test_a_compartment_without_stems_has_an_index_of_zero_and_no_height() -> None:
    plots = {
        "plot": ["P1", "P2", "P3"],
        "state": ["measured", "empty", "empty"],
        "compartment": ["A", "B", "B"],
    }
    row = _of(_density(trees={"plot": ["P1"], "d1_cm": [20.0]}, plots=plots), "compartment", "B")
    assert (row["heights"], row["lorey_height_m"], row["reineke_index"]) == ("no stems", None, None)
    assert (row["reineke_sum"], row["reineke_sum_se"]) == (0, 0)


def test_dead_stems_that_count_are_in_the_index_but_not_in_the_heights() -> None:
    trees = {
        "plot": ["P1"] * 2,
        "d1_cm": [25.0, 25.0],
        "height_m": [20.0, 4.0],
        "condition": ["live", "dead"],
    }
    row = _of(_density(trees=trees, settings={"stems": {"count": "all"}}), "compartment", "A")
    assert (row["lorey_height_m"], row["top_height_m"]) == (pytest.approx(20), pytest.approx(20))
    assert row["reineke_sum"] == pytest.approx(40, rel=1e-12)


def test_strata_weigh_compartments_by_their_area_and_a_lone_plot_leaves_no_error() -> None:
    trees = {
        "plot": ["P1", "P2", "P3"],
        "d1_cm": [20.0, 20.0, 40.0],
        "height_m": [15.0, 15.0, 30.0],
    }
    plots = {"plot": ["P1", "P2", "P3"], "compartment": ["A", "A", "B"]}
    table = _density(trees=trees, plots=plots)
    survey, stratum = _of(table, "survey"), _of(table, "stratum", "all")
    # A and B are of one area; basal area per hectare as 1 to 4, plot means of height 15 and 30
    assert survey["lorey_height_m"] == pytest.approx((15 + 4 * 30) / 5, rel=1e-6)
    assert survey["top_height_m"] == pytest.approx(22.5, rel=1e-6)
    assert (survey["status"], survey["lorey_height_m_se"]) == ("partly", None)
    assert {**survey, "scope": "", "name": ""} == {**stratum, "scope": "", "name": ""}
