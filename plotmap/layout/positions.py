"""Where plots lie: on grids with one random start, at random, or spatially balanced."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import numpy as np
import shapely

from plotmap.errors import SettingsError
from plotmap.layout.land import Floats, Indexes, Land
from plotmap.layout.numbers import Numbers
from plotmap.model.settings_layout import GRIDS, LayoutMethod, LayoutSection
from plotmap.spatial.grids import GridKind, grid_steps, points_of_grid
from plotmap.spatial.random_points import random_points
from plotmap.statistics.draws import uniforms
from plotmap.statistics.pivotal import local_pivotal

CANDIDATES = 16
"""Random places of which the balanced method chooses one; a power of two, so that probabilities stay exact."""
_BEARING, _START, _RANDOM, _CANDIDATES, _PIVOTAL, _RESERVE = range(6)
"""Streams of the seed."""
Item = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Points:
    """Places for plots, by compartment and from north to south within it.

    Attributes
    ----------
    x, y : numpy.ndarray of float, shape (n,)
        In the CRS of the survey, to the centimetre unless that would put them off the land.
    compartment : numpy.ndarray of int, shape (n,)
        Row of the compartment.
    """

    x: Floats
    y: Floats
    compartment: Indexes


def main_points(land: Land, numbers: Numbers, rules: LayoutSection) -> tuple[Points, tuple[Item, ...]]:
    """Return the places of the main plots, and what was drawn for them.

    Every place of a stratum has the same density: wanted plots over net area. Grids get one start even over a cell,
    and one bearing even over the circle unless it is stated; each stratum has a grid of its own where densities
    differ.
    The balanced method draws sixteen random places for each plot and chooses among them (`local_pivotal`), each with
    the probability 1/16.

    Raises
    ------
    SettingsError
        Not a single plot came to lie on the land, or the grid is narrower than can be handled.
    """
    lay = _on_grids if rules.method in GRIDS else _by_chance
    points, items = lay(land, numbers, rules)
    if not len(points.x):
        raise SettingsError(
            f"survey.toml, [layout]: no point of the grid fell on the land, at {numbers.wanted.sum():.3g} plots "
            "wanted. method = 'random' or 'balanced' gives exactly the plots wanted; or ask for more."
        )
    return _ordered(points), items


def reserve_points(land: Land, rules: LayoutSection) -> Points:
    """Return random places for the reserve plots, stratum by stratum in the order in which they are to be taken."""
    found = [
        _random(land, row, rules.reserve, partial(_numbers_of, rules.seed, _RESERVE, row))
        for row in range(len(land.strata))
    ]
    return _joined(land, found)


def _numbers_of(seed: int, stream: int, row: int, turn: int, n: int) -> Floats:
    """Return the numbers of one turn of a stream of a stratum."""
    return uniforms(seed, (stream, row, turn), n)


def _on_grids(land: Land, numbers: Numbers, rules: LayoutSection) -> tuple[Points, tuple[Item, ...]]:
    """Return the points of one grid, or of one for each stratum."""
    bearing = rules.bearing_deg
    if bearing is None:
        bearing = float(360 * uniforms(rules.seed, (_BEARING,), 1)[0])
    items: list[Item] = [("bearing_deg", repr(bearing))]
    found = []
    strata = [None] if numbers.one_density else list(range(len(land.strata)))
    for row in strata:
        here = land.stratum >= 0 if row is None else land.stratum == row
        wanted = float(numbers.wanted.sum() if row is None else numbers.wanted[row])
        if wanted <= 0:
            continue
        cell = float(land.net_m2[here].sum()) / wanted
        steps = grid_steps(GridKind(rules.method.value), cell, bearing, rules.strip_ratio)
        start = uniforms(rules.seed, (_START, 0 if row is None else row), 2) @ steps
        net = land.net.copy()
        net[~here] = None
        try:
            found.append(Points(*points_of_grid(net, steps, start)))
        except ValueError as error:
            raise SettingsError(f"survey.toml, [layout]: {error}.") from error
        of = "" if row is None else f", stratum {land.strata[row]}"
        lengths = np.hypot(*steps.T)
        items += [
            (f"cell_m2{of}", repr(cell)),
            (f"first_step_m{of}", repr(float(lengths[0]))),
            (f"second_step_m{of}", repr(float(lengths[1]))),
            (f"start_easting{of}", repr(float(start[0]))),
            (f"start_northing{of}", repr(float(start[1]))),
        ]
    return _joined(land, found), tuple(items)


def _by_chance(land: Land, numbers: Numbers, rules: LayoutSection) -> tuple[Points, tuple[Item, ...]]:
    """Return random or balanced points, stratum by stratum."""
    found = []
    for row, wanted in enumerate(numbers.wanted.astype(int).tolist()):
        if rules.method is LayoutMethod.RANDOM:
            found.append(_random(land, row, wanted, partial(_numbers_of, rules.seed, _RANDOM, row)))
            continue
        draw = partial(_numbers_of, rules.seed, _CANDIDATES, row)
        places = _random(land, row, wanted * CANDIDATES, draw)
        taken = local_pivotal(
            np.full(len(places.x), 1 / CANDIDATES),
            np.column_stack([places.x, places.y]),
            partial(_numbers_of, rules.seed, _PIVOTAL, row),
        )
        found.append(Points(places.x[taken], places.y[taken], places.compartment[taken]))
    balanced = rules.method is LayoutMethod.BALANCED
    return _joined(land, found), (("candidates_per_plot", str(CANDIDATES)),) if balanced else ()


def _random(land: Land, row: int, n: int, draw: partial[Floats]) -> Points:
    """Return random points of one stratum, in the order in which they were drawn."""
    net = land.net.copy()
    net[land.stratum != row] = None
    try:
        return Points(*random_points(net, n, draw))
    except ValueError as error:
        raise SettingsError(f"survey.toml, [layout]: stratum {land.strata[row]}: {error}.") from error


def _joined(land: Land, found: list[Points]) -> Points:
    """Return points one after the other, to the centimetre unless that would put them off the land."""
    empty = Points(np.empty(0), np.empty(0), np.empty(0, dtype=np.intp))
    x, y, compartment = (
        np.concatenate([getattr(points, name) for points in [empty, *found]])
        for name in ("x", "y", "compartment")
    )
    near = np.round(x, 2), np.round(y, 2)
    stays = shapely.contains_xy(land.net[compartment], *near)
    return Points(np.where(stays, near[0], x), np.where(stays, near[1], y), compartment)


def _ordered(points: Points) -> Points:
    """Return points by compartment, then from north to south and west to east."""
    order = np.lexsort((points.x, -points.y, points.compartment))
    return Points(points.x[order], points.y[order], points.compartment[order])
