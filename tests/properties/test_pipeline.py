"""What must hold for any survey: figures do not depend on how the same facts are written down."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pandas as pd
from hypothesis import given
from hypothesis import strategies as st

from plotmap.plots import compute_plots
from plotmap.stand import Estimates, estimate_stand
from plotmap.stems import measure_stems
from tests.properties.effort import several_stages
from tests.survey_example import survey_example

_FIGURES = ["n_plots", "n_trees", "stems_per_ha", "basal_area_m2_per_ha", "dg_cm", "mean_dbh_cm"]
_ERRORS = [
    f"{name}_{end}" for name in ("stems_per_ha", "basal_area_m2_per_ha") for end in ("se", "low", "high")
]

stem = st.tuples(
    st.integers(0, 7), st.floats(5, 90).map(lambda d: round(d, 1)), st.sampled_from(["ash", "oak", "birch"])
)
stems_of_a_survey = st.lists(stem, min_size=1, max_size=60)


def _estimates(trees: dict[str, Any], *, area_m2: float = 500.0, **more: Any) -> Estimates:
    """Return the estimates of eight plots in two compartments."""
    plots = {
        "plot": [f"P{i}" for i in range(8)],
        "compartment": list("ABABABAB"),
        "state": ["measured"] * 8,
        "date": ["2026-05-14"] * 8,
    }
    survey = survey_example(
        trees=trees, plots=plots, settings={"plots": {"design": "circle", "area_m2": area_m2}}, **more
    )
    return estimate_stand(survey, compute_plots(survey, measure_stems(survey)))


def _trees(stems: list[tuple[int, float, str]]) -> dict[str, Any]:
    """Return a trees table of caliper readings."""
    return {
        "plot": [f"P{plot}" for plot, _, _ in stems],
        "d1_cm": [dbh for _, dbh, _ in stems],
        "species": [species for _, _, species in stems],
    }


def _same(one: Estimates, other: Estimates, rtol: float = 1e-9) -> None:
    """Assert that two estimates carry the same figures."""
    for name in ("compartments", "strata", "survey_total"):
        pd.testing.assert_frame_equal(
            pd.DataFrame(getattr(one, name))[_FIGURES + _ERRORS],
            pd.DataFrame(getattr(other, name))[_FIGURES + _ERRORS],
            rtol=rtol,
            atol=1e-9,
        )


@given(stems_of_a_survey, st.randoms())
@several_stages
def test_the_order_of_rows_changes_nothing(stems: list[tuple[int, float, str]], random: Any) -> None:
    shuffled = list(stems)
    random.shuffle(shuffled)
    one, other = _estimates(_trees(stems)), _estimates(_trees(shuffled))
    _same(one, other)
    key = ["compartment", "species", "class"]
    assert one.tables.classes.select(key).equals(other.tables.classes.select(key))


@given(stems_of_a_survey)
@several_stages
def test_a_girth_is_as_good_as_its_diameter(stems: list[tuple[int, float, str]]) -> None:
    trees = _trees(stems)
    girths = {**trees, "girth_cm": [d * math.pi for d in trees["d1_cm"]], "d1_cm": [None] * len(stems)}
    _same(_estimates(trees), _estimates(girths))


@given(stems_of_a_survey)
@several_stages
def test_plots_of_twice_the_area_halve_the_figures_per_hectare(stems: list[tuple[int, float, str]]) -> None:
    small, large = (_estimates(_trees(stems), area_m2=area).compartments for area in (500.0, 1000.0))
    for name in ("stems_per_ha", "basal_area_m2_per_ha", *_ERRORS):
        np.testing.assert_allclose(2 * large[name].to_numpy(float), small[name].to_numpy(float), rtol=1e-9)
    np.testing.assert_allclose(large["dg_cm"].to_numpy(float), small["dg_cm"].to_numpy(float), rtol=1e-9)


@given(stems_of_a_survey)
@several_stages
def test_classes_and_species_add_up_and_intervals_contain_their_estimates(
    stems: list[tuple[int, float, str]],
) -> None:
    found = _estimates(_trees(stems))
    rows = found.compartments.set_index("compartment")
    for table in (found.tables.classes, found.tables.class_totals, found.tables.species_totals):
        frame = table.to_pandas()
        sums = frame.groupby("compartment")[["n_trees", "stems_per_ha", "basal_area_m2_per_ha"]].sum()
        for name in sums:
            np.testing.assert_allclose(sums[name], rows.loc[sums.index, name].to_numpy(float), rtol=1e-9)
    for frame in (rows, found.tables.classes.to_pandas(), found.strata, found.survey_total):
        for name in ("stems_per_ha", "basal_area_m2_per_ha"):
            low, mean, high = (frame[name + end].to_numpy(float) for end in ("_low", "", "_high"))
            assert ((low >= 0) & (low <= mean)).all()
            no_limit = (mean == 0) & np.isnan(high)  # basal area where not one stem was found: of what size?
            assert (no_limit | (mean <= high)).all()
            assert name == "basal_area_m2_per_ha" or not no_limit.any()


@given(stems_of_a_survey)
@several_stages
def test_a_tally_of_the_same_stems_has_the_same_number_of_stems(stems: list[tuple[int, float, str]]) -> None:
    measured = _estimates(_trees(stems))
    counts = pd.DataFrame(_trees(stems)).assign(low=lambda t: (t["d1_cm"] // 5 * 5).astype(int))
    counts = counts.groupby(["plot", "species", "low"], as_index=False).size()
    tallies = {
        "plot": counts["plot"].tolist(),
        "species": counts["species"].tolist(),
        "class": [f"{low}-{low + 5}" for low in counts["low"]],
        "count": counts["size"].tolist(),
    }
    tallied = _estimates({"plot": []}, tallies=tallies)
    for name in ("stems_per_ha", "stems_per_ha_se", "n_trees"):
        np.testing.assert_allclose(
            tallied.compartments[name].to_numpy(float), measured.compartments[name].to_numpy(float), rtol=1e-9
        )
    occupied = measured.tables.classes.filter(measured.tables.classes["n_trees"] > 0)
    key = ["compartment", "species", "class", "n_trees"]
    assert (
        tallied.tables.classes.filter(tallied.tables.classes["n_trees"] > 0)
        .select(key)
        .equals(occupied.select(key))
    )
