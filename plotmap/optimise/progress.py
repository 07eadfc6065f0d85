"""The best plan so far, which the checker has passed, and the lowest bound so far."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from plotmap.optimise.checker import faults_of, value_of
from plotmap.optimise.columns import Columns
from plotmap.optimise.plan import NOT_CUT, gap_of
from plotmap.optimise.problem import Ints, Problem


class Progress:
    """What a search has found so far.

    Attributes
    ----------
    period : numpy.ndarray of int or None, shape (n,)
        Best plan that the checker passed; None before there is one.
    value, bound, start_value : float
        As in `Plan`.
    impossible : bool
        True once proven that no plan keeps all limits.
    notes : list of str
        What a reader must know.
    """

    def __init__(self, problem: Problem, pairs: Sequence[tuple[int, int]]) -> None:
        self.problem, self.pairs = problem, pairs
        self.period: Ints | None = None
        self.value, self.bound, self.start_value = float("nan"), float("inf"), float("nan")
        self.impossible = False
        self.notes: list[str] = []

    @property
    def gap(self) -> float:
        """Gap of the best plan; infinite where there is none."""
        return float("inf") if self.period is None else gap_of(self.value, self.bound)

    def offer(self, period: Ints) -> bool:
        """Keep a plan if the checker finds no fault and it is worth more; say whether it was passed."""
        faults = faults_of(self.problem, period, self.pairs)
        if faults:
            self.note(f"a plan was refused by the checker: {faults[0]}")
            return False
        value = value_of(self.problem, period)
        if self.period is None or value > self.value:
            self.period, self.value = period.copy(), value
        return True

    def offer_choices(self, columns: Columns, chosen: Ints) -> bool:
        """Offer a plan given by choices."""
        return self.offer(periods_of(columns, chosen))

    def lower_bound(self, bound: float) -> None:
        """Take in a proven bound; never below the value of a plan that was passed, which rounding may ask for."""
        self.bound = min(self.bound, bound)
        if self.period is not None:
            self.bound = max(self.bound, self.value)

    def note(self, words: str) -> None:
        """Add a note, once."""
        if words not in self.notes:
            self.notes.append(words)

    def choices(self, columns: Columns) -> Ints | None:
        """Return the best plan as choices; None if there is none, or if a block of it is not among the choices."""
        if self.period is None:
            return None
        units = columns.units()
        owner = self.period[units.indices]
        same = owner == np.repeat(columns.period, np.diff(units.indptr))
        inside = np.bincount(np.repeat(np.arange(len(columns)), np.diff(units.indptr)), same, len(columns))
        wholly = np.flatnonzero(inside == np.diff(units.indptr))
        sizes = np.diff(units.indptr)[wholly]
        chosen, covered = [], np.zeros(self.problem.n_units, dtype=bool)
        for choice in wholly[np.argsort(-sizes, kind="stable")].tolist():
            held = units.indices[units.indptr[choice] : units.indptr[choice + 1]]
            if not covered[held].any():
                covered[held] = True
                chosen.append(choice)
        if (covered != (self.period >= 0)).any():
            return None
        return np.array(sorted(chosen), dtype=np.intp)


def periods_of(columns: Columns, chosen: Ints) -> Ints:
    """Return the period of each unit, −1 where no choice holds it."""
    period = np.full(columns.members.shape[1], NOT_CUT, dtype=np.intp)
    held = columns.units()[chosen].tocoo()
    period[held.coords[1]] = columns.period[chosen][held.coords[0]]
    return period
