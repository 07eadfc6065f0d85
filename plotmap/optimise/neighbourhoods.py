"""Better plans from a good one: parts of the map are planned anew by the solver while the rest stays."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import scipy.sparse as sp

from plotmap.optimise.graph import Graph
from plotmap.optimise.model import Model, solution_of
from plotmap.optimise.problem import Bools, Floats, Ints, Problem
from plotmap.optimise.solver import Budget, solve

_SIZES = (400, 1000, 2500, 6000)
"""Choices that are free at once: few at first, for which the solver takes a tenth of a second."""
_NODES = 200
"""Nodes of the solver's search in one part: a limit that does not depend on the machine."""
_COVERED = 2
"""Every unit has been in this many parts without a gain: larger parts are tried."""


def improve_by_parts(
    problem: Problem, model: Model, graph: Graph, chosen: Ints, budget: Budget, goal: float
) -> Ints:
    """Plan connected parts of the map anew, one after the other, and keep what is better.

    A part grows from a unit drawn at random over its neighbours; choices outside it stay, the flows of all are free:
    large neighbourhood search (Shaw 1998, from memory) with an exact search in each neighbourhood.

    Parameters
    ----------
    problem : Problem
    model : Model
    graph : Graph
    chosen : numpy.ndarray of int
        Choices of a plan that keeps all limits.
    budget : Budget
    goal : float
        Ends when this value is reached.

    Returns
    -------
    numpy.ndarray of int
        Choices of the best plan, worth no less.
    """
    rng = np.random.default_rng(budget.seed)
    near, units = graph.lists(), model.columns.units()
    value = float(model.columns.value[chosen].sum())
    covered = np.zeros(problem.n_units, dtype=np.intp)
    by_column, x = model.matrix.tocsc(), solution_of(problem, model, chosen)
    size = 0
    while budget.seconds_left() > 0 and value < goal:
        if covered.min() >= _COVERED:
            size, covered = size + 1, np.zeros_like(covered)
        if size == len(_SIZES):
            break
        wanted = max(10, int(_SIZES[size] * problem.n_units / max(model.n_choices, 1)))
        least = np.flatnonzero(covered == covered.min())
        inside = _part(near, int(rng.choice(least)), wanted)
        covered[inside] += 1
        free = np.flatnonzero(_free(model, units, inside, chosen))
        part = restricted(model, by_column, free, x)
        answer = solve(part, budget, gap=1e-4, start=x[free], nodes=_NODES)
        if answer.x is None:
            continue
        tried = x.copy()
        tried[free] = answer.x
        found = np.flatnonzero(tried[: model.n_choices] > 0.5)  # noqa: PLR2004 - halfway between no and yes
        better = float(model.columns.value[found].sum())
        if better > value:
            covered[inside] = 0 if better > value + 1e-5 * abs(value) else covered[inside]
            chosen, value, x = found, better, solution_of(problem, model, found)
    return chosen


def restricted(model: Model, by_column: sp.csc_array, free: Ints, x: Floats) -> Model:
    """Return the model of some columns, all others staying as they are; rows without any of these are left away."""
    fixed = x.copy()
    fixed[free] = 0.0
    base = model.matrix @ fixed
    part = sp.csr_array(by_column[:, free].tocsr())
    rows = np.flatnonzero(np.diff(part.indptr) > 0)
    choices = free[free < model.n_choices]
    whole = model.columns
    return Model(
        replace(
            whole, of_set=whole.of_set[choices], period=whole.period[choices], value=whole.value[choices]
        ),
        model.objective[free],
        model.upper[free],
        sp.csr_array(part[rows]),
        model.low[rows] - base[rows],
        model.high[rows] - base[rows],
        tuple(model.limits[row] for row in rows.tolist()),
    )


def _part(near: list[list[int]], unit: int, wanted: int) -> Ints:
    """Return a unit and those around it, nearest first, as many as wanted or as hang together."""
    found, seen = [unit], {unit}
    for here in found:
        if len(found) >= wanted:
            break
        for there in near[here]:
            if there not in seen:
                seen.add(there)
                found.append(there)
    return np.array(found[:wanted], dtype=np.intp)


def _free(model: Model, units: sp.csr_array, inside: Ints, chosen: Ints) -> Bools:
    """Return the columns that may change: choices inside the part, those taken that reach into it, and flows."""
    within = np.zeros(model.columns.members.shape[1])
    within[inside] = 1.0
    taken = units[chosen]
    reaching = np.asarray(taken @ within) > 0
    within[np.unique(taken[reaching].indices)] = 1.0
    sizes = np.diff(units.indptr)
    free = np.ones(model.matrix.shape[1], dtype=bool)
    free[: model.n_choices] = np.asarray(units @ within) == sizes
    return free
