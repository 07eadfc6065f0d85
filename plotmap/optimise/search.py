"""A plan without a solver: greedy, then improved by exchanging choices. Always there, and the solver's start."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from plotmap.optimise.columns import Columns
from plotmap.optimise.graph import Graph
from plotmap.optimise.problem import BandAbout, Floats, Ints, Problem

_TINY = 1e-9
_SAMPLE = 12
"""Units looked at for one that gives way."""
_DROPPED = 0.05
"""Share of moves that drop a choice where it is in."""
_AT_ONCE = 8192
"""Moves drawn together."""
_ASK = 256
"""Moves after which the search asks whether to stop."""
_PASSES = 3
"""A choice that was too early for its period may fit later."""


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
        self.largest = None if largest is None else largest * (1 + _TINY)
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
        return total if total > _TINY * (1.0 + sum(sums)) else 0.0

    def all_violations(self) -> float:
        """Return the sum over all quantities."""
        return sum(self.violation(quantity) for quantity in range(len(self.sums)))

    def lacking(self) -> int:
        """Return how many required units are not cut."""
        return sum(self.owner[unit] < 0 for unit in np.flatnonzero(self.problem.required).tolist())


def greedy(problem: Problem, ground: Ground, seed: int) -> Draft:
    """Take choices in the order of value for what they use up, required units first, if nothing speaks against them.

    Periods are filled side by side: none gets farther ahead than its band and one choice, so a band may still be
    missed by the last one: `trim` mends that.
    """
    draft = Draft(problem, ground)
    rng = np.random.default_rng(seed)
    order = np.lexsort((rng.random(len(ground.value)), -_worth(problem, ground)))
    chosen = order.tolist()
    if problem.required.any():
        must = [any(problem.required[unit] for unit in ground.members[ground.set_of[k]]) for k in chosen]
        chosen = [k for k, first in zip(chosen, must, strict=True) if first] + [
            k for k, first in zip(chosen, must, strict=True) if not first
        ]
    for _ in range(_PASSES):
        for choice in chosen:
            if _fits(draft, choice):
                draft.put(choice)
    return draft


def _worth(problem: Problem, ground: Ground) -> Floats:
    """Return the value of each choice over what it uses up of limits, or over its border where nothing is limited."""
    use = np.zeros(len(ground.value))
    for quantity in range(len(problem.quantities)):
        most = ground.most[quantity]
        if np.isfinite(most).all() and most.sum() > 0:
            use += ground.amounts[:, quantity] / most.sum()
    value = np.array(ground.value)
    if not use.any():
        sizes = np.array([1.0 + len(units) for units in ground.border])
        return np.asarray(value / sizes[np.array(ground.set_of, dtype=np.intp)])
    return np.asarray(value / np.maximum(use, _TINY))


def _fits(draft: Draft, choice: int) -> bool:
    """Say whether nothing speaks against a choice: units, neighbours, limits, a period far ahead of the others."""
    ground = draft.ground
    if any(draft.owner[unit] >= 0 for unit in ground.members[ground.set_of[choice]]):
        return False
    if ground.value[choice] <= 0 and not _needed(draft, choice):
        return False
    t = ground.period[choice]
    for quantity, (sums, amount) in enumerate(zip(draft.sums, draft.amounts[choice], strict=True)):
        if sums[t] + amount > draft.most[quantity][t] * (1 + _TINY):
            return False
        band, _ = draft.bands[quantity]
        if band is not None and sums[t] + amount > (1.0 + band) * min(sums) + draft.largest_amount[quantity]:
            return False
    return not draft.conflicts(choice)


def _needed(draft: Draft, choice: int) -> bool:
    """Say whether a choice of no value helps a required unit or a least amount."""
    units = draft.ground.members[draft.ground.set_of[choice]]
    t = draft.ground.period[choice]
    return any(draft.problem.required[unit] for unit in units) or any(
        sums[t] < least[t] and amount > 0
        for sums, least, amount in zip(draft.sums, draft.least, draft.amounts[choice], strict=True)
    )


def trim(draft: Draft) -> None:
    """Drop choices until no period is above its limits or its band; what is short of a least amount stays so."""
    for _ in range(100 * draft.problem.n_periods):
        too_much = _too_much(draft)
        if too_much is None:
            return
        quantity, t, level = too_much
        inside = [k for k in draft.chosen() if draft.ground.period[k] == t and draft.amounts[k][quantity] > 0]
        excess = draft.sums[quantity][t] - level
        small = [k for k in inside if draft.amounts[k][quantity] >= excess]
        inside.sort(key=lambda k: (draft.ground.value[k] / draft.amounts[k][quantity], k))
        if small:
            draft.drop(min(small, key=lambda k: (draft.ground.value[k], k)))
            continue
        for choice in inside:
            draft.drop(choice)
            if draft.sums[quantity][t] <= level + max(draft.amounts[k][quantity] for k in inside):
                break


def _too_much(draft: Draft) -> tuple[int, int, float] | None:
    """Return a quantity, a period in which there is too much of it, and how much may stay."""
    for quantity, sums in enumerate(draft.sums):
        slack = _TINY * (1.0 + sum(sums))
        levels = list(draft.most[quantity])
        band, _ = draft.bands[quantity]
        if band is not None and draft.violation(quantity) > 0:
            levels = [min(level, min(sums) * (1.0 + band)) for level in levels]
        over = [(flow - level, t) for t, (flow, level) in enumerate(zip(sums, levels, strict=True))]
        worst, t = max(over)
        if worst > slack:
            return quantity, t, levels[t]
    return None


def improve(
    draft: Draft, seed: int, moves: int, stopped: Callable[[], bool], *, warmth: float = 1.0
) -> Ints | None:
    """Exchange choices at random, downhill within limits that are drawn tighter and tighter.

    A move puts one choice in and drops what cannot stay beside it, or drops one. What misses a limit is charged. It
    is accepted if value less charge falls by no more than a threshold that shrinks from `warmth` mean values to 0
    (Dueck & Scheuer 1990, Journal of Computational Physics 90: 161-175, from memory).

    Returns
    -------
    numpy.ndarray of int or None
        Choices of the best plan seen that keeps all limits; None if there was none.
    """
    ground, rng = draft.ground, np.random.default_rng(seed)
    n_choices = len(ground.value)
    charge = _charge(ground)
    best, best_value = _kept(draft, None, -np.inf)
    if n_choices == 0:
        return best
    level = warmth * float(np.mean(np.abs(ground.value)))
    owed = sum(c * draft.violation(q) for q, c in enumerate(charge))
    for step, (choice, dropping, sample) in enumerate(_draws(rng, n_choices, len(draft.owner), moves)):
        if step % _ASK == 0 and stopped():
            break
        before = draft.value - owed
        move = _moved(draft, choice, sample, dropping=dropping)
        if move is None:
            continue
        owes = sum(c * draft.violation(q) for q, c in enumerate(charge))
        worse = draft.value - owes < before - level * (1.0 - step / moves) ** 2
        if worse or _frees_required(draft, move[1]):
            _undo(draft, *move)
            continue
        owed = owes
        if owed == 0.0 and draft.value > best_value:
            best, best_value = _kept(draft, best, best_value)
    return best


def _draws(
    rng: np.random.Generator, n_choices: int, n_units: int, moves: int
) -> Iterator[tuple[int, bool, list[int]]]:
    """Draw a choice, whether it is dropped where it is in, and a sample of units, for each move."""
    for first in range(0, moves, _AT_ONCE):
        size = min(_AT_ONCE, moves - first)
        yield from zip(
            rng.integers(n_choices, size=size).tolist(),
            (rng.random(size) < _DROPPED).tolist(),
            rng.integers(n_units, size=(size, _SAMPLE)).tolist(),
            strict=True,
        )


def _moved(
    draft: Draft, choice: int, sample: list[int], *, dropping: bool
) -> tuple[int | None, list[int]] | None:
    """Make a move and return the choice put in, if any, and those that went out; None if nothing was moved."""
    if draft.owner[draft.ground.members[draft.ground.set_of[choice]][0]] == choice:
        if not dropping:
            return None
        draft.drop(choice)
        return None, [choice]
    out = list(draft.conflicts(choice))
    for other in out:
        draft.drop(other)
    draft.put(choice)
    spare = _to_give_way(draft, choice, sample)
    if spare is not None:
        draft.drop(spare)
        out.append(spare)
    return choice, out


def _undo(draft: Draft, put: int | None, out: list[int]) -> None:
    """Take a move back."""
    if put is not None:
        draft.drop(put)
    for other in out:
        draft.put(other)


def _charge(ground: Ground) -> list[float]:
    """Return what is charged for a unit of each quantity beyond its limits: thrice what it is worth on average."""
    value = float(np.abs(ground.value).sum())
    return [3.0 * value / max(float(total), _TINY) for total in ground.amounts.sum(axis=0)]


def _to_give_way(draft: Draft, choice: int, sample: list[int]) -> int | None:
    """Return the choice of a sample that gains least for what it uses up, where its period holds too much now."""
    ground, t = draft.ground, draft.ground.period[choice]
    full = [q for q, sums in enumerate(draft.sums) if sums[t] > draft.most[q][t]]
    if not full:
        return None
    spare, least = None, np.inf
    for unit in sample:
        other = draft.owner[unit]
        if other >= 0 and other != choice and ground.period[other] == t and draft.amounts[other][full[0]] > 0:
            gain = ground.value[other] / draft.amounts[other][full[0]]
            if gain < least:
                spare, least = other, gain
    return spare


def _frees_required(draft: Draft, out: list[int]) -> bool:
    """Say whether a required unit of the choices that went out is out now."""
    if not draft.problem.required.any():
        return False
    return any(
        draft.problem.required[unit] and draft.owner[unit] < 0
        for other in out
        for unit in draft.ground.members[draft.ground.set_of[other]]
    )


def _kept(draft: Draft, best: Ints | None, best_value: float) -> tuple[Ints | None, float]:
    """Return the draft as the best plan if it keeps all limits and is worth more."""
    if draft.value > best_value and draft.all_violations() == 0.0 and draft.lacking() == 0:
        return np.array(draft.chosen(), dtype=np.intp), draft.value
    return best, best_value


def start_plan(
    problem: Problem, ground: Ground, seed: int, moves: int, stopped: Callable[[], bool]
) -> Ints | None:
    """Return the choices of the greedy and improved plan; None if none was found that keeps all limits."""
    draft = greedy(problem, ground, seed)
    trimmed = draft_of(problem, ground, np.array(draft.chosen(), dtype=np.intp))
    trim(trimmed)
    found, value = _kept(trimmed, None, -np.inf)
    better = improve(draft, seed, moves, stopped)
    trim(draft)
    found, value = _kept(draft, found, value)
    if better is not None and sum(ground.value[k] for k in better) > value:
        found = better
    if found is None and not problem.required.any() and not (ground.least > 0).any():
        return np.empty(0, dtype=np.intp)
    return found


def draft_of(problem: Problem, ground: Ground, chosen: Ints) -> Draft:
    """Return a draft with some choices taken, which do not share units."""
    draft = Draft(problem, ground)
    for choice in chosen.tolist():
        draft.put(choice)
    return draft
