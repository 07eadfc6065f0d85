"""Make a plan: greedy and improved first, then the solver, every plan checked, with its bound and gap."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from importlib.metadata import version

import numpy as np

from plotmap.errors import SettingsError
from plotmap.optimise.columns import Columns, cluster_columns, unit_columns
from plotmap.optimise.conflicts import conflicts_of
from plotmap.optimise.drafts import Ground, draft_of, ground_of
from plotmap.optimise.graph import Graph, graph_of
from plotmap.optimise.model import Model, cover_rows, model_of, solution_of, star_rows, with_rows
from plotmap.optimise.narrowing import better_start, core_of, solve_some, still_possible
from plotmap.optimise.openings import covers_of, small_covers, too_large, without_large_openings
from plotmap.optimise.plan import NOT_CUT, Conflict, Plan, Status
from plotmap.optimise.problem import Floats, Ints, Problem
from plotmap.optimise.progress import Progress, periods_of
from plotmap.optimise.reasons import block_numbers, reasons_of
from plotmap.optimise.search import improve, start_plan, trim
from plotmap.optimise.solver import Answer, Budget, End, interruptible, solve

PROVEN_GAP = 1e-6
"""A plan is called proven at this gap or less."""
_MOVES = 40
"""Exchanges tried for each unit before the solver begins."""
_ROUNDS = 3
"""Rounds of covers before clusters are tried instead, where they can be counted."""
_CLUSTERS = 60_000
"""Choices up to which clusters are tried for largest openings."""
_LONG = 800
"""Exchanges where a green-up time makes a large model hard, for which the solver alone finds no useful plan."""
_HARD = 1200
"""Choices below which the solver takes all of it at once."""


def make_plan(
    problem: Problem,
    *,
    gap: float = 0.01,
    seconds: float = 60.0,
    seed: int = 1,
    stop: Callable[[], bool] | None = None,
    second_pairs: Sequence[tuple[int, int]] | None = None,
) -> Plan:
    """Choose which units are cut in which period, and prove how good the choice is.

    The same problem and seed give the same plan as long as the search ends by its gap; one ended by the clock or
    the user depends on the machine. How it works: docs/planning.md.

    Parameters
    ----------
    problem : Problem
        From `problem_of`.
    gap : float
        The search ends at this proven gap, as a share: 0.01 is 1 %. 0 or more.
    seconds : float
        The search ends after this time, in seconds on the clock, above 0; checks and reasons come on top.
    seed : int
        0 or more.
    stop : callable, optional
        Asked again and again; True ends the search with the best plan so far. Ctrl-C does the same where the
        main thread is the caller.
    second_pairs : sequence of (int, int), optional
        Neighbours found a second way, such as `pairs_of_polygons`; the checker uses these.

    Returns
    -------
    Plan
        Passed by the checker, or without a plan and saying why.

    Raises
    ------
    SettingsError
        `gap`, `seconds` or `seed` is out of range, or `second_pairs` are not the neighbours of the problem.
    """
    _check_call(problem, gap, seconds, seed, second_pairs)
    began = time.perf_counter()
    graph = graph_of(problem.pairs, problem.n_units)
    pairs = [(int(a), int(b)) for a, b in (problem.pairs if second_pairs is None else second_pairs)]
    progress = Progress(problem, pairs)
    conflicts: tuple[Conflict, ...] = ()
    with interruptible(stop) as stopped:
        budget = Budget(began + seconds, stopped, seed)
        if problem.blocks is not None:
            rule = problem.blocks
            columns = cluster_columns(
                problem, graph, rule.smallest_ha, rule.largest_ha, rule.entry_cost, rule.most_columns
            )
            model = _by_choices(problem, graph, columns, progress, budget, gap)
        elif problem.openings is not None and _several_may_touch(problem):
            model = _by_covers(problem, graph, progress, budget, gap)
        else:
            model = _by_choices(problem, graph, unit_columns(problem), progress, budget, gap)
        if progress.impossible:
            conflicts = conflicts_of(
                model, Budget(time.perf_counter() + max(5.0, seconds / 4), stopped, seed)
            )
    return _plan(problem, graph, progress, conflicts, gap, began)


def _check_call(
    problem: Problem, gap: float, seconds: float, seed: int, pairs: Sequence[tuple[int, int]] | None
) -> None:
    """Refuse settings out of range and neighbours at odds with the problem."""
    if not 0 <= gap < np.inf:
        raise SettingsError(f"gap is {gap}, but must be 0 or more; 0.01 is 1 %")
    if not 0 < seconds < np.inf:
        raise SettingsError(f"seconds is {seconds} s, but must be above 0 s")
    if seed < 0:
        raise SettingsError(f"seed is {seed}, but must be 0 or more")
    if pairs is not None:
        known = {(min(a, b), max(a, b)) for a, b in problem.pairs.tolist()}
        odd = sorted(known ^ {(min(a, b), max(a, b)) for a, b in pairs})
        if odd:
            a, b = (problem.names[unit] for unit in odd[0])
            raise SettingsError(
                f"units {a} and {b} are neighbours one way and not the other ({len(odd)} pairs in all): use the same "
                "contact and tolerances for both"
            )


def _several_may_touch(problem: Problem) -> bool:
    """Say whether some two neighbours are small enough to be one opening."""
    if problem.openings is None or problem.openings.largest_ha is None or len(problem.pairs) == 0:
        return False
    return bool(
        (problem.area_ha[problem.pairs].sum(axis=1) <= problem.openings.largest_ha * (1 + 1e-9)).any()
    )


def _by_choices(
    problem: Problem, graph: Graph, columns: Columns, progress: Progress, budget: Budget, gap: float
) -> Model:
    """Plan with choices that may not touch, units or clusters: the whole model at once."""
    _start(problem, graph, columns, progress, budget)
    if not columns.whole:
        progress.note("more blocks are possible than were considered: the bound is that of a looser problem")
        loose = model_of(
            replace(problem, blocks=None, openings=None), _loose(problem), graph, neighbours=False
        )
        progress.lower_bound(solve(loose, budget.share(0.2), gap=0.0, relaxed=True).bound)
    apart = problem.blocks is not None or problem.openings is not None
    model = model_of(problem, columns, graph, neighbours=apart)
    root, model = _root(problem, graph, model, budget, apart=apart)
    if root.end is End.INFEASIBLE:
        progress.impossible = columns.whole
        return model
    if columns.whole:
        progress.lower_bound(root.bound)
    kept = np.arange(model.matrix.shape[1])
    if progress.gap > gap and len(columns) > _HARD and root.loss is not None:
        better_start(problem, graph, model, root.loss, progress, budget, gap)
        kept = still_possible(model, root, progress) if columns.whole else kept
    if progress.gap > gap:
        _whole_model(problem, model, progress, budget, gap, kept)
    return model


def _loose(problem: Problem) -> Columns:
    """Return single units as choices without any rule of openings or blocks."""
    return unit_columns(replace(problem, blocks=None, openings=None))


def _root(
    problem: Problem, graph: Graph, model: Model, budget: Budget, *, apart: bool
) -> tuple[Answer, Model]:
    """Solve with the whole numbers left open; with a green-up time add the further cliques that this breaks."""
    answer = solve(model, budget.share(0.4), gap=0.0, relaxed=True)
    if problem.green_up_periods == 0 or len(problem.pairs) == 0 or problem.n_periods <= 2 or not apart:  # noqa: PLR2004
        return answer, model
    for _ in range(2):
        if answer.x is None or answer.end is not End.DONE:
            break
        stars = star_rows(problem, model.columns, graph)
        broken = np.flatnonzero(stars.matrix @ answer.x[: model.n_choices] > 1.0 + 1e-6)
        if len(broken) == 0:
            break
        some = replace(
            stars,
            matrix=stars.matrix[broken],
            low=stars.low[broken],
            high=stars.high[broken],
            limits=stars.limits[: len(broken)],
        )
        model = with_rows(model, [some])
        again = solve(model, budget.share(0.4), gap=0.0, relaxed=True)
        if again.end is End.STOPPED:
            break
        answer = again
    return answer, model


def _whole_model(
    problem: Problem, model: Model, progress: Progress, budget: Budget, gap: float, kept: Ints
) -> None:
    """Give the model, without columns that no better plan takes, to the solver with the best plan as its start."""
    answer = solve_some(problem, model, progress, budget, gap, kept)
    whole = model.columns.whole
    if answer.end is End.INFEASIBLE:
        progress.impossible = whole and progress.period is None
    elif whole:
        progress.lower_bound(answer.bound)


def _by_covers(problem: Problem, graph: Graph, progress: Progress, budget: Budget, gap: float) -> Model:
    """Plan with single units and largest openings: covers are added as solutions break them."""
    columns = unit_columns(problem)
    ground = _start(problem, graph, columns, progress, budget)
    model = model_of(problem, columns, graph, neighbours=False)
    first = small_covers(problem, graph)
    if first:
        model = with_rows(model, [cover_rows(problem, columns, first)])
    rounds, near = 0, graph.lists()
    while budget.seconds_left() > 0 and progress.gap > gap:
        if rounds == _ROUNDS and _by_clusters(problem, graph, progress, budget, gap):
            break
        rounds += 1
        chosen = progress.choices(columns)
        start = None if chosen is None else solution_of(problem, model, chosen)
        answer = solve(model, budget.share(0.3 if rounds <= _ROUNDS else 1.0), gap=gap / 2, start=start)
        if answer.end is End.INFEASIBLE:
            progress.impossible = progress.period is None
            break
        progress.lower_bound(answer.bound)
        if answer.x is None:
            break
        period = periods_of(columns, _taken(model, answer.x))
        openings = too_large(problem, graph, period)
        if not openings:
            progress.offer(period)
            if answer.end is End.DONE:
                break
            continue
        _mended(problem, graph, ground, columns, period, progress, budget)
        covers = {tuple(cover) for opening in openings for cover in covers_of(problem, near, opening)}
        model = with_rows(model, [cover_rows(problem, columns, [list(cover) for cover in sorted(covers)])])
    progress.note(f"largest openings: {rounds} rounds of covers")
    return model


def _by_clusters(problem: Problem, graph: Graph, progress: Progress, budget: Budget, gap: float) -> bool:
    """Plan openings as clusters, where these can be counted: False where not, or with a green-up time."""
    largest = None if problem.openings is None else problem.openings.largest_ha
    if problem.green_up_periods > 0 or largest is None:
        return False
    columns = cluster_columns(problem, graph, 0.0, largest, 0.0, _CLUSTERS)
    if not columns.whole:
        return False
    model = model_of(problem, columns, graph, neighbours=True)
    progress.note("largest openings: clusters as columns after covers")
    root = solve(model, budget.share(0.4), gap=0.0, relaxed=True)
    progress.lower_bound(root.bound)
    if progress.gap > gap and root.loss is not None:
        solve_some(problem, model, progress, budget.share(0.4), gap / 2, core_of(model, root.loss, progress))
    if progress.gap > gap:
        _whole_model(problem, model, progress, budget, gap, still_possible(model, root, progress))
    return True


def _mended(
    problem: Problem,
    graph: Graph,
    ground: Ground,
    columns: Columns,
    period: Ints,
    progress: Progress,
    budget: Budget,
) -> None:
    """Offer a plan made of a solution whose openings are too large, without units that make them so."""
    kept = without_large_openings(problem, graph, period)
    place = np.full((problem.n_units, problem.n_periods), -1, dtype=np.intp)
    place[columns.of_set, columns.period] = np.arange(len(columns))
    cut = np.flatnonzero(kept >= 0)
    draft = draft_of(problem, ground, place[cut, kept[cut]])
    better = improve(draft, budget.seed, 2 * _MOVES * problem.n_units, budget.stopped, warmth=0.05)
    trim(draft)
    if draft.all_violations() == 0.0 and draft.lacking() == 0:
        progress.offer_choices(columns, np.array(draft.chosen(), dtype=np.intp))
    if better is not None:
        progress.offer_choices(columns, better)


def _start(problem: Problem, graph: Graph, columns: Columns, progress: Progress, budget: Budget) -> Ground:
    """Offer the greedy and improved plan."""
    ground = ground_of(problem, columns, graph)
    share = budget.share(0.3)
    long = problem.green_up_periods > 0 and problem.blocks is None and len(columns) > _HARD
    moves = (_LONG if long else _MOVES) * problem.n_units
    found = start_plan(problem, ground, budget.seed, moves, lambda: share.seconds_left() <= 0)
    if found is not None and progress.offer_choices(columns, found):
        progress.start_value = progress.value
    return ground


def _taken(model: Model, x: Floats) -> Ints:
    """Return the choices that a solution takes."""
    return np.flatnonzero(x[: model.n_choices] > 0.5)  # noqa: PLR2004 - halfway between no and yes


def _plan(
    problem: Problem,
    graph: Graph,
    progress: Progress,
    conflicts: tuple[Conflict, ...],
    gap: float,
    began: float,
) -> Plan:
    """Return what was found as a plan, with reasons."""
    n, period = problem.n_units, progress.period
    if period is None:
        status = Status.NO_PLAN if progress.impossible else Status.NONE_YET
        blank = np.full(n, NOT_CUT, dtype=np.intp)
        words, reasons = np.full(n, "out"), np.full(n, status.value)
        bound = float("nan") if progress.impossible else progress.bound
        value, shown = float("nan"), float("nan")
        block = blank
    else:
        shown, value, bound = progress.gap, progress.value, progress.bound
        reached = Status.WITHIN_GAP if shown <= gap else Status.STOPPED
        status = Status.PROVEN if shown <= PROVEN_GAP else reached
        blank, block = period, block_numbers(problem, graph, period)
        words, reasons = reasons_of(problem, graph, period)
    notes = (*progress.notes, f"HiGHS {version('highspy')}, one thread")
    seconds = time.perf_counter() - began
    return Plan(
        status,
        blank,
        block,
        value,
        bound,
        shown,
        seconds,
        progress.start_value,
        words,
        reasons,
        conflicts,
        notes,
    )
