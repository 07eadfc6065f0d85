"""Classes and species of strata and survey: parts add up to totals, errors as worked on dense tables."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from plotmap.model.result_tables import CLASS_SUM_RESULTS, SPECIES_SUM_RESULTS
from plotmap.plots import compute_plots
from plotmap.stand import Estimates, estimate_stand
from plotmap.statistics import ratio_of_means
from plotmap.stems import measure_stems
from tests.survey_example import survey_example

HOMES = {"P0": "A", "P1": "A", "P2": "A", "P3": "B", "P4": "B"}
_RNG = np.random.default_rng(8)
TREES = {
    "plot": [f"P{i}" for i in _RNG.integers(0, 4, 60)],  # P4 stays empty
    "species": _RNG.choice(["ash", "oak", "elm"], 60, p=[0.6, 0.35, 0.05]).tolist(),
    "d1_cm": _RNG.uniform(8, 48, 60).round(1).tolist(),
}
FIGURES = ["stems_total", "basal_area_m2_total", "stems_per_ha", "basal_area_m2_per_ha"]


def estimates(homes: dict[str, str] = HOMES, trees: dict = TREES, **settings: dict) -> Estimates:
    """Return the estimates of circles."""
    survey = survey_example(
        trees=trees,
        plots={"plot": list(homes), "compartment": list(homes.values())},
        settings={"plots": {"design": "circle", "radius_m": 12.62}, **settings},
    )
    return estimate_stand(survey, compute_plots(survey, measure_stems(survey)))


def plot_sums(species: str | None = None) -> dict[str, float]:
    """Return basal area by plot in cm² of squares, all species or one; plots without are zeros."""
    sums = dict.fromkeys(HOMES, 0.0)
    for plot, kind, size in zip(TREES["plot"], TREES["species"], TREES["d1_cm"], strict=True):
        sums[plot] += size**2 if species in (None, kind) else 0.0
    return sums


def test_classes_and_species_add_up_to_the_totals_of_strata_and_survey() -> None:
    found = estimates()
    for table in (found.class_sums, found.species_sums):
        for scope, whole in (("survey", found.survey_total), ("stratum", found.strata)):
            parts = table.filter(pl.col("scope") == scope)
            for figure in (*FIGURES, "n_trees"):
                assert parts[figure].sum() == pytest.approx(whole[figure].iloc[0], rel=1e-12)


def test_the_error_of_a_class_is_the_root_of_squared_areas_and_errors() -> None:
    """Cochran 1977, ch. 5; the two compartments are 4 ha each."""
    found = estimates()
    area = found.compartments.set_index("compartment")["area_ha"]
    for row in found.class_sums.filter(pl.col("scope") == "survey").iter_rows(named=True):
        own = found.tables.class_totals.filter(pl.col("class") == row["class"])
        squares = [(area[c] * se) ** 2 for c, se in own.select("compartment", "stems_per_ha_se").rows()]
        assert row["stems_total_se"] == pytest.approx(np.sqrt(sum(squares)), rel=1e-12)
        assert row["stems_per_ha_se"] == pytest.approx(row["stems_total_se"] / area.sum(), rel=1e-12)
        assert row["stems_total_low"] <= row["stems_total"] <= row["stems_total_high"]


def test_an_empty_class_between_two_compartments_stays_with_zeros() -> None:
    trees = {"plot": ["P0", "P3"], "d1_cm": [12.0, 27.0]}
    table = estimates(trees=trees).class_sums.filter(pl.col("scope") == "survey")
    assert table["class"].to_list() == ["10–<15", "15–<20", "20–<25", "25–<30"]
    assert table.columns == CLASS_SUM_RESULTS.names
    assert table["stems_per_ha"].to_list()[1:3] == [0, 0]
    assert table["low_cm"].to_list() == [10, 15, 20, 25]


def test_the_share_of_a_species_is_a_ratio_of_means_over_the_plots() -> None:
    """Cochran 1977, ch. 6, by `ratio_of_means`, which published figures test."""
    found = estimates()
    everything = plot_sums()
    for kind in ("ash", "oak"):
        y, x = ([sums[plot] for plot in ("P0", "P1", "P2")] for sums in (plot_sums(kind), everything))
        expected = ratio_of_means(y, x)
        row = found.tables.species_totals.row(
            by_predicate=(pl.col("compartment") == "A") & (pl.col("species") == kind), named=True
        )
        assert row["basal_area_share_pct"] == pytest.approx(100 * expected.mean, rel=1e-12)
        assert row["basal_area_share_pct_se"] == pytest.approx(100 * expected.se, rel=1e-9)


def test_the_share_in_the_survey_is_the_linearised_one_over_strata_of_plots() -> None:
    """Variance of Σ (y - R x) by compartments, worked here on the dense table; both are 4 ha."""
    found = estimates()
    area = found.compartments.set_index("compartment")["area_ha"]
    everything, oak = plot_sums(), plot_sums("oak")
    homes = {c: [p for p, home in HOMES.items() if home == c] for c in "AB"}
    weight = {c: area[c] / len(plots) for c, plots in homes.items()}
    total = {c: weight[c] * sum(everything[p] for p in homes[c]) for c in homes}
    share = sum(weight[c] * sum(oak[p] for p in homes[c]) for c in homes) / sum(total.values())
    variance = 0.0
    for c, plots in homes.items():
        z = np.array([oak[p] - share * everything[p] for p in plots])
        variance += (weight[c] * len(plots)) ** 2 * z.var(ddof=1) / len(plots)
    row = found.species_sums.row(
        by_predicate=(pl.col("scope") == "survey") & (pl.col("species") == "oak"), named=True
    )
    assert row["basal_area_share_pct"] == pytest.approx(100 * share, rel=1e-12)
    assert row["basal_area_share_pct_se"] == pytest.approx(
        100 * np.sqrt(variance) / sum(total.values()), rel=1e-9
    )


def test_shares_add_up_to_a_hundred_and_of_two_species_have_one_error() -> None:
    two = {**TREES, "species": ["ash" if kind == "ash" else "oak" for kind in TREES["species"]]}
    found = estimates(trees=two)
    for table in (
        found.tables.species_totals.filter(compartment="A"),
        found.species_sums.filter(scope="survey"),
    ):
        assert table["basal_area_share_pct"].sum() == pytest.approx(100, rel=1e-12)
        one, other = table["basal_area_share_pct_se"]
        assert one == pytest.approx(other, rel=1e-9)


def test_one_species_alone_has_all_of_it_without_error() -> None:
    found = estimates(trees={**TREES, "species": ["ash"] * 60})
    assert found.species_sums.columns == SPECIES_SUM_RESULTS.names
    assert found.species_sums["basal_area_share_pct"].to_list() == pytest.approx([100, 100])
    assert found.species_sums["basal_area_share_pct_se"].to_list() == pytest.approx([0, 0], abs=1e-6)


@pytest.mark.parametrize("rule", ["missing", "pooled"])
def test_a_compartment_with_one_plot_leaves_no_error_unless_it_is_pooled(rule: str) -> None:
    homes = {"P0": "A", "P1": "A", "P2": "A", "P3": "B"}
    found = estimates(homes, estimates={"one_plot_variance": rule})
    class_errors = found.class_sums["stems_total_se"]
    assert class_errors.is_null().all() == (rule == "missing")
    assert found.survey_total["stems_total_se"].isna().all() == (rule == "missing")
    assert found.species_sums["basal_area_share_pct_se"].is_null().all()


def test_a_full_count_adds_no_error_to_classes_and_shares() -> None:
    survey = survey_example(
        trees={"plot": ["P0", "P0", "P0"], "species": ["ash", "oak", "oak"], "d1_cm": [12.0, 13.0, 31.0]},
        plots={"plot": ["P0"], "compartment": ["A"]},
        settings={"plots": {"design": "full"}},
    )
    found = estimate_stand(survey, compute_plots(survey, measure_stems(survey)))
    assert found.class_sums["stems_total_se"].to_list() == [0.0] * found.class_sums.height
    assert found.species_sums["basal_area_share_pct_se"].to_list() == [0.0] * 4
    oak = found.species_sums.filter(species="oak", scope="survey")["basal_area_share_pct"][0]
    assert oak == pytest.approx(100 * (13**2 + 31**2) / (12**2 + 13**2 + 31**2), rel=1e-12)


def test_a_survey_without_stems_has_no_rows() -> None:
    found = estimates(trees={"plot": [], "d1_cm": []})
    assert found.class_sums.height == found.species_sums.height == 0
    assert found.structure["why_missing"].to_list() == ["fewer than 30 stems"] * 4
