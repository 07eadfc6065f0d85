"""Proposals from a survey: which rule, what status, and ranges that come out the same."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import polars as pl
import pytest
from scipy import stats

from plotmap.errors import SurveyHasErrorsError
from plotmap.model.findings import finding
from plotmap.model.result_tables_thinning import (
    CANNOT_TELL,
    LARGEST_SHARE,
    NO_MAXIMUM,
    NO_RULE,
    NOTHING_LEFT,
    NOTHING_TO_CUT,
    PROPOSAL_RESULTS,
    PROPOSED,
    REMOVAL_RESULTS,
    RESIDUAL,
    TOO_FEW_PLOTS,
    UNLIKELY,
)
from plotmap.workflow import compile_survey, propose_thinning
from tests.survey_example import survey_example

RULE: dict[str, Any] = {
    "rule": "low",
    "stratum": "all",
    "criterion": "basal area",
    "kind": "from below",
    "min_plots": 2,
    "trigger_basal_area_m2_per_ha": 10.0,
    "residual_basal_area_m2_per_ha": 8.0,
}
N_PLOTS = 12


def trees(seed: int = 5, *, height: bool = False) -> pl.DataFrame:
    """Return stems of twelve circles, six in A and six in B, of oak and ash."""
    rng = np.random.default_rng(seed)
    n = rng.integers(18, 30, N_PLOTS)
    d = np.round(rng.uniform(11, 44, n.sum()), 1)
    rows = {
        "plot": np.repeat([f"P{number}" for number in range(N_PLOTS)], n).tolist(),
        "species": rng.choice(["oak", "ash", "elm"], n.sum(), p=[0.6, 0.3, 0.1]).tolist(),
        "d1_cm": d.tolist(),
    }
    if height:
        rows["height_m"] = np.round(4 + 0.5 * d, 1).tolist()
    return pl.DataFrame(rows)


def survey(*rules: dict[str, Any], stems: pl.DataFrame | None = None, **given: Any) -> Any:
    """Return a survey with these rules, each `RULE` with other columns."""
    whole = [RULE | rule for rule in rules]
    names = dict.fromkeys(name for rule in whole for name in rule)
    columns = {name: [rule.get(name) for rule in whole] for name in names}
    return survey_example(trees=trees() if stems is None else stems, prescriptions=columns, **given)


def rows_of(found: Any) -> dict[str, dict[str, Any]]:
    """Return the proposals by compartment."""
    return {row["compartment"]: row for row in found.proposals.to_dicts()}


def test_the_tables_have_the_declared_columns_and_every_compartment() -> None:
    found = propose_thinning(survey({}))
    assert found.proposals.columns == PROPOSAL_RESULTS.names
    assert found.removals.columns == REMOVAL_RESULTS.names
    assert found.proposals["compartment"].to_list() == ["A", "B"]


def test_a_survey_without_rules_has_no_proposal() -> None:
    found = propose_thinning(survey_example(trees=trees()))
    assert found.proposals["status"].to_list() == [NO_RULE, NO_RULE]
    assert found.removals.height == 0


def test_stems_and_basal_area_before_are_those_of_the_compartment_and_its_classes() -> None:
    given = survey({}, settings={"plots": {"design": "circle", "radius_m": 12.62}})
    stand, found = compile_survey(given), propose_thinning(given)
    for name, row in rows_of(found).items():
        own = found.removals.filter(pl.col("compartment") == name)
        assert own["stems_per_ha"].sum() == pytest.approx(row["stems_per_ha"])
        assert own["basal_area_m2_per_ha"].sum() == pytest.approx(row["basal_area_m2_per_ha"])
        assert own["cut_basal_area_m2_per_ha"].sum() == pytest.approx(row["cut_basal_area_m2_per_ha"])
        assert own["cut_stems"].sum() == row["cut_stems_total"]
    classes = stand.classes.select("compartment", "species", "class", "stems_per_ha").filter(
        pl.col("stems_per_ha") > 0
    )
    joined = found.removals.join(classes, on=["compartment", "species", "class"], how="full", suffix="_there")
    assert (joined["stems_per_ha"] - joined["stems_per_ha_there"]).abs().max() < 1e-9
    assert joined["stems_per_ha"].null_count() == 0


def test_a_compartment_s_own_rule_goes_before_its_stratum_s() -> None:
    found = propose_thinning(survey({}, {"rule": "own", "stratum": None, "compartment": "B"}))
    assert found.proposals["rule"].to_list() == ["low", "own"]


def test_every_part_of_the_rule_is_said_also_what_is_not_set() -> None:
    words = rows_of(propose_thinning(survey({"largest_share_pct": 35.0})))["A"]["rule_text"]
    assert "Basal area that stays: 8 m²/ha" in words
    assert "Largest share of a visit: 35 %" in words
    assert "Species never cut: not set" in words
    assert "Trees retained: not set" in words


def test_the_probability_is_that_of_scipy() -> None:
    row = rows_of(propose_thinning(survey({"trigger_basal_area_m2_per_ha": 33.0})))["A"]
    t = (row["criterion_estimate"] - 33) / row["criterion_se"]
    assert row["probability"] == pytest.approx(stats.t.cdf(t, N_PLOTS // 2 - 1))
    assert row["probability_by"] == "t"


def test_a_trigger_far_off_is_unlikely_and_one_at_the_estimate_cannot_be_told() -> None:
    estimate = rows_of(propose_thinning(survey({})))["A"]["basal_area_m2_per_ha"]
    far = rows_of(propose_thinning(survey({"trigger_basal_area_m2_per_ha": 150.0})))["A"]
    assert (far["status"], far["candidate"], far["cut_stems_per_ha"]) == (UNLIKELY, UNLIKELY, None)
    near = rows_of(propose_thinning(survey({"trigger_basal_area_m2_per_ha": estimate * 0.97})))["A"]
    assert near["status"] == CANNOT_TELL
    n, sd = N_PLOTS // 2, near["criterion_se"] * math.sqrt(N_PLOTS // 2)
    needed = n + near["n_plots_more"]
    margin = estimate * 0.03
    assert stats.t.ppf(0.9, needed - 1) * sd / math.sqrt(needed) <= margin
    assert stats.t.ppf(0.9, needed - 2) * sd / math.sqrt(needed - 1) > margin


def test_too_few_plots_are_never_proposed() -> None:
    enough, few = ({"min_plots": n} for n in (6, 7))
    assert rows_of(propose_thinning(survey(enough)))["A"]["status"] == PROPOSED
    row = rows_of(propose_thinning(survey(few)))["A"]
    assert (row["status"], row["probability"], row["cut_stems_per_ha"]) == (TOO_FEW_PLOTS, None, None)


def test_a_compartment_counted_whole_needs_no_plots_and_has_no_range() -> None:
    plots = {"plot": ["P1", "P2"], "compartment": ["A", "B"], "design": ["full", "full"]}
    stems = {"plot": ["P1"] * 3000 + ["P2"], "species": ["oak"] * 3001, "d1_cm": [20.0] * 3001}
    row = rows_of(propose_thinning(survey({}, stems=pl.DataFrame(stems), plots=plots)))["A"]
    assert (row["probability"], row["probability_by"], row["status"]) == (1.0, "full count", PROPOSED)
    assert row["cut_stems_per_ha_low"] == row["cut_stems_per_ha"] == row["cut_stems_per_ha_high"]
    assert (
        rows_of(propose_thinning(survey({}, stems=pl.DataFrame(stems), plots=plots)))["B"]["status"]
        == UNLIKELY
    )


def test_ranges_hold_the_estimate_and_the_residual_has_none() -> None:
    row = rows_of(propose_thinning(survey({})))["A"]
    assert row["cut_basal_area_m2_per_ha_low"] < row["cut_basal_area_m2_per_ha"]
    assert row["cut_basal_area_m2_per_ha"] < row["cut_basal_area_m2_per_ha_high"]
    assert row["limit"] == RESIDUAL
    ends = [row[f"after_basal_area_m2_per_ha{end}"] for end in ("", "_low", "_high")]
    assert ends == pytest.approx([8.0, 8.0, 8.0])


def test_the_range_of_a_removal_to_a_fixed_residual_is_about_that_of_the_stand() -> None:
    """Rao & Wu 1988: the draws have the variance of the estimate; the residual is a constant."""
    row = rows_of(
        propose_thinning(
            survey(
                {}, settings={"plots": {"design": "circle", "radius_m": 12.62}, "thinning": {"draws": 10_000}}
            )
        )
    )["A"]
    width = row["cut_basal_area_m2_per_ha_high"] - row["cut_basal_area_m2_per_ha_low"]
    assert width == pytest.approx(2 * 1.96 * row["criterion_se"], rel=0.15)


def test_the_same_survey_gives_the_same_figures_and_another_seed_other_ranges() -> None:
    one, again = propose_thinning(survey({})), propose_thinning(survey({}))
    assert one.proposals.equals(again.proposals)
    assert one.removals.equals(again.removals)
    sections = {"plots": {"design": "circle", "radius_m": 12.62}, "thinning": {"seed": 2}}
    other = rows_of(propose_thinning(survey({}, settings=sections)))["A"]
    mine = rows_of(one)["A"]
    assert other["cut_stems_per_ha"] == mine["cut_stems_per_ha"]
    assert other["cut_stems_per_ha_low"] != mine["cut_stems_per_ha_low"]


def test_the_order_of_the_stems_changes_nothing() -> None:
    stems = trees()
    plots = {"plot": [f"P{number}" for number in range(N_PLOTS)]}
    one = propose_thinning(survey({}, plots=plots))
    other = propose_thinning(survey({}, stems=stems.sample(fraction=1, shuffle=True, seed=3), plots=plots))
    for table in ("proposals", "removals"):
        mine, theirs = getattr(one, table), getattr(other, table)
        for column in mine.columns:
            if mine[column].dtype == pl.Float64:
                assert (mine[column] - theirs[column]).abs().max() in (None, pytest.approx(0, abs=1e-9)), (
                    column
                )
            else:
                assert mine[column].to_list() == theirs[column].to_list(), column


def test_a_species_never_cut_stands_as_before() -> None:
    found = propose_thinning(survey({"never_cut": "ash; elm"}))
    kept = found.removals.filter(pl.col("species") != "oak")
    assert kept["cut_stems"].sum() == 0
    assert set(kept["may_be_cut_pct"]) == {0.0}
    assert found.removals.filter(pl.col("species") == "oak")["cut_stems"].sum() > 0


def test_one_species_of_a_group_is_spared_though_the_group_is_reported() -> None:
    species = {"species": ["oak", "ash", "elm"], "group": ["oak", "other", "other"]}
    found = propose_thinning(survey({"never_cut": "elm", "kind": "proportional"}, species=species))
    other = found.removals.filter((pl.col("species") == "other") & (pl.col("may_be_cut_pct") < 100))
    assert other.height > 0
    assert (other["cut_stems_per_ha"] <= other["stems_per_ha"] * other["may_be_cut_pct"] / 100 + 1e-9).all()


def test_thick_stems_stay_exactly_from_their_diameter_on() -> None:
    stems = {
        "plot": ["P1"] * 40 + ["P3"] * 40,
        "species": ["oak"] * 80,
        "d1_cm": ([31.9] * 20 + [32.0] * 20) * 2,
    }
    plots = {"plot": ["P1", "P3"], "compartment": ["A", "A"]}
    rule = {"kept_from_dbh_cm": 32.0, "kind": "from above", "residual_basal_area_m2_per_ha": 0.0}
    found = propose_thinning(survey(rule, stems=pl.DataFrame(stems), plots=plots))
    (row,) = found.removals.to_dicts()
    assert row["may_be_cut_pct"] == pytest.approx(50)
    assert row["stems_cut_pct"] == pytest.approx(50)
    left = row["after_basal_area_m2_per_ha"] / row["after_stems_per_ha"]
    assert left == pytest.approx(math.pi * 0.32**2 / 4)
    assert rows_of(found)["A"]["limit"] == NOTHING_LEFT


def test_trees_retained_are_the_thickest() -> None:
    rule = {"retention_stems_per_ha": 60.0, "kind": "from above", "residual_basal_area_m2_per_ha": 0.0}
    found = propose_thinning(survey(rule))
    row = rows_of(found)["A"]
    assert row["after_stems_per_ha"] == pytest.approx(60)
    own = found.removals.filter(pl.col("compartment") == "A").sort("low_cm", descending=True)
    left = own.group_by("low_cm", maintain_order=True).agg(pl.col("after_stems_per_ha", "stems_per_ha").sum())
    assert left["after_stems_per_ha"][0] == pytest.approx(min(60, left["stems_per_ha"][0]))


def test_a_heavy_thinning_carries_a_caution_and_one_that_a_limit_stops_another() -> None:
    heavy = rows_of(propose_thinning(survey({})))["A"]
    assert "Heavy: more than 30 %" in heavy["cautions"]
    light = rows_of(propose_thinning(survey({"largest_share_pct": 20.0})))["A"]
    assert "Heavy" not in light["cautions"]
    assert light["limit"] == LARGEST_SHARE
    assert "second visit" in light["cautions"]
    assert light["basal_area_cut_pct"] == pytest.approx(20)


def test_the_cautions_say_what_it_rests_on_in_the_language_of_the_survey() -> None:
    said = " ".join(propose_thinning(survey({})).cautions)
    for words in ("2 compartments", "12 plots", "2026-05-14", "no felling permit", "Wind", "Local law"):
        assert words in said
    sections = {"plots": {"design": "circle", "radius_m": 12.62}, "labels": {"language": "de"}}
    assert "keine Fällgenehmigung" in " ".join(propose_thinning(survey({}, settings=sections)).cautions)


def test_relative_density_needs_the_largest_index_of_every_species() -> None:
    rule = {
        "criterion": "relative density",
        "trigger_density_pct": 20.0,
        "trigger_basal_area_m2_per_ha": None,
    }
    rule |= {"residual_density_pct": 15.0, "residual_basal_area_m2_per_ha": None}
    plots = {"design": "circle", "radius_m": 12.62}
    some = {"plots": plots, "density": {"maxima": [{"species": "oak", "index": 900}]}}
    every = {"plots": plots, "density": {"maxima": [{"species": "*", "index": 900}]}}
    assert rows_of(propose_thinning(survey(rule, settings=some)))["A"]["status"] == NO_MAXIMUM
    row = rows_of(propose_thinning(survey(rule, settings=every)))["A"]
    assert (row["status"], row["residual_reached"]) == (PROPOSED, pytest.approx(15))


def test_relative_spacing_is_judged_by_the_draws_and_reached() -> None:
    rule = {
        "criterion": "relative spacing",
        "trigger_spacing_pct": 40.0,
        "trigger_basal_area_m2_per_ha": None,
    }
    rule |= {"residual_spacing_pct": 50.0, "residual_basal_area_m2_per_ha": None}
    row = rows_of(propose_thinning(survey(rule, stems=trees(height=True))))["A"]
    assert (row["probability_by"], row["status"]) == ("bootstrap", PROPOSED)
    assert row["residual_reached"] == pytest.approx(50)
    assert row["after_stems_per_ha"] < row["stems_per_ha"]
    assert rows_of(propose_thinning(survey(rule)))["A"]["status"] == "no heights"


def test_volume_is_cut_in_the_share_of_each_cell_where_every_stem_has_one() -> None:
    species = {"species": ["oak", "ash", "elm"], "form_factor": [0.5, 0.5, 0.5]}
    found = propose_thinning(survey({"kind": "proportional"}, stems=trees(height=True), species=species))
    stand = compile_survey(survey({}, stems=trees(height=True), species=species))
    whole = stand.volumes.filter(
        (pl.col("scope") == "compartment") & (pl.col("name") == "A") & (pl.col("species") == "all species")
    )["volume_m3_per_ha"][0]
    row = rows_of(found)["A"]
    assert row["cut_volume_m3_per_ha"] == pytest.approx(whole * row["basal_area_cut_pct"] / 100)
    assert row["volume_status"] == "estimated"
    species["form_factor"][2] = None
    bare = rows_of(propose_thinning(survey({}, stems=trees(height=True), species=species)))["A"]
    assert (bare["cut_volume_m3_per_ha"], bare["volume_status"]) == (None, "no equation")


def test_a_target_distribution_reports_surplus_deficit_and_what_is_given_back() -> None:
    rule = {
        "kind": "target distribution",
        "residual_basal_area_m2_per_ha": 20.0,
        "target_smallest_dbh_cm": 10.0,
        "target_largest_dbh_cm": 40.0,
        "target_q": 1.4,
        "target_class_width_cm": 5.0,
    }
    found = propose_thinning(survey(rule))
    row = rows_of(found)["A"]
    assert (row["limit"], row["residual_reached"]) == (RESIDUAL, pytest.approx(20))
    assert row["shortfall_m2_per_ha"] > 0
    assert 0 < row["given_back_pct"] < 100
    own = found.removals.filter(pl.col("compartment") == "A")
    target = own.unique("low_cm").sort("low_cm").filter(pl.col("target_stems_per_ha") > 0)
    middle = target["low_cm"].to_numpy() + 2.5
    stems = target["target_stems_per_ha"].to_numpy()
    assert (stems * math.pi * middle**2 / 40_000).sum() == pytest.approx(20)
    assert stems[:-1] / stems[1:] == pytest.approx(np.full(len(stems) - 1, 1.4))
    lacking = own.unique("low_cm").filter(pl.col("class_surplus_stems_per_ha") < 0)
    assert row["deficit_stems_per_ha"] == pytest.approx(-lacking["class_surplus_stems_per_ha"].sum())
    assert own.filter(pl.col("class_surplus_stems_per_ha") < 0)["cut_stems"].sum() == 0
    assert own.filter(pl.col("low_cm") >= 40)["after_stems_per_ha"].sum() == pytest.approx(0)


def test_a_stand_at_its_residual_has_nothing_to_cut() -> None:
    rule = {"criterion": "stems", "trigger_stems_per_ha": 10.0, "trigger_basal_area_m2_per_ha": None}
    rule |= {"residual_basal_area_m2_per_ha": 190.0}
    row = rows_of(propose_thinning(survey(rule)))["A"]
    assert (row["status"], row["cut_stems_per_ha"]) == (NOTHING_TO_CUT, 0.0)


def test_a_survey_with_errors_is_refused() -> None:
    found = finding("prescription-twice", "prescriptions.csv", "compartment A has a rule already, in row 2")
    with pytest.raises(SurveyHasErrorsError, match="the survey has 1 error, so nothing was computed"):
        propose_thinning(replace(survey({}), findings=found))
