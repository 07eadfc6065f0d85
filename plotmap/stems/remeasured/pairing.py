"""Which stem of the check is which stem of the crew: by number, by position, by size, by tally."""

from __future__ import annotations

from itertools import product
from typing import TYPE_CHECKING

import polars as pl

from plotmap.model.check_table import NUMBER, POSITION, SIZE
from plotmap.model.field_tables import NO_SPECIES
from plotmap.statistics.assignment import least_cost_pairs

if TYPE_CHECKING:
    from plotmap.model.settings import CheckSection

PAIR_SCHEMA = pl.Schema({"node": pl.Int64, "check_node": pl.Int64, "compared_by": pl.String})
_MM_PER_CM = 10.0
_DECIMALS = 6
"""Distances are compared with their limit after rounding to a millionth of their unit."""
_SLACK = 1 + 1e-9


def pair_stems(crew: pl.DataFrame, check: pl.DataFrame, settings: CheckSection) -> pl.DataFrame:
    """Find partners one to one, plot by plot, in three rounds; each takes what the last one left.

    1. The same tree number.
    2. Both positioned, of one species: within `match_position_m` of each other, the like in size before the unlike.
    3. Not both positioned, of one species and condition: diameters within `match_mm` of each other.

    A missing species goes with any. In rounds 2 and 3 the pairs are those for which the sum of costs and of 1 for
    each stem left is least (`plotmap.statistics.assignment`): not the nearest first, which would leave stems over
    that a less greedy choice pairs. A pair costs (distance / limit)²; of positioned stems the mean of that and
    of (difference in size / `match_mm`)², at most 1.

    Parameters
    ----------
    crew, check : polars.DataFrame
        Columns of `plotmap.stems.remeasured.sides.SIDE_SCHEMA`.
    settings : CheckSection
        Limits, in m and mm.

    Returns
    -------
    polars.DataFrame
        Columns of `PAIR_SCHEMA`, no node twice: ``node`` of the crew and of the check, and what they were
        found by.
    """
    pairs = _by_number(crew, check)
    for word, near in ((POSITION, _by_position), (SIZE, _by_size)):
        left = crew.join(pairs, on="node", how="anti", maintain_order="left")
        left_check = check.join(
            pairs, left_on="node", right_on="check_node", how="anti", maintain_order="left"
        )
        chosen = choose(near(left, left_check, settings))
        pairs = pl.concat([pairs, chosen.with_columns(pl.lit(word).alias("compared_by"))])
    return pairs.sort("check_node")


def choose(candidates: pl.DataFrame) -> pl.DataFrame:
    """Return ``node`` and ``check_node`` of the candidates (with ``cost``, 0 to 1) that cost least."""
    ordered = candidates.sort("node", "check_node")
    taken = least_cost_pairs(
        ordered["node"].to_numpy(), ordered["check_node"].to_numpy(), ordered["cost"].to_numpy()
    )
    return ordered[taken].select("node", "check_node")


def _by_number(crew: pl.DataFrame, check: pl.DataFrame) -> pl.DataFrame:
    """Return the stems of one plot that carry one number; the first where a number comes twice."""
    first, second = (
        side.filter(pl.col("tree").is_not_null())
        .sort("source_row")
        .unique(["plot", "tree"], keep="first", maintain_order=True)
        for side in (crew, check)
    )
    joined = first.join(second, on=["plot", "tree"], suffix="_check")
    return joined.select(
        "node", pl.col("node_check").alias("check_node"), pl.lit(NUMBER).alias("compared_by")
    ).cast(PAIR_SCHEMA)


def _by_position(crew: pl.DataFrame, check: pl.DataFrame, settings: CheckSection) -> pl.DataFrame:
    """Return the pairs of positioned stems that are near enough, with their cost."""
    placed = [
        side.filter(is_placed()).select("node", "plot", "species", "dbh_cm", "east_m", "north_m")
        for side in (crew, check)
    ]
    near = candidates(placed[0], placed[1], ["east_m", "north_m"], settings.match_position_m)
    unlike = ((pl.col("dbh_cm") - pl.col("dbh_cm_check")) * _MM_PER_CM / settings.match_mm).pow(2)
    cost = (pl.col("cost") + unlike.clip(upper_bound=1.0)) / 2
    return near.filter(_one_species()).select("node", "check_node", cost.clip(0.0, 1.0).alias("cost"))


def _by_size(crew: pl.DataFrame, check: pl.DataFrame, settings: CheckSection) -> pl.DataFrame:
    """Return the pairs of stems, not both positioned, that are alike enough, with their cost."""
    sized = [
        side.select(
            "node",
            "plot",
            "species",
            "condition",
            (pl.col("dbh_cm") * _MM_PER_CM).alias("size_mm"),
            is_placed().alias("placed"),
        )
        for side in (crew, check)
    ]
    near = candidates(sized[0], sized[1], ["size_mm"], settings.match_mm)
    alike = (pl.col("condition") == pl.col("condition_check")) & ~(pl.col("placed") & pl.col("placed_check"))
    return near.filter(_one_species() & alike).select("node", "check_node", "cost")


def is_placed() -> pl.Expr:
    """Say whether a stem has a position."""
    return pl.col("east_m").is_finite().fill_null(value=False) & pl.col("north_m").is_finite().fill_null(
        value=False
    )


def _one_species() -> pl.Expr:
    """Say whether the species of two stems agree; a missing one agrees with any."""
    species, other = pl.col("species"), pl.col("species_check")
    return (species == other) | (species == NO_SPECIES) | (other == NO_SPECIES)


def candidates(crew: pl.DataFrame, check: pl.DataFrame, coordinates: list[str], limit: float) -> pl.DataFrame:
    """Return all pairs on one plot that are within a distance, found by cells as wide as the distance.

    Each stem of the check is put in its cell and the ones around it, so that one join of equal cells finds
    the pairs: memory grows with the pairs found, never with stems × stems.

    Parameters
    ----------
    crew, check : polars.DataFrame
        Stems with ``plot``, ``node`` and the coordinates; others are carried along.
    coordinates : list of str
        Columns that the distance is of.
    limit : float
        Largest distance, in the unit of the coordinates; it is allowed itself.

    Returns
    -------
    polars.DataFrame
        Columns of both, those of `check` ending in ``_check`` (``check_node`` for its node), and ``cost``,
        (distance / limit)².
    """
    cells = [f"cell_{name}" for name in coordinates]
    cell = [
        (pl.col(name) / (limit * _SLACK)).floor().cast(pl.Int64).alias(to)
        for name, to in zip(coordinates, cells, strict=True)
    ]
    around = pl.DataFrame(
        list(product((-1, 0, 1), repeat=len(cells))),
        schema=dict.fromkeys((f"{name}_step" for name in cells), pl.Int64),
        orient="row",
    )
    finite = pl.all_horizontal(pl.col(name).is_finite() for name in coordinates)
    spread = (
        check.filter(finite)
        .with_columns(cell)
        .join(around, how="cross")
        .with_columns(pl.col(name) + pl.col(f"{name}_step") for name in cells)
    )
    joined = crew.filter(finite).with_columns(cell).join(spread, on=["plot", *cells], suffix="_check")
    square = pl.sum_horizontal((pl.col(name) - pl.col(f"{name}_check")).pow(2) for name in coordinates)
    distance = square.sqrt().round(_DECIMALS)
    return (
        joined.filter(distance <= limit)
        .with_columns((distance / limit).pow(2).alias("cost"))
        .rename({"node_check": "check_node"})
    )
