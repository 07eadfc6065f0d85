"""Angle counts, rings and positions against published figures and the mapped longleaf pines; sources in each test.

Longleaf: Platt, Evans & Rathbun 1988, The American Naturalist 131: 491-525 (R package spatstat.data, GPL-2 or
later); counts computed from the data in R and in numpy, apart from this project.
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import plotmap
import plotmap.plots
import plotmap.stand
from plotmap.model.plot_table import PlotValues
from plotmap.plots.distances import angle_limits
from plotmap.plots.stem_places import LIMIT_M_PER_CM
from plotmap.stems import measure_stems
from tests.longleaf_survey import FIVE_CENTRES, SIDE_M, longleaf_survey, longleaf_trees
from tests.survey_example import survey_example

_FT2_PER_AC = 0.2295684114
_AC_PER_HA = 2.4710538147


def _values(dbh_cm: list[float], plots: dict[str, Any], stems: dict[str, Any] | None = None) -> PlotValues:
    """Return the values of one plot with stems of these diameters."""
    survey = survey_example(
        trees={"plot": ["P1"] * len(dbh_cm), "d1_cm": dbh_cm},
        plots={"plot": ["P1"]},
        settings={"plots": plots, "stems": stems or {}},
    )
    return plotmap.plots.compute_plots(survey, measure_stems(survey))


@pytest.mark.parametrize(("squares_cm2", "expected"), [([2500.0] * 4, 16), ([2500.0] * 4 + [5027.0], 20)])
def test_an_angle_count_of_factor_4_gives_four_square_metres_for_each_stem(
    squares_cm2: list[float], expected: float
) -> None:
    """Int. J. Forestry Research 2012, article 961576, Fig. 3: (a) 16 m²/ha; (b) the angle count says 20."""
    dbh_cm = [math.sqrt(g * 4 / math.pi) for g in squares_cm2]
    values = _values(dbh_cm, {"design": "angle-count", "baf_m2_per_ha": 4})
    assert values.plots["basal_area_m2_per_ha"].item() == pytest.approx(expected, rel=1e-12)
    assert math.isnan(values.plots["area_m2"].item())


def test_stems_of_an_angle_count_stand_for_the_numbers_of_the_handbook_table() -> None:
    """Service Forester's Handbook, BAF 10: trees per acre of 4 to 12 inches; its basal areas have three decimals."""
    expected = [114.94, 73.53, 51.02, 37.45, 28.65, 22.62, 18.35, 15.15, 12.74]
    baf = 10 * _FT2_PER_AC
    values = _values([d * 2.54 for d in range(4, 13)], {"design": "angle-count", "baf_m2_per_ha": baf})
    per_ac = (values.trees["stems_per_ha"] / _AC_PER_HA).to_list()
    assert per_ac == pytest.approx(expected, rel=5e-3)
    exact = [10 / (math.pi / 576 * d**2) for d in range(4, 13)]
    assert per_ac == pytest.approx(exact, rel=1e-8)


def test_a_diameter_rounded_down_gets_its_half_centimetre_before_it_expands() -> None:
    """Worked example, BAF 4 m²/ha, 14 cm rounded down: 242.23 stems per hectare, 259.84 without the half."""
    plots = {"design": "angle-count", "baf_m2_per_ha": 4}
    assert _values([14.0], plots, {"rounding": "down"}).trees["stems_per_ha"].item() == pytest.approx(
        242.23, abs=5e-3
    )
    assert _values([14.0], plots).trees["stems_per_ha"].item() == pytest.approx(259.84, abs=5e-3)


def test_seven_stems_of_factor_40_are_280_square_feet_per_acre() -> None:
    """Curtis 1982, as worked in the stewardship glossary: 7 trees, BAF 40, 280 ft²/ac."""
    values = _values([14.5 * 2.54] * 7, {"design": "angle-count", "baf_m2_per_ha": 40 * _FT2_PER_AC})
    assert values.plots["basal_area_m2_per_ha"].item() / _FT2_PER_AC == pytest.approx(280, rel=1e-9)


