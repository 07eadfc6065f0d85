"""How much is taken along the path of a rule, and what stops it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from plotmap.model.field_tables_thinning import BASAL_AREA, DENSITY, SPACING, STEMS, TARGET
from plotmap.model.result_tables_thinning import (
    AT_RESIDUAL,
    LARGEST_SHARE,
    NOTHING_LEFT,
    RESIDUAL,
    SMALLEST_BASAL_AREA,
    SMALLEST_STEMS,
)
from plotmap.model.thinning import Rule
from plotmap.statistics import first_reach
from plotmap.statistics.estimates import Floats
from plotmap.thinning.cells import Cells
from plotmap.thinning.kinds import Order, order_of

_ROUND_OFF = 1e-9
FIGURE_OF = {BASAL_AREA: "basal_area_m2", STEMS: "stems", DENSITY: "density", SPACING: "live"}
"""Sum of the cells that each measure adds up; spacing is a number of living stems."""


@dataclass(frozen=True, slots=True)
class Removal:
    """What a rule takes from one compartment.

    Attributes
    ----------
    share : numpy.ndarray of float, shape (n, draws)
        Share of each cell that is cut, 0 to 1.
    limit : numpy.ndarray of str, shape (draws,)
        What stopped it: a word of `plotmap.model.result_tables_thinning.LIMITS`.
    shortfall : numpy.ndarray of float, shape (draws,)
        For a target distribution, basal area in m²/ha by which cutting every surplus would go below the residual; 0
        where it would not.
    given_back : numpy.ndarray of float, shape (draws,)
        Share of the surplus that stays so that no limit is passed; 0 for other kinds.
    """

    share: Floats
    limit: npt.NDArray[np.object_]
    shortfall: Floats
    given_back: Floats

    def taken(self, cells: Cells, figure: str) -> Floats:
        """Return what is cut of a figure of each cell, per hectare; shape (n, draws)."""
        return cells.sums[figure] * self.share


def remove(
    cells: Cells, rule: Rule, *, target: Floats | None = None, top_height_m: Floats | None = None
) -> Removal:
    """Take stems along the path of a rule until the residual is reached or a limit stops it.

    Every limit is a sum over the cells that only grows along the path, so the first one to be met is the one that
    binds. Residual and limits are met to rounding.

    Parameters
    ----------
    cells : Cells
        Of one compartment; each column is thinned by itself.
    rule : Rule
        What is to stay, the kind and the limits.
    target : numpy.ndarray of float, shape (n,), optional
        As `plotmap.thinning.kinds.order_of` takes it.
    top_height_m : numpy.ndarray of float, shape (draws,), optional
        Top height, needed where the residual is a relative spacing.

    Returns
    -------
    Removal
        Nothing is cut where the stand is at the residual already.
    """
    order = order_of(cells, rule, target)
    in_target = np.ones(len(cells.species), dtype=bool) if target is None else ~np.isnan(target)
    words, reached = [], []
    residual = np.full(cells.draws, np.inf)
    for word, weights, goal in _goals(cells, rule, in_target, top_height_m):
        s = first_reach(order.paths, weights[order.cell], goal)
        residual = s if word == RESIDUAL else residual
        words.append(word)
        reached.append(s)
    s = np.min(reached, axis=0) if reached else np.full(cells.draws, np.inf)
    first = np.argmin(reached, axis=0) if reached else np.zeros(cells.draws, dtype=np.intp)
    limit = np.array(words or [NOTHING_LEFT], dtype=object)[first]
    limit = np.where(np.isinf(s), NOTHING_LEFT, limit)
    limit = np.where(residual == 0, AT_RESIDUAL, limit)
    share = _by_cell(order, order.paths.at(s), len(cells.species))
    return Removal(share, limit, *_surplus_left(cells, rule, order, s, in_target))


def _goals(
    cells: Cells, rule: Rule, in_target: npt.NDArray[np.bool_], top_height_m: Floats | None
) -> list[tuple[str, Floats, Floats]]:
    """Return the limits: their word, what each cell weighs, and the sum at which they stop the removal."""
    found: list[tuple[str, Floats, Floats]] = []
    basal, stems = cells.sums["basal_area_m2"], cells.sums["stems"]
    if rule.residual_measure is not None and rule.residual is not None:
        weights = cells.sums[FIGURE_OF[rule.residual_measure.word]]
        if rule.kind == TARGET:
            weights = weights * in_target[:, None]
        stays: Floats | float = rule.residual
        if rule.residual_measure.word == DENSITY:
            stays = rule.residual / 100.0
        if rule.residual_measure.word == SPACING and top_height_m is not None:
            stays = stems_at_spacing(rule.residual, top_height_m)
        found.append((RESIDUAL, weights, weights.sum(axis=0) - stays))
    if rule.largest_share_pct is not None:
        found.append((LARGEST_SHARE, basal, basal.sum(axis=0) * rule.largest_share_pct / 100.0))
    if rule.smallest_basal_area_m2_per_ha is not None:
        found.append((SMALLEST_BASAL_AREA, basal, basal.sum(axis=0) - rule.smallest_basal_area_m2_per_ha))
    if rule.smallest_stems_per_ha is not None:
        found.append((SMALLEST_STEMS, stems, stems.sum(axis=0) - rule.smallest_stems_per_ha))
    return found


def stems_at_spacing(spacing_pct: float, top_height_m: Floats) -> Floats:
    """Return the stems per hectare of a relative spacing: N = (10 000 / (S H))², S in % of the top height H in m.

    The inverse of S = 100 √(10 000 / N) / H for a square spacing (Hart 1928, Becking 1954, from memory).
    """
    return np.asarray((10_000.0 / (spacing_pct * top_height_m)) ** 2)


def _by_cell(order: Order, shares: Floats, n: int) -> Floats:
    """Return the share of each cell from those of its parts."""
    share = np.zeros((n, shares.shape[1]))
    np.add.at(share, order.cell, shares)
    return np.minimum(share, 1.0)


def _surplus_left(
    cells: Cells, rule: Rule, order: Order, s: Floats, in_target: npt.NDArray[np.bool_]
) -> tuple[Floats, Floats]:
    """Return how far cutting every surplus would go below the residual, and the share of it that stays."""
    if rule.kind != TARGET or rule.residual is None:
        return np.zeros(cells.draws), np.zeros(cells.draws)
    basal = cells.sums["basal_area_m2"] * in_target[:, None]
    left = basal.sum(axis=0) - (basal * order.paths.most).sum(axis=0)
    shortfall = np.clip(rule.residual - left, 0.0, None)
    shortfall = np.where(shortfall > _ROUND_OFF, shortfall, 0.0)
    return shortfall, np.clip(2.0 - s, 0.0, 1.0)
