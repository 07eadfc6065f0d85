"""Small problems, and all their plans tried one by one."""

from __future__ import annotations

import itertools
from typing import Any

import numpy as np

from plotmap.optimise import Blocks, Openings, Problem, Quantity, problem_of
from plotmap.optimise.checker import faults_of, value_of

RULES = {
    "apart": {"openings": Openings()},
    "openings": {"openings": Openings(22.0)},
    "blocks": {"blocks": Blocks(14.0, 32.0, 3.0)},
    "none": {},
}
KINDS = [(rule, wait) for rule in RULES for wait in (0, 1)]


def grid_pairs(rows: int, columns: int) -> list[tuple[int, int]]:
    """Return the neighbours of a grid by edge."""
    cell = np.arange(rows * columns).reshape(rows, columns)
    beside = np.column_stack([cell[:, :-1].ravel(), cell[:, 1:].ravel()])
    below = np.column_stack([cell[:-1].ravel(), cell[1:].ravel()])
    return [(int(a), int(b)) for a, b in np.vstack([beside, below])]


def small_problem(
    seed: int, rule: str, green_up_periods: int = 0, periods: int = 2, **changes: Any
) -> Problem:
    """Return six units of about 10 ha on a grid of 2 × 3, with limits that bind now and then."""
    rng = np.random.default_rng(seed)
    area = rng.uniform(6.0, 14.0, 6)
    volume = area * rng.uniform(3.0, 9.0, 6)
    value = volume[:, None] * rng.uniform(0.7, 1.3, (6, periods)) - 5.0
    pairs = [pair for pair in grid_pairs(2, 3) if rng.random() < 0.9]
    quantities = []
    if seed % 3 == 0:
        quantities.append(Quantity("area_ha", area, most=float(rng.uniform(0.3, 0.6) * area.sum())))
    if seed % 2 == 0:
        quantities.append(Quantity("volume_m3", volume, band=0.3))
    if seed % 5 == 0:
        quantities.append(Quantity("stems", volume, least=float(rng.uniform(0.1, 0.35) * volume.sum())))
    given = {
        "quantities": quantities,
        "allowed": rng.random((6, periods)) < 0.9,
        "required": rng.random(6) < (0.15 if seed % 4 == 0 else 0.0),
        "green_up_periods": green_up_periods,
        **RULES[rule],
        **changes,
    }
    return problem_of(area, value, pairs, **given)


def best_of_all(problem: Problem) -> float:
    """Return the value of the best plan by trying all of them; −infinity where none keeps the limits."""
    best = -np.inf
    for period in itertools.product(range(-1, problem.n_periods), repeat=problem.n_units):
        when = np.array(period)
        value = value_of(problem, when)
        if value > best and not faults_of(problem, when):
            best = value
    return best