def test_the_quadratic_mean_of_an_angle_count_is_the_root_of_the_harmonic_mean_of_squares() -> None:
    """Curtis & Marshall 2000, Western Journal of Applied Forestry 15(3): 137-139: Dq = sqrt(n / Σ 1/d²)."""
    dbh_cm = [12.0, 18.5, 23.0, 31.0, 44.5]
    values = _values(dbh_cm, {"design": "angle-count", "baf_m2_per_ha": 2})
    expected = math.sqrt(len(dbh_cm) / sum(1 / d**2 for d in dbh_cm))
    assert values.plots["dg_cm"].item() == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(("baf", "metres_per_cm"), [(1, 0.5), (2, 0.353553), (4, 0.25)])
def test_the_limiting_distance_is_the_published_one(baf: float, metres_per_cm: float) -> None:
    """AWF Goettingen lecture wiki, Bitterlich sampling (after Kleinn 2007): r = c d, k = 2500 / c²."""
    assert LIMIT_M_PER_CM / math.sqrt(baf) == pytest.approx(metres_per_cm, abs=5e-7)


@pytest.mark.parametrize(("baf", "metres_per_cm"), [(1, 0.5), (2, 0.353553), (4, 0.25)])
def test_the_table_of_limiting_distances_is_the_published_one(baf: float, metres_per_cm: float) -> None:
    """AWF Goettingen lecture wiki, Bitterlich sampling (after Kleinn 2007): r = c d; longer by 1/cos on slopes."""
    limits = angle_limits(baf, np.array([10.0, 40.0]), np.array([0.0, 30.0]))
    assert limits.level_m == pytest.approx([10 * metres_per_cm, 40 * metres_per_cm], abs=2.5e-5)
    assert limits.slope_m[:, 1] == pytest.approx(
        limits.level_m * 1.044031, rel=1e-6
    )  # 1/cos at 30 %, geometry


@pytest.mark.parametrize(
    ("baf", "counts"), [(1, [11, 12, 7, 11, 9]), (2, [4, 6, 2, 6, 7]), (4, [4, 3, 2, 4, 6])]
)
def test_angle_counts_in_the_longleaf_stand_give_the_published_counts(
    tmp_path: Path, baf: int, counts: list[int]
) -> None:
    """Longleaf pines: stems in at the five centres for factors 1, 2 and 4."""
    settings = {"plots": {"design": "angle-count", "baf_m2_per_ha": baf}}
    folder = longleaf_survey(tmp_path / "survey", radius_m=40.0, quarters=False, settings=settings)
    text = (folder / "survey.toml").read_text().replace("radius_m = 40.0\n", "")
    (folder / "survey.toml").write_text(text)
    survey = plotmap.read_survey(folder)
    found = plotmap.check(survey).frame
    beyond = set(found.filter(found["code"] == "stem-beyond-limit")["row"].to_list())
    stems = survey.trees.filter(~survey.trees["source_row"].is_in(list(beyond)))
    assert stems.group_by("plot").len().sort("plot")["len"].to_list() == counts


def test_rings_in_the_longleaf_stand_hold_the_published_stems() -> None:
    """Longleaf pines: rings of 7.98 m from 12 cm and 12.62 m from 36 cm hold 0/3 0/1 0/2 5/0 0/6 stems.

    Their expansions are those of the Swiss NFI sample-plot page: 50 and 20 stems per hectare for 200 and 500 m².
    """
    nests = [{"radius_m": 7.98, "min_dbh_cm": 12}, {"radius_m": 12.62, "min_dbh_cm": 36}]
    survey = _ringed(nests)
    values = plotmap.plots.compute_plots(survey, measure_stems(survey))
    small = values.trees.filter(values.trees["dbh_cm"] < 36)
    large = values.trees.filter(values.trees["dbh_cm"] >= 36)
    names = [f"P{i}" for i in range(1, 6)]
    assert [small.filter(small["plot"] == name).height for name in names] == [0, 0, 0, 5, 0]
    assert [large.filter(large["plot"] == name).height for name in names] == [3, 1, 2, 0, 6]
    assert small["stems_per_ha"].to_list() == pytest.approx([50] * 5, rel=7e-4)
    assert large["stems_per_ha"].to_list() == pytest.approx([20] * 12, rel=7e-4)


