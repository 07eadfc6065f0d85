"""Density indices, q distributions, thinning ratios and residual stand tables against published and worked figures.

The class table of the residual stands is invented: 120, 210, 260, 190, 95, 35 and 10 stems per hectare at 12.5 to
42.5 cm. What a rule takes from it was worked by hand, class by class; the tests work it again by another way.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import polars as pl
import pytest
from scipy import optimize, stats

from plotmap.fielddata import read_survey
from plotmap.model.result_tables_thinning import CANNOT_TELL, LARGEST_SHARE, LIKELY, UNLIKELY
from plotmap.model.settings_thinning import ThinningSection
from plotmap.model.thinning import Rule
from plotmap.statistics import (
    Paths,
    chance_above,
    first_reach,
    largest_remainder,
    plots_to_decide,
    rescaled_weights,
    small_fractions,
)
from plotmap.thinning.candidates import Estimate, judge
from plotmap.thinning.cells import Cells
from plotmap.thinning.one_compartment import figures
from plotmap.thinning.removal import remove, stems_at_spacing
from plotmap.thinning.target import target_stems
from plotmap.workflow import compile_survey, propose_thinning
from tests.longleaf_survey import GRID_CENTRES, RADIUS_M, longleaf_survey, longleaf_trees
from tests.survey_example import survey_example
from tests.thinning_example import MIDDLE_CM, STEMS, cells_example, rule_example, section_m2

G = section_m2(MIDDLE_CM)
INCH_CM, FT2_PER_ACRE = 2.54, 0.3048**2 / 0.40468564224
REINEKE = (MIDDLE_CM / 25.4) ** 1.605
NO_HEIGHT = np.array([np.nan])


def cut(
    cells: Cells | None = None, *, top_height_m: float | None = None, **columns: object
) -> tuple[Any, dict[str, Any]]:
    """Return stems per hectare cut from each class in the estimate, and the figures of the proposal."""
    cells = cells_example() if cells is None else cells
    rule = rule_example(**columns)
    height = None if top_height_m is None else np.array([top_height_m])
    removal = remove(cells, rule, top_height_m=height)
    made = figures(cells, rule, removal, NO_HEIGHT if height is None else height, 0.95)
    return removal.taken(cells, "stems")[:, 0], made


def density_row(trees: dict[str, Any], settings: dict[str, Any] | None = None) -> dict[str, Any]:
    """Return the density of compartment A of a survey of plots of one hectare."""
    sections = {"plots": {"design": "circle", "radius_m": 100 / np.sqrt(np.pi)}, **(settings or {})}
    table = compile_survey(survey_example(trees=trees, settings=sections)).stand_density
    return table.filter((pl.col("scope") == "compartment") & (pl.col("name") == "A")).to_dicts()[0]


def stand_of(stems: Any, dbh_cm: Any, height_m: float | None = None) -> dict[str, Any]:
    """Return trees of one plot of one hectare."""
    d = np.repeat(np.asarray(dbh_cm, dtype=float), np.asarray(stems, dtype=int)).tolist()
    rows = {"plot": ["P1"] * len(d), "species": ["oak"] * len(d), "d1_cm": d}
    return rows if height_m is None else {**rows, "height_m": [height_m] * len(d)}


# --- density indices --------------------------------------------------------------------------------------


def test_the_index_of_reineke_from_stems_and_basal_area_alone() -> None:
    """Reineke 1933; algebra: N (dg / 25.4)^1.605 = N^0.1975 G^0.8025 (40000/π)^0.8025 / 25.4^1.605; worked: 835."""
    row = density_row(stand_of(STEMS, MIDDLE_CM), {"density": {"reineke_dbh_cm": 25.4}})
    n, g = STEMS.sum(), (STEMS * G).sum()
    assert (n, g) == (920, pytest.approx(41.312, abs=0.0005))
    assert row["reineke_index"] == pytest.approx(
        n**0.1975 * g**0.8025 * (40_000 / np.pi) ** 0.8025 / 25.4**1.605, rel=1e-9
    )
    assert row["reineke_index"] == pytest.approx(835.0, abs=0.05)  # worked by hand


def test_the_summed_index_is_below_that_of_the_mean_tree() -> None:
    """Worked by hand: 813.2 against 835.0; Jensen's inequality, since d^1.605 is a concave power of d²."""
    row = density_row(stand_of(STEMS, MIDDLE_CM), {"density": {"reineke_dbh_cm": 25.4}})
    assert row["reineke_sum"] == pytest.approx(813.2, abs=0.05)
    assert row["reineke_sum"] < row["reineke_index"]
    even = density_row(stand_of([300], [25.4]), {"density": {"reineke_dbh_cm": 25.4}})
    assert even["reineke_sum"] == pytest.approx(300)
    assert even["reineke_index"] == pytest.approx(300)


