"""Recompute a plan from scratch and say which limits it breaks.

Shares no code with the model, the search or `plotmap.spatial.adjacency` (``lint-imports`` holds that): whatever a
solver reports, a plan counts only if plain arithmetic over the units finds nothing wrong.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence

import numpy as np
import numpy.typing as npt
from shapely.geometry.base import BaseGeometry

from plotmap.optimise.plan import Plan
from plotmap.optimise.problem import BandAbout, Problem, Quantity

TOLERANCE = 1e-6
"""Relative: sums over many units agree to this."""


def faults_of(
    problem: Problem,
    period: npt.NDArray[np.integer],
    pairs: Iterable[tuple[int, int]] | None = None,
) -> list[str]:
    """Say which limits a plan breaks.

    Parameters
    ----------
    problem : Problem
        Limits and rules.
    period : numpy.ndarray of int, shape (n,)
        Period of each unit from 0; −1 where not cut.
    pairs : iterable of (int, int), optional
        Neighbours; those of the problem if left away. Give `pairs_of_polygons` to be independent of them.

    Returns
    -------
    list of str
        A sentence for each limit that is broken; empty if the plan keeps all.
    """
    periods = [int(t) for t in period]
    if len(periods) != len(problem.area_ha):
        return [f"the plan has {len(periods)} units, the problem {len(problem.area_ha)}"]
    joined = [(int(a), int(b)) for a, b in (problem.pairs if pairs is None else pairs)]
    last = problem.value.shape[1] - 1
    faults = [
        f"unit {problem.names[i]}: period {t} does not exist"
        for i, t in enumerate(periods)
        if t < -1 or t > last
    ]
    if faults:
        return faults
    for i, t in enumerate(periods):
        if t >= 0 and not problem.allowed[i, t]:
            faults.append(f"unit {problem.names[i]}: forbidden in period {t + 1}")
        if t < 0 and problem.required[i]:
            faults.append(f"unit {problem.names[i]}: required, but not cut")
    for quantity in problem.quantities:
        faults += _flow_faults(quantity, periods)
    return faults + _opening_faults(problem, periods, joined) + _block_faults(problem, periods, joined)


def value_of(problem: Problem, period: npt.NDArray[np.integer]) -> float:
    """Return what a plan is worth: the values of its units less the entry costs of its blocks."""
    total = sum(float(problem.value[i, int(t)]) for i, t in enumerate(period) if t >= 0)
    if problem.blocks is not None and problem.blocks.entry_cost > 0:
        total -= problem.blocks.entry_cost * len(blocks_of(problem, period))
    return total


def blocks_of(
    problem: Problem, period: npt.NDArray[np.integer], pairs: Iterable[tuple[int, int]] | None = None
) -> list[list[int]]:
    """Return the units of each block: those that touch and are cut in the same period, by first unit."""
    joined = [(int(a), int(b)) for a, b in (problem.pairs if pairs is None else pairs)]
    found: list[list[int]] = []
    for t in range(problem.value.shape[1]):
        found += _groups([i for i, own in enumerate(period) if own == t], joined)
    return sorted(found)


def plan_faults(problem: Problem, plan: Plan, pairs: Iterable[tuple[int, int]] | None = None) -> list[str]:
    """Say which limits a plan breaks, and whether its blocks, value, bound and gap are what it says.

    Parameters
    ----------
    problem : Problem
    plan : Plan
    pairs : iterable of (int, int), optional
        As in `faults_of`.

    Returns
    -------
    list of str
        Empty if all is as the plan says. A plan without a value is not looked at.
    """
    if np.isnan(plan.value):
        return []
    joined = [(int(a), int(b)) for a, b in (problem.pairs if pairs is None else pairs)]
    faults = faults_of(problem, plan.period, joined)
    worth = value_of(problem, plan.period)
    if abs(worth - plan.value) > TOLERANCE * max(1.0, abs(worth)):
        faults.append(f"the plan says its value is {plan.value:.10g}, its units sum to {worth:.10g}")
    if plan.bound < plan.value - TOLERANCE * max(1.0, abs(plan.value)):
        faults.append(f"the plan is worth {plan.value:.10g}, more than its bound of {plan.bound:.10g}")
    numbers = defaultdict(list)
    for i, number in enumerate(plan.block):
        if number >= 0:
            numbers[int(number)].append(i)
    if sorted(numbers.values()) != blocks_of(problem, plan.period, joined):
        faults.append("the plan's block numbers are not its blocks")
    return faults


def pairs_of_polygons(
    polygons: Sequence[BaseGeometry],
    *,
    corner: bool = False,
    longer_than_m: float = 1.0,
    within_m: float = 0.1,
) -> list[tuple[int, int]]:
    """Return the neighbours of polygons, pair after pair: a second way beside `plotmap.spatial.adjacency`.

    Parameters
    ----------
    polygons : sequence of shapely polygons
        In a plane, in metres; None has no neighbours.
    corner : bool
        Corners count too.
    longer_than_m, within_m : float
        As in `plotmap.spatial.adjacency.neighbours`, in metres.

    Returns
    -------
    list of (int, int)
        First below second, ascending.
    """
    boxes = [None if shape is None or shape.is_empty else shape.bounds for shape in polygons]
    known = [i for i, box in enumerate(boxes) if box is not None]
    limits = np.array([boxes[i] for i in known]).reshape(-1, 4)
    found = []
    for place, i in enumerate(known):
        box, others = limits[place], limits[place + 1 :]
        near = (others[:, 0] <= box[2] + within_m) & (others[:, 2] >= box[0] - within_m)
        near &= (others[:, 1] <= box[3] + within_m) & (others[:, 3] >= box[1] - within_m)
        for offset in np.flatnonzero(near):
            j = known[place + 1 + int(offset)]
            one, other = polygons[i], polygons[j]
            if one.distance(other) > within_m:
                continue
            if corner or _shared_m(one, other, within_m) > longer_than_m:
                found.append((min(i, j), max(i, j)))
    return sorted(found)


def _shared_m(one: BaseGeometry, other: BaseGeometry, within_m: float) -> float:
    """Return the boundary in metres that two polygons share."""
    if within_m == 0:
        lengths = [one.boundary.intersection(other).length, other.boundary.intersection(one).length]
    else:
        lengths = [
            a.boundary.intersection(b.buffer(within_m)).length for a, b in ((one, other), (other, one))
        ]
    return float(max(lengths))


def _flow_faults(quantity: Quantity, periods: list[int]) -> list[str]:
    """Say which limits of a quantity are broken."""
    sums = [0.0] * quantity.amount.shape[1]
    for i, t in enumerate(periods):
        if t >= 0:
            sums[t] += float(quantity.amount[i, t])
    least, most = np.asarray(quantity.least), np.asarray(quantity.most)
    slack = TOLERANCE * max(1.0, *sums)
    faults = []
    for t, total in enumerate(sums):
        if total > most[t] + slack:
            faults.append(f"{quantity.name}: {total:.10g} in period {t + 1}, at most {most[t]:.10g} allowed")
        if total < least[t] - slack:
            faults.append(
                f"{quantity.name}: {total:.10g} in period {t + 1}, at least {least[t]:.10g} asked for"
            )
    if quantity.band is None:
        return faults
    if quantity.band_about is BandAbout.MEAN:
        centres, rest = [sum(sums) / len(sums)] * len(sums), sums
    else:
        centres, rest = sums[:-1], sums[1:]
    for step, (centre, total) in enumerate(zip(centres, rest, strict=True)):
        if abs(total - centre) > quantity.band * centre + slack:
            t = step + 1 if quantity.band_about is BandAbout.MEAN else step + 2
            faults.append(
                f"{quantity.name}: {total:.10g} in period {t} is more than {quantity.band:.0%} from {centre:.10g}"
            )
    return faults


def _opening_faults(problem: Problem, periods: list[int], pairs: list[tuple[int, int]]) -> list[str]:
    """Say which openings are too large, or which neighbours are open together."""
    wait = problem.green_up_periods
    if problem.openings is None:
        return []
    if problem.openings.largest_ha is None:
        return [
            f"units {problem.names[a]} and {problem.names[b]} are neighbours and open together"
            for a, b in pairs
            if periods[a] >= 0 and periods[b] >= 0 and abs(periods[a] - periods[b]) <= wait
        ]
    largest, faults = problem.openings.largest_ha, []
    for t in range(problem.value.shape[1]):
        open_now = [i for i, own in enumerate(periods) if own >= 0 and t - wait <= own <= t]
        for group in _groups(open_now, pairs):
            area = sum(float(problem.area_ha[i]) for i in group)
            if area > largest * (1 + TOLERANCE):
                units = ", ".join(problem.names[i] for i in group)
                faults.append(
                    f"opening of {area:.10g} ha in period {t + 1} (units {units}), at most {largest:.10g} ha"
                )
    return faults


def _block_faults(problem: Problem, periods: list[int], pairs: list[tuple[int, int]]) -> list[str]:
    """Say which blocks are too small, too large, or open together with a neighbouring block."""
    if problem.blocks is None:
        return []
    faults = []
    for group in blocks_of(problem, np.array(periods), pairs):
        area = sum(float(problem.area_ha[i]) for i in group)
        low, high = problem.blocks.smallest_ha, problem.blocks.largest_ha
        if area < low * (1 - TOLERANCE) or area > high * (1 + TOLERANCE):
            units = ", ".join(problem.names[i] for i in group)
            faults.append(f"block of {area:.10g} ha (units {units}), {low:.10g} to {high:.10g} ha allowed")
    for a, b in pairs:
        if min(periods[a], periods[b]) >= 0 and 0 < abs(periods[a] - periods[b]) <= problem.green_up_periods:
            faults.append(
                f"blocks of units {problem.names[a]} and {problem.names[b]} touch and are open together"
            )
    return faults


def _groups(units: list[int], pairs: list[tuple[int, int]]) -> list[list[int]]:
    """Return the connected groups of some units, each ascending."""
    inside = set(units)
    touching = defaultdict(list)
    for a, b in pairs:
        if a in inside and b in inside:
            touching[a].append(b)
            touching[b].append(a)
    groups, seen = [], set()
    for unit in units:
        if unit in seen:
            continue
        group, waiting = [], [unit]
        seen.add(unit)
        while waiting:
            here = waiting.pop()
            group.append(here)
            waiting += [there for there in touching[here] if there not in seen]
            seen.update(touching[here])
        groups.append(sorted(group))
    return groups
