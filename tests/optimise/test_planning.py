"""Plans against all plans, against optima known from graph theory, and against what must hold for every problem."""

from __future__ import annotations

import itertools
import signal
import threading
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import scipy.sparse as sp
import shapely

from plotmap.errors import SettingsError
from plotmap.optimise import (
    BandAbout,
    Blocks,
    Openings,
    Problem,
    Quantity,
    Status,
    make_plan,
    pairs_of_polygons,
    plan_faults,
    problem_of,
)
from plotmap.optimise.columns import cluster_columns, unit_columns
from plotmap.optimise.graph import graph_of
from plotmap.optimise.model import Model, cover_rows, model_of, star_rows, with_rows
from plotmap.optimise.solver import Budget, solve
from plotmap.spatial.adjacency import neighbours
from tests.optimise.small_maps import KINDS, RULES, best_of_all, grid_pairs, small_problem

EXACT = {"gap": 0.0, "seconds": 20.0}


def ones(n: int, pairs, periods: int = 1, **rules: Any) -> Problem:
    """Return units of 1 ha, each worth 1 in every period."""
    return problem_of(np.ones(n), np.ones((n, periods)), pairs, **rules)


# --- all plans tried ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(("rule", "wait"), KINDS)
def test_no_plan_of_a_small_map_is_better_than_the_one_called_proven(rule: str, wait: int) -> None:
    # 25 maps × 8 kinds: brute force over all 3^6 plans. None of the limits is there for show: see the next test.
    for seed in range(25):
        problem = small_problem(seed, rule, wait)
        best, plan = best_of_all(problem), make_plan(problem, **EXACT)
        if best == -np.inf:
            assert plan.status is Status.NO_PLAN, seed
            assert plan.conflicts, seed
        else:
            assert plan.status is Status.PROVEN, seed
            assert plan.value == pytest.approx(best, rel=1e-6), seed
            assert plan_faults(problem, plan) == []


@pytest.mark.parametrize("rule", ["apart", "openings", "blocks"])
@pytest.mark.parametrize("seed", [1, 2, 7])
def test_no_plan_over_three_periods_with_a_green_up_time_is_better(rule: str, seed: int) -> None:
    # Brute force over all 4^6 plans; with the further cliques of three periods in the model and without.
    problem = small_problem(seed, rule, 1, periods=3)
    best, plan = best_of_all(problem), make_plan(problem, **EXACT)
    assert (plan.status, plan.value) == (Status.PROVEN, pytest.approx(best, rel=1e-6))
    if rule != "openings":
        graph = graph_of(problem.pairs, 6)
        blocks = problem.blocks
        columns = unit_columns(problem)
        if blocks is not None:
            columns = cluster_columns(
                problem, graph, blocks.smallest_ha, blocks.largest_ha, blocks.entry_cost, 10_000
            )
        model = model_of(problem, columns, graph, neighbours=True)
        more = with_rows(model, [star_rows(problem, columns, graph)])
        assert more.matrix.shape[0] > model.matrix.shape[0]
        assert _value(more) == pytest.approx(best, rel=1e-6)


@pytest.mark.parametrize("rule", ["apart", "openings", "blocks"])
def test_the_rules_of_the_small_maps_bind_in_at_least_a_third_of_them(rule: str) -> None:
    bound = 0
    for seed in range(12):
        free = small_problem(seed, "none", 0)
        bound += best_of_all(small_problem(seed, rule, 0)) < best_of_all(free) - 1e-9
    assert bound >= 4


# --- optima that graph theory knows ------------------------------------------------------------------------


