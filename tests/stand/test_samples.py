"""What plots are samples of: strata, the survey, finite populations, mergers. Expected figures are worked by hand."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from plotmap.model.settings import Settings
from plotmap.plots import compute_plots
from plotmap.stand.estimation import Estimates, estimate_stand
from plotmap.stems import measure_stems
from tests.survey_example import survey_example

_HA = 0.05
"""Area of a plot of 500 m²."""


def _estimates(
    n_stems: list[int],
    homes: list[str],
    strata: tuple[str, str] = ("hill", "hill"),
    areas_ha: tuple[float, float] = (4.0, 6.0),
    plots: dict[str, Any] | None = None,
    **estimates: Any,
) -> Estimates:
    """Return the estimates of plots of 500 m² with so many stems of 20 cm in compartments A and B."""
    names = [f"P{i}" for i in range(len(homes))]
    stems = [name for name, n in zip(names, n_stems, strict=True) for _ in range(n)]
    settings = Settings.model_validate(
        {"plots": {"design": "circle", "area_m2": 500, "assign": "recorded"}, "estimates": estimates}
    )
    survey = survey_example(
        trees={"plot": stems, "d1_cm": [20.0] * len(stems)},
        plots={
            "plot": names,
            "compartment": homes,
            "state": ["measured" if n else "empty" for n in n_stems],
            **(plots or {}),
        },
        settings=settings,
    )
    land = survey.compartments.assign(stratum=list(strata), area_ha=list(areas_ha))
    survey = replace(survey, compartments=land)
    return estimate_stand(survey, compute_plots(survey, measure_stems(survey)))


def _stratified(values: list[list[float]], areas: list[float]) -> tuple[float, float]:
    """Return the total and the standard error of plots of equal size: Cochran 1977, ch. 5."""
    total = sum(a * np.mean(v) for a, v in zip(areas, values, strict=True))
    variance = sum(a**2 * np.var(v, ddof=1) / len(v) for a, v in zip(areas, values, strict=True))
    return float(total), math.sqrt(variance)


def test_a_stratum_as_one_sample_is_its_area_times_the_mean_of_all_its_plots() -> None:
    """2 4 | 6 stems on 0.05 ha: mean 80 /ha over 10 ha, s 40, also for B, which has one plot."""
    found = _estimates([2, 4, 6], ["A", "A", "B"], sample_of="stratum")
    for row in (found.strata.iloc[0], found.survey_total.iloc[0]):
        assert row["stems_total"] == pytest.approx(800)
        assert row["stems_total_se"] == pytest.approx(10 * 40 / math.sqrt(3))
        assert row["status"] == "estimated"
        assert row["n_one_plot"] == 0
    own = found.compartments.set_index("compartment")
    assert own.loc["A", "stems_per_ha"] == pytest.approx(60)
    assert own.loc["B", "status"] == "one plot"


def test_a_compartment_without_plots_is_covered_by_its_stratum_and_said() -> None:
    found = _estimates([2, 4], ["A", "A"], sample_of="stratum").survey_total.iloc[0]
    assert (found["area_ha"], found["area_left_out_ha"]) == (10.0, 0.0)
    assert (found["n_compartments"], found["n_without_plots"], found["n_left_out"]) == (2, 1, 0)
    assert found["stems_total"] == pytest.approx(600)
    own = _estimates([2, 4], ["A", "A"]).survey_total.iloc[0]
    assert (own["area_ha"], own["area_left_out_ha"]) == (4.0, 6.0)
    assert (own["n_compartments"], own["n_without_plots"], own["n_left_out"]) == (1, 0, 1)


@pytest.mark.parametrize("sample_of", ["stratum", "survey"])
def test_a_stratum_without_plots_is_left_out(sample_of: str) -> None:
    found = _estimates([2, 4], ["A", "A"], ("hill", "bog"), sample_of=sample_of)
    assert found.strata["status"].to_list() == ["no plots", "estimated"]
    total = found.survey_total.iloc[0]
    assert (total["area_ha"], total["area_left_out_ha"], total["n_left_out"]) == (4.0, 6.0, 1)


def test_strata_as_samples_add_up_with_satterthwaites_degrees_of_freedom() -> None:
    found = _estimates([2, 4, 6, 8, 9], ["A", "A", "A", "B", "B"], ("hill", "bog"), sample_of="stratum")
    values = [[40.0, 80.0, 120.0], [160.0, 180.0]]
    total, se = _stratified(values, [4.0, 6.0])
    row = found.survey_total.iloc[0]
    assert row["stems_total"] == pytest.approx(total)
    assert row["stems_total_se"] == pytest.approx(se)
    same = _estimates([2, 4, 6, 8, 9], ["A", "A", "A", "B", "B"], ("hill", "bog")).survey_total.iloc[0]
    for name in ("stems_total_low", "stems_total_high", "sampling_error_pct"):
        assert row[name] == pytest.approx(same[name])


def test_the_survey_as_one_sample_is_post_stratified() -> None:
    """By hand: residuals ±40 0 and ±10 /ha, each times area / plots; n / (n - 1) Σ z² with 5 plots."""
    found = _estimates([2, 4, 6, 8, 9], ["A", "A", "A", "B", "B"], ("hill", "bog"), sample_of="survey")
    row = found.survey_total.iloc[0]
    squares = 2 * (4 / 3 * 40) ** 2 + 2 * (6 / 2 * 10) ** 2
    assert row["stems_total"] == pytest.approx(4 * 80 + 6 * 170)
    assert row["stems_total_se"] == pytest.approx(math.sqrt(5 / 4 * squares))
    strata = found.strata.set_index("stratum")
    assert strata.loc["hill", "stems_total_se"] == pytest.approx(4 * 40 / math.sqrt(3))
    assert strata["stems_total"].sum() == pytest.approx(row["stems_total"])


def _counted(sample_of: str) -> Estimates:
    """Return the estimates where B was counted whole: 60 stems on 6 ha."""
    design = {"design": ["circle", "circle", "full"], "area_m2": [500.0, 500.0, None]}
    return _estimates([2, 4, 60], ["A", "A", "B"], plots=design, sample_of=sample_of)


@pytest.mark.parametrize("sample_of", ["compartment", "stratum", "survey"])
def test_a_counted_compartment_adds_its_total_and_no_error(sample_of: str) -> None:
    """By hand: A has 4 ha × 60 /ha with error 4 × 20; B adds its 60 stems; interval by one degree of freedom."""
    found = _counted(sample_of)
    t = 12.7062047364
    for row in (found.strata.iloc[0], found.survey_total.iloc[0]):
        assert row["stems_total"] == pytest.approx(4 * 60 + 60)
        assert row["stems_total_se"] == pytest.approx(4 * 20)
        assert row["stems_total_high"] == pytest.approx(300 + t * 80)
        assert (row["area_ha"], row["n_plots"], row["n_compartments"]) == (10.0, 3, 2)


@pytest.mark.parametrize("sample_of", ["compartment", "stratum", "survey"])
def test_a_survey_that_was_counted_whole_has_no_error(sample_of: str) -> None:
    design = {"design": ["full", "full"]}
    row = _estimates([8, 6], ["A", "B"], plots=design, sample_of=sample_of).survey_total.iloc[0]
    assert (row["stems_total"], row["stems_total_se"]) == (pytest.approx(14), 0)
    assert row["status"] == "estimated"


@pytest.mark.parametrize("sample_of", ["stratum", "survey"])
def test_a_survey_without_plots_has_no_totals(sample_of: str) -> None:
    row = _estimates([0], ["A"], plots={"state": ["unvisited"]}, sample_of=sample_of).survey_total.iloc[0]
    assert row["status"] == "no plots"
    assert math.isnan(row["stems_total"])


def test_plots_of_several_designs_weigh_alike_in_a_stratum() -> None:
    """By hand: 2 stems on 0.05 ha and on 0.05 ha, 40 /ha each, a rectangle of 0.1 ha with 10: 100 /ha; mean 60."""
    plots = {"design": ["circle", "circle", "rectangle"], "area_m2": [500.0, 500.0, 1000.0]}
    found = _estimates([2, 2, 10], ["A", "A", "B"], plots=plots, sample_of="stratum").strata.iloc[0]
    assert found["stems_per_ha"] == pytest.approx(60)
    assert found["dg_cm"] == pytest.approx(20)


def test_a_finite_population_takes_the_sampled_share_off_the_variance() -> None:
    """Cochran 1977, ch. 2: variance × (1 - f), f = 0.1 ha of 0.4 ha of A."""
    given = ([2, 4, 6, 8], ["A", "A", "B", "B"], ("hill", "hill"), (0.4, 6.0))
    plain, finite = _estimates(*given), _estimates(*given, finite_population=True)
    a, b = finite.compartments.iloc[0], finite.compartments.iloc[1]
    assert a["sampling_fraction"] == pytest.approx(0.25)
    assert b["sampling_fraction"] == pytest.approx(0.1 / 6)
    assert a["stems_per_ha_se"] == pytest.approx(20 * math.sqrt(0.75))
    assert plain.compartments["sampling_fraction"].isna().all()
    classes = (tables.tables.class_totals["stems_per_ha_se"][0] for tables in (finite, plain))
    assert next(classes) == pytest.approx(next(classes) * math.sqrt(0.75))
    expected = math.sqrt((0.4 * 20) ** 2 * 0.75 + (6 * 20) ** 2 * (1 - 0.1 / 6))
    assert finite.survey_total.iloc[0]["stems_total_se"] == pytest.approx(expected)


@pytest.mark.parametrize("sample_of", ["stratum", "survey"])
def test_the_sampled_share_of_a_stratum_is_that_of_all_its_land(sample_of: str) -> None:
    """By hand: 0.2 ha of 2 ha; variance of the total 2² s² / 4 × 0.9."""
    found = _estimates(
        [2, 4, 6, 8], ["A", "A", "B", "B"], areas_ha=(0.5, 1.5), sample_of=sample_of, finite_population=True
    )
    s = np.std([40.0, 80, 120, 160], ddof=1)
    assert found.survey_total.iloc[0]["stems_total_se"] == pytest.approx(2 * s / 2 * math.sqrt(0.9))


def test_angle_counts_have_no_sampling_fraction_and_no_correction() -> None:
    plots = {
        "design": ["angle-count", "angle-count", "circle", "circle"],
        "baf_m2_per_ha": [2.0, 2, None, None],
    }
    given = {"plots": {**plots, "area_m2": [None, None, 500.0, 500.0]}}
    homes = ["A", "A", "B", "B"]
    plain, finite = (_estimates([2, 4, 6, 8], homes, finite_population=on, **given) for on in (False, True))
    assert np.isnan(finite.compartments["sampling_fraction"][0])
    assert finite.compartments["sampling_fraction"][1] > 0
    name = "basal_area_m2_per_ha_se"
    assert finite.compartments[name][0] == plain.compartments[name][0]


def test_a_compartment_with_one_plot_is_merged_with_the_one_that_is_named() -> None:
    """By hand: 40 80 /ha over 4 ha (2 ha each) and 120 /ha over 6 ha: R 96; z 2·(−56), 2·(−16), 6·24; 3/2 Σ z²."""
    into = {"one_plot_variance": "merge", "merge_into": {"B": "A"}}
    found = _estimates([2, 4, 6], ["A", "A", "B"], **into)
    for row in (found.strata.iloc[0], found.survey_total.iloc[0]):
        assert row["stems_total"] == pytest.approx(4 * 60 + 6 * 120)
        assert row["stems_total_se"] == pytest.approx(math.sqrt(1.5 * (112**2 + 32**2 + 144**2)))
        assert row["status"] == "estimated"
        assert row["n_one_plot"] == 1
    assert found.compartments["status"].to_list() == ["estimated", "one plot"]


def test_a_merger_over_strata_serves_the_survey_and_not_the_stratum() -> None:
    into = {"one_plot_variance": "merge", "merge_into": {"B": "A"}}
    found = _estimates([2, 4, 6], ["A", "A", "B"], ("hill", "bog"), **into)
    assert found.strata.set_index("stratum")["status"].to_dict() == {"bog": "partly", "hill": "estimated"}
    assert found.survey_total.iloc[0]["status"] == "estimated"


def test_a_merger_has_the_sampled_share_of_both() -> None:
    """As above on a tenth of the land: 0.15 ha of 1 ha."""
    into = {"one_plot_variance": "merge", "merge_into": {"B": "A"}, "finite_population": True}
    found = _estimates([2, 4, 6], ["A", "A", "B"], areas_ha=(0.4, 0.6), **into).survey_total.iloc[0]
    squares = 1.5 * (11.2**2 + 3.2**2 + 14.4**2)
    assert found["stems_total_se"] == pytest.approx(math.sqrt(squares * 0.85))


@pytest.mark.parametrize("sample_of", ["stratum", "survey"])
def test_strata_with_one_plot_have_no_error_unless_they_are_merged_or_pooled(sample_of: str) -> None:
    given = ([2, 4, 6], ["A", "A", "B"], ("hill", "bog"))
    missing = _estimates(*given, sample_of=sample_of).survey_total.iloc[0]
    assert (missing["status"], missing["n_one_plot"]) == ("partly", 1)
    into = {"one_plot_variance": "merge", "merge_into": {"bog": "hill"}}
    merged = _estimates(*given, sample_of=sample_of, **into).survey_total.iloc[0]
    assert merged["stems_total"] == pytest.approx(960)
    assert merged["stems_total_se"] == pytest.approx(math.sqrt(1.5 * (112**2 + 32**2 + 144**2)))
    pooled = _estimates(*given, sample_of=sample_of, one_plot_variance="pooled").survey_total.iloc[0]
    own = {"stratum": 2 * (2 * 20) ** 2 * 2, "survey": 1.5 * (2 * 20) ** 2 * 2}[sample_of]
    assert pooled["stems_total_se"] ** 2 == pytest.approx(own + 36 * 800)


def test_a_pooled_variance_is_corrected_by_the_borrowers_own_share() -> None:
    """By hand: lender 0.4² · 800/2 · 0.75; borrower 0.6² · 800 · (1 - 0.05/0.6)."""
    options = {"one_plot_variance": "pooled", "finite_population": True}
    found = _estimates([2, 4, 6], ["A", "A", "B"], areas_ha=(0.4, 0.6), **options).survey_total.iloc[0]
    expected = 0.16 * 400 * 0.75 + 0.36 * 800 * (1 - _HA / 0.6)
    assert found["stems_total_se"] ** 2 == pytest.approx(expected)


@pytest.mark.parametrize("sample_of", ["stratum", "survey"])
def test_classes_and_species_of_strata_and_survey_add_up_to_their_totals(sample_of: str) -> None:
    found = _estimates([2, 4, 6, 8, 9], ["A", "A", "A", "B", "B"], ("hill", "bog"), sample_of=sample_of)
    one = _estimates([2, 4, 6], ["A", "A", "B"], sample_of=sample_of)
    for made in (found, one):
        for table in (made.class_sums, made.species_sums):
            sums = dict(table.group_by("scope", "name").agg("stems_total").rows_by_key(["scope", "name"]))
            assert sum(sums["survey", None][0][0]) == pytest.approx(made.survey_total["stems_total"][0])
            for row in made.strata.itertuples():
                assert sum(sums["stratum", row.stratum][0][0]) == pytest.approx(row.stems_total)


def test_classes_of_a_stratum_that_is_one_sample_have_its_error() -> None:
    """All stems are in one class: its error is that of the stratum, 10 · 40 / √3."""
    found = _estimates([2, 4, 6], ["A", "A", "B"], sample_of="stratum").class_sums
    assert found["stems_total_se"].to_list() == pytest.approx([10 * 40 / math.sqrt(3)] * 2)
