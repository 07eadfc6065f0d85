"""A plan in the making: which choices are taken, what they conflict with and what they add up to."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from plotmap.optimise.columns import Columns
from plotmap.optimise.graph import Graph
from plotmap.optimise.problem import BandAbout, Floats, Ints, Problem

TINY = 1e-9
"""Relative: sums that differ by less are the same."""


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """What a search looks up again and again, as lists.

    Attributes
    ----------
    members, border : list of list of int
        Units of each set, and the units that touch it.
    near : list of list of int
        Neighbours of each unit.
    by_unit : list of list of int
        Choices that hold each unit.
    value : list of float
        Of each choice.
    set_of, period : list of int
        Of each choice.
    amounts : numpy.ndarray of float, shape (c, quantities)
        What each choice adds to each quantity, over the quantity's scale.
    least, most : numpy.ndarray of float, shape (quantities, periods)
    """

    members: list[list[int]]
    border: list[list[int]]
    near: list[list[int]]
    by_unit: list[list[int]]
    value: list[float]
    set_of: list[int]
    period: list[int]
    amounts: Floats
    least: Floats
    most: Floats


def ground_of(problem: Problem, columns: Columns, graph: Graph) -> Ground:
    """Return what searches look up."""
    near = graph.lists()
    ends = columns.members.indptr.tolist()
    flat = columns.members.indices.tolist()
    members = [flat[ends[k] : ends[k + 1]] for k in range(len(ends) - 1)]
    border = [sorted({j for i in units for j in near[i]}.difference(units)) for units in members]
    held = columns.units().T.tocsr()
    held.sort_indices()
    starts, choices = held.indptr.tolist(), held.indices.tolist()
    scales = [_scale(np.asarray(quantity.amount)) for quantity in problem.quantities]
    both = list(zip(problem.quantities, scales, strict=True))
    shape = (len(both), problem.n_periods)
    return Ground(
        members,
        border,
        near,
        [choices[starts[i] : starts[i + 1]] for i in range(problem.n_units)],
        columns.value.tolist(),
        columns.of_set.tolist(),
        columns.period.tolist(),
        np.array([columns.amounts(quantity.amount) / scale for quantity, scale in both])
        .reshape(len(both), len(columns))
        .T.copy(),
        np.array([np.asarray(quantity.least) / scale for quantity, scale in both]).reshape(shape),
        np.array([np.asarray(quantity.most) / scale for quantity, scale in both]).reshape(shape),
    )


def _scale(amount: Floats) -> float:
    """Return the mean amount, 1 where there is none."""
    mean = float(amount.mean())
    return mean if mean > 0 else 1.0


class Draft:
    """A plan in the making: which choice each unit belongs to, and the sums by quantity and period."""

    def __init__(self, problem: Problem, ground: Ground) -> None:
        self.problem, self.ground = problem, ground
        self.owner = [-1] * problem.n_units
        self.sums = [[0.0] * problem.n_periods for _ in problem.quantities]
        self.value = 0.0
        self.amounts = ground.amounts.tolist()
        self.least, self.most = ground.least.tolist(), ground.most.tolist()
        self.bands = [(q.band, q.band_about is BandAbout.MEAN) for q in problem.quantities]
        self.largest_amount = ground.amounts.max(axis=0, initial=0.0).tolist()
        self.area = problem.area_ha.tolist()
        openings = problem.openings
        self.apart = problem.blocks is not None or (openings is not None and openings.largest_ha is None)
        largest = None if openings is None else openings.largest_ha
        self.largest = None if largest is None else largest * (1 + TINY)
        self.wait = problem.green_up_periods

    def put(self, choice: int) -> None:
        """Take a choice in."""
        self._move(choice, 1.0)
        for unit in self.ground.members[self.ground.set_of[choice]]:
            self.owner[unit] = choice

    def drop(self, choice: int) -> None:
        """Leave a choice out."""
        self._move(choice, -1.0)
        for unit in self.ground.members[self.ground.set_of[choice]]:
            self.owner[unit] = -1

    def _move(self, choice: int, sign: float) -> None:
        """Add or take away what a choice adds."""
        t = self.ground.period[choice]
        self.value += sign * self.ground.value[choice]
        for sums, amount in zip(self.sums, self.amounts[choice], strict=True):
            sums[t] += sign * amount

    def chosen(self) -> list[int]:
        """Return the choices taken, ascending."""
        return sorted(set(self.owner) - {-1})

    def conflicts(self, choice: int) -> set[int]:
        """Return the choices taken that cannot stay if this one is put in."""
        of, t, owner = self.ground.set_of[choice], self.ground.period[choice], self.owner
        period = self.ground.period
        found = {owner[unit] for unit in self.ground.members[of]}
        touching = {owner[unit] for unit in self.ground.border[of]} - {-1}
        touching = {other for other in touching if abs(period[other] - t) <= self.wait}
        if self.apart or (self.largest is not None and touching and self._too_large(choice)):
            found |= touching
        return found - {-1}

    def _too_large(self, choice: int) -> bool:
        """Say whether a unit would make an opening too large in any window of the green-up time."""
        unit, t = self.ground.set_of[choice], self.ground.period[choice]
        return any(
            self._opening(unit, first) > (self.largest or 0.0) for first in range(t - self.wait, t + 1)
        )

    def _opening(self, unit: int, first: int) -> float:
        """Return the area that is open together with a unit in a window, counted no further than too large."""
        period, owner, near = self.ground.period, self.owner, self.ground.near
        last = first + self.wait
        area, seen, waiting = self.area[unit], {unit}, [unit]
        while waiting and area <= (self.largest or 0.0):
            for there in near[waiting.pop()]:
                own = owner[there]
                if there not in seen and own >= 0 and first <= period[own] <= last:
                    seen.add(there)
                    waiting.append(there)
                    area += self.area[there]
        return float(area)

    def violation(self, quantity: int) -> float:
        """Return by how much the limits and the band of a quantity are missed, over its scale."""
        sums = self.sums[quantity]
        total = 0.0
        for flow, least, most in zip(sums, self.least[quantity], self.most[quantity], strict=True):
            total += max(0.0, flow - most) + max(0.0, least - flow)
        band, about_mean = self.bands[quantity]
        if band is not None:
            mean = sum(sums) / len(sums)
            centres, rest = ([mean] * len(sums), sums) if about_mean else (sums[:-1], sums[1:])
            for centre, flow in zip(centres, rest, strict=True):
                total += max(0.0, abs(flow - centre) - band * centre)
        return total if total > TINY * (1.0 + sum(sums)) else 0.0

    def all_violations(self) -> float:
        """Return the sum over all quantities."""
        return sum(self.violation(quantity) for quantity in range(len(self.sums)))

    def lacking(self) -> int:
        """Return how many required units are not cut."""
        return sum(self.owner[unit] < 0 for unit in np.flatnonzero(self.problem.required).tolist())


def draft_of(problem: Problem, ground: Ground, chosen: Ints) -> Draft:
    """Return a draft with some choices taken, which do not share units."""
    draft = Draft(problem, ground)
    for choice in chosen.tolist():
        draft.put(choice)
    return draft
