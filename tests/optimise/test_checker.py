"""The checker: each rule broken and just kept, by hand; polygons a second way; plans that lie about themselves."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import shapely

from plotmap.optimise import (
    BandAbout,
    Blocks,
    Openings,
    Problem,
    Quantity,
    make_plan,
    pairs_of_polygons,
    plan_faults,
    problem_of,
)
from plotmap.optimise.checker import blocks_of, faults_of, value_of
from plotmap.spatial.adjacency import neighbours
from tests.optimise.small_maps import grid_pairs

ROW = [(0, 1), (1, 2), (2, 3)]


def row(periods: int = 2, **rules: Any) -> Problem:
    """Return four units of 10 ha in a row, each worth 1 in all periods."""
    return problem_of(np.full(4, 10.0), np.ones((4, periods)), ROW, **rules)


@pytest.mark.parametrize(
    ("rules", "good", "bad", "said"),
    [
        (
            {"openings": Openings()},
            [0, 1, 0, 1],
            [0, 0, 1, 0],
            "units 0 and 1 are neighbours and open together",
        ),
        (
            {"openings": Openings(), "green_up_periods": 1},
            [0, -1, 1, -1],
            [0, 1, -1, -1],
            "units 0 and 1 are neighbours and open together",
        ),
        (
            {"openings": Openings(20.0)},
            [0, 0, 1, 1],
            [0, 0, 0, 1],
            r"opening of 30 ha in period 1 \(units 0, 1, 2\)",
        ),
        (
            {"openings": Openings(20.0), "green_up_periods": 1},
            [0, 1, -1, 0],
            [0, 1, 1, -1],
            r"opening of 30 ha in period 2",
        ),
        ({"blocks": Blocks(20.0, 30.0)}, [0, 0, 0, -1], [0, 0, 0, 0], "block of 40 ha"),
        (
            {"blocks": Blocks(20.0, 30.0)},
            [0, 0, 1, 1],
            [0, 0, -1, 0],
            r"block of 10 ha \(units 3\), 20 to 30 ha",
        ),
        (
            {"blocks": Blocks(10.0, 30.0), "green_up_periods": 1},
            [0, -1, 1, 1],
            [0, 1, 1, -1],
            "blocks of units 0 and 1 touch and are open together",
        ),
        (
            {"required": [False, True, False, False]},
            [-1, 0, -1, -1],
            [0, -1, 0, 0],
            "unit 1: required, but not cut",
        ),
        ({"allowed": [[True, False]] * 4}, [0, 0, 0, 0], [0, 1, 0, 0], "unit 1: forbidden in period 2"),
    ],
)
def test_a_rule_that_is_just_kept_passes_and_one_that_is_broken_is_said(rules, good, bad, said: str) -> None:
    problem = row(**rules)
    assert faults_of(problem, np.array(good)) == []
    with pytest.raises(AssertionError, match=said):
        assert not faults_of(problem, np.array(bad)), "; ".join(faults_of(problem, np.array(bad)))


@pytest.mark.parametrize(
    ("limits", "good", "bad", "said"),
    [
        ({"most": 20.0}, [0, 0, 1, 1], [0, 0, 0, 1], "area_ha: 30 in period 1, at most 20 allowed"),
        (
            {"least": [10.0, 20.0]},
            [0, 1, 1, -1],
            [0, 1, -1, -1],
            "area_ha: 10 in period 2, at least 20 asked for",
        ),
        ({"band": 0.5}, [0, 0, 1, -1], [0, 0, 0, 1], "area_ha: 10 in period 2 is more than 50% from 30"),
        ({"band": 0.5}, [0, 0, 1, 1], [0, 1, 1, -1], "area_ha: 20 in period 2 is more than 50% from 10"),
        (
            {"band": 0.4, "band_about": BandAbout.MEAN},
            [0, 0, 1, -1],
            [0, 0, 0, 1],
            "area_ha: 30 in period 1 is more than 40% from 20",
        ),
    ],
)
def test_a_flow_at_its_limit_passes_and_one_beyond_is_said(limits, good, bad, said: str) -> None:
    problem = row(quantities=[Quantity("area_ha", np.full(4, 10.0), **limits)])
    assert faults_of(problem, np.array(good)) == []
    assert any(said in fault for fault in faults_of(problem, np.array(bad)))


def test_a_period_that_does_not_exist_and_a_plan_of_another_length_are_said() -> None:
    assert faults_of(row(), np.array([0, 2, 0, 0])) == ["unit 1: period 2 does not exist"]
    assert faults_of(row(), np.array([0, -2, 0, 0])) == ["unit 1: period -2 does not exist"]
    assert faults_of(row(), np.array([0, 0])) == ["the plan has 2 units, the problem 4"]


def test_blocks_and_value_are_those_of_the_hand() -> None:
    problem = row(blocks=Blocks(0.0, 40.0, 0.25))
    assert blocks_of(problem, np.array([0, 0, 1, 0])) == [[0, 1], [2], [3]]
    assert value_of(problem, np.array([0, 0, 1, 0])) == 4 - 3 * 0.25
    assert value_of(problem, np.full(4, -1)) == 0.0


def test_a_plan_that_lies_about_its_value_bound_or_blocks_is_found_out() -> None:
    problem = row(openings=Openings())
    plan = make_plan(problem, gap=0.0, seconds=20.0)
    assert plan_faults(problem, plan) == []
    assert "its value is 5" in plan_faults(problem, replace(plan, value=5.0, bound=5.0))[0]
    assert "more than its bound of 3" in plan_faults(problem, replace(plan, bound=3.0))[0]
    assert plan_faults(problem, replace(plan, block=np.zeros(4, dtype=int))) == [
        "the plan's block numbers are not its blocks"
    ]
    assert plan_faults(problem, replace(plan, period=np.zeros(4, dtype=int))) != []


def test_a_neighbour_that_the_problem_does_not_know_is_seen_on_the_polygons() -> None:
    squares = shapely.box(np.arange(4) * 100.0, 0, np.arange(4) * 100.0 + 100.0, 100)
    problem = problem_of(np.full(4, 1.0), np.ones((4, 1)), [(0, 1)], openings=Openings())
    plan = make_plan(problem, gap=0.0, seconds=20.0)
    assert plan_faults(problem, plan) == []
    assert any(
        "neighbours and open together" in said
        for said in plan_faults(problem, plan, pairs_of_polygons(squares))
    )


@pytest.mark.parametrize("corner", [False, True])
@pytest.mark.parametrize("within_m", [0.0, 0.1])
def test_two_ways_of_finding_neighbours_agree(*, corner: bool, within_m: float) -> None:
    frame = shapely.box(0, 0, 2000, 2000)
    points = shapely.MultiPoint(np.random.default_rng(11).random((80, 2)) * 2000)
    cells = shapely.intersection(shapely.get_parts(shapely.voronoi_polygons(points, extend_to=frame)), frame)
    shapes = [*cells, None, *shapely.box([3000, 3100], [0, 100], [3100, 3200], [100, 200])]
    table = neighbours(shapes, contact="corner" if corner else "edge", within_m=within_m)
    found = pairs_of_polygons(shapes, corner=corner, within_m=within_m)
    assert found == [(int(a), int(b)) for a, b in zip(table["first"], table["second"], strict=True)]
    assert ((81, 82) in found) is corner


def test_squares_of_a_grid_have_its_neighbours() -> None:
    x, y = np.meshgrid(np.arange(4) * 50.0, np.arange(3) * 50.0)
    cells = shapely.box(x.ravel(), y.ravel(), x.ravel() + 50.0, y.ravel() + 50.0)
    assert pairs_of_polygons(cells) == sorted(grid_pairs(3, 4))
