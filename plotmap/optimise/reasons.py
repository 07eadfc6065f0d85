"""Why each unit is in, out or late: which limit keeps it out of a period if it alone is added to the plan."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from plotmap.optimise.graph import Graph, group_areas, groups_of
from plotmap.optimise.plan import NOT_CUT, Word
from plotmap.optimise.problem import BandAbout, Floats, Ints, Problem, Quantity

_ROOM = 1e-9


def reasons_of(
    problem: Problem, graph: Graph, period: Ints
) -> tuple[npt.NDArray[np.str_], npt.NDArray[np.str_]]:
    """Say what became of each unit, and why.

    For a unit that is out, each of its allowed periods is tried, the most valuable first; for one that is late, the
    periods before it in which it would be worth more. The unit alone is added (or moved), all others stay.

    Parameters
    ----------
    problem : Problem
    graph : Graph
    period : numpy.ndarray of int, shape (n,)
        Of a plan that keeps all limits; −1 where not cut.

    Returns
    -------
    word : numpy.ndarray of str, shape (n,)
        ``in``, ``out`` or ``late``.
    reason : numpy.ndarray of str, shape (n,)
        Limits by period, for instance ``period 1: area_ha at most 120; period 2: neighbour open``; empty where in.
    """
    near = graph.lists()
    words, reasons = [], []
    sums = [_sums(quantity, period, problem.n_periods) for quantity in problem.quantities]
    standing = problem.value > 0
    for unit in range(problem.n_units):
        own = int(period[unit])
        tries = [t for t in range(problem.n_periods) if own == NOT_CUT or t < own]
        if own != NOT_CUT:
            tries = [t for t in tries if problem.value[unit, t] > problem.value[unit, own]]
        words.append(Word.OUT if own == NOT_CUT else Word.LATE if tries else Word.IN)
        if not tries:
            reasons.append("")
            continue
        said = [_why(problem, near, period, sums, unit, t) if standing[unit, t] else "no gain" for t in tries]
        reasons.append(_joined(tries, said))
    return np.array([word.value for word in words]), np.array(reasons)


def block_numbers(problem: Problem, graph: Graph, period: Ints) -> Ints:
    """Return the number of each unit's block, by period and first unit; −1 where not cut."""
    number = np.full(problem.n_units, NOT_CUT, dtype=np.intp)
    count = 0
    for t in range(problem.n_periods):
        groups = groups_of(graph, period == t)
        areas = group_areas(groups, problem.area_ha)
        inside = groups >= 0
        number[inside] = groups[inside] + count
        count += len(areas)
    return number


def _sums(quantity: Quantity, period: Ints, n_periods: int) -> Floats:
    """Return the sum of a quantity by period."""
    cut = np.flatnonzero(period >= 0)
    amount = np.asarray(quantity.amount, dtype=float)[cut, period[cut]]
    return np.bincount(period[cut], weights=amount, minlength=n_periods).astype(float)


def _why(problem: Problem, near: list[list[int]], period: Ints, sums: list[Floats], unit: int, t: int) -> str:
    """Return the limits that a unit breaks in a period."""
    if not problem.allowed[unit, t]:
        return "forbidden"
    said = []
    own = int(period[unit])
    for quantity, flow in zip(problem.quantities, sums, strict=True):
        moved = flow.copy()
        moved[t] += quantity.amount[unit, t]
        if own >= 0:
            moved[own] -= quantity.amount[unit, own]
        said += _flow_words(quantity, moved, t)
    said += _space_words(problem, near, period, unit, t)
    return ", ".join(said) if said else "nothing alone: others were worth more together"


def _flow_words(quantity: Quantity, flow: Floats, t: int) -> list[str]:
    """Return the limits of a quantity that flows break."""
    slack = _ROOM * (1.0 + float(flow.sum()))
    most, least = np.asarray(quantity.most), np.asarray(quantity.least)
    said = [f"{quantity.name} at most {most[t]:g}"] if flow[t] > most[t] + slack else []
    if np.any(flow < least - slack):
        said.append(f"{quantity.name} at least {least[int(np.argmax(least - flow))]:g}")
    if quantity.band is not None:
        mean = quantity.band_about is BandAbout.MEAN
        centre, rest = (np.full(len(flow), flow.mean()), flow) if mean else (flow[:-1], flow[1:])
        if np.any(np.abs(rest - centre) > quantity.band * centre + slack):
            said.append(f"{quantity.name} even flow of {quantity.band:.0%}")
    return said


def _space_words(problem: Problem, near: list[list[int]], period: Ints, unit: int, t: int) -> list[str]:
    """Return the rules of openings and blocks that a unit breaks in a period."""
    wait = problem.green_up_periods
    touching = [other for other in near[unit] if period[other] >= 0 and abs(int(period[other]) - t) <= wait]
    if problem.blocks is not None:
        together = [other for other in touching if period[other] == t]
        said = ["neighbouring block open"] if len(together) < len(touching) else []
        area = _area(problem, near, period, unit, t, t)
        if area > problem.blocks.largest_ha * (1 + _ROOM):
            said.append(f"largest block of {problem.blocks.largest_ha:g} ha")
        if area < problem.blocks.smallest_ha * (1 - _ROOM):
            said.append(f"smallest block of {problem.blocks.smallest_ha:g} ha")
        return said
    if problem.openings is None:
        return []
    largest = problem.openings.largest_ha
    if largest is None:
        return ["neighbour open"] if touching else []
    wide = max(_area(problem, near, period, unit, first, first + wait) for first in range(t - wait, t + 1))
    return [f"largest opening of {largest:g} ha"] if wide > largest * (1 + _ROOM) else []


def _area(problem: Problem, near: list[list[int]], period: Ints, unit: int, first: int, last: int) -> float:
    """Return the area in hectares that is open together with a unit in a window."""
    grown, seen = [unit], {unit}
    for here in grown:
        for there in near[here]:
            if there not in seen and period[there] >= 0 and first <= period[there] <= last:
                seen.add(there)
                grown.append(there)
    return float(problem.area_ha[grown].sum())


def _joined(tries: list[int], said: list[str]) -> str:
    """Return the reasons by period, one if all are the same."""
    if len(set(said)) == 1:
        return said[0]
    return "; ".join(f"period {t + 1}: {words}" for t, words in zip(tries, said, strict=True))
