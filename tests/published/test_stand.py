"""Stand tables against published worked examples; sources in each test."""

from __future__ import annotations

import math

import pytest

import plotmap.plots
import plotmap.stand
from plotmap.stand import Estimates
from plotmap.stems import measure_stems
from tests.survey_example import survey_example

_M2_PER_HA_OF_FT2_PER_AC = 0.2295684114
_AC_PER_HA = 2.4710538147


def _estimates(dbh_cm: list[float], area_m2: float, **classes: object) -> Estimates:
    """Return the estimates of one plot."""
    survey = survey_example(
        trees={"plot": ["P1"] * len(dbh_cm), "d1_cm": dbh_cm},
        plots={"plot": ["P1"], "compartment": ["A"]},
        settings={"plots": {"design": "circle", "area_m2": area_m2}, "classes": classes},
    )
    return plotmap.stand.estimate_stand(survey, plotmap.plots.compute_plots(survey, measure_stems(survey)))


def test_a_stand_table_gives_the_published_stems_and_basal_area_of_each_class() -> None:
    """Larsen, FOR 8515 Advanced Forest Biometrics, Unit 3, Table 1: two-inch classes, each tree 5 per acre.

    The class Dq there stand for every tree of the class; the empty class of 9 inches stays, with 0.
    """
    counts = [3, 11, 0, 3, 2, 1, 1]
    dq_in = [5.300629, 7.172992, 9.0, 10.91925, 13.26593, 15.2, 16.2]
    dbh_cm = [d * 2.54 for d, n in zip(dq_in, counts, strict=True) for _ in range(n)]
    fifth_of_an_acre_m2 = 10_000 / _AC_PER_HA / 5
    edges_cm = [edge * 2.54 for edge in (4, 6, 8, 10, 12, 14, 16, 18)]
    found = _estimates(dbh_cm, fifth_of_an_acre_m2, edges_cm=edges_cm)
    table = found.tables.class_totals
    stems_per_ac = (table["stems_per_ha"] / _AC_PER_HA).to_list()
    ft2_per_ac = (table["basal_area_m2_per_ha"] / _M2_PER_HA_OF_FT2_PER_AC).to_list()
    assert stems_per_ac == pytest.approx([15, 55, 0, 15, 10, 5, 5], rel=1e-9)
    expected = [2.298653, 15.43444, 0, 9.754482, 9.598493, 6.300639, 7.156941]
    assert ft2_per_ac == pytest.approx(expected, rel=1e-6)
    assert sum(ft2_per_ac) == pytest.approx(50.54365, rel=1e-6)
    row = found.compartments.set_index("compartment").loc["A"]
    assert row["dg_cm"] / 2.54 == pytest.approx(9.394527, rel=1e-6)
    assert row["stems_per_ha"] / _AC_PER_HA == pytest.approx(105, rel=1e-9)
    midpoints_ft2 = sum(5 * n * math.pi / 576 * d**2 for n, d in zip(counts, range(5, 18, 2), strict=True))
    assert midpoints_ft2 == pytest.approx(49.878, abs=5e-4)
    assert sum(ft2_per_ac) != pytest.approx(midpoints_ft2, rel=0.01)


def test_the_stems_of_the_handbook_table_have_its_cross_sections() -> None:
    """Service Forester's Handbook, basal area table: feet squared of stems of 4 to 12 inches, three decimals."""
    expected = [0.087, 0.136, 0.196, 0.267, 0.349, 0.442, 0.545, 0.660, 0.785]
    survey = survey_example(trees={"plot": ["P1"] * 9, "d1_cm": [d * 2.54 for d in range(4, 13)]})
    trees = plotmap.plots.compute_plots(survey, measure_stems(survey)).trees
    assert (trees["basal_area_m2"] / 0.3048**2).to_list() == pytest.approx(expected, abs=5.1e-4)


def test_the_mean_diameter_of_the_cherry_trees_is_the_published_one() -> None:
    """R datasets::trees (Ryan, Joiner & Ryan 1976): 31 trees, diameters in inches under the name Girth."""
    inches = [
        8.3, 8.6, 8.8, 10.5, 10.7, 10.8, 11.0, 11.0, 11.1, 11.2, 11.3, 11.4, 11.4, 11.7, 12.0, 12.9,
        12.9, 13.3, 13.7, 13.8, 14.0, 14.2, 14.5, 16.0, 16.3, 17.3, 17.5, 17.9, 18.0, 18.0, 20.6,
    ]  # fmt: skip
    found = _estimates([d * 2.54 for d in inches], 10_000).compartments.set_index("compartment").loc["A"]
    assert found["basal_area_m2_per_ha"] == pytest.approx(2.906752789, rel=1e-9)
    assert found["dg_cm"] == pytest.approx(34.55240339, rel=1e-9)