def test_the_metric_index_is_that_of_acres_times_the_acres_in_a_hectare() -> None:
    """Reineke 1933: N per acre (d / 10 in)^1.605; 10 in are 25.4 cm exactly, so the ratio is 2.471 (units)."""
    row = density_row(stand_of([200], [12 * INCH_CM]), {"density": {"reineke_dbh_cm": 25.4}})
    per_acre = 200 * 0.40468564224 * (12 / 10) ** 1.605
    assert row["reineke_sum"] / per_acre == pytest.approx(2.47105, abs=5e-6)


def test_relative_density_of_the_class_table() -> None:
    """Worked by hand: 813.2 of a largest index of 1100 is 73.9 %."""
    settings = {"density": {"reineke_dbh_cm": 25.4, "maxima": [{"species": "*", "index": 1100}]}}
    row = density_row(stand_of(STEMS, MIDDLE_CM), settings)
    assert row["relative_density_pct"] == pytest.approx(73.9, abs=0.05)


def test_curtis_relative_density_of_a_published_stand() -> None:
    """Curtis 1982, as worked by a stewardship group: 280 ft²/ac of 14.5 in are 73.5; metric 10.59, 0.14404 of it."""
    assert 280 / np.sqrt(14.5) == pytest.approx(73.53, abs=0.005)
    g, d = 280 * FT2_PER_ACRE, 14.5 * INCH_CM
    stems = round(g / section_m2(d))
    row = density_row(stand_of([stems], [np.sqrt(g / stems * 40_000 / np.pi)]))
    assert row["curtis_density"] == pytest.approx(10.59, abs=0.005)
    imperial = 280 / np.sqrt(np.sqrt(g / stems * 40_000 / np.pi) / INCH_CM)
    assert row["curtis_density"] / imperial == pytest.approx(0.14404, abs=1e-5)


def test_relative_spacing_of_hart_and_becking() -> None:
    """Hart-Becking, dasometry course, Univ. Politécnica de Madrid: triangular 10 745.7 / (H √N): 20.25, 18.84 %."""
    triangular = np.sqrt(20_000 / np.sqrt(3)) * 100
    assert triangular == pytest.approx(10_745.70, abs=0.005)
    row = density_row(stand_of([1100], [20], height_m=16))
    assert row["relative_spacing_pct"] == pytest.approx(18.84, abs=0.005)
    assert row["relative_spacing_pct"] * triangular / 10_000 == pytest.approx(20.25, abs=0.005)


def test_stems_that_stay_at_a_relative_spacing() -> None:
    """Worked by hand from Hart-Becking: 1100 stems, 16 m, to 24 % triangular: 783 stay, 317 are removed."""
    square = 24 * 10_000 / 10_745.70
    assert stems_at_spacing(square, np.array([16.0]))[0] == pytest.approx(783, abs=0.5)
    cells = cells_example([20], [1100])
    taken, made = cut(cells, top_height_m=16.0, residual_spacing_pct=square, kind="proportional")
    assert taken.sum() == pytest.approx(317, abs=0.5)
    assert made["residual_reached"] == pytest.approx(square)


OAK_AREA = np.array([-0.00507, 0.01698, 0.00317])
"""Tree-area ratio of upland oak, % of an acre, by D⁰, D¹, D² in inches (Gingrich 1967, from memory)."""
OAK_CROWN = np.array([0.0175, 0.0205, 0.0060])
"""Maximum crown area, % of an acre (Krajicek, Brinkman & Gingrich 1961, from memory)."""


