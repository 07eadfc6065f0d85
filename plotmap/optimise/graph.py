"""Neighbours as a graph: compressed rows, connected groups, maximal cliques."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp

from plotmap.optimise.problem import Bools, Floats, Ints


@dataclass(frozen=True, slots=True, eq=False)
class Graph:
    """Neighbours of units in compressed rows.

    Attributes
    ----------
    start : numpy.ndarray of int, shape (n + 1,)
    neighbour : numpy.ndarray of int, shape (2 m,)
        Those of unit i are ``neighbour[start[i]:start[i + 1]]``, ascending.
    pairs : numpy.ndarray of int, shape (m, 2)
    """

    start: Ints
    neighbour: Ints
    pairs: Ints

    @property
    def n(self) -> int:
        """Number of units."""
        return len(self.start) - 1

    def lists(self) -> list[list[int]]:
        """Return the neighbours of each unit as lists, for searches that go unit by unit."""
        ends = self.start.tolist()
        flat = self.neighbour.tolist()
        return [flat[ends[i] : ends[i + 1]] for i in range(self.n)]


def graph_of(pairs: Ints, n: int) -> Graph:
    """Return the graph of n units with these pairs of neighbours, each pair once."""
    both = np.concatenate([pairs, pairs[:, ::-1]])
    both = both[np.lexsort((both[:, 1], both[:, 0]))]
    start = np.zeros(n + 1, dtype=np.intp)
    np.cumsum(np.bincount(both[:, 0], minlength=n), out=start[1:])
    return Graph(start, both[:, 1].copy(), pairs)


def groups_of(graph: Graph, inside: Bools) -> Ints:
    """Return for each unit the number of its connected group among the units inside, from 0; −1 for those outside."""
    kept = graph.pairs[inside[graph.pairs].all(axis=1)]
    ones = np.ones(len(kept), dtype=np.int8)
    matrix = sp.coo_array((ones, (kept[:, 0], kept[:, 1])), shape=(graph.n, graph.n)).tocsr()
    _, label = sp.csgraph.connected_components(matrix, directed=False)
    number = np.full(graph.n, -1, dtype=np.intp)
    _, number[inside] = np.unique(label[inside], return_inverse=True)
    return number


def group_areas(number: Ints, area_ha: Floats) -> Floats:
    """Return the area of each connected group, in hectares."""
    inside = number >= 0
    count = int(number.max()) + 1 if len(number) else 0
    return np.bincount(number[inside], weights=area_ha[inside], minlength=max(count, 0)).astype(float)


def maximal_cliques(graph: Graph) -> list[list[int]]:
    """Return the maximal sets of units that all touch each other, isolated units left out; ascending.

    Bron & Kerbosch 1973 with the pivot of Tomita, Tanaka & Takahashi 2006 (from memory).
    """
    near = [set(units) for units in graph.lists()]
    found: list[list[int]] = []
    for unit in range(graph.n):
        if not near[unit]:
            continue
        later = {other for other in near[unit] if other > unit}
        waiting = [([unit], later, near[unit] - later)]
        while waiting:
            clique, candidates, excluded = waiting.pop()
            if not candidates and not excluded:
                found.append(clique)
                continue
            if not candidates:
                continue
            pivot = max(sorted(candidates | excluded), key=lambda other: len(candidates & near[other]))
            for other in sorted(candidates - near[pivot]):
                waiting.append(([*clique, other], candidates & near[other], excluded & near[other]))
                candidates = candidates - {other}
                excluded = excluded | {other}
    return sorted(sorted(clique) for clique in found)
