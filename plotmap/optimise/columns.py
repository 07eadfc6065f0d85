"""What can be chosen: a unit, or a contiguous cluster of units, in a period. A choice is a column of the model."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import scipy.sparse as sp

from plotmap.optimise.graph import Graph
from plotmap.optimise.problem import Floats, Ints, Problem

_ROOM = 1e-9
"""Relative: an area equal to a limit keeps it, whatever the order of the sum."""


@dataclass(frozen=True, slots=True, eq=False)
class Columns:
    """Choices, each a set of units in a period.

    Attributes
    ----------
    members : scipy.sparse.csr_array of float, shape (sets, n)
        1 where a unit is in a set.
    of_set, period : numpy.ndarray of int, shape (c,)
        Set and period of each choice.
    value : numpy.ndarray of float, shape (c,)
        Entry cost taken off.
    whole : bool
        True where every possible set is there; else the bound of these choices bounds nothing else.
    """

    members: sp.csr_array
    of_set: Ints
    period: Ints
    value: Floats
    whole: bool

    def __len__(self) -> int:
        return len(self.period)

    def units(self) -> sp.csr_array:
        """Return the units of each choice: 1 in a row for each choice, shape (c, n)."""
        return self.members[self.of_set]

    def amounts(self, amount: npt.ArrayLike) -> Floats:
        """Return the sum of an amount by unit and period, shape (n, periods), over each choice."""
        return np.asarray(self.members @ np.asarray(amount))[self.of_set, self.period]


def unit_columns(problem: Problem) -> Columns:
    """Return single units as choices, without those that are larger than an opening may be."""
    members = sp.csr_array(sp.eye_array(problem.n_units, format="csr"))
    largest = np.inf
    if problem.openings is not None and problem.openings.largest_ha is not None:
        largest = problem.openings.largest_ha
    return _columns(problem, members, problem.area_ha <= largest * (1 + _ROOM), 0.0, whole=True)


def cluster_columns(
    problem: Problem,
    graph: Graph,
    smallest_ha: float,
    largest_ha: float,
    entry_cost: float,
    most_columns: int,
) -> Columns:
    """Return the contiguous sets of units with an area from smallest to largest as choices.

    The cluster formulation: a block is a column (Goycoolea, Murray, Barahona, Epstein & Weintraub 2005, Operations
    Research 53: 490-500, from memory). Sets are found by size, those of one unit first; at `most_columns` the search
    ends, and what it had not found is left out.
    """
    levels, whole = contiguous_sets(
        graph, problem.area_ha, largest_ha, max(1, most_columns // problem.n_periods)
    )
    members = sp.vstack([_incidence(level, problem.n_units) for level in levels], format="csr")
    areas = members @ problem.area_ha
    return _columns(
        problem, sp.csr_array(members), areas >= smallest_ha * (1 - _ROOM), entry_cost, whole=whole
    )


def contiguous_sets(graph: Graph, area_ha: Floats, largest_ha: float, most: int) -> tuple[list[Ints], bool]:
    """Return the connected sets of units of limited area, and whether these are all.

    Each set of k + 1 units is one of k units and a neighbour, so sets grow by one unit at a time, all of one size
    together.

    Returns
    -------
    list of numpy.ndarray of int, shape (sets, k)
        For k = 1, 2, ...: the units of each set, ascending, in lexicographic order.
    bool
        False if there are more than `most`.
    """
    limit = largest_ha * (1 + _ROOM)
    level = np.flatnonzero(area_ha <= limit)[:, None]
    whole = len(level) <= most
    level = level[:most]
    levels, count = [level], len(level)
    while len(level) and whole:
        level = _grown(graph, area_ha, limit, level)
        if count + len(level) > most:
            level, whole = level[: most - count], False
        if len(level):
            levels.append(level)
        count += len(level)
    return levels, whole


def _grown(graph: Graph, area_ha: Floats, limit: float, level: Ints) -> Ints:
    """Return the sets with one unit more."""
    rows, size = level.shape
    degree = np.diff(graph.start)
    counts = degree[level].ravel()
    owner = np.repeat(np.repeat(np.arange(rows), size), counts)
    offset = np.arange(len(owner)) - np.repeat(np.cumsum(counts) - counts, counts)
    added = graph.neighbour[np.repeat(graph.start[level.ravel()], counts) + offset]
    fits = area_ha[level].sum(axis=1)[owner] + area_ha[added] <= limit
    fits &= ~(level[owner] == added[:, None]).any(axis=1)
    sets = np.sort(np.column_stack([level[owner[fits]], added[fits]]), axis=1)
    return np.unique(sets, axis=0) if len(sets) else np.empty((0, size + 1), dtype=np.intp)


def _incidence(level: Ints, n: int) -> sp.csr_array:
    """Return sets of one size as rows of ones."""
    rows, size = level.shape
    return sp.csr_array(
        (np.ones(level.size), level.ravel(), np.arange(0, level.size + 1, size)), shape=(rows, n)
    )


def _columns(
    problem: Problem, members: sp.csr_array, usable: npt.NDArray[np.bool_], cost: float, *, whole: bool
) -> Columns:
    """Return a choice for each usable set and each period in which all its units are allowed."""
    forbidden = members @ (~problem.allowed).astype(float) > 0
    of_set, period = np.nonzero(usable[:, None] & ~forbidden)
    value = np.asarray(members @ problem.value)[of_set, period] - cost
    return Columns(members, of_set.astype(np.intp), period.astype(np.intp), value, whole)
