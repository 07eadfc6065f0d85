"""What must hold for every design: figures do not depend on how the same facts are written down."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from plotmap.plots import compute_plots
from plotmap.stand import compartment_figures
from plotmap.stems import measure_stems
from tests.properties.effort import several_stages
from tests.survey_example import survey_example

_FIGURES = ["stems_per_ha", "basal_area_m2_per_ha", "stems_per_ha_se", "basal_area_m2_per_ha_se", "dg_cm"]
_NESTS = [{"radius_m": 6.0, "min_dbh_cm": 7}, {"radius_m": 12.0, "min_dbh_cm": 25}]
_DESIGNS: dict[str, dict[str, Any]] = {
    "circle": {"design": "circle", "radius_m": 12.0},
    "rectangle": {"design": "rectangle", "area_m2": 400},
    "strip": {"design": "strip", "area_m2": 400},
    "nested": {"design": "nested", "nests": _NESTS},
    "angle-count": {"design": "angle-count", "baf_m2_per_ha": 2},
    "full": {"design": "full"},
    "positions": {"design": "circle", "radius_m": 12.0, "edge": "positions"},
}
_stem = st.tuples(
    st.integers(0, 5),
    st.floats(7, 80).map(lambda size: round(size, 1)),
    st.integers(0, 360),
    st.floats(0, 6).map(lambda size: round(size, 1)),
)
_stems = st.lists(_stem, min_size=1, max_size=25)


def _trees(stems: list[tuple[int, float, int, float]]) -> dict[str, list[Any]]:
    """Return a trees table of caliper readings with positions."""
    plots, sizes, azimuths, distances = (list(cells) for cells in zip(*stems, strict=True))
    names = [f"P{plot}" for plot in plots]
    return {"plot": names, "d1_cm": sizes, "azimuth_deg": azimuths, "distance_m": distances}


def _figures(rules: dict[str, Any], plots: dict[str, Any] | None = None, **tables: Any) -> np.ndarray:
    """Return the figures of both compartments; six plots, some of them across the boundary, unless given."""
    six = {
        "plot": [f"P{number}" for number in range(6)],
        "easting": [499_850.0, 499_995.0, 499_900.0, 500_003.0, 500_100.0, 500_150.0],
        "northing": [5_600_050.0 + 20 * number for number in range(6)],
    }
    survey = survey_example(plots=plots or six, settings={"plots": rules}, **tables)
    found = compartment_figures(survey, compute_plots(survey, measure_stems(survey)))
    return found.sort_values("compartment")[_FIGURES].to_numpy(dtype=float)


@pytest.mark.parametrize("design", _DESIGNS)
@given(stems=_stems, random=st.randoms())
@several_stages
def test_the_order_of_stems_changes_nothing(design: str, stems: list[Any], random: Any) -> None:
    mixed = list(stems)
    random.shuffle(mixed)
    one, other = (_figures(_DESIGNS[design], trees=_trees(rows)) for rows in (stems, mixed))
    np.testing.assert_allclose(other, one, rtol=1e-9, atol=1e-9)


@pytest.mark.parametrize("design", _DESIGNS)
@given(stems=_stems)
@several_stages
def test_a_girth_is_as_good_as_its_diameter(design: str, stems: list[Any]) -> None:
    calipers = _trees(stems)
    girths = {name: cells for name, cells in calipers.items() if name != "d1_cm"}
    girths["girth_cm"] = [size * math.pi for size in calipers["d1_cm"]]
    one, other = (_figures(_DESIGNS[design], trees=rows) for rows in (calipers, girths))
    np.testing.assert_allclose(other, one, rtol=1e-9, atol=1e-9)


@pytest.mark.parametrize("design", ["circle", "nested", "angle-count"])
@given(stems=_stems)
@several_stages
def test_a_stem_that_counts_three_times_is_three_stems(design: str, stems: list[Any]) -> None:
    rules = {**_DESIGNS[design], "edge": "mirage"}
    once = _trees(stems)
    times = {**once, "times": [3] * len(stems)}
    thrice = {name: cells * 3 for name, cells in once.items()}
    one, other = (_figures(rules, trees=rows) for rows in (times, thrice))
    np.testing.assert_allclose(other, one, rtol=1e-9, atol=1e-9)


@pytest.mark.parametrize("design", ["circle", "rectangle", "strip"])
@given(stems=_stems, sides=st.lists(st.booleans(), min_size=25, max_size=25))
@several_stages
def test_plots_cut_in_two_halves_give_the_same_means(
    design: str, stems: list[Any], sides: list[bool]
) -> None:
    names = [f"P{number}" for number in range(6)]
    home = {"compartment": list("AABBAB")}
    whole = {"plot": names, "area_m2": [400.0] * 6, **home}
    halves = {
        "plot": [name + side for side in "NS" for name in names],
        "area_m2": [200.0] * 12,
        "compartment": home["compartment"] * 2,
    }
    trees = _trees(stems)
    cut = {**trees, "plot": [name + "NS"[side] for name, side in zip(trees["plot"], sides, strict=False)]}
    rules = {"design": design, **({"radius_m": 12.0} if design == "circle" else {"area_m2": 400})}
    one, other = _figures(rules, whole, trees=trees), _figures(rules, halves, trees=cut)
    means = [_FIGURES.index(name) for name in ("stems_per_ha", "basal_area_m2_per_ha", "dg_cm")]
    np.testing.assert_allclose(other[:, means], one[:, means], rtol=1e-9, atol=1e-9)


@pytest.mark.parametrize("design", ["circle", "rectangle", "nested", "angle-count"])
@given(stems=_stems, slope_pct=st.floats(0, 150))
@several_stages
def test_a_slope_enters_once_as_its_secant(design: str, stems: list[Any], slope_pct: float) -> None:
    """1 / cos(arctan(s)): geometry."""
    plots = {"plot": [f"P{number}" for number in range(6)], "compartment": list("AABBAB")}
    sloping = {**plots, "slope_pct": [slope_pct] * 6}
    level, told = (_figures(_DESIGNS[design], rows, trees=_trees(stems)) for rows in (plots, sloping))
    np.testing.assert_allclose(told, level, rtol=1e-12)  # laid out level: the slope is only told
    ground = _figures({**_DESIGNS[design], "slope": "ground"}, sloping, trees=_trees(stems))
    secant = 1 / math.cos(math.atan(slope_pct / 100))
    np.testing.assert_allclose(ground[:, :4], level[:, :4] * secant, rtol=1e-9, atol=1e-9)


@given(counts=st.lists(st.integers(0, 40), min_size=6, max_size=6).filter(any))
@several_stages
def test_a_tallied_angle_count_has_its_basal_area_and_nearly_its_stems(counts: list[int]) -> None:
    """Each counts for the factor; stem numbers are too low by a share of at most (w / m)² / 3, docs/methods.md.

    The stems of a class are set out along the line that the tally is spread by, each at the middle of its part.
    """
    plots = {"plot": ["P1"], "compartment": ["A"]}
    lows = [10 + 5 * step for step in range(6)]
    classes = {"plot": ["P1"] * 6, "class": [f"{low}-{low + 5}" for low in lows], "count": counts}
    rules = _DESIGNS["angle-count"]
    survey = survey_example(plots=plots, tallies=classes, settings={"plots": rules})
    values = compute_plots(survey, measure_stems(survey))
    assert values.plots["basal_area_m2_per_ha"].item() == pytest.approx(2 * sum(counts), rel=1e-9)
    for row in values.tallied.rows(named=True):
        low = float(row["class"].split("–")[0])
        # the density that has this mean in its class: 1/5 + b (t − middle), mean = middle + b 5³ / 12
        steps = low + (np.arange(2000) + 0.5) / 400
        b = (row["dbh_cm"] - low - 2.5) * 12 / 125
        weight = 1 / 5 + b * (steps - low - 2.5)
        true = row["count"] * 2 * np.average(40_000 / math.pi / steps**2, weights=weight)
        lacking = 1 - row["stems_per_ha"] / true if true else 0.0
        assert -1e-6 <= lacking <= (5 / (low + 2.5)) ** 2 / 3 + 0.01