def _ringed(nests: list[dict[str, float]]) -> Any:
    """Return a survey of nested plots: each stem is written where the crew would, within the ring of its size."""
    trees = longleaf_trees()
    rows: list[tuple[str, float]] = []
    for number, (x, y) in enumerate(FIVE_CENTRES, start=1):
        distance = np.hypot(trees["x_m"] - x, trees["y_m"] - y)
        reach = np.where(trees["dbh_cm"] >= 36, 12.62, np.where(trees["dbh_cm"] >= 12, 7.98, 0.0))
        rows += [(f"P{number}", d) for d in trees["dbh_cm"][distance <= reach]]
    return survey_example(
        trees={"plot": [plot for plot, _ in rows], "d1_cm": [d for _, d in rows]},
        plots={"plot": [f"P{i}" for i in range(1, 6)]},
        settings={"plots": {"design": "nested", "nests": nests}},
    )


def test_a_circle_in_the_middle_gives_each_compartment_its_quarter_and_its_own_stems(tmp_path: Path) -> None:
    """Longleaf pines: the circle at (100, 100); each quarter's stems and area from the data and geometry."""
    folder = longleaf_survey(tmp_path / "survey", centres=[(100.0, 100.0)], edge="whole")
    text = (folder / "survey.toml").read_text().replace('edge = "whole"', 'edge = "positions"')
    (folder / "survey.toml").write_text(text)
    stand = plotmap.compile_survey(plotmap.read_survey(folder))
    trees = longleaf_trees()
    near = np.hypot(trees["x_m"] - 100, trees["y_m"] - 100) <= 17.84124
    half = SIDE_M / 2
    for name, right, top in (("A", 0, 0), ("B", 1, 0), ("C", 0, 1), ("D", 1, 1)):
        own = near & ((trees["x_m"] >= half) == bool(right)) & ((trees["y_m"] >= half) == bool(top))
        row = stand.compartments.set_index("compartment").loc[name]
        assert row["n_trees"] == own.sum()
        basal_area = (np.pi / 40_000 * trees["dbh_cm"][own] ** 2).sum() / 0.025
        assert row["basal_area_m2_per_ha"] == pytest.approx(basal_area, rel=1e-6)
    assert stand.plots["basal_area_m2_per_ha"].item() == pytest.approx(15.5707071, rel=2e-7)


def test_angle_counts_over_bark_give_the_census_under_bark() -> None:
    """Longleaf pines on a torus, bark of a factor of 0.9: the mean of 400 angle counts of factor 2 is the census.

    A gauge sees stems over bark; Bitterlich 1948. The census is summed here from the data; the counts scatter.
    """
    pines, factor, centres = longleaf_trees(), 0.9, 400
    place = np.random.default_rng(20261125).uniform(0, 200, (2, centres))
    apart = [
        np.abs(pines[name].to_numpy() - x[:, None]) for name, x in zip(("x_m", "y_m"), place, strict=True)
    ]
    distance = np.hypot(*(np.minimum(step, 200 - step) for step in apart))
    plot, pine = np.nonzero(distance < 0.5 * pines["dbh_cm"].to_numpy() / math.sqrt(2))
    names = [f"P{number}" for number in range(centres)]
    survey = survey_example(
        plots={"plot": names, "compartment": ["A"] * centres},
        trees={
            "plot": [names[row] for row in plot],
            "species": ["pine"] * len(plot),
            "d1_cm": pines["dbh_cm"].to_numpy()[pine].tolist(),
        },
        species={"species": ["pine"], "bark_factor": [factor]},
        settings={"plots": {"design": "angle-count", "baf_m2_per_ha": 2}, "stems": {"bark": "under"}},
    )
    found = plotmap.plots.compute_plots(survey, measure_stems(survey)).plots["basal_area_m2_per_ha"]
    census = (math.pi * (factor * pines["dbh_cm"]) ** 2 / 40_000).sum() / 4
    assert abs(found.mean() - census) < 2 * found.std() / math.sqrt(centres)
    assert found.mean() < 2 * len(plot) / centres * 0.9  # not the factor itself for each stem
