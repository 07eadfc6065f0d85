"""Pairs at the least cost: against scipy's dense solver of the assignment problem, and by hand."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import linear_sum_assignment

from plotmap.statistics.assignment import least_cost_pairs


def dense_cost(cost: np.ndarray) -> float:
    """Return the least cost by `linear_sum_assignment`: stand-ins of cost 1 for leaving each row and column.

    Rows of the first set and stand-ins of the second, columns of the second and stand-ins of the first; two
    stand-ins cost nothing. Pairs that may not be are NaN in `cost`.
    """
    n, m = cost.shape
    square = np.full((n + m, n + m), 1e6)
    square[:n, :m] = np.where(np.isnan(cost), 1e6, cost)
    square[:n, m:][np.diag_indices(n)] = 1.0
    square[n:, :m][np.diag_indices(m)] = 1.0
    square[n:, m:] = 0.0
    rows, columns = linear_sum_assignment(square)
    return float(square[rows, columns].sum())


@pytest.mark.parametrize("seed", range(40))
def test_the_cost_is_that_of_the_dense_solver_with_stand_ins(seed: int) -> None:
    rng = np.random.default_rng(seed)
    cost = rng.random((rng.integers(1, 9), rng.integers(1, 9)))
    cost[rng.random(cost.shape) < rng.random()] = np.nan
    first, second = np.nonzero(~np.isnan(cost))
    chosen = least_cost_pairs(first, second, cost[first, second])
    assert len(np.unique(first[chosen])) == len(np.unique(second[chosen])) == len(chosen)
    left = sum(cost.shape) - 2 * len(chosen)
    assert cost[first, second][chosen].sum() + left == pytest.approx(dense_cost(cost), abs=1e-9)


def test_the_nearest_first_would_leave_stems_that_are_paired_here() -> None:
    # By hand, limit 3: 20 and 22 against 22 and 24. Nearest first takes 22-22 and leaves two (cost 2);
    # shifted along, both pairs cost (2/3)², 0.889 in all.
    first, second = [0, 1, 1], [0, 0, 1]
    cost = [(2 / 3) ** 2, 0.0, (2 / 3) ** 2]
    assert least_cost_pairs(first, second, cost).tolist() == [0, 2]


def test_a_long_chain_is_not_shifted_along_for_its_ends() -> None:
    # By hand: five equal pairs and one left on each side cost 2; shifted along, six pairs cost 6 × 0.444.
    first = [*range(1, 6), *range(6)]
    second = [*range(5), *range(6)]
    cost = [0.0] * 5 + [(2 / 3) ** 2] * 6
    assert least_cost_pairs(first, second, cost).tolist() == [0, 1, 2, 3, 4]


def test_members_at_the_limit_are_paired_rather_than_left() -> None:
    assert least_cost_pairs([7], [3], [1.0]).tolist() == [0]


def test_nothing_possible_gives_nothing() -> None:
    assert least_cost_pairs([], [], []).tolist() == []


def test_the_order_of_the_candidates_decides_nothing() -> None:
    first, second, cost = np.array([0, 0, 1, 1]), np.array([0, 1, 0, 1]), np.full(4, 0.25)
    taken = {(first[k], second[k]) for k in least_cost_pairs(first, second, cost)}
    for order in ([3, 2, 1, 0], [1, 0, 3, 2]):
        again = least_cost_pairs(first[order], second[order], cost)
        assert {(first[order][k], second[order][k]) for k in again} == taken


@pytest.mark.parametrize("cost", [-1e-9, 1 + 1e-9, np.nan])
def test_costs_outside_nought_and_one_are_refused(cost: float) -> None:
    with pytest.raises(ValueError, match="every cost must be from 0 to 1"):
        least_cost_pairs([0], [0], [cost])


def test_lengths_that_differ_are_refused() -> None:
    with pytest.raises(ValueError, match="of one length"):
        least_cost_pairs([0, 1], [0], [0.0])
