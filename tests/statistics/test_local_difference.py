"""Local differences: the variance of chance without a pattern, and nearer the truth with one."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from plotmap.statistics import local_variance

_SQUARE = np.array([(i, j) for i in range(6) for j in range(6)])


def _variance(values, node, sample=None, scope=None, n_scopes=1) -> np.ndarray:
    """Return the variances with one sample and one scope unless given."""
    zeros = np.zeros(len(values), dtype=int)
    of = zeros if sample is None else sample
    return local_variance(values, of, node, zeros if scope is None else scope, n_scopes).variance


@pytest.mark.parametrize(
    "node",
    [[(0, 0), (0, 1), (1, 0), (1, 1)], [(0, 0), (0, 1), (0, 2), (0, 3)], [(0, 0), (3, 3), (6, 0), (0, 6)]],
    ids=["square", "line", "apart"],
)
def test_the_mean_over_all_orders_is_the_variance_of_a_simple_random_sample(node) -> None:
    # n / (n − 1) Σ v²: Cochran 1977, ch. 2, for the sum of n residuals each counted once
    values = np.array([3.0, -1.0, -2.5, 0.5])
    found = [_variance(np.array(order), np.array(node))[0] for order in itertools.permutations(values)]
    assert np.mean(found) == pytest.approx(4 / 3 * (values**2).sum(), rel=1e-12)


def test_the_mean_over_all_orders_within_two_samples_is_the_sum_of_their_variances() -> None:
    node = np.array([(0, 0), (0, 1), (1, 0), (1, 1), (2, 1)])
    sample = np.array([0, 1, 0, 1, 1])
    first, second = np.array([2.0, -2.0]), np.array([1.0, 3.0, -4.0])
    found = []
    for one in itertools.permutations(first):
        for other in itertools.permutations(second):
            values = np.empty(5)
            values[sample == 0], values[sample == 1] = one, other
            found.append(_variance(values, node, sample)[0])
    assert np.mean(found) == pytest.approx(2 / 1 * 8 + 3 / 2 * 26, rel=1e-12)


def test_a_line_gives_successive_differences() -> None:
    # each pair of neighbours lies in two squares of the formula, one on either side of the line
    values = np.array([1.0, 4.0, -3.0, -2.0])
    differences = (np.diff(values) ** 2).sum() + values[0] ** 2 + values[-1] ** 2
    expected = differences / 2 / (1 - 4 / (4 * 4**2))
    assert _variance(values, np.array([(0, j) for j in range(4)]))[0] == pytest.approx(expected, rel=1e-12)


def test_a_plane_slope_leaves_nothing_but_the_rim() -> None:
    slope = (_SQUARE @ [3.0, -2.0]) - (_SQUARE @ [3.0, -2.0]).mean()
    by_chance = 36 / 35 * (slope**2).sum()
    assert _variance(slope, _SQUARE)[0] < 0.5 * by_chance


def test_a_chessboard_is_worse_than_chance() -> None:
    board = np.where(_SQUARE.sum(axis=1) % 2, 1.0, -1.0)
    assert _variance(board, _SQUARE)[0] > 3 * 36 / 35 * (board**2).sum()


def test_on_a_smooth_surface_it_is_nearer_the_truth_than_chance() -> None:
    # the truth counted out: every start of a grid of step 5 over a surface without a rim (Cochran 1977, ch. 8)
    rng = np.random.default_rng(11)
    i, j = np.meshgrid(np.arange(60), np.arange(60), indexing="ij")
    surface = 20 + 6 * np.sin(2 * np.pi * i / 60) + 5 * np.cos(2 * np.pi * j / 60) + rng.normal(0, 1, i.shape)
    sums, local, chance = [], [], []
    for a in range(5):
        for b in range(5):
            drawn = surface[a::5, b::5]
            values = (drawn - drawn.mean()).ravel()
            node = np.array([(p, q) for p in range(12) for q in range(12)])
            sums.append(drawn.sum())
            local.append(_variance(values, node)[0])
            chance.append(144 / 143 * (values**2).sum())
    truth = np.var(sums)
    assert truth < np.mean(local) < np.mean(chance) / 3


def test_scopes_do_not_see_each_other() -> None:
    rng = np.random.default_rng(3)
    values = rng.normal(size=36)
    scope = np.repeat([0, 1], 18)
    for of in (0, 1):
        values[scope == of] -= values[scope == of].mean()
    both = _variance(values, _SQUARE, scope, scope, 2)
    alone = [_variance(values[scope == of], _SQUARE[scope == of])[0] for of in (0, 1)]
    assert both == pytest.approx(alone, rel=1e-12)


def test_where_the_grid_begins_and_the_order_of_units_do_not_matter() -> None:
    rng = np.random.default_rng(5)
    values = rng.normal(size=36)
    order = rng.permutation(36)
    moved = _variance(values[order], _SQUARE[order] + [40, -7])
    assert moved == pytest.approx(_variance(values, _SQUARE), rel=1e-12)


def test_a_sample_of_one_unit_has_no_variance_and_an_empty_scope_neither() -> None:
    found = local_variance([0.0, 1.0, -1.0], [0, 1, 1], [(0, 0), (1, 0), (1, 1)], [0, 1, 1], 3)
    assert np.isnan(found.variance).tolist() == [True, False, True]
    assert found.n_units.tolist() == [1, 2, 0]
    assert found.n_with_neighbours.tolist() == [0, 2, 0]


def test_no_units_give_nothing() -> None:
    found = local_variance([], np.zeros(0, int), np.zeros((0, 2), int), np.zeros(0, int), 1)
    assert np.isnan(found.variance).all()


@pytest.mark.parametrize(
    ("values", "node", "scope", "words"),
    [
        ([1.0, np.nan], [(0, 0), (0, 1)], [0, 0], "values must be finite"),
        ([1.0, -1.0], [(0, 0)], [0, 0], "must have one length"),
        ([1.0, -1.0], [(0, 0), (0, 1)], [0, 1], "scope must be whole numbers from 0 to 0"),
    ],
)
def test_wrong_units_are_refused(values, node, scope, words) -> None:
    with pytest.raises(ValueError, match=words):
        local_variance(values, np.zeros(len(values), int), np.array(node), np.array(scope), 1)


def test_several_quantities_give_what_each_gives_alone() -> None:
    values = np.random.default_rng(2).normal(size=(36, 3))
    values -= values.mean(axis=0)
    together = _variance(values, _SQUARE)
    assert together.shape == (1, 3)
    assert together[0].tolist() == [_variance(column, _SQUARE)[0] for column in values.T]
