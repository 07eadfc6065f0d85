"""Two small surveys of one forest whose change can be worked by hand."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import geopandas as gpd
import numpy as np
import polars as pl
import pytest
from scipy import stats
from shapely.affinity import translate

from plotmap.errors import ComparisonError, SurveyHasErrorsError
from plotmap.model.change import Change
from plotmap.model.findings import finding
from plotmap.model.survey import Survey
from plotmap.workflow import compare_surveys
from tests.survey_example import SQUARES, survey_example

_G20 = math.pi / 4 * 0.2**2
_PER_HA = 20.0
"""Stems per hectare that one stem on 500 m² stands for."""


def _survey(
    trees: dict[str, Any], plots: dict[str, Any], settings: dict[str, Any] | None = None, **more: Any
) -> Survey:
    """Return a survey of plots of 500 m²."""
    given = {"plots": {"design": "circle", "area_m2": 500.0}, **(settings or {})}
    return survey_example(settings=given, trees=trees, plots=plots, **more)


def _plots(names: list[str], homes: list[str], year: int, **more: Any) -> dict[str, Any]:
    """Return plots of one year."""
    return {"plot": names, "compartment": homes, "date": [f"{year}-06-01"] * len(names), **more}


def _stems(rows: list[tuple[str, str, float | None, str]]) -> dict[str, Any]:
    """Return stems from plot, number, diameter and condition."""
    plot, tree, dbh, condition = (list(part) for part in zip(*rows, strict=True))
    return {"plot": plot, "tree": tree, "d1_cm": dbh, "condition": condition, "species": ["oak"] * len(rows)}


def _counts(names: list[str], homes: list[str], counts: list[int], year: int, **more: Any) -> Survey:
    """Return a survey with so many stems of 20 cm on each plot."""
    rows = [(name, str(i), 20.0, "live") for name, n in zip(names, counts, strict=True) for i in range(n)]
    return _survey(_stems(rows), _plots(names, homes, year), **more)


def _row(frame: pl.DataFrame | gpd.GeoDataFrame, column: str, value: str) -> dict[str, Any]:
    """Return the row of one name."""
    table = frame if isinstance(frame, pl.DataFrame) else pl.from_pandas(frame.drop(columns="geometry"))
    return table.filter(pl.col(column) == value).row(0, named=True)


_NAMES, _HOMES = ["1", "2", "3", "4"], ["A", "A", "A", "B"]


def test_plots_visited_twice_give_the_mean_difference_with_the_error_of_pairs() -> None:
    old, new = [3, 5, 7], [4, 7, 8]
    change = compare_surveys(
        _counts(_NAMES[:3], ["A"] * 3, old, 2020), _counts(_NAMES[:3], ["A"] * 3, new, 2025)
    )
    row = _row(change.compartment_change, "compartment", "A")
    difference = (np.array(new) - np.array(old)) * _PER_HA
    se = difference.std(ddof=1) / math.sqrt(3)
    assert row["status"] == "paired"
    assert row["stems_per_ha_change"] == pytest.approx(difference.mean(), rel=1e-12)
    assert row["stems_per_ha_change_se"] == pytest.approx(se, rel=1e-12)
    half = stats.t.ppf(0.975, 2) * se
    assert row["stems_per_ha_change_low"] == pytest.approx(difference.mean() - half, rel=1e-12)
    assert row["stems_per_ha_change_high"] == pytest.approx(difference.mean() + half, rel=1e-12)
    assert row["basal_area_m2_per_ha_change"] == pytest.approx(difference.mean() * _G20, rel=1e-12)
    assert row["years"] == pytest.approx(1826 / 365.25, rel=1e-12)
    assert row["basal_area_m2_per_ha_change_per_year"] == pytest.approx(
        difference.mean() * _G20 / (1826 / 365.25), rel=1e-12
    )


def test_a_change_may_be_a_loss_and_its_limits_go_below_zero() -> None:
    change = compare_surveys(
        _counts(_NAMES[:3], ["A"] * 3, [7, 5, 6], 2020), _counts(_NAMES[:3], ["A"] * 3, [2, 1, 3], 2025)
    )
    row = _row(change.compartment_change, "compartment", "A")
    assert row["stems_per_ha_change_high"] < 0
    assert row["stems_per_ha_change_low"] < row["stems_per_ha_change"] < row["stems_per_ha_change_high"]


def test_other_plots_give_two_samples_of_their_own() -> None:
    change = compare_surveys(
        _counts(["1", "2", "3"], ["A"] * 3, [3, 5, 7], 2020),
        _counts(["7", "8", "9"], ["A"] * 3, [4, 7, 8], 2025),
    )
    row = _row(change.compartment_change, "compartment", "A")
    expected = stats.ttest_ind([4, 7, 8], [3, 5, 7], equal_var=False)
    assert row["status"] == "not paired"
    assert row["stems_per_ha_change_se"] == pytest.approx(
        _PER_HA * (19 / 3 - 5) / expected.statistic, rel=1e-9
    )
    assert set(change.plot_change["pair"]) == {"only old", "only new"}
    assert row["years"] is None or math.isnan(row["years"])


def test_a_plot_far_from_its_old_place_is_two_plots_and_a_finding() -> None:
    places = {"easting": [499_850.0, 499_900.0, 499_950.0], "northing": [5_600_100.0] * 3}
    rows = [(str(i + 1), "1", 20.0, "live") for i in range(3)]
    old = _survey(_stems(rows), _plots(_NAMES[:3], ["A"] * 3, 2020, **places))
    for metres, pair in ((15.0, "paired"), (15.1, "moved")):
        moved = places | {"northing": [5_600_100.0, 5_600_100.0, 5_600_100.0 + metres]}
        change = compare_surveys(old, _survey(_stems(rows), _plots(_NAMES[:3], ["A"] * 3, 2025, **moved)))
        assert _row(change.plot_change, "plot", "3")["pair"] == pair
        told = change.findings.frame.filter(pl.col("code") == "pair-moved")
        assert told["plot"].to_list() == (["3"] if pair == "moved" else [])
    assert "15.1 m" in told["message"][0]
    assert "up to 15.0 m" in told["message"][0]
    assert _row(change.compartment_change, "compartment", "A")["status"] == "partly paired"


def test_one_plot_has_a_change_without_error_and_so_has_the_total() -> None:
    change = compare_surveys(
        _counts(_NAMES, _HOMES, [3, 5, 7, 2], 2020), _counts(_NAMES, _HOMES, [4, 7, 8, 5], 2025)
    )
    row = _row(change.compartment_change, "compartment", "B")
    assert (row["status"], row["stems_per_ha_change"]) == ("one plot", pytest.approx(60))
    assert row["stems_per_ha_change_se"] is None or math.isnan(row["stems_per_ha_change_se"])
    total = _row(change.total_change, "scope", "survey")
    assert (total["status"], total["stems_per_ha_change_se"]) == ("partly", None)


def test_totals_are_means_weighted_by_area() -> None:
    names, homes = ["1", "2", "3", "4"], ["A", "A", "B", "B"]
    change = compare_surveys(
        _counts(names, homes, [3, 5, 7, 2], 2020), _counts(names, homes, [4, 7, 8, 6], 2025)
    )
    rows = [_row(change.compartment_change, "compartment", name) for name in ("A", "B")]
    total = _row(change.total_change, "scope", "survey")
    area = np.array([row["area_ha"] for row in rows])
    weight = area / area.sum()
    assert total["area_ha"] == pytest.approx(area.sum(), rel=1e-12)
    assert total["stems_per_ha_change"] == pytest.approx(
        weight @ [row["stems_per_ha_change"] for row in rows], rel=1e-12
    )
    errors = np.array([row["stems_per_ha_change_se"] for row in rows])
    assert total["stems_per_ha_change_se"] == pytest.approx(np.hypot(*(weight * errors)), rel=1e-12)
    assert total["stems_per_ha_new"] - total["stems_per_ha_old"] == pytest.approx(
        total["stems_per_ha_change"], rel=1e-9
    )


def _moved(survey: Survey, metres: float) -> Survey:
    """Move the outline of compartment A to the west."""
    frame = survey.compartments.copy()
    frame.geometry = [translate(SQUARES["A"], -metres, 0), SQUARES["B"]]
    return replace(survey, compartments=frame)


def test_a_boundary_that_moved_by_more_than_the_limit_leaves_no_change() -> None:
    counts = ([3, 5, 7, 2], [4, 7, 8, 6])
    homes = ["A", "A", "B", "B"]
    old, new = (_counts(_NAMES, homes, n, year) for n, year in zip(counts, (2020, 2025), strict=True))
    # moved by m, the squares of 200 m have 2 m / (200 + m) of their land in one only: 1 % at 1.005 m
    for metres, status in ((0.9, "paired"), (1.2, "boundary changed")):
        change = compare_surveys(_moved(old, metres), new)
        row = _row(change.compartment_change, "compartment", "A")
        assert row["status"] == status
    assert row["stems_per_ha_old"] == pytest.approx(80)
    assert row["stems_per_ha_change"] is None or math.isnan(row["stems_per_ha_change"])
    told = change.findings.frame.filter(pl.col("code") == "boundary-changed")
    assert told["compartment"].to_list() == ["A"]
    assert "up to 1.0 %" in told["message"][0]
    total = _row(change.total_change, "scope", "survey")
    assert (total["n_compartments"], total["n_left_out"]) == (1, 1)
    assert total["area_left_out_ha"] == pytest.approx(
        _row(change.compartment_change, "compartment", "A")["area_ha"]
    )


def _followed() -> tuple[Survey, Survey]:
    """Return two plots with a survivor, an ingrowth, a dead, a cut and a lost stem."""
    old = [
        ("1", "1", 20.0, "live"),
        ("1", "2", 30.0, "live"),
        ("1", "3", 25.0, "live"),
        ("1", "4", 15.0, "live"),
        ("2", "1", 22.0, "live"),
    ]
    new = [
        ("1", "1", 23.0, "live"),
        ("1", "2", 30.5, "dead"),
        ("1", "3", None, "cut"),
        ("1", "9", 12.0, "live"),
        ("2", "1", 24.0, "live"),
    ]
    homes = ["A", "A"]
    return (
        _survey(_stems(old), _plots(["1", "2"], homes, 2020)),
        _survey(_stems(new), _plots(["1", "2"], homes, 2025)),
    )


def test_every_stem_has_its_fate() -> None:
    stems = compare_surveys(*_followed()).stem_change
    fates = {(plot, tree): fate for plot, tree, fate in stems.select("plot", "tree", "fate").rows()}
    assert fates == {
        ("1", "1"): "survivor",
        ("1", "2"): "died",
        ("1", "3"): "cut",
        ("1", "4"): "not found again",
        ("1", "9"): "ingrowth",
        ("2", "1"): "survivor",
    }
    grown = stems.filter(pl.col("plot") == "1", pl.col("tree") == "1").row(0, named=True)
    assert grown["growth_cm_per_year"] == pytest.approx(3.0 / (1826 / 365.25), rel=1e-12)


def test_components_of_growth_are_those_worked_by_hand_and_add_up_to_the_change() -> None:
    change = compare_surveys(*_followed())
    row = _row(change.growth_components, "scope", "survey")
    g = {
        d: math.pi / 4 * (d / 100) ** 2 * _PER_HA / 2 for d in (12, 15, 20, 22, 23, 24, 25, 30)
    }  # mean of two plots
    assert row["n_plots"] == 2
    assert row["survivor_growth_m2_per_ha"] == pytest.approx(g[23] - g[20] + g[24] - g[22], rel=1e-12)
    assert row["ingrowth_m2_per_ha"] == pytest.approx(g[12], rel=1e-12)
    assert row["mortality_m2_per_ha"] == pytest.approx(g[30], rel=1e-12)
    assert row["cut_m2_per_ha"] == pytest.approx(g[25], rel=1e-12)
    assert row["not_found_m2_per_ha"] == pytest.approx(g[15], rel=1e-12)
    # Beers 1962 (from memory): the components add up to the change of the stand
    parts = row["survivor_growth_m2_per_ha"] + row["ingrowth_m2_per_ha"]
    losses = row["mortality_m2_per_ha"] + row["cut_m2_per_ha"] + row["not_found_m2_per_ha"]
    assert row["net_change_m2_per_ha"] == pytest.approx(parts - losses, rel=1e-12)
    compartment = _row(change.compartment_change, "compartment", "A")
    assert row["net_change_m2_per_ha"] == pytest.approx(compartment["basal_area_m2_per_ha_change"], rel=1e-9)
    assert row["net_change_m2_per_ha_se"] == pytest.approx(
        compartment["basal_area_m2_per_ha_change_se"], rel=1e-9
    )


@pytest.mark.parametrize(
    ("change_of", "word"),
    [("number", "not numbered"), ("twice", "not numbered"), ("area", "other area"), ("tally", "tallied")],
)
def test_stems_are_followed_only_where_they_can_be(change_of, word) -> None:
    old, new = _followed()
    if change_of in {"number", "twice"}:
        trees = new.trees.with_columns(
            pl.when(pl.col("source_row") == 2)
            .then(pl.lit(None if change_of == "number" else "2"))
            .otherwise("tree")
            .alias("tree")
        )
        new = _survey(trees.drop("source_row"), _plots(["1", "2"], ["A", "A"], 2025))
    elif change_of == "area":
        new = _survey(
            new.trees.drop("source_row"), _plots(["1", "2"], ["A", "A"], 2025, area_m2=[506.0, 500.0])
        )
    else:
        tally = {"plot": ["1"], "species": ["oak"], "class": ["10–<15"], "count": [2]}
        new = _survey(new.trees.drop("source_row"), _plots(["1", "2"], ["A", "A"], 2025), tallies=tally)
    change = compare_surveys(old, new)
    assert _row(change.plot_change, "plot", "1")["stems_by"] == word
    assert _row(change.plot_change, "plot", "2")["stems_by"] == "followed"
    assert change.stem_change["plot"].unique().to_list() == ["2"]
    assert _row(change.growth_components, "scope", "survey")["n_plots"] == 1
    assert _row(change.growth_components, "scope", "survey")["status"] == "one plot"


def _findings(
    old: list[tuple[str, str, float | None, str]], new: list[tuple[str, str, float | None, str]]
) -> Change:
    """Compare stems of two plots five years apart, from 10 cm."""
    settings = {"stems": {"min_dbh_cm": 10}}
    plots = [_plots(["1", "2"], ["A", "A"], year) for year in (2020, 2025)]
    rest = [("2", "1", 20.0, "live")]
    return compare_surveys(
        _survey(_stems(old + rest), plots[0], settings), _survey(_stems(new + rest), plots[1], settings)
    )


@pytest.mark.parametrize(
    ("before", "after", "code"),
    [
        (20.0, 19.5, None),
        (20.0, 19.4, "stem-shrank"),
        (20.0, 29.9, None),
        (20.0, 30.1, "stem-grew-fast"),
        (None, 19.9, None),
        (None, 20.1, "stem-new-and-thick"),
    ],
)
def test_growth_outside_the_limits_is_a_finding(before, after, code) -> None:
    old = [("1", "7", before, "live")] if before else [("1", "3", 15.0, "live")]
    change = _findings(old, [("1", "7", after, "live")])
    told = change.findings.frame
    assert told["code"].to_list() == ([code] if code else [])
    if code:
        assert (told["plot"][0], told["row"][0]) == ("1", 2)
        assert f"{after} cm" in told["message"][0]


def test_another_species_is_a_note_with_both_names() -> None:
    old, new = _followed()
    trees = new.trees.with_columns(
        pl.when(pl.col("source_row") == 2).then(pl.lit("ash")).otherwise("species").alias("species")
    ).drop("source_row")
    told = compare_surveys(old, _survey(trees, _plots(["1", "2"], ["A", "A"], 2025))).findings.frame
    row = told.filter(pl.col("code") == "stem-other-species").row(0, named=True)
    assert (row["severity"], row["plot"], row["value"], row["row"]) == ("note", "1", "ash", 2)
    assert "was oak and is ash" in row["message"]


def test_surveys_in_the_wrong_order_are_told() -> None:
    old, new = _followed()
    told = compare_surveys(new, old).findings.frame
    assert told.filter(pl.col("code") == "pair-out-of-order")["plot"].to_list() == ["1", "2"]


def test_two_breast_heights_are_refused() -> None:
    old, _ = _followed()
    new = _survey(
        {"plot": ["1"], "d1_cm": [20.0]},
        _plots(["1", "2"], ["A", "A"], 2025),
        {"stems": {"breast_height_m": 1.4}},
    )
    with pytest.raises(ComparisonError, match=r"1\.3 m in the old survey and 1\.4 m in the new one"):
        compare_surveys(old, new)


def test_the_larger_smallest_diameter_is_used_for_both_and_told() -> None:
    old, new = _followed()
    new = _survey(
        new.trees.drop("source_row"), _plots(["1", "2"], ["A", "A"], 2025), {"stems": {"min_dbh_cm": 16}}
    )
    change = compare_surveys(old, new)
    assert ("1", "4") not in change.stem_change.select("plot", "tree").rows()  # 15 cm in the old survey
    row = change.comparison.filter(pl.col("item") == "smallest diameter, cm").row(0, named=True)
    assert (row["old"], row["new"], row["verdict"], row["used"]) == ("0", "16", "brought together", "16")


def test_a_difference_that_stays_is_labelled() -> None:
    old, new = _followed()
    new = _survey(
        new.trees.drop("source_row"), _plots(["1", "2"], ["A", "A"], 2025), {"classes": {"width_cm": 10}}
    )
    row = compare_surveys(old, new).comparison.filter(pl.col("item") == "class width, cm").row(0, named=True)
    assert (row["old"], row["new"], row["verdict"], row["used"]) == (None, "10", "differs", None)


def test_a_survey_with_errors_is_not_compared() -> None:
    old, new = _followed()
    broken = replace(new, findings=finding("table-missing", "plots.csv", "no table plots"))
    with pytest.raises(SurveyHasErrorsError, match="has 1 error"):
        compare_surveys(old, broken)
    assert compare_surveys(old, new).total_change.height == 2


def test_a_survey_compared_with_itself_has_not_changed() -> None:
    survey = _counts(["1", "2", "3", "4"], ["A", "A", "B", "B"], [3, 5, 7, 2], 2020)
    total = _row(compare_surveys(survey, survey).total_change, "scope", "survey")
    for figure in ("stems_per_ha", "basal_area_m2_per_ha"):
        assert total[f"{figure}_change"] == total[f"{figure}_change_se"] == 0
