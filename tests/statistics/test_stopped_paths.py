from __future__ import annotations

import numpy as np
import pytest

from plotmap.statistics import Paths, first_reach

# two parts, one after the other: 10 from 0 to 1, then 20 from 1 to 2
IN_TURN = Paths(np.array([[0.0], [1.0]]), np.ones((2, 1)), np.ones((2, 1)))
WEIGHTS = np.array([[10.0], [20.0]])


@pytest.mark.parametrize(
    ("goal", "s"),
    [(-1, 0), (0, 0), (5, 0.5), (10, 1), (15, 1.25), (30, 2), (30.001, np.inf)],
)
def test_the_goal_is_met_where_it_is_worked_by_hand(goal: float, s: float) -> None:
    assert first_reach(IN_TURN, WEIGHTS, goal) == pytest.approx([s])


def test_shares_grow_and_stop() -> None:
    paths = Paths(np.array([[0.0], [1.0]]), np.array([[2.0], [0.5]]), np.array([[0.8], [1.0]]))
    assert paths.at(np.array([0.3]))[:, 0] == pytest.approx([0.6, 0])
    assert paths.at(np.array([2.0]))[:, 0] == pytest.approx([0.8, 0.5])
    assert paths.at(np.array([np.inf]))[:, 0] == pytest.approx([0.8, 1])


def test_a_part_that_may_not_be_taken_is_never_taken() -> None:
    paths = Paths(np.zeros((2, 1)), np.array([[1.0], [0.0]]), np.array([[0.0], [1.0]]))
    assert paths.at(np.array([np.inf]))[:, 0].tolist() == [0, 0]
    assert first_reach(paths, WEIGHTS, 1.0) == [np.inf]


def test_a_gap_between_two_parts_holds_the_sum() -> None:
    apart = Paths(np.array([[0.0], [3.0]]), np.ones((2, 1)), np.ones((2, 1)))
    assert first_reach(apart, WEIGHTS, 10) == pytest.approx([1])
    assert first_reach(apart, WEIGHTS, 12) == pytest.approx([3.1])


def test_draws_are_each_their_own() -> None:
    weights = np.array([[10.0, 20.0], [20.0, 0.0]])
    paths = Paths(np.array([[0.0], [1.0]]), np.ones((2, 1)), np.ones((2, 2)))
    assert first_reach(paths, weights, [15, 15]) == pytest.approx([1.25, 0.75])


def test_nothing_there_reaches_nothing() -> None:
    none = Paths(np.zeros((0, 1)), np.zeros((0, 1)), np.zeros((0, 2)))
    assert first_reach(none, np.zeros((0, 2)), [1, 0]).tolist() == [np.inf, 0]
