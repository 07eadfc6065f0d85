"""HiGHS, called with a start, a gap, a time limit, one thread and a way to stop it."""

from __future__ import annotations

import signal
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from enum import Enum, auto
from typing import Any

import highspy
import numpy as np

from plotmap.optimise.model import Model
from plotmap.optimise.problem import Floats

_SAME = 1e-6
"""Relative: two sums of the same values agree to this."""


class End(Enum):
    """Why the solver ended."""

    DONE = auto()
    STOPPED = auto()
    INFEASIBLE = auto()


@dataclass(frozen=True, slots=True, eq=False)
class Answer:
    """What the solver found.

    Attributes
    ----------
    end : End
    x : numpy.ndarray of float or None, shape (columns,)
        None if it found nothing.
    bound : float
        No solution is worth more; infinite where nothing was proven.
    loss : numpy.ndarray of float or None, shape (columns,)
        Where the whole numbers were left open and the end is reached: the bound falls by at least this if a column
        that is 0 is set to 1 (its reduced cost).
    """

    end: End
    x: Floats | None
    bound: float
    loss: Floats | None = None


@dataclass(frozen=True, slots=True)
class Budget:
    """How long and how well to solve.

    Attributes
    ----------
    ends_at : float
        On `time.perf_counter`.
    stopped : callable
        True when the user wants the best so far.
    seed : int
    """

    ends_at: float
    stopped: Callable[[], bool]
    seed: int

    def seconds_left(self) -> float:
        """Return the seconds left, 0 where stopped."""
        return 0.0 if self.stopped() else max(0.0, self.ends_at - time.perf_counter())

    def share(self, part: float) -> Budget:
        """Return a budget of a part of the time that is left."""
        return Budget(time.perf_counter() + part * self.seconds_left(), self.stopped, self.seed)


def solve(
    model: Model,
    budget: Budget,
    *,
    gap: float,
    start: Floats | None = None,
    nodes: int | None = None,
    relaxed: bool = False,
) -> Answer:
    """Solve a model.

    Parameters
    ----------
    model : Model
    budget : Budget
    gap : float
        Stop where (bound − value) / |value| is this or less.
    start : numpy.ndarray of float, optional
        A solution to begin with.
    nodes : int, optional
        Stop after so many nodes of the search tree.
    relaxed : bool
        Leave the whole numbers open: a linear programme, whose value is a bound.

    Returns
    -------
    Answer
    """
    seconds = budget.seconds_left()
    if seconds <= 0:
        return Answer(End.STOPPED, None, np.inf)
    highs = _Quiet()
    for name, setting in (
        ("output_flag", False),
        ("threads", 1),
        ("random_seed", budget.seed),
        ("mip_rel_gap", gap),
        ("mip_abs_gap", 1e-9),
        ("mip_feasibility_tolerance", 1e-7),
        ("time_limit", seconds),
    ):
        highs.setOptionValue(name, setting)
    if nodes is not None:
        highs.setOptionValue("mip_max_nodes", nodes)
    highs.passModel(_program(model, relaxed=relaxed))
    if start is not None and not relaxed:
        solution = highspy.HighsSolution()
        solution.col_value = start.tolist()
        highs.setSolution(solution)

    def interrupt(event: Any) -> None:
        event.interrupt(budget.stopped())

    highs.cbMipInterrupt.subscribe(interrupt)
    highs.cbSimplexInterrupt.subscribe(interrupt)
    highs.run()
    if start is not None and not relaxed and _is_stale(highs, model):
        return solve(model, budget, gap=gap, nodes=nodes)
    return _answer(highs, relaxed=relaxed)


class _Quiet(highspy.Highs):
    """HiGHS without its banner on the standard output, which it prints as soon as callbacks are turned on."""

    def __init__(self) -> None:
        super().__init__()  # type: ignore[no-untyped-call]

    def enableCallbacks(self) -> None:  # noqa: N802 - the name of the library
        """Turn the output off, then callbacks on."""
        self.setOptionValue("output_flag", False)  # noqa: FBT003 - the library takes it by place
        super().enableCallbacks()  # type: ignore[no-untyped-call]


def _program(model: Model, *, relaxed: bool) -> highspy.HighsLp:
    """Return the model in the shape that HiGHS takes: minimise the negative."""
    program = highspy.HighsLp()
    program.num_row_, program.num_col_ = model.matrix.shape
    lower, upper = np.zeros(program.num_col_), model.upper
    program.col_cost_, program.col_lower_, program.col_upper_ = -model.objective, lower, upper
    program.row_lower_, program.row_upper_ = model.low, model.high
    program.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    program.a_matrix_.num_row_, program.a_matrix_.num_col_ = model.matrix.shape
    program.a_matrix_.start_ = model.matrix.indptr.astype(np.int32)
    program.a_matrix_.index_ = model.matrix.indices.astype(np.int32)
    program.a_matrix_.value_ = model.matrix.data
    if not relaxed:
        kinds = [highspy.HighsVarType.kInteger] * model.n_choices
        program.integrality_ = kinds + [highspy.HighsVarType.kContinuous] * (
            program.num_col_ - model.n_choices
        )
    return program


def _is_stale(highs: highspy.Highs, model: Model) -> bool:
    """Say whether the solution handed over is not the one whose value is reported.

    Seen with HiGHS 1.16: where presolve solves all of a model, the start may come back in place of the solution.
    """
    info = highs.getInfo()
    if info.primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
        return False
    value = float(model.objective @ np.array(highs.getSolution().col_value))
    said = -float(info.objective_function_value)
    return abs(value - said) > _SAME * max(1.0, abs(said))


def _answer(highs: highspy.Highs, *, relaxed: bool) -> Answer:
    """Read what HiGHS found; its status is only a hint, and solutions are looked at again by the checker."""
    status, info = highs.getModelStatus(), highs.getInfo()
    kinds = highspy.HighsModelStatus
    if status in (kinds.kInfeasible, kinds.kUnboundedOrInfeasible):
        return Answer(End.INFEASIBLE, None, float("nan"))
    found = info.primal_solution_status == highspy.SolutionStatus.kSolutionStatusFeasible
    x = np.array(highs.getSolution().col_value) if found else None
    done = status == kinds.kOptimal
    if relaxed:
        bound = -float(info.objective_function_value) if done else np.inf
        loss = np.maximum(np.array(highs.getSolution().col_dual), 0.0) if done else None
        return Answer(End.DONE if done else End.STOPPED, x, bound, loss)
    bound = -float(info.mip_dual_bound) if np.isfinite(info.mip_dual_bound) else np.inf
    return Answer(End.DONE if done else End.STOPPED, x, bound)


@contextmanager
def interruptible(stop: Callable[[], bool] | None) -> Iterator[Callable[[], bool]]:
    """Give a question whether to stop: the caller's own, or Ctrl-C, which is caught while this is open.

    Only the main thread hears Ctrl-C; elsewhere the caller's question is all there is. A second Ctrl-C ends the
    program.
    """
    pressed = threading.Event()
    main = threading.current_thread() is threading.main_thread()
    before = signal.getsignal(signal.SIGINT) if main else None

    def press(*_: object) -> None:
        if pressed.is_set():
            raise KeyboardInterrupt
        pressed.set()

    if main:
        signal.signal(signal.SIGINT, press)
    try:
        yield lambda: pressed.is_set() or (stop is not None and stop())
    finally:
        if main:
            signal.signal(signal.SIGINT, before)