@pytest.mark.parametrize(
    ("inches", "n_a", "basal_a", "n_b", "basal_b", "b_of_a"),
    [
        (6, 474, 93, 281, 55, 59.2),
        (8, 300, 105, 177, 62, 59.0),
        (10, 208, 113, 122, 66, 58.6),
        (12, 153, 120, 89, 70, 58.1),
        (15, 104, 127, 60, 73, 57.5),
    ],
)
def test_a_and_b_levels_of_upland_oak(inches, n_a, basal_a, n_b, basal_b, b_of_a) -> None:
    """Gingrich 1967; Krajicek, Brinkman & Gingrich 1961; coefficients from memory, table worked by hand.

    The measure is additive, so it takes the place of basal area: a stand on the A line (tree area 100 %), thinned in
    proportion until its largest crowns just close (crown area 100 %), keeps the share b_of_a of its stems.
    """
    powers = np.array([1, inches, inches**2])
    a, b = 100 / (OAK_AREA @ powers), 100 / (OAK_CROWN @ powers)
    section = 0.005454154 * inches**2
    assert (a, b) == (pytest.approx(n_a, abs=0.5), pytest.approx(n_b, abs=0.5))
    assert (a * section, b * section) == (pytest.approx(basal_a, abs=0.5), pytest.approx(basal_b, abs=0.5))
    crowns = np.array([[a * (OAK_CROWN @ powers)]])
    paths = Paths(np.zeros((1, 1)), np.ones((1, 1)), np.ones((1, 1)))
    share = paths.at(first_reach(paths, crowns, crowns.sum() - 100))[0, 0]
    assert 100 * (1 - share) == pytest.approx(b_of_a, abs=0.05)


# --- residual stand tables --------------------------------------------------------------------------------

TYPES = [
    ("below", {}, [120, 210, 120.4, 0, 0, 0, 0], (450.4, 0.490, 0.559, 0.748, 0.764), (470, 28.52, 560)),
    (
        "b = -2",
        {"kind": "shape", "shape_power": -2.0},
        [120, 107.4, 80.4, 39.3, 14.1, 3.9, 0.9],
        (366.0, 0.398, 0.688, 0.830, 0.824),
        (554, 26.26, 575),
    ),
    (
        "b = -1",
        {"kind": "shape", "shape_power": -1.0},
        [65.6, 82.0, 79.0, 47.2, 20.0, 6.4, 1.6],
        (301.8, 0.328, 0.835, 0.914, 0.910),
        (618, 24.86, 583),
    ),
    (
        "proportional",
        {"kind": "proportional"},
        [32.9, 57.5, 71.2, 52.0, 26.0, 9.6, 2.7],
        (251.9, 0.274, 1.0, 1.0, 1.0),
        (668, 23.91, 591),
    ),
    (
        "b = +1",
        {"kind": "shape", "shape_power": 1.0},
        [15.3, 37.4, 59.6, 53.2, 31.4, 13.4, 4.3],
        (214.6, 0.233, 1.174, 1.084, 1.090),
        (705, 23.27, 597),
    ),
    (
        "above",
        {"kind": "from above"},
        [0, 0, 0, 0, 72.7, 35, 10],
        (117.7, 0.128, 2.141, 1.463, 1.521),
        (802, 21.82, 617),
    ),
]


@pytest.mark.parametrize(("columns", "stems", "ratios", "after"), [row[1:] for row in TYPES])
def test_six_kinds_of_removal_to_thirty_square_metres(columns, stems, ratios, after) -> None:
    """Worked by hand: stems removed by class, their sum, rN, k, dq/Dq, d/D; stems, Dq and summed index that stay."""
    taken, made = cut(**columns)
    assert taken == pytest.approx(stems, abs=0.051)
    assert made["after_basal_area_m2_per_ha"] == pytest.approx(30)
    assert made["basal_area_cut_pct"] == pytest.approx(27.4, abs=0.05)
    assert made["cut_stems_per_ha"] == pytest.approx(ratios[0], abs=0.051)
    got = [made[name] for name in ("thinning_ratio", "dg_ratio", "mean_dbh_ratio")]
    assert got == pytest.approx(ratios[2:], abs=0.0006)
    assert made["stems_cut_pct"] / 100 == pytest.approx(ratios[1], abs=0.0006)
    left = STEMS - taken
    dg = np.sqrt((left * MIDDLE_CM**2).sum() / left.sum())
    assert (left.sum(), dg, (left * REINEKE).sum()) == (
        pytest.approx(after[0], abs=0.51),
        pytest.approx(after[1], abs=0.0051),
        pytest.approx(after[2], abs=0.51),
    )


