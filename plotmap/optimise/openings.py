"""Openings that got too large in a solution: the covers that forbid them, and a plan without them."""

from __future__ import annotations

import numpy as np

from plotmap.optimise.graph import Graph, group_areas, groups_of
from plotmap.optimise.problem import Ints, Problem

_ROOM = 1e-9


def too_large(problem: Problem, graph: Graph, period: Ints) -> list[list[int]]:
    """Return the units of each opening that is larger than allowed, over all windows of the green-up time."""
    largest = _largest(problem)
    found = set()
    for end in range(problem.n_periods):
        inside = (period >= max(0, end - problem.green_up_periods)) & (period <= end)
        number = groups_of(graph, inside)
        for group in np.flatnonzero(group_areas(number, problem.area_ha) > largest):
            found.add(tuple(np.flatnonzero(number == group).tolist()))
    return [list(units) for units in sorted(found)]


def covers_of(problem: Problem, near: list[list[int]], opening: list[int]) -> list[list[int]]:
    """Return minimal covers inside an opening: connected, too large, and not so without any one unit at their rim.

    One grows from each unit of the opening, nearest units first, so every unit is tried as a beginning.
    """
    largest, inside = _largest(problem), set(opening)
    found = set()
    for unit in opening:
        grown, area, seen = [unit], float(problem.area_ha[unit]), {unit}
        for here in grown:
            for there in near[here]:
                if there in inside and there not in seen and area <= largest:
                    seen.add(there)
                    grown.append(there)
                    area += float(problem.area_ha[there])
        found.add(tuple(_minimal(problem, near, sorted(grown), largest)))
    return [list(cover) for cover in sorted(found)]


def small_covers(problem: Problem, graph: Graph) -> list[list[int]]:
    """Return the pairs of neighbours that are too large together: covers known from the beginning."""
    areas = problem.area_ha[graph.pairs].sum(axis=1)
    return [list(pair) for pair in graph.pairs[areas > _largest(problem)].tolist()]


def without_large_openings(problem: Problem, graph: Graph, period: Ints) -> Ints:
    """Return a plan with units dropped until no opening is too large: of each the least in value, again and again."""
    kept = period.copy()
    worth = np.where(period >= 0, problem.value[np.arange(problem.n_units), np.maximum(period, 0)], np.inf)
    openings = too_large(problem, graph, kept)
    while openings:
        for opening in openings:
            cut = [unit for unit in opening if kept[unit] >= 0 and not problem.required[unit]]
            cut = cut or [unit for unit in opening if kept[unit] >= 0]
            kept[min(cut, key=lambda unit: (worth[unit], unit))] = -1
        openings = too_large(problem, graph, kept)
    return kept


def _largest(problem: Problem) -> float:
    """Return the largest opening in hectares, with room for rounding."""
    if problem.openings is None or problem.openings.largest_ha is None:
        return np.inf
    return problem.openings.largest_ha * (1 + _ROOM)


def _minimal(problem: Problem, near: list[list[int]], cover: list[int], largest: float) -> list[int]:
    """Return the cover without the units it stays connected and too large without, small ones first."""
    area, shrinking = float(problem.area_ha[cover].sum()), True
    while shrinking:
        shrinking = False
        for unit in sorted(cover, key=lambda other: (problem.area_ha[other], other)):
            rest = [other for other in cover if other != unit]
            if rest and area - problem.area_ha[unit] > largest and _connected(near, rest):
                cover, area, shrinking = rest, area - float(problem.area_ha[unit]), True
    return cover


def _connected(near: list[list[int]], units: list[int]) -> bool:
    """Say whether units hang together."""
    inside, grown = set(units), [units[0]]
    seen = {units[0]}
    for here in grown:
        for there in near[here]:
            if there in inside and there not in seen:
                seen.add(there)
                grown.append(there)
    return len(grown) == len(units)