@pytest.mark.parametrize(("rows", "columns"), [(1, 1), (2, 3), (5, 5), (6, 7)])
def test_a_grid_holds_half_its_cells_apart_and_all_of_them_in_two_periods(rows: int, columns: int) -> None:
    # A chessboard: independence number ceil(rc / 2); two colours are enough.
    n, pairs = rows * columns, grid_pairs(rows, columns)
    one = make_plan(ones(n, pairs, openings=Openings()), **EXACT)
    two = make_plan(ones(n, pairs, 2, openings=Openings()), **EXACT)
    assert (one.status, one.value) == (Status.PROVEN, (n + 1) // 2)
    assert (two.status, two.value) == (Status.PROVEN, n)


@pytest.mark.parametrize(("n", "k"), [(7, 1), (10, 2), (11, 3), (12, 4)])
def test_paths_and_cycles_lose_one_unit_in_each_k_plus_one(n: int, k: int) -> None:
    # Openings of k units: of every k + 1 units in a row one stays. n − floor(n / (k + 1)); on a cycle n − ceil.
    path = [(i, i + 1) for i in range(n - 1)]
    rules = {"openings": Openings(float(k))}
    on_path, on_cycle = (
        make_plan(ones(n, path, **rules), **EXACT),
        make_plan(ones(n, [*path, (0, n - 1)], **rules), **EXACT),
    )
    assert on_path.value == n - n // (k + 1)
    assert on_cycle.value == n - -(-n // (k + 1))
    assert {on_path.status, on_cycle.status} == {Status.PROVEN}


def test_four_units_of_the_petersen_graph_are_apart_and_three_periods_hold_all() -> None:
    # Petersen graph: independence number 4, chromatic number 3.
    pairs = (
        [(i, (i + 1) % 5) for i in range(5)]
        + [(i, i + 5) for i in range(5)]
        + [(5 + i, 5 + (i + 2) % 5) for i in range(5)]
    )
    assert make_plan(ones(10, pairs, openings=Openings()), **EXACT).value == 4
    assert make_plan(ones(10, pairs, 3, openings=Openings()), **EXACT).value == 10
    # With a green-up time of two periods three periods are one window: no two neighbours at all.
    assert make_plan(ones(10, pairs, 3, openings=Openings(), green_up_periods=2), **EXACT).value == 4


def cells_of(n: int, seed: int) -> np.ndarray:
    """Return the Voronoi cells of random points in a square, 10 ha each on average."""
    side = float(np.sqrt(n * 1e5))
    frame = shapely.box(0, 0, side, side)
    points = shapely.MultiPoint(np.random.default_rng(seed).random((n, 2)) * side)
    return shapely.intersection(
        shapely.get_parts(shapely.voronoi_polygons(points, extend_to=frame, ordered=True)), frame
    )


def test_four_periods_hold_every_unit_of_a_map_apart() -> None:
    # The four-colour theorem (Appel & Haken 1977).
    cells = cells_of(40, 3)
    pairs = neighbours(cells)[["first", "second"]].to_numpy()
    plan = make_plan(ones(40, pairs, 4, openings=Openings()), second_pairs=pairs_of_polygons(cells), **EXACT)
    assert (plan.status, plan.value) == (Status.PROVEN, 40)


# --- what must hold for every problem -----------------------------------------------------------------------


@pytest.mark.parametrize("rule", ["apart", "openings", "blocks"])
def test_the_order_of_units_changes_no_value(rule: str) -> None:
    problem = small_problem(6, rule)
    order = np.random.default_rng(5).permutation(problem.n_units)
    place = np.argsort(order)
    turned = problem_of(
        problem.area_ha[order],
        problem.value[order],
        place[problem.pairs],
        [replace(q, amount=np.asarray(q.amount)[order]) for q in problem.quantities],
        allowed=problem.allowed[order],
        required=problem.required[order],
        **RULES[rule],
    )
    assert make_plan(turned, **EXACT).value == pytest.approx(make_plan(problem, **EXACT).value, rel=1e-6)


def test_a_looser_limit_never_lowers_the_value() -> None:
    for seed in range(0, 18, 3):
        chain = [
            small_problem(seed, "apart", 1),
            small_problem(seed, "apart", 0),
            small_problem(seed, "openings", 0, openings=Openings(29.0)),
            small_problem(seed, "none", 0),
        ]
        values = [make_plan(problem, **EXACT).value for problem in chain if best_of_all(problem) > -np.inf]
        assert all(after >= before - 1e-6 for before, after in itertools.pairwise(values)), (seed, values)
        area = [q for q in chain[1].quantities if q.name == "area_ha"]
        raised = replace(chain[1], quantities=tuple(replace(q, most=np.asarray(q.most) * 1.2) for q in area))
        given = replace(chain[1], quantities=tuple(area))
        assert make_plan(raised, **EXACT).value >= make_plan(given, **EXACT).value - 1e-6


def test_the_same_problem_and_seed_give_the_same_plan() -> None:
    problem = map_problem(50)
    first, second = (make_plan(problem, gap=0.05, seconds=60.0, seed=4) for _ in range(2))
    assert first.status in (Status.PROVEN, Status.WITHIN_GAP)
    np.testing.assert_array_equal(first.period, second.period)
    assert (first.value, first.bound) == (second.value, second.bound)


def map_problem(n: int, **rules: Any) -> Problem:
    """Return a map of Voronoi cells over five periods, with a limit on the area and an even flow of ±10 %."""
    cells = cells_of(n, 1)
    area = shapely.area(cells) / 1e4
    rng = np.random.default_rng(2)
    volume = area * rng.uniform(3.0, 11.0, n)
    value = volume[:, None] * rng.uniform(0.9, 1.1, (n, 5))
    limits = [Quantity("area_ha", area, most=0.12 * area.sum()), Quantity("basal_area_m2", volume, band=0.1)]
    return problem_of(
        area, value, neighbours(cells)[["first", "second"]], limits, **(rules or {"openings": Openings()})
    )


@pytest.mark.parametrize(
    "rules",
    [
        {"openings": Openings()},
        {"openings": Openings(30.0)},
        {"blocks": Blocks(10.0, 30.0, 20.0)},
        {"openings": Openings(), "green_up_periods": 1},
        {"openings": Openings(30.0), "green_up_periods": 2},
    ],
)
def test_a_plan_of_a_larger_map_is_passed_by_the_checker_on_the_polygons(rules) -> None:
    problem = map_problem(60, **rules)
    plan = make_plan(problem, gap=0.05, seconds=1.5, second_pairs=pairs_of_polygons(cells_of(60, 1)))
    assert plan_faults(problem, plan, pairs_of_polygons(cells_of(60, 1))) == []
    assert plan.value >= plan.start_value > 0
    assert plan.gap < 0.2
    assert plan.bound >= plan.value


def test_a_band_about_the_mean_is_kept_and_stops_the_drift() -> None:
    area = np.ones(12)
    value = np.repeat([[1.0, 2.0, 4.0]], 12, axis=0)
    chained, level = (
        make_plan(
            problem_of(area, value, (), [Quantity("area_ha", area, band=0.5, band_about=about)]), **EXACT
        )
        for about in (BandAbout.PREVIOUS, BandAbout.MEAN)
    )
    # By hand: no more than half above the period before, 12 in all: 3, 4, 5 is 3 + 8 + 20 = 31, and 3, 4, 6 are 13.
    # About the mean of 4: 2 to 6 each, so 2, 4, 6 is 2 + 8 + 24 = 34; but 4 is twice 2, the period before.
    assert sorted(np.bincount(chained.period[chained.period >= 0])) == [3, 4, 5]
    assert (chained.value, level.value) == (31.0, 34.0)


# --- mutations of the model must not go unseen ------------------------------------------------------------------


def _value(model) -> float:
    return solve(model, Budget(np.inf, lambda: False, 1), gap=0.0).bound


def _covers(problem: Problem, largest: float) -> list[list[int]]:
    """Return all minimal covers of six units by trying all sets."""
    graph, found = graph_of(problem.pairs, problem.n_units), []
    near = graph.lists()
    for size in range(2, 7):
        for units in itertools.combinations(range(problem.n_units), size):
            seen, waiting = {units[0]}, [units[0]]
            while waiting:
                fresh = (set(near[waiting.pop()]) & set(units)) - seen
                seen |= fresh
                waiting += fresh
            if len(seen) == size and problem.area_ha[list(units)].sum() > largest:
                found.append(set(units))
    return [sorted(cover) for cover in found if not any(other < cover for other in found)]


def test_a_model_with_a_cover_dropped_or_a_limit_raised_is_found_out() -> None:
    caught = dict.fromkeys(
        ("whole", "half the covers", "one cover", "limit + 20 %", "single units", "no cliques", "no flows"), 0
    )
    for seed in range(0, 40, 2):
        problem = small_problem(seed, "openings", required=np.zeros(6, dtype=bool))
        best = best_of_all(problem)
        if best == -np.inf:
            continue
        graph, columns = graph_of(problem.pairs, 6), unit_columns(problem)
        plain = model_of(problem, columns, graph, neighbours=False)

        def covered(covers, model=plain, problem=problem, columns=columns) -> Model:
            return with_rows(model, [cover_rows(problem, columns, covers)]) if covers else model

        covers = _covers(problem, 22.0)
        clusters = cluster_columns(problem, graph, 0.0, 22.0, 0.0, 10_000)
        flowless = model_of(replace(problem, quantities=()), columns, graph, neighbours=False)
        made = {
            "whole": covered(covers),
            "half the covers": covered(covers[::2]),
            "one cover": covered(covers[1:]),
            "limit + 20 %": covered(_covers(problem, 22.0 * 1.2)),
            "single units": model_of(problem, columns, graph, neighbours=True),
            "no cliques": model_of(problem, clusters, graph, neighbours=False),
            "no flows": covered(covers, flowless),
        }
        values = {name: _value(model) for name, model in made.items()}
        assert _value(model_of(problem, clusters, graph, neighbours=True)) == pytest.approx(best, abs=1e-5)
        for name, value in values.items():
            caught[name] += abs(value - best) > 1e-5 * max(1.0, abs(best))
    assert caught.pop("whole") == 0
    assert min(caught.values()) >= 2, caught


def test_a_solver_that_breaks_a_rule_is_refused_and_the_plan_does_not_call_itself_proven(monkeypatch) -> None:
    # The rows of neighbours are taken out of the model behind its back.
    def without(problem, columns, graph, *, neighbours: bool) -> Model:
        return model_of(problem, columns, graph, neighbours=neighbours and problem.openings is None)

    monkeypatch.setattr("plotmap.optimise.planning.model_of", without)
    problem = ones(9, grid_pairs(3, 3), openings=Openings())
    plan = make_plan(problem, **EXACT)
    assert plan.value <= 5
    assert plan.status is Status.STOPPED
    assert any("refused by the checker: units" in note for note in plan.notes)


# --- no plan, no time, stopped -------------------------------------------------------------------------------


def test_two_required_neighbours_are_named_where_they_cannot_both_be_cut() -> None:
    problem = ones(
        3, [(0, 1), (1, 2)], openings=Openings(), required=[True, True, False], names=["a", "b", "c"]
    )
    plan = make_plan(problem, **EXACT)
    assert plan.status is Status.NO_PLAN
    assert [(conflict.limit, conflict.short) for conflict in plan.conflicts] in (
        [("unit a is required", pytest.approx(1.0))],
        [("unit b is required", pytest.approx(1.0))],
    )
    assert np.isnan([plan.value, plan.bound, plan.gap]).all()


def test_a_least_amount_beyond_all_there_is_says_how_much_is_short() -> None:
    # By hand: 5 of 9 cells can be cut apart, 7 are asked for: 2 short.
    area = np.ones(9)
    problem = ones(
        9, grid_pairs(3, 3), openings=Openings(), quantities=[Quantity("area_ha", area, least=7.0)]
    )
    plan = make_plan(problem, **EXACT)
    (conflict,) = plan.conflicts
    assert (conflict.limit, conflict.asked) == ("area_ha: at least, period 1", 7.0)
    assert conflict.short == pytest.approx(2.0)


def test_a_plan_that_is_stopped_is_the_greedy_one_and_says_so() -> None:
    plan = make_plan(map_problem(60), gap=0.0, seconds=30.0, stop=lambda: True)
    assert plan.status is Status.STOPPED
    assert plan.value >= plan.start_value > 0
    assert plan.seconds < 10


@pytest.mark.skipif(
    threading.current_thread() is not threading.main_thread(), reason="only the main thread hears it"
)
def test_ctrl_c_ends_the_search_with_the_best_plan_so_far() -> None:
    asked = 0

    def press() -> bool:
        nonlocal asked
        asked += 1
        if asked == 200:
            signal.raise_signal(signal.SIGINT)
        return False

    before = signal.getsignal(signal.SIGINT)
    plan = make_plan(map_problem(80), gap=0.0, seconds=60.0, stop=press)
    assert plan.status is Status.STOPPED
    assert plan_faults(map_problem(80), plan) == []
    assert asked >= 200
    assert signal.getsignal(signal.SIGINT) is before


def test_blocks_that_are_cut_off_are_said_and_the_bound_still_holds() -> None:
    problem = small_problem(1, "blocks", blocks=Blocks(0.0, 60.0, 0.0, most_columns=16))
    plan = make_plan(problem, **EXACT)
    assert any("more blocks are possible" in note for note in plan.notes)
    assert plan.value <= best_of_all(problem) + 1e-6 <= plan.bound + 2e-6


# --- words ----------------------------------------------------------------------------------------------------


def test_every_unit_says_why_it_is_in_out_or_late() -> None:
    # Three in a row, two periods; the middle one is worth most, in period 1; the first two may not both be open.
    value = np.array([[4.0, 1.0], [9.0, 8.0], [2.0, -1.0], [3.0, 3.0]])
    problem = problem_of(
        np.ones(4),
        value,
        [(0, 1), (1, 2)],
        [Quantity("area_ha", np.ones(4), most=2.0)],
        openings=Openings(),
        allowed=[[True, True], [True, True], [True, True], [False, False]],
    )
    plan = make_plan(problem, **EXACT)
    # By hand: 0 and 2 in period 1 and 1 in period 2 is 4 + 2 + 8 = 14.
    assert plan.value == 14.0
    assert plan.word.tolist() == ["in", "late", "in", "out"]
    assert plan.reason.tolist() == ["", "area_ha at most 2, neighbour open", "", "forbidden"]
    assert plan.block.tolist() == [0, 2, 1, -1]


# --- wrong calls ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"gap": -0.1}, "gap is -0.1, but must be 0 or more"),
        ({"seconds": 0.0}, "seconds is 0.0 s, but must be above 0 s"),
        ({"seed": -1}, "seed is -1"),
        ({"second_pairs": [(0, 1)]}, "units 1 and 2 are neighbours one way and not the other"),
    ],
)
def test_a_wrong_call_is_refused(changes, said: str) -> None:
    with pytest.raises(SettingsError, match=said):
        make_plan(ones(3, [(0, 1), (1, 2)]), **changes)


