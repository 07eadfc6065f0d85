"""A plan without a solver: greedy, then improved by exchanging choices. Always there, and the solver's start."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from plotmap.optimise.drafts import TINY, Draft, Ground, draft_of
from plotmap.optimise.problem import Floats, Ints, Problem

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
    return np.asarray(value / np.maximum(use, TINY))


def _fits(draft: Draft, choice: int) -> bool:
    """Say whether nothing speaks against a choice: units, neighbours, limits, a period far ahead of the others."""
    ground = draft.ground
    if any(draft.owner[unit] >= 0 for unit in ground.members[ground.set_of[choice]]):
        return False
    if ground.value[choice] <= 0 and not _needed(draft, choice):
        return False
    t = ground.period[choice]
    for quantity, (sums, amount) in enumerate(zip(draft.sums, draft.amounts[choice], strict=True)):
        if sums[t] + amount > draft.most[quantity][t] * (1 + TINY):
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
        slack = TINY * (1.0 + sum(sums))
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
    return [3.0 * value / max(float(total), TINY) for total in ground.amounts.sum(axis=0)]


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