@pytest.mark.parametrize("power", [-2.0, -1.0, 1.0])
def test_the_shape_family_is_what_a_general_root_finder_says(power) -> None:
    """Min(1, s (d / Dq)^b) with s found by scipy.optimize.brentq, another way than the sorted corners."""
    weight = (MIDDLE_CM / np.sqrt((STEMS * MIDDLE_CM**2).sum() / STEMS.sum())) ** power

    def share(s: float) -> Any:
        return np.minimum(1, s * weight)

    s = optimize.brentq(lambda s: (share(s) * STEMS * G).sum() - ((STEMS * G).sum() - 30), 0, 50, xtol=1e-14)
    taken, _ = cut(kind="shape", shape_power=power)
    assert taken == pytest.approx(share(s) * STEMS, rel=1e-9)


@pytest.mark.parametrize(
    ("columns", "stems", "residual_g", "share"),
    [
        ({"residual_density_pct": 450 / 1100 * 100}, [120, 210, 254.2], 24.68, 0.403),
        ({"residual_stems_per_ha": 500.0}, [120, 210, 90], 31.21, 0.245),
        ({"residual_basal_area_m2_per_ha": 22.0}, [120, 210, 260, 41.3], 22.0, 0.467),
        ({"residual_density_pct": 35.0}, [120, 210, 260, 53.0], 21.30, 0.484),
    ],
)
def test_other_residuals_from_below(columns, stems, residual_g, share) -> None:
    """Worked by hand; relative density by the summed index of a largest 1100: 450 of it, and 35 %, which is 385."""
    taken, made = cut(**columns)
    assert taken[: len(stems)] == pytest.approx(stems, abs=0.051)
    assert taken[len(stems) :].sum() == 0
    assert made["after_basal_area_m2_per_ha"] == pytest.approx(residual_g, abs=0.0051)
    assert made["basal_area_cut_pct"] / 100 == pytest.approx(share, abs=0.0006)


def test_a_limit_of_a_visit_splits_a_heavy_thinning_in_two() -> None:
    """Worked by hand: to 35 % relative density takes 48.4 % of basal area; a largest share of 35 % stops it there."""
    cells = cells_example()
    rule = rule_example(residual_density_pct=35.0, largest_share_pct=35.0)
    removal = remove(cells, rule)
    assert removal.limit[0] == LARGEST_SHARE
    assert removal.taken(cells, "basal_area_m2").sum() == pytest.approx(0.35 * (STEMS * G).sum())


def test_diameter_ratio_to_the_stems_that_stay() -> None:
    """Algebra, needs no source: dg of stems cut over dg after is √(k (1 − rN) / (1 − rG))."""
    taken, made = cut(kind="shape", shape_power=-1.0)
    left = STEMS - taken
    ratio = np.sqrt((taken * G).sum() / taken.sum() / ((left * G).sum() / left.sum()))
    r_n, r_g = made["stems_cut_pct"] / 100, made["basal_area_cut_pct"] / 100
    assert ratio == pytest.approx(np.sqrt(made["thinning_ratio"] * (1 - r_n) / (1 - r_g)))


def test_rows_alone_are_systematic() -> None:
    """Common practice, no source: every fifth row is 20 % of every class, and k is 1."""
    taken, made = cut(kind="rows", row_share_pct=20.0, residual_basal_area_m2_per_ha=None)
    assert taken == pytest.approx(0.2 * STEMS)
    assert made["thinning_ratio"] == pytest.approx(1)


def test_rows_and_then_from_below() -> None:
    """Worked by hand: a fifth of every class first, then from below in the rest, as if it stood alone."""
    taken, _ = cut(row_share_pct=20.0)
    rest, _ = cut(cells_example(MIDDLE_CM, 0.8 * STEMS))
    assert taken == pytest.approx(0.2 * STEMS + rest)


# --- target distributions ---------------------------------------------------------------------------------


def test_stems_of_the_largest_class_of_a_q_distribution() -> None:
    """Student paper after Kerr 2001 and Cancino & Gadow 2002: 30 m²/ha, q 1.3 of 4 cm, 5 to 49 cm: k3 2.247, N 13."""
    middle = np.arange(5.0, 50.0, 4.0)
    stems = target_stems(middle, np.full(len(middle), 4.0), 30.0, 1.3, 4.0)
    k3 = sum(1.3**j * section_m2(49 - 4 * j) for j in range(12))
    assert k3 == pytest.approx(2.247278, abs=5e-7)
    assert stems[-1] == pytest.approx(30 / k3)
    assert stems[-1] == pytest.approx(13.349, abs=0.0005)
    assert stems[:-1] / stems[1:] == pytest.approx(np.full(11, 1.3))


