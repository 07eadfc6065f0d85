"""Findings about samples: single plots that are refused, plots as large as their land, plots without an area."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from plotmap.model.findings import Findings
from plotmap.model.settings import Settings
from plotmap.plots import compute_plots
from plotmap.stand import check_samples
from plotmap.stems import measure_stems
from tests.folder_example import found, the_finding
from tests.survey_example import survey_example


def _checked(
    homes: list[str],
    strata: tuple[str, str] = ("hill", "bog"),
    area_ha: float = 4.0,
    plots: dict[str, Any] | None = None,
    **estimates: Any,
) -> Findings:
    """Return the findings of plots of 500 m² in compartments A and B."""
    names = [f"P{i}" for i in range(len(homes))]
    settings = Settings.model_validate(
        {"plots": {"design": "circle", "area_m2": 500, "assign": "recorded"}, "estimates": estimates}
    )
    rows = {"plot": names, "compartment": homes, **(plots or {})}
    survey = survey_example(
        trees={"plot": names, "d1_cm": [20.0] * len(names)}, plots=rows, settings=settings
    )
    survey = replace(survey, compartments=survey.compartments.assign(stratum=list(strata), area_ha=area_ha))
    return check_samples(survey, compute_plots(survey, measure_stems(survey)))


def test_a_compartment_with_one_plot_is_an_error_where_it_is_refused_and_one_with_two_is_not() -> None:
    told = the_finding(_checked(["A", "A", "B"], one_plot_variance="refuse"), "one-plot-refused")
    assert (told["severity"], told["file"], told["row"], told["compartment"]) == (
        "error",
        "compartments.csv",
        3,
        "B",
    )
    assert told["message"] == (
        "compartment B has 1 plot, but two are needed for an error, and the settings refuse that"
    )
    assert not found(_checked(["A", "A", "B", "B"], one_plot_variance="refuse"), "one-plot-refused")


@pytest.mark.parametrize("policy", ["missing", "pooled"])
def test_a_single_plot_is_no_finding_where_it_is_not_refused(policy: str) -> None:
    assert _checked(["A", "A", "B"], one_plot_variance=policy).frame.is_empty()


def test_the_plots_of_a_stratum_are_counted_together() -> None:
    assert _checked(
        ["A", "B"], ("hill", "hill"), sample_of="stratum", one_plot_variance="refuse"
    ).frame.is_empty()
    told = the_finding(
        _checked(["A", "A", "B"], sample_of="stratum", one_plot_variance="refuse"), "one-plot-refused"
    )
    assert told["message"].startswith("stratum bog has 1 plot")
    assert told["row"] is told["compartment"] is None


@pytest.mark.parametrize(
    ("into", "said"),
    [
        ({"A": "B"}, "merge_into does not name it"),
        ({"B": "C"}, "merge_into names C, which has no sample plots"),
        ({"B": "A"}, None),
    ],
)
def test_a_single_plot_needs_a_partner_that_has_plots(into: dict[str, str], said: str | None) -> None:
    findings = _checked(["A", "A", "B"], one_plot_variance="merge", merge_into=into)
    if said is None:
        assert findings.frame.is_empty()
    else:
        assert the_finding(findings, "one-plot-refused")["message"].endswith(said)


def test_a_compartment_that_was_counted_whole_is_no_partner_and_no_single_plot() -> None:
    plots = {"design": ["full", None], "area_m2": [None, 500.0]}
    told = _checked(["A", "B"], plots=plots, one_plot_variance="merge", merge_into={"B": "A"})
    assert the_finding(told, "one-plot-refused")["compartment"] == "B"


@pytest.mark.parametrize(("area_ha", "too_large"), [(0.1, True), (0.0999, True), (0.1001, False)])
@pytest.mark.parametrize("sample_of", ["compartment", "stratum", "survey"])
def test_plots_must_cover_less_than_their_compartment(
    area_ha: float,
    too_large: bool,  # noqa: FBT001
    sample_of: str,
) -> None:
    """Two plots of 0.05 ha are the whole of 0.1 ha."""
    findings = _checked(["A", "A"], area_ha=area_ha, finite_population=True, sample_of=sample_of)
    if not too_large:
        assert findings.frame.is_empty()
        return
    told = the_finding(findings, "sampled-area-too-large")
    assert (told["severity"], told["row"], told["compartment"]) == ("error", 2, "A")
    assert told["message"] == (
        f"the plots of compartment A cover 0.1 ha, but it has {area_ha} ha, and they must cover less"
    )


def test_plots_as_large_as_their_compartment_are_no_finding_without_the_correction() -> None:
    assert _checked(["A", "A"], area_ha=0.05).frame.is_empty()


def test_angle_counts_and_several_designs_have_no_sampled_area() -> None:
    plots = {"design": [None, "angle-count"], "baf_m2_per_ha": [None, 2.0], "area_m2": [500.0, None]}
    told = the_finding(_checked(["A", "B"], plots=plots, finite_population=True), "no-sampled-area")
    assert (told["severity"], told["compartment"]) == ("warning", "B")
    assert "its error is not corrected" in told["message"]
    together = _checked(
        ["A", "B"], ("hill", "hill"), plots=plots, finite_population=True, sample_of="stratum"
    )
    assert the_finding(together, "no-sampled-area")["message"].startswith("the plots of stratum hill are")
