"""Days that lie together, and short ways: by geometry, by brute force, and what must hold for any places."""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest

from plotmap.spatial.walks import compact_groups, visiting_order, walk_length_m
from plotmap.statistics.draws import uniforms


def _places(n: int, seed: int = 1) -> np.ndarray:
    return 1000 * uniforms(seed, (0,), 2 * n).reshape(n, 2)


def test_lengths_are_straight_lines_with_the_way_from_and_to_the_start() -> None:
    at = np.array([[0, 0], [3, 4], [3, 10.0]])  # 5 + 6
    assert walk_length_m(at) == pytest.approx(11)
    assert walk_length_m(at, (0, 10)) == pytest.approx(10 + 11 + 3)
    assert walk_length_m(at[:1]) == 0
    assert walk_length_m(at[:1], (0, 2)) == pytest.approx(4)
    assert walk_length_m(np.empty((0, 2))) == 0


@pytest.mark.parametrize(("n", "size"), [(1, 5), (5, 5), (6, 5), (97, 10), (100, 10), (1000, 7)])
def test_groups_are_as_few_as_can_be_and_of_sizes_that_differ_by_one(n: int, size: int) -> None:
    at = _places(n)
    sizes = np.bincount(compact_groups(at[:, 0], at[:, 1], size))
    assert len(sizes) == -(-n // size)
    assert sizes.max() <= size
    assert sizes.max() - sizes.min() <= 1


def test_groups_of_clusters_are_the_clusters() -> None:
    middles = np.array([[0, 0], [5000, 100], [100, 5000], [5100, 5200]])
    at = np.concatenate([_places(8, seed) / 10 + middle for seed, middle in enumerate(middles)])
    group = compact_groups(at[:, 0], at[:, 1], 8)
    assert all(len(set(group[8 * k : 8 * k + 8])) == 1 for k in range(4))
    assert len(set(group)) == 4


def test_places_on_a_line_are_visited_along_it() -> None:
    at = np.array([[x, 2 * x] for x in (5, 1, 9, 3, 7, 0, 4.0)])
    order = visiting_order(at)
    assert sorted(order.tolist()) == list(range(7))
    assert sorted(at[order][:, 0].tolist()) in (at[order][:, 0].tolist(), at[order][::-1, 0].tolist())


def test_places_on_a_circle_are_visited_round_it() -> None:
    angle = 2 * np.pi * uniforms(3, (0,), 30)
    at = np.column_stack([np.cos(angle), np.sin(angle)])
    way = np.sort(angle)
    best = walk_length_m(np.column_stack([np.cos(way), np.sin(way)]), (1.0, 0.0))
    assert walk_length_m(at[visiting_order(at, (1.0, 0.0))], (1.0, 0.0)) == pytest.approx(best)


@pytest.mark.parametrize("start", [None, (0.0, 0.0)])
def test_the_way_is_hardly_longer_than_the_shortest_of_all_orders(start) -> None:
    ratios = []
    for seed in range(10):
        at = _places(7, seed)
        best = min(walk_length_m(at[list(order)], start) for order in permutations(range(7)))
        ratios.append(walk_length_m(at[visiting_order(at, start)], start) / best)
    assert min(ratios) >= 1 - 1e-9
    assert max(ratios) < 1.25
    assert np.mean(ratios) < 1.06


def test_no_way_crosses_itself_or_is_longer_than_the_one_given() -> None:
    for seed in range(5):
        at = _places(60, seed)
        order = visiting_order(at)
        assert sorted(order.tolist()) == list(range(60))
        assert walk_length_m(at[order]) < walk_length_m(at)
        length = walk_length_m(at[order])
        for i in range(1, 59):  # turning any stretch round makes it no shorter
            turned = np.concatenate([order[:i], order[i : i + 10][::-1], order[i + 10 :]])
            assert walk_length_m(at[turned]) >= length - 1e-6


def test_one_place_or_none_is_no_walk_and_too_many_are_refused() -> None:
    assert visiting_order(np.empty((0, 2))).tolist() == []
    assert visiting_order(np.array([[1.0, 2.0]]), (5.0, 5.0)).tolist() == [0]
    with pytest.raises(ValueError, match="must be to 2000 or fewer"):
        visiting_order(np.zeros((2001, 2)))
    with pytest.raises(ValueError, match="must be 1 or more"):
        compact_groups(np.zeros(3), np.zeros(3), 0)
