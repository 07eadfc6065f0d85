"""Large models made smaller: a core of promising choices, choices no better plan can take, parts of the map."""

from __future__ import annotations

import numpy as np

from plotmap.optimise.graph import Graph
from plotmap.optimise.model import Model, solution_of
from plotmap.optimise.neighbourhoods import improve_by_parts, restricted
from plotmap.optimise.problem import Floats, Ints, Problem
from plotmap.optimise.progress import Progress
from plotmap.optimise.solver import Answer, Budget, solve

FAR = 0.01
"""Gap at which parts of the map are planned anew."""
_CORE = 3000
"""Choices of least reduced cost among which a plan is sought first."""


def better_start(
    problem: Problem, graph: Graph, model: Model, loss: Floats, progress: Progress, budget: Budget, gap: float
) -> None:
    """Look for a better start of a large model: among the choices that cost least, in parts of the map."""
    columns = model.columns
    if problem.green_up_periods == 0 or problem.blocks is not None:
        solve_some(problem, model, progress, budget.share(0.5), gap / 2, core_of(model, loss, progress))
    chosen = progress.choices(columns)
    if chosen is not None and progress.gap > max(gap, FAR):
        goal = progress.bound / (1.0 + gap)
        better = improve_by_parts(problem, model, graph, chosen, budget.share(0.6), goal)
        progress.offer_choices(columns, better)


def core_of(model: Model, loss: Floats, progress: Progress) -> Ints:
    """Return the columns of the choices of least reduced cost, those of the best plan so far, and the flows."""
    kept = np.zeros(model.matrix.shape[1], dtype=bool)
    kept[np.argsort(loss[: model.n_choices], kind="stable")[:_CORE]] = True
    chosen = progress.choices(model.columns)
    if chosen is not None:
        kept[chosen] = True
    kept[model.n_choices :] = True
    return np.flatnonzero(kept)


def still_possible(model: Model, root: Answer, progress: Progress) -> Ints:
    """Return the columns without those that no plan better than the best so far takes, by their reduced costs."""
    kept = np.ones(model.matrix.shape[1], dtype=bool)
    if root.loss is not None and progress.period is not None:
        room = root.bound - progress.value + 1e-6 * abs(root.bound)
        kept[: model.n_choices] = root.loss[: model.n_choices] <= room
        chosen = progress.choices(model.columns)
        if chosen is not None:
            kept[chosen] = True
    return np.flatnonzero(kept)


def solve_some(
    problem: Problem, model: Model, progress: Progress, budget: Budget, gap: float, kept: Ints
) -> Answer:
    """Solve the model of some columns from the best plan so far, all others zero, and offer what is found."""
    chosen = progress.choices(model.columns)
    start = None if chosen is None else solution_of(problem, model, chosen)[kept]
    x = np.zeros(model.matrix.shape[1])
    answer = solve(restricted(model, model.matrix.tocsc(), kept, x), budget, gap=gap, start=start)
    if answer.x is not None:
        x[kept] = answer.x
        progress.offer_choices(model.columns, np.flatnonzero(x[: model.n_choices] > 0.5))  # noqa: PLR2004
    return answer
