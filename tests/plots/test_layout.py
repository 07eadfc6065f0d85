"""Size, slope, edges and compartment of plots. Expected figures are geometry."""

from __future__ import annotations

import math
from typing import Any

import polars as pl
import pytest

from plotmap.plots.layout import NOT_IN_LAYER, OUTSIDE, lay_out
from plotmap.plots.sizes import level_share
from tests.survey_example import survey_example


def _table(plots: dict[str, list[Any]], **settings: Any) -> pl.DataFrame:
    """Return the layout of plots under [plots] settings."""
    return lay_out(_survey(plots, settings)).table


def _survey(plots: dict[str, list[Any]], settings: dict[str, Any]) -> Any:
    """Return a survey of plots without stems."""
    return survey_example(plots=plots, settings={"plots": {"design": "circle", "radius_m": 10.0} | settings})


def test_a_plot_has_the_area_of_the_common_radius_unless_it_has_its_own() -> None:
    table = _table({"plot": ["1", "2", "3"], "radius_m": [None, 5.0, None], "area_m2": [None, None, 300.0]})
    assert table["area_m2"].to_list() == pytest.approx([100 * math.pi, 25 * math.pi, 300.0], rel=1e-12)


def test_a_rectangle_has_its_area_and_no_share_inside() -> None:
    survey = survey_example(
        plots={"plot": ["1"]}, settings={"plots": {"design": "rectangle", "area_m2": 400}}
    )
    table = lay_out(survey).table
    assert table["area_m2"].to_list() == [400.0]
    assert table["share_inside"].to_list() == [None]


@pytest.mark.parametrize("state", ["unvisited", "lost"])
def test_plots_that_were_not_measured_are_set_aside_without_an_area(state: str) -> None:
    table = _table({"plot": ["1", "2"], "state": [state, "empty"]})
    assert table["set_aside"].to_list() == [state, None]
    assert table["area_m2"].is_null().to_list() == [True, False]
    assert table["compartment"].to_list() == [None, "B"]


def test_a_plot_outside_all_compartments_is_set_aside() -> None:
    table = _table({"plot": ["1"], "easting": [400_000.0], "northing": [5_000_000.0]})
    assert table["set_aside"].to_list() == [OUTSIDE]


def test_the_recorded_compartment_counts_where_the_settings_say_so() -> None:
    plots = {
        "plot": ["1", "2"],
        "compartment": ["B", "Z"],
        "easting": [499_850.0] * 2,
        "northing": [5_600_050.0] * 2,
    }
    assert _table(plots)["compartment"].to_list() == ["A", "A"]
    recorded = _table(plots, assign="recorded")
    assert recorded["compartment"].to_list() == ["B", None]
    assert recorded["set_aside"].to_list() == [None, NOT_IN_LAYER]


def test_a_plot_without_any_size_is_an_error_that_names_the_columns() -> None:
    survey = survey_example(plots={"plot": ["7"]}, settings={"plots": {"design": "circle"}})
    found = lay_out(survey).findings.frame
    assert found["code"].to_list() == ["plot-without-size"]
    assert found["plot"].to_list() == ["7"]
    assert "radius_m or area_m2" in found["message"].item()


def test_an_unvisited_plot_needs_no_size() -> None:
    survey = survey_example(
        plots={"plot": ["7"], "state": ["unvisited"]}, settings={"plots": {"design": "circle"}}
    )
    assert lay_out(survey).findings.codes == {"no-plots-left"}


@pytest.mark.parametrize(("area_m2", "expected"), [(78.54, []), (100.0, ["plot-size-twice"])])
def test_a_radius_and_an_area_must_belong_together(area_m2: float, expected: list[str]) -> None:
    survey = _survey({"plot": ["1"], "radius_m": [5.0], "area_m2": [area_m2]}, {})
    assert lay_out(survey).findings.frame["code"].to_list() == expected


def test_slope_is_corrected_once_and_only_where_plots_were_laid_out_along_it() -> None:
    plots = {"plot": ["1", "2"], "slope_pct": [100.0, None]}
    level = _table(plots)["area_m2"]
    along = _table(plots, slope="ground")["area_m2"]
    assert (along / level).to_list() == pytest.approx([math.sqrt(0.5), 1.0], rel=1e-12)


def test_a_missing_slope_is_a_finding_only_where_it_matters() -> None:
    plots = {"plot": ["1", "2"], "slope_pct": [20.0, None]}
    assert len(lay_out(_survey(plots, {})).findings) == 0
    found = lay_out(_survey(plots, {"slope": "ground"})).findings.frame
    assert found["code"].to_list() == ["slope-missing"]
    assert found["plot"].to_list() == ["2"]


def test_a_circle_half_over_the_boundary_is_halved_by_inside_and_noted_by_whole() -> None:
    plots = {"plot": ["1"], "easting": [499_800.0], "northing": [5_600_100.0]}
    whole, inside = _table(plots), _table(plots, edge="inside")
    assert whole["area_m2"].item() == pytest.approx(100 * math.pi, rel=1e-12)
    assert inside["area_m2"].item() == pytest.approx(50 * math.pi, rel=1e-9)
    assert whole["share_inside"].item() == pytest.approx(0.5, rel=1e-9)
    assert lay_out(_survey(plots, {})).findings.codes == {"plot-crosses-boundary"}
    assert len(lay_out(_survey(plots, {"edge": "inside"})).findings) == 0


def test_inside_sets_a_plot_aside_that_lies_wholly_outside_the_compartment_it_is_recorded_for() -> None:
    plots = {"plot": ["1"], "compartment": ["B"], "easting": [499_850.0], "northing": [5_600_050.0]}
    table = _table(plots, edge="inside", assign="recorded")
    assert table["set_aside"].to_list() == ["no part of the plot in its compartment"]
    assert table["area_m2"].to_list() == [None]


def test_a_missing_slope_is_level() -> None:
    assert level_share([float("nan"), 0.0]).tolist() == [1.0, 1.0]


@pytest.mark.parametrize(("states", "stops"), [(["lost", "unvisited"], True), (["lost", "empty"], False)])
def test_a_survey_none_of_whose_plots_enters_stops_with_the_reasons(states: list[str], stops: bool) -> None:  # noqa: FBT001
    findings = lay_out(_survey({"plot": ["1", "2"], "state": states}, {})).findings
    assert ("no-plots-left" in findings.codes) is stops
    if stops:
        assert findings.frame["message"].item() == "all 2 plots are set aside: 1 lost, 1 unvisited"


def test_one_plot_that_does_not_enter_is_no_plural() -> None:
    findings = lay_out(_survey({"plot": ["1"], "state": ["lost"]}, {})).findings
    assert findings.frame["message"].to_list() == ["the only plot is set aside: lost"]


def test_a_rectangle_has_no_radius() -> None:
    survey = survey_example(
        plots={"plot": ["1", "2"], "radius_m": [None, 8.0]},
        settings={"plots": {"design": "rectangle", "area_m2": 400}},
    )
    found = lay_out(survey).findings.frame
    assert found["code"].to_list() == ["plot-size-twice"]
    assert found["plot"].to_list() == ["2"]