@pytest.mark.parametrize(("width_cm", "q"), [(INCH_CM, 1.265), (5.0, 1.588)])
def test_q_of_another_class_width(width_cm, q) -> None:
    """Worked by hand: q of 1.6 per 2 in is 1.265 per 1 in and 1.588 per 5 cm, q^(w2 / w1)."""
    middle = np.array([20.0, 20.0 + width_cm])
    stems = target_stems(middle, np.full(2, width_cm), 10.0, 1.6, 2 * INCH_CM)
    assert stems[0] / stems[1] == pytest.approx(q, abs=0.0005)


ACTUAL = np.array([96.2, 76.3, 124.3, 19.5, 7.2, 4.8, 2.0, 0.9, 0.5, 0.1])
DESIRED = np.array([61, 38, 24, 15, 9, 6, 5, 2, 0, 0], dtype=float)
INCHES = np.arange(6, 26, 2)


def acres() -> tuple[Cells, Rule]:
    """Return the published stand per acre as cells, its rule, and the target as it was printed."""
    cells = cells_example(INCHES * INCH_CM, ACTUAL, width_cm=2 * INCH_CM)
    rule = rule_example(
        kind="target distribution",
        target_smallest_dbh_cm=5 * INCH_CM,
        target_largest_dbh_cm=21 * INCH_CM,
        target_q=1.6,
        target_class_width_cm=2 * INCH_CM,
        residual_basal_area_m2_per_ha=80 * 0.3048**2,
    )
    return cells, rule


def test_surplus_of_a_published_selection_stand() -> None:
    """Douglas County, Wisconsin, Appendix Z-I: q 1.6 of 2 in, 80 ft²/ac, 20 in: marks 178.9/ac, 7156 on 40 acres."""
    cells, rule = acres()
    # with nothing else to stop it, every surplus is cut
    removal = remove(cells, replace(rule, residual=0.0), target=DESIRED)
    taken = removal.taken(cells, "stems")[:, 0]
    # the published marks are 35.2, 38.3, 100.3 and 4.5; 4.8, 2.0 and 0.9 stand in deficit and are not cut
    assert taken == pytest.approx([35.2, 38.3, 100.3, 4.5, 0, 0, 0, 0, 0.5, 0.1])
    assert taken.sum() == pytest.approx(178.9)
    assert largest_remainder(taken * 40).sum() == 7156
    of, among = small_fractions(removal.share[:, 0], 8)
    told = [f"{a}:{b}" for a, b in zip(of, among, strict=True)]
    assert told == ["3:8", "1:2", "4:5", "1:4", "0:1", "0:1", "0:1", "0:1", "1:1", "1:1"]


def test_the_desired_stems_of_the_selection_stand_are_the_q_distribution() -> None:
    """Douglas County, Wisconsin, Appendix Z-I, rounded there: 61 38 24 15 9 6; the last two were adjusted there."""
    middle = INCHES[:8] * INCH_CM
    stems = target_stems(middle, np.full(8, 2 * INCH_CM), 80 * 0.3048**2, 1.6, 2 * INCH_CM)
    assert stems == pytest.approx([61.4, 38.4, 24.0, 15.0, 9.4, 5.9, 3.7, 2.3], abs=0.05)
    assert np.round(stems[:6]) == pytest.approx(DESIRED[:6])


def test_marking_every_surplus_undershoots_and_is_given_back() -> None:
    """Worked by hand on that stand: 150.2 ft²/ac, surplus 80.2, so that 70.0 would stay; 12.7 % are given back."""
    cells, rule = acres()
    basal = cells.total("basal_area_m2")[0] / 0.3048**2
    removal = remove(cells, rule, target=DESIRED)
    taken = removal.taken(cells, "stems")[:, 0]
    assert basal == pytest.approx(150.2, abs=0.05)
    assert removal.shortfall[0] / 0.3048**2 == pytest.approx(10.0, abs=0.05)
    assert 100 * removal.given_back[0] == pytest.approx(12.7, abs=0.05)
    assert taken[:4] == pytest.approx([30.7, 33.4, 87.5, 3.9], abs=0.051)
    assert taken[8:] == pytest.approx([0.5, 0.1])
    left = cells.total("basal_area_m2")[0] - removal.taken(cells, "basal_area_m2").sum()
    assert left / 0.3048**2 == pytest.approx(80)


