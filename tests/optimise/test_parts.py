"""Cliques, clusters, covers and the greedy start, each against all sets tried or by hand."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from plotmap.optimise import Openings, problem_of
from plotmap.optimise.checker import faults_of
from plotmap.optimise.columns import contiguous_sets, unit_columns
from plotmap.optimise.drafts import ground_of
from plotmap.optimise.graph import graph_of, maximal_cliques
from plotmap.optimise.openings import covers_of, too_large, without_large_openings
from plotmap.optimise.progress import periods_of
from plotmap.optimise.search import start_plan
from tests.optimise.small_maps import KINDS, grid_pairs, small_problem


def random_pairs(n: int, share: float, seed: int) -> np.ndarray:
    every = np.array(list(itertools.combinations(range(n), 2)))
    return every[np.random.default_rng(seed).random(len(every)) < share]


def connected(units, pairs) -> bool:
    """Say whether units hang together: merge groups pair by pair."""
    group = {unit: unit for unit in units}
    for _ in units:
        for a, b in pairs:
            if a in group and b in group:
                group[a] = group[b] = min(group[a], group[b])
    return len(set(group.values())) == 1


@pytest.mark.parametrize("seed", range(6))
def test_maximal_cliques_are_those_found_by_trying_all_sets(seed: int) -> None:
    n = 8
    pairs = random_pairs(n, 0.45, seed)
    joined = {tuple(pair) for pair in pairs.tolist()}
    cliques = [
        set(units)
        for size in range(2, n + 1)
        for units in itertools.combinations(range(n), size)
        if joined.issuperset(itertools.combinations(units, 2))
    ]
    maximal = sorted(sorted(c) for c in cliques if not any(c < other for other in cliques))
    assert maximal_cliques(graph_of(pairs, n)) == maximal


@pytest.mark.parametrize("seed", range(4))
def test_contiguous_sets_are_those_found_by_trying_all_sets(seed: int) -> None:
    pairs = random_pairs(7, 0.35, seed)
    area = np.random.default_rng(seed).uniform(5, 15, 7)
    levels, whole = contiguous_sets(graph_of(pairs, 7), area, 33.0, 10_000)
    found = sorted(tuple(units) for level in levels for units in level.tolist())
    expected = sorted(
        units
        for size in range(1, 8)
        for units in itertools.combinations(range(7), size)
        if area[list(units)].sum() <= 33.0 and connected(units, pairs.tolist())
    )
    assert (found, whole) == (expected, True)


def test_contiguous_sets_end_at_the_most_and_say_so() -> None:
    graph = graph_of(np.array(grid_pairs(3, 3)), 9)
    # Grid of 3 × 3: 9 single cells, 12 pairs, 22 threes.
    for most, counts, whole in (
        (43, [9, 12, 22], True),
        (42, [9, 12, 21], False),
        (9, [9], False),
        (5, [5], False),
    ):
        levels, complete = contiguous_sets(graph, np.ones(9), 3.0, most)
        assert ([len(level) for level in levels], complete) == (counts, whole)


def test_covers_are_connected_too_large_and_minimal() -> None:
    problem = problem_of(np.ones(16), np.ones((16, 1)), grid_pairs(4, 4), openings=Openings(3.0))
    graph = graph_of(problem.pairs, 16)
    (opening,) = too_large(problem, graph, np.zeros(16, dtype=np.intp))
    assert opening == list(range(16))
    covers = covers_of(problem, graph.lists(), opening)
    assert len(covers) > 1
    for cover in covers:
        # Units of 1 ha, 3 ha allowed: four in one piece.
        assert len(cover) == 4
        assert connected(cover, grid_pairs(4, 4))
    mended = without_large_openings(problem, graph, np.zeros(16, dtype=np.intp))
    assert faults_of(problem, mended) == []
    assert (mended >= 0).sum() > 0


@pytest.mark.parametrize(("rule", "wait"), KINDS)
def test_the_greedy_start_keeps_all_limits_and_is_the_same_for_the_same_seed(rule: str, wait: int) -> None:
    passed = 0
    for seed in range(1, 12):
        problem = small_problem(seed, "none" if rule == "blocks" else rule, wait)
        graph, columns = graph_of(problem.pairs, problem.n_units), unit_columns(problem)
        ground = ground_of(problem, columns, graph)
        first, again = (start_plan(problem, ground, 3, 300, lambda: False) for _ in range(2))
        if first is None or again is None:
            assert first is again
            continue
        np.testing.assert_array_equal(first, again)
        assert faults_of(problem, periods_of(columns, first)) == []
        passed += 1
    assert passed >= 8
