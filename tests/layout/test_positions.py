"""Where plots lie: inside the net land, by the design stated, even over all seeds, and the same from run to run."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

import numpy as np
import pytest
import shapely
from scipy import stats
from scipy.spatial import cKDTree

from plotmap.errors import SettingsError
from plotmap.layout.land import land_of
from plotmap.layout.numbers import numbers_of
from plotmap.layout.plan import plan_layout
from plotmap.layout.positions import main_points, reserve_points
from plotmap.layout.variation import variation_of
from tests.layout_example import SOUTH_M, TWO, WEST_M, at, ground_example

METHODS = ["square", "triangular", "strips", "random", "balanced"]
HOLED = {
    "A": shapely.Polygon(at(0, 0, 600, 400).exterior, [at(200, 100, 400, 300).exterior]),
    "B": at(600, 0, 1000, 400),
}


def _of_seeds(layout: dict, polygons: dict, seeds: Iterable[int], **keys: Any) -> Iterator[np.ndarray]:
    """Yield the points of each seed, in m from the corner of the example."""
    ground = ground_example(layout, polygons, **keys)
    land = land_of(ground)
    rules = ground.settings.layout
    numbers = numbers_of(land, variation_of(land, rules, None), ground.settings)
    for seed in seeds:
        points, _ = main_points(land, numbers, rules.model_copy(update={"seed": seed}))
        assert shapely.contains_xy(land.net[points.compartment], points.x, points.y).all()
        yield np.column_stack([points.x - WEST_M, points.y - SOUTH_M])


def _points(layout: dict, polygons: dict = HOLED, **keys: Any) -> np.ndarray:
    """Return the points of the seed that the layout states."""
    return next(_of_seeds(layout, polygons, [layout.get("seed", 1)], **keys))


@pytest.mark.parametrize("method", METHODS)
def test_plots_lie_on_the_land_outside_holes_and_what_is_excluded(method: str) -> None:
    found = _points({"n_plots": 120, "method": method}, excluded=[at(700, -50, 800, 500)])
    assert len(found) > 90
    assert not shapely.contains_xy(shapely.box(200, 100, 400, 300), *found.T).any()
    assert not shapely.contains_xy(shapely.box(700, 0, 800, 400), *found.T).any()


@pytest.mark.parametrize("method", METHODS)
def test_the_same_seed_gives_the_same_plots_and_another_one_others(method: str) -> None:
    layout = {"n_plots": 40, "method": method}
    first = _points(layout | {"seed": 5})
    np.testing.assert_array_equal(first, _points(layout | {"seed": 5}))
    other = _points(layout | {"seed": 6})
    assert cKDTree(first).query(other)[0].min() > 0.01


def test_the_order_of_the_compartments_moves_no_point_of_a_grid() -> None:
    first = _points({"n_plots": 40}, {"A": TWO["A"], "B": TWO["B"]})
    turned = _points({"n_plots": 40}, {"B": TWO["B"], "A": TWO["A"]})
    assert {tuple(point) for point in first} == {tuple(point) for point in turned}


def test_a_stated_spacing_and_bearing_are_those_of_the_points() -> None:
    found = _points({"spacing_m": 60, "bearing_deg": 90}, TWO)
    distance, near = cKDTree(found).query(found, k=2)
    np.testing.assert_allclose(distance[:, 1], 60, atol=0.02)  # coordinates are rounded to the centimetre
    step = found[near[:, 1]] - found
    assert (np.abs(step).min(axis=1) < 0.02).all()  # west to east, or south to north


def test_strata_of_one_density_share_a_grid_and_those_of_two_have_their_own() -> None:
    polygons = {"A": at(0, 0, 500, 400), "B": at(500, 0, 1000, 400)}
    shared = _points({"n_plots": 80}, polygons, strata=["wet", "dry"])
    distance = cKDTree(shared).query(shared, k=2)[0][:, 1]
    np.testing.assert_allclose(distance, np.sqrt(400_000 / 80), atol=0.02)
    own = {"wet": 90.0, "dry": 30.0}
    layout = {"n_plots": 80, "allocation": "neyman", "cv_pct_by_stratum": own}
    apart = _points(layout, polygons, strata=["wet", "dry"])
    for west, wanted in ((0, 60), (500, 20)):
        inside = apart[(apart[:, 0] > west) & (apart[:, 0] < west + 500)]
        distance = cKDTree(inside).query(inside, k=2)[0][:, 1]
        np.testing.assert_allclose(distance, np.sqrt(200_000 / wanted), atol=0.02)


@pytest.mark.parametrize("method", ["random", "balanced"])
def test_random_and_balanced_plots_are_exactly_those_wanted_in_each_stratum(method: str) -> None:
    found = _points({"n_plots": 50, "method": method}, TWO, strata=["wet", "dry"])
    assert (found[:, 0] < 600).sum() == 30  # 24 of 40 ha
    assert len(found) == 50


@pytest.mark.parametrize("method", METHODS)
def test_over_many_seeds_plots_are_even_over_the_land(method: str) -> None:
    # 32 plots on 32 ha of two compartments with a hole: over 250 seeds each of 8 even parts has an eighth of them
    found = np.concatenate(list(_of_seeds({"n_plots": 32, "method": method}, HOLED, range(250))))
    assert (found[:, 0] < 200).mean() == pytest.approx(80_000 / 360_000, abs=0.02)
    by_column = np.histogram(found[:, 0], [600, 650, 700, 750, 800, 850, 900, 950, 1000])[0]
    expected = by_column.sum() / 8
    if method == "random":
        assert stats.chisquare(by_column).pvalue > 1e-4
    assert np.abs(by_column / expected - 1).max() < 4 / np.sqrt(expected)
    assert len(found) / 250 == pytest.approx(32, abs=0.6)


@pytest.mark.parametrize("method", ["square", "balanced"])
def test_plots_of_grids_and_balanced_ones_keep_apart_and_random_ones_do_not(method: str) -> None:
    def nearest(how: str) -> float:
        found = _points({"n_plots": 100, "method": how}, TWO)
        return float(np.quantile(cKDTree(found).query(found, k=2)[0][:, 1], 0.05))

    assert nearest(method) > 1.5 * nearest("random")


def test_reserve_plots_are_in_their_stratum_and_the_first_stay_when_more_are_asked_for() -> None:
    def reserve(n: int) -> set[tuple[float, float]]:
        ground = ground_example({"n_plots": 20, "reserve": n}, TWO, strata=["wet", "dry"])
        land = land_of(ground)
        points = reserve_points(land, ground.settings.layout)
        assert np.bincount(land.stratum[points.compartment], minlength=2).tolist() == [n, n]
        return set(zip(points.x.tolist(), points.y.tolist(), strict=True))

    assert reserve(0) == set()
    assert reserve(3) < reserve(6)


def test_coordinates_are_whole_centimetres() -> None:
    found = _points({"n_plots": 40, "method": "random"})
    assert np.abs(100 * found - np.round(100 * found)).max() < 1e-5


def test_a_sliver_keeps_its_points_inside_where_rounding_would_put_them_out() -> None:
    sliver = {"A": at(0.0012, 0, 0.0058, 9000)}
    found = _points({"n_plots": 5, "method": "random"}, sliver, plots={"design": "circle", "radius_m": 0.5})
    assert len(found) == 5


def test_one_compartment_alone_tiny_ones_and_far_ones() -> None:
    assert len(_points({"n_plots": 12, "method": "balanced"}, {"A": at(0, 0, 300, 300)})) == 12
    far = {"A": at(0, 0, 300, 300), "B": at(40_000, 0, 40_300, 300)}
    found = _points({"n_plots": 40}, far)
    assert 10 < (found[:, 0] > 30_000).sum() < 30
    tiny = {"A": at(0, 0, 10, 10)}
    assert len(_points({"n_plots": 1, "method": "random"}, tiny)) == 1


def test_a_grid_of_which_no_point_falls_on_the_land_says_so() -> None:
    with pytest.raises(SettingsError, match="no point of the grid fell on the land"):
        _points({"spacing_m": 3000}, {"A": at(0, 0, 30, 30)})


def test_a_grid_that_is_too_narrow_for_the_land_is_refused() -> None:
    huge = {"A": at(-150_000, 0, 150_000, 3000)}
    with pytest.raises(SettingsError, match="take a wider one"):
        _points({"spacing_m": 1}, huge)


def test_the_design_keeps_what_was_drawn_and_proves_the_points() -> None:
    layout = plan_layout(ground_example({"n_plots": 30, "seed": 9, "method": "triangular"}))
    design = dict(layout.layout_design.rows())
    assert (design["seed"], design["method"], design["number_by"]) == ("9", "triangular", "n_plots")
    start = np.array([float(design["start_easting"]), float(design["start_northing"])])
    bearing = np.radians([float(design["bearing_deg"]), float(design["bearing_deg"]) + 60])
    step = float(design["first_step_m"]) * np.column_stack([np.sin(bearing), np.cos(bearing)])
    main = layout.planned_plots
    nodes = (main[["easting", "northing"]].to_numpy() - start) @ np.linalg.inv(step)
    assert np.abs(nodes - np.round(nodes)).max() < 1e-3
    assert design["[layout] n_plots"] == "30"
