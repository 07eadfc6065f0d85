"""Plot values from stems. Expected figures are worked by hand."""

from __future__ import annotations

import math
from typing import Any

import pytest

from plotmap.model.plot_table import PlotValues
from plotmap.plots import compute_plots
from plotmap.stems import measure_stems
from tests.survey_example import survey_example

_PLOTS = {"design": "circle", "area_m2": 500.0}


def _values(**given: Any) -> PlotValues:
    """Return the plot values of a made-up survey of plots of 500 m²."""
    survey = survey_example(**{"settings": {"plots": _PLOTS}, **given})
    return compute_plots(survey, measure_stems(survey))


def test_a_stem_on_500_square_metres_stands_for_20() -> None:
    values = _values(trees={"plot": ["P1", "P1"], "d1_cm": [20.0, 40.0]})
    assert values.trees["stems_per_ha"].to_list() == pytest.approx([20, 20], rel=1e-12)
    assert values.trees["basal_area_m2"].to_list() == pytest.approx(
        [0.01 * math.pi, 0.04 * math.pi], rel=1e-12
    )
    row = values.plots.iloc[0]
    assert row["stems_per_ha"] == pytest.approx(40, rel=1e-12)
    assert row["basal_area_m2_per_ha"] == pytest.approx(math.pi, rel=1e-12)
    assert row["dg_cm"] == pytest.approx(math.sqrt(1000), rel=1e-12)


def test_an_empty_plot_is_a_zero_and_has_no_mean_diameter() -> None:
    values = _values(
        trees={"plot": ["P1"], "d1_cm": [20.0]}, plots={"plot": ["P1", "P2"], "state": ["measured", "empty"]}
    )
    row = values.plots.set_index("plot").loc["P2"]
    assert row["stems_per_ha"] == 0
    assert row["basal_area_m2_per_ha"] == 0
    assert math.isnan(row["dg_cm"])
    assert values.units["plot"].to_list() == ["P1", "P2"]


def test_a_plot_set_aside_has_no_figures_and_its_stems_are_counted_as_set_aside() -> None:
    values = _values(
        trees={"plot": ["P1", "P2", "P2"], "d1_cm": [20.0, 30.0, 30.0]},
        plots={"plot": ["P1", "P2"], "state": ["measured", "lost"]},
    )
    row = values.plots.set_index("plot").loc["P2"]
    assert math.isnan(row["stems_per_ha"])
    assert values.trees.height == 1
    aside = values.set_aside.rows()
    assert ("plots", "lost", 1) in aside
    assert ("trees", "plot lost", 2) in aside


def test_a_mirrored_stem_counts_twice_per_hectare_but_once_as_a_stem() -> None:
    values = _values(
        trees={"plot": ["P1", "P1"], "d1_cm": [20.0, 20.0], "times": [2, 1]},
        settings={"plots": {**_PLOTS, "edge": "mirage"}},
    )
    row = values.plots.iloc[0]
    assert row["n_trees"] == 2
    assert row["stems_per_ha"] == pytest.approx(60, rel=1e-12)


def test_tallied_and_measured_stems_of_one_plot_add_up() -> None:
    values = _values(
        trees={"plot": ["P1"], "d1_cm": [22.0]},
        tallies={"plot": ["P1"], "class": ["10-15"], "count": [4]},
    )
    assert values.plots["stems_per_ha"].item() == pytest.approx(100, rel=1e-12)
    assert values.plots["n_trees"].item() == 5
    assert values.tallied["stems_per_ha"].to_list() == pytest.approx([80], rel=1e-12)


def test_cells_hold_one_row_for_each_species_and_class_that_stands_on_a_plot() -> None:
    values = _values(
        trees={"plot": ["P1"] * 4, "d1_cm": [11.0, 12.0, 22.0, 13.0], "species": ["ash", "ash", "ash", "oak"]}
    )
    cells = values.cells.select("species", "class_index", "n_trees", "dbh_sum_cm").rows()
    assert cells == [("ash", 2, 2.0, 23.0), ("ash", 4, 1.0, 22.0), ("oak", 2, 1.0, 13.0)]


def test_a_survey_without_stems_has_zeros_on_every_plot() -> None:
    values = _values(plots={"plot": ["P1", "P2"], "state": ["empty", "empty"]})
    assert values.plots["basal_area_m2_per_ha"].to_list() == [0, 0]
    assert values.cells.height == 0


def test_species_of_a_group_are_reported_together_but_stay_apart_as_stems() -> None:
    values = _values(
        trees={"plot": ["P1"] * 3, "d1_cm": [11.0, 12.0, 13.0], "species": ["silver", "downy", "ash"]},
        species={"species": ["silver", "downy", "ash"], "group": ["birch", "birch", None]},
    )
    assert values.cells.select("species", "n_trees").rows() == [("ash", 1.0), ("birch", 2.0)]
    assert values.trees["species"].to_list() == ["silver", "downy", "ash"]


def test_the_stems_that_stand_on_the_plots_carry_height_and_group_and_sum_to_the_cells() -> None:
    values = _values(
        trees={
            "plot": ["P1", "P1"],
            "species": ["sessile", "ash"],
            "d1_cm": [20.0, 40.0],
            "height_m": [15.5, None],
            "times": [2, 1],
        },
        tallies={"plot": ["P1"], "species": ["sessile"], "class": ["20-25"], "count": [3]},
        species={"species": ["sessile"], "group": ["oak"]},
        settings={"plots": {**_PLOTS, "edge": "mirage"}, "classes": {"width_cm": 5}},
    )
    standing = values.standing
    assert standing["species"].to_list() == ["oak", "ash", "oak"]
    assert standing["species_written"].to_list() == ["sessile", "ash", "sessile"]
    assert standing["measured"].to_list() == [True, True, False]
    assert standing["height_m"].to_list() == [15.5, None, None]
    assert standing["stems"].to_list() == [2, 1, 3]  # common practice: a mirrored stem counts twice
    assert standing["n_trees"].to_list() == [1, 1, 3]
    assert values.cells["stems"].sum() == 6