# --- whole stems ------------------------------------------------------------------------------------------


def test_whole_stems_on_the_net_area() -> None:
    """Worked by hand: 120, 210 and 120.4 stems per hectare on 8.4 ha are 1008, 1764 and 1012, and 95.0 m²."""
    taken, made = cut()
    whole = largest_remainder(taken * 8.4)
    assert whole[:3].tolist() == [1008, 1764, 1012]
    assert whole.sum() == np.round(taken.sum() * 8.4)
    assert made["cut_basal_area_m2_per_ha"] * 8.4 == pytest.approx(95.0, abs=0.05)


# --- how sure ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("g", "chance"), [(24, 0.272), (25, 0.5), (26, 0.728), (27.4, 0.919), (28, 0.956), (30, 0.995)]
)
def test_probability_of_a_trigger_by_students_t(g, chance) -> None:
    """Worked with scipy.stats.t: 12 plots, standard error 1.6, trigger 25 m²/ha."""
    assert float(chance_above(g, 1.6, 11, 25)) == pytest.approx(chance, abs=0.0006)
    assert float(chance_above(g, 1.6, 11, 25)) == pytest.approx(stats.t.cdf((g - 25) / 1.6, 11))


def test_the_normal_distribution_is_a_little_surer() -> None:
    """Worked with scipy.stats.norm: 0.933 against 0.919 of t with 11 degrees of freedom."""
    assert float(chance_above(27.4, 1.6, np.inf, 25)) == pytest.approx(0.933, abs=0.0005)


def test_the_lower_bound_at_ninety_per_cent_is_where_the_probability_is_ninety() -> None:
    """Worked with scipy.stats.t: 27.4 ± 1.6 of 12 plots has the one-sided 90 % bound 25.22."""
    assert 27.4 - stats.t.ppf(0.9, 11) * 1.6 == pytest.approx(25.22, abs=0.005)
    assert float(chance_above(27.4, 1.6, 11, 25.2185)) == pytest.approx(0.9, abs=0.0005)


@pytest.mark.parametrize(
    ("g", "word"), [(24, CANNOT_TELL), (27.4, LIKELY), (26, CANNOT_TELL), (22, UNLIKELY)]
)
def test_three_words(g, word) -> None:
    """Worked by hand: thin from 0.9, do not to 0.1, measure more between."""
    assert (
        judge(
            Estimate(g, 1.6, 12, whole=False),
            rule_example(trigger_basal_area_m2_per_ha=25.0),
            ThinningSection(),
        ).word
        == word
    )


def test_costs_of_the_two_errors_make_one_threshold() -> None:
    """Decision theory, worked by hand: commission 200 and omission 600 make 200 / 800 = 0.25; 24 ± 1.6 has 0.272."""
    settings = ThinningSection(likely_from=0.25, unlikely_to=0.25)
    rule = rule_example(trigger_basal_area_m2_per_ha=25.0)
    assert judge(Estimate(24, 1.6, 12, whole=False), rule, settings).word == LIKELY
    assert judge(Estimate(23.8, 1.6, 12, whole=False), rule, settings).word == UNLIKELY


def test_plots_that_decide_a_margin() -> None:
    """Worked with scipy.stats.t: a margin of 2.4 m²/ha with a spread of 20 % of 27.4 m²/ha needs 10 plots at 90 %."""
    sd = 0.2 * 27.4
    fits = [n for n in range(2, 40) if stats.t.ppf(0.9, n - 1) * sd / np.sqrt(n) <= 2.4]
    assert fits[0] == 10
    assert float(plots_to_decide(27.4, sd / 2, 4, 25.0, 0.9)) == 10


# --- ranges -----------------------------------------------------------------------------------------------


