"""A plan: which unit is cut in which period and block, how good it is and how sure of that we are."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import numpy.typing as npt

NOT_CUT = -1
"""Period and block of a unit that is not cut."""


class Status(StrEnum):
    """How a plan ended."""

    PROVEN = "proven"
    WITHIN_GAP = "within gap"
    STOPPED = "stopped: best so far"
    NO_PLAN = "no feasible plan"
    NONE_YET = "stopped: no plan yet"


class Word(StrEnum):
    """What became of a unit."""

    IN = "in"
    OUT = "out"
    LATE = "late"


@dataclass(frozen=True, slots=True)
class Conflict:
    """A limit that cannot be kept together with the others, and by how much it would have to give way.

    Attributes
    ----------
    limit : str
        The limit in words, for instance ``basal_area_m2: at least, period 2``.
    asked : float
        The limit as given, in its own unit; 1 for a unit that is required, and the band's share for even flow.
    short : float
        By how much it is missed where as little as possible gives way, in the same unit; for even flow in the unit
        of the quantity.
    """

    limit: str
    asked: float
    short: float


@dataclass(frozen=True, slots=True, eq=False)
class Plan:
    """A plan. Arrays are by unit, in the order of the problem.

    Attributes
    ----------
    status : Status
        ``proven``: the gap is 0.0001 % or less. ``within gap``: not above the gap asked for.
        ``stopped: best so far``: time or the user ended the search, or the bound is that of a looser problem.
        ``no feasible plan``: proven that there is none; all units are then not cut.
        ``stopped: no plan yet``: none was found, which proves nothing.
    period : numpy.ndarray of int, shape (n,)
        From 0; −1 where not cut.
    block : numpy.ndarray of int, shape (n,)
        Number of the block from 0: units that touch and are cut in the same period; −1 where not cut.
    value : float
        Sum of the units' values, less entry costs; NaN where there is no plan.
    bound : float
        No plan is worth more: proven. Infinite where nothing was proven, NaN if no plan exists.
    gap : float
        (bound − value) / |value|; infinite where nothing was proven, NaN where there is no plan.
    seconds : float
        Wall clock, in seconds.
    start_value : float
        Value of the greedy and improved plan the solver was given; NaN if it found none.
    word : numpy.ndarray of str, shape (n,)
        A `Word` for each unit; late: cut after the period in which it would be worth most.
    reason : numpy.ndarray of str, shape (n,)
        Which limit keeps the unit out, or out of its better periods; empty where in.
    conflicts : tuple of Conflict
        Where no feasible plan exists: which limits conflict.
    notes : tuple of str
        What a reader of the plan must know: how it was solved, what was cut off.
    """

    status: Status
    period: npt.NDArray[np.intp]
    block: npt.NDArray[np.intp]
    value: float
    bound: float
    gap: float
    seconds: float
    start_value: float
    word: npt.NDArray[np.str_]
    reason: npt.NDArray[np.str_]
    conflicts: tuple[Conflict, ...]
    notes: tuple[str, ...]


def gap_of(value: float, bound: float) -> float:
    """Return (bound − value) / |value|: 0 where both agree, infinite where the value is 0 and the bound is not."""
    if np.isnan(value) or np.isnan(bound):
        return float("nan")
    difference = max(bound - value, 0.0)
    if difference == 0.0:
        return 0.0
    return float(difference / abs(value)) if value != 0.0 else float("inf")
