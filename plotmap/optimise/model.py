"""The mixed-integer model: choices as columns; units, neighbours, limits and flows as rows."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import scipy.sparse as sp

from plotmap.optimise.columns import Columns
from plotmap.optimise.graph import Graph, maximal_cliques
from plotmap.optimise.problem import BandAbout, Floats, Ints, Problem, Quantity


@dataclass(frozen=True, slots=True)
class Limit:
    """What a row of the model stands for.

    Attributes
    ----------
    words : str
        In words, for instance ``area_ha: at most, period 2``.
    asked : float
        The limit in its own unit.
    scale : float
        The row was divided by this.
    gives : bool
        True where an infeasible problem may be asked by how much this limit would have to give way.
    """

    words: str
    asked: float
    scale: float
    gives: bool


@dataclass(frozen=True, slots=True, eq=False)
class Model:
    """Maximise ``objective · x`` with ``low ≤ matrix x ≤ high`` and 0 ≤ x ≤ upper, the first columns whole numbers.

    Attributes
    ----------
    columns : Columns
        The choices: the first columns of the matrix. Those after them are flows by quantity and period.
    objective, upper : numpy.ndarray of float, shape (columns,)
    matrix : scipy.sparse.csr_array of float, shape (rows, columns)
    low, high : numpy.ndarray of float, shape (rows,)
    limits : tuple of Limit
        One for each row.
    """

    columns: Columns
    objective: Floats
    upper: Floats
    matrix: sp.csr_array
    low: Floats
    high: Floats
    limits: tuple[Limit, ...]

    @property
    def n_choices(self) -> int:
        """Number of choices."""
        return len(self.columns)


@dataclass(frozen=True, slots=True, eq=False)
class Rows:
    """Rows to be added to a model; columns that a matrix lacks are zero."""

    matrix: sp.csr_array
    low: Floats
    high: Floats
    limits: tuple[Limit, ...]


def model_of(problem: Problem, columns: Columns, graph: Graph, *, neighbours: bool) -> Model:
    """Return the model of a problem.

    Parameters
    ----------
    problem : Problem
    columns : Columns
        Units or clusters.
    graph : Graph
    neighbours : bool
        True where two different choices that touch may not be open at the same time: rows by maximal cliques.

    Returns
    -------
    Model
        With a row for each unit, each clique and window, each limit and each band.
    """
    flows = [quantity for quantity in problem.quantities if quantity.band is not None]
    width = len(columns) + len(flows) * problem.n_periods
    parts = [_unit_rows(problem, columns)]
    if neighbours:
        parts.append(clique_rows(problem, columns, graph))
    parts += [_limit_rows(quantity, columns, problem.n_periods) for quantity in problem.quantities]
    parts += [
        _band_rows(quantity, columns, problem.n_periods, len(columns) + place * problem.n_periods)
        for place, quantity in enumerate(flows)
    ]
    objective = np.concatenate([columns.value, np.zeros(width - len(columns))])
    upper = np.concatenate([np.ones(len(columns)), np.full(width - len(columns), np.inf)])
    empty = Model(columns, objective, upper, sp.csr_array((0, width)), np.empty(0), np.empty(0), ())
    return with_rows(empty, parts)


def with_rows(model: Model, parts: list[Rows]) -> Model:
    """Return the model with rows added."""
    width = model.matrix.shape[1]
    wide = [_widened(part.matrix, width) for part in parts]
    return replace(
        model,
        matrix=sp.csr_array(sp.vstack([model.matrix, *wide], format="csr")),
        low=np.concatenate([model.low, *(part.low for part in parts)]),
        high=np.concatenate([model.high, *(part.high for part in parts)]),
        limits=model.limits + tuple(limit for part in parts for limit in part.limits),
    )


def solution_of(problem: Problem, model: Model, chosen: Ints) -> Floats:
    """Return all columns of the model for some choices: ones for these, and the flows that follow."""
    x = np.zeros(model.matrix.shape[1])
    x[chosen] = 1.0
    place = model.n_choices
    for quantity in problem.quantities:
        if quantity.band is not None:
            amount = model.columns.amounts(quantity.amount)[chosen]
            flow = np.bincount(model.columns.period[chosen], weights=amount, minlength=problem.n_periods)
            x[place : place + problem.n_periods] = flow / scale_of(quantity)
            place += problem.n_periods
    return x


def scale_of(quantity: Quantity) -> float:
    """Return what rows of a quantity are divided by: its mean amount, so that all rows are of one size."""
    amount = np.asarray(quantity.amount)
    mean = float(amount.mean())
    return mean if mean > 0 else 1.0


def clique_rows(problem: Problem, columns: Columns, graph: Graph) -> Rows:
    """Return a row for each maximal clique of neighbours and each window of the green-up time.

    Of the choices that meet the clique in the window at most one is taken: two of them touch or overlap. The first
    windows begin before the first period; those that lie in a later one are left away.
    """
    cliques = maximal_cliques(graph)
    meets = _meeting(cliques, columns)
    parts = []
    wait = problem.green_up_periods
    for end in range(wait, problem.n_periods):
        inside = (columns.period >= end - wait) & (columns.period <= end)
        parts.append(meets @ sp.diags_array(inside.astype(float)))
    return at_most_one(parts, "neighbours open together")


def star_rows(problem: Problem, columns: Columns, graph: Graph) -> Rows:
    """Return the other cliques of choices: one unit over 2 g + 1 periods, its neighbours in the middle one.

    A unit cut within g periods of t excludes its neighbours in t, whichever of them it is, and a clique of neighbours
    excludes one another. Derived here. At
    the first and last period they say no more than the rows of `clique_rows`, so there must be three periods or more.
    """
    cliques, wait = maximal_cliques(graph), problem.green_up_periods
    centre = [unit for clique in cliques for unit in clique]
    meets = _meeting([clique for clique in cliques for _ in clique], columns)
    own = columns.units().T.tocsr()[centre]
    parts = []
    for t in range(1, problem.n_periods - 1):
        near = (np.abs(columns.period - t) <= wait) & (columns.period != t)
        parts.append(
            meets @ sp.diags_array((columns.period == t).astype(float))
            + own @ sp.diags_array(near.astype(float))
        )
    return at_most_one(parts, "neighbours open together")


def cover_rows(problem: Problem, columns: Columns, covers: list[list[int]]) -> Rows:
    """Return rows that keep sets of touching units, too large together, from being open at the same time.

    Of a cover all but one may be open (McDill, Rebain & Braze 2002, Forest Science 48: 631-642, from memory). Choices
    are single units.
    """
    sizes = np.array([len(cover) for cover in covers])
    flat = np.concatenate([np.array(cover, dtype=np.intp) for cover in covers])
    rows = sp.csr_array(
        (np.ones(len(flat)), flat, np.concatenate([[0], np.cumsum(sizes)])),
        shape=(len(covers), problem.n_units),
    )
    meets = rows @ columns.units().T
    wait, parts = problem.green_up_periods, []
    for end in range(wait, problem.n_periods):
        inside = (columns.period >= end - wait) & (columns.period <= end)
        parts.append(meets @ sp.diags_array(inside.astype(float)))
    high = np.tile(sizes - 1.0, len(parts))
    limit = Limit("largest opening", 1.0, 1.0, gives=False)
    return Rows(_stacked(parts), np.full(len(high), -np.inf), high, (limit,) * len(high))


def at_most_one(parts: list[sp.csr_array], words: str) -> Rows:
    """Return rows of which at most one choice is taken; rows with fewer than two choices are left away."""
    matrix = _stacked(parts)
    matrix.eliminate_zeros()
    matrix.data[:] = 1.0
    matrix = sp.csr_array(matrix[np.diff(matrix.indptr) > 1])
    n = matrix.shape[0]
    return Rows(matrix, np.full(n, -np.inf), np.ones(n), (Limit(words, 1.0, 1.0, gives=False),) * n)


def _meeting(cliques: list[list[int]], columns: Columns) -> sp.csr_array:
    """Return for each clique the choices that have a unit in it."""
    sizes = [len(clique) for clique in cliques]
    flat = np.array([unit for clique in cliques for unit in clique], dtype=np.intp)
    shape = (len(cliques), columns.members.shape[1])
    rows = sp.csr_array(
        (np.ones(len(flat)), flat, np.concatenate([[0], np.cumsum(sizes)]).astype(np.intp)), shape=shape
    )
    return sp.csr_array(rows @ columns.units().T)


def _stacked(parts: list[sp.csr_array]) -> sp.csr_array:
    """Return rows below one another."""
    return sp.csr_array(sp.vstack(parts, format="csr"))


def _widened(matrix: sp.csr_array, width: int) -> sp.csr_array:
    """Return rows with columns of zeros at the end."""
    return sp.csr_array((matrix.data, matrix.indices, matrix.indptr), shape=(matrix.shape[0], width))


def _unit_rows(problem: Problem, columns: Columns) -> Rows:
    """Return a row a unit: cut once at most, or once if required."""
    limits = tuple(
        Limit(f"unit {name} is required", 1.0, 1.0, gives=bool(must))
        for name, must in zip(problem.names, problem.required, strict=True)
    )
    low = np.where(problem.required, 1.0, -np.inf)
    return Rows(sp.csr_array(columns.units().T), low, np.ones(problem.n_units), limits)


def _limit_rows(quantity: Quantity, columns: Columns, n_periods: int) -> Rows:
    """Return rows of the periods in which a quantity has a limit."""
    scale = scale_of(quantity)
    least, most = np.asarray(quantity.least), np.asarray(quantity.most)
    amount = columns.amounts(quantity.amount) / scale
    parts, low, high, limits = [], [], [], []
    for t in range(n_periods):
        row = sp.csr_array(np.where(columns.period == t, amount, 0.0)[None, :])
        if np.isfinite(most[t]):
            parts.append(row)
            low.append(-np.inf)
            high.append(float(most[t]) / scale)
            limits.append(
                Limit(f"{quantity.name}: at most, period {t + 1}", float(most[t]), scale, gives=True)
            )
        if least[t] > 0:
            parts.append(row)
            low.append(float(least[t]) / scale)
            high.append(np.inf)
            limits.append(
                Limit(f"{quantity.name}: at least, period {t + 1}", float(least[t]), scale, gives=True)
            )
    matrix = _stacked(parts) if parts else sp.csr_array((0, len(columns)))
    return Rows(matrix, np.array(low), np.array(high), tuple(limits))


def _band_rows(quantity: Quantity, columns: Columns, n_periods: int, first: int) -> Rows:
    """Return the rows that sum up a flow by period, and those of its band."""
    band, scale = float(quantity.band or 0.0), scale_of(quantity)
    amount = columns.amounts(quantity.amount) / scale
    flows = sp.eye_array(n_periods, format="csr")
    sums = sp.csr_array((amount, (columns.period, np.arange(len(columns)))), shape=(n_periods, first))
    defined = sp.csr_array(sp.hstack([sums, -flows]))
    if quantity.band_about is BandAbout.MEAN:
        here, centre = np.eye(n_periods), np.full((n_periods, n_periods), 1.0 / n_periods)
    else:
        here, centre = np.eye(n_periods)[1:], np.eye(n_periods)[:-1]
    wide = sp.csr_array((len(here), first))
    above = sp.hstack([wide, sp.csr_array(here - (1.0 + band) * centre)])
    below = sp.hstack([wide, sp.csr_array((1.0 - band) * centre - here)])
    n = 2 * len(here)
    limits = (Limit(f"{quantity.name}: sum", 0.0, scale, gives=False),) * n_periods + tuple(
        Limit(
            f"{quantity.name}: even flow, {side}, period {t + 1 + n_periods - len(here)}",
            band,
            scale,
            gives=True,
        )
        for side in ("not more", "not less")
        for t in range(len(here))
    )
    low = np.concatenate([np.zeros(n_periods), np.full(n, -np.inf)])
    return Rows(_stacked([defined, above, below]), low, np.zeros(n_periods + n), limits)