def test_the_error_of_a_removal_to_a_fixed_residual_is_that_of_the_stand() -> None:
    """Algebra: R = G − 22, so its error is that of G; 32 ± 1.8 has 5.6 %, the removal 18 %."""
    rng = np.random.default_rng(7)
    drawn = np.concatenate([[32.0], rng.normal(32, 1.8, 20_000)])
    cells = cells_example([20], drawn[None, :] / section_m2(20))
    taken = remove(cells, rule_example(residual_basal_area_m2_per_ha=22.0)).taken(cells, "basal_area_m2")[0]
    assert taken[1:].std() / taken[0] == pytest.approx(0.18, abs=0.003)
    share = remove(cells, rule_example(kind="rows", row_share_pct=30.0, residual_basal_area_m2_per_ha=None))
    of_share = share.taken(cells, "basal_area_m2")[0]
    assert of_share[1:].std() / of_share[0] == pytest.approx(0.056, abs=0.001)


def test_a_trigger_bends_the_mean_of_the_removal() -> None:
    """Worked by integration: 27.4 ± 1.6, trigger 25, residual 18: plug-in 9.40, mean 8.98, nothing in 6.7 %."""
    z = np.linspace(-6, 6, 24_001)
    drawn = np.concatenate([[27.4], 27.4 + 1.6 * z])
    cells = cells_example([20], drawn[None, :] / section_m2(20))
    rule = rule_example(residual_basal_area_m2_per_ha=18.0)
    taken = remove(cells, rule).taken(cells, "basal_area_m2")[0]
    density = stats.norm.pdf(z) / stats.norm.pdf(z).sum()
    due = drawn[1:] >= 25
    assert taken[0] == pytest.approx(9.40)
    assert (density * taken[1:] * due).sum() == pytest.approx(8.98, abs=0.005)
    assert 1 - float(chance_above(27.4, 1.6, np.inf, 25)) == pytest.approx(0.067, abs=0.0005)


def test_the_variance_of_the_draws_is_that_of_the_mean() -> None:
    """Rao & Wu 1988, JASA 83: 231-241: the variance of a mean over the draws is s² (1 − f) / n in expectation."""
    values = np.array([18.0, 25.0, 31.0, 22.0, 40.0])
    for fraction in (0.0, 0.36):
        weights = rescaled_weights(5, 200_000, [3], fraction)
        means = (values[:, None] * weights).sum(axis=0) / 5
        expected = values.var(ddof=1) / 5 * (1 - fraction)
        assert means.var() == pytest.approx(expected, rel=0.02)
        assert means.mean() == pytest.approx(values.mean(), rel=0.002)


def test_a_thinning_of_the_longleaf_pines(tmp_path: Path) -> None:
    """Longleaf pines (Platt, Evans & Rathbun 1988), 16 circles of 1000 m², from below to 8 m²/ha; again in numpy."""
    folder = longleaf_survey(tmp_path / "survey", centres=GRID_CENTRES)
    (folder / "prescriptions.csv").write_text(
        "rule,stratum,criterion,trigger_basal_area_m2_per_ha,kind,residual_basal_area_m2_per_ha,min_plots\n"
        "low,all,basal area,8.1,from below,8,4\n"
    )
    found = propose_thinning(read_survey(folder))
    pines = longleaf_trees()
    seen = 0
    for row in found.proposals.filter(pl.col("status") == "proposed").to_dicts():
        east, north = {"A": (0, 0), "B": (100, 0), "C": (0, 100), "D": (100, 100)}[row["compartment"]]
        inside = np.zeros(len(pines))
        for x, y in GRID_CENTRES:
            if east <= x < east + 100 and north <= y < north + 100:
                inside += np.hypot(pines["x_m"] - x, pines["y_m"] - y) <= RADIUS_M
        d = np.repeat(pines["dbh_cm"].to_numpy(), inside.astype(int))
        hectares = 4 * np.pi * RADIUS_M**2 / 10_000
        need, cut = section_m2(d).sum() / hectares - 8, 0.0
        for low in np.arange(0, 100, 5):
            own = d[(d >= low) & (d < low + 5)]
            basal, stems = section_m2(own).sum() / hectares, len(own) / hectares
            share = min(1.0, need / basal) if basal and need > 0 else 0.0
            need, cut = need - share * basal, cut + share * stems
        assert row["basal_area_m2_per_ha"] == pytest.approx(section_m2(d).sum() / hectares)
        assert row["cut_stems_per_ha"] == pytest.approx(cut, rel=1e-6)
        assert row["after_basal_area_m2_per_ha"] == pytest.approx(8)
        seen += 1
    assert seen >= 2