@pytest.mark.parametrize(
    ("parts", "said"),
    [
        ({"area_ha": [1.0, 0.0]}, "area_ha of unit 1 is 0.0 ha, but must be above 0 ha"),
        ({"area_ha": [1.0, np.nan]}, "area_ha of unit 1 is nan ha"),
        ({"area_ha": [], "value": np.empty((0, 2))}, "there are no units: nothing to plan"),
        ({"value": np.empty((2, 0))}, "there are 0 periods"),
        ({"value": [[1.0, np.nan], [1.0, 1.0]]}, "value of unit 0 is .* must be finite"),
        ({"value": [1.0, 1.0]}, "value has the shape"),
        ({"pairs": [(0, 2)]}, "pairs name the unit 2, of 0 to 1"),
        ({"pairs": [(1, 1)]}, "pairs make unit 1 a neighbour of itself"),
        ({"green_up_periods": 2}, "green_up_periods is 2, but must be 0 to 1"),
        ({"openings": Openings(0.0)}, r"openings.largest_ha is 0.0 ha"),
        ({"blocks": Blocks(3.0, 2.0)}, "blocks are 3.0 to 2.0 ha"),
        ({"blocks": Blocks(0.0, 2.0), "openings": Openings()}, "openings and blocks are both given"),
        (
            {"quantities": [Quantity("a", np.ones(2), least=2.0, most=1.0)]},
            "a: limits of period 1 are 2 to 1",
        ),
        ({"quantities": [Quantity("a", np.ones(2), band=1.0)]}, "a: the even-flow band is 1.0"),
        ({"quantities": [Quantity("a", -np.ones(2))]}, "a: every amount must be 0 or more"),
        (
            {"quantities": [Quantity("a", np.ones(2)), Quantity("a", np.ones(2))]},
            "two quantities have the same name",
        ),
        ({"allowed": [[True]]}, "allowed has the shape"),
    ],
)
def test_a_problem_that_makes_no_sense_is_refused(parts, said: str) -> None:
    given = {"area_ha": [1.0, 1.0], "value": np.ones((2, 2)), **parts}
    with pytest.raises(SettingsError, match=said):
        problem_of(**given)


def test_all_faults_of_a_problem_are_said_at_once() -> None:
    with pytest.raises(SettingsError, match=r"(?s)names the unit.*|pairs name.*green_up_periods"):
        problem_of([1.0], [[1.0]], [(0, 3)], green_up_periods=5)


def test_the_rows_of_cliques_hold_each_pair_of_neighbours_in_each_window() -> None:
    problem = ones(6, grid_pairs(2, 3), 3, openings=Openings(), green_up_periods=1)
    model = model_of(problem, unit_columns(problem), graph_of(problem.pairs, 6), neighbours=True)
    together = sp.csr_array((model.matrix.T @ model.matrix) > 0).toarray()
    columns = model.columns
    place = {(int(u), int(t)): k for k, (u, t) in enumerate(zip(columns.of_set, columns.period, strict=True))}
    for a, b in problem.pairs.tolist():
        for s, t in itertools.product(range(3), repeat=2):
            assert together[place[a, s], place[b, t]] == (abs(s - t) <= 1)
