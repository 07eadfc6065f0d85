"""The proposal of one compartment: its row, and the rows of what is taken from each class."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import polars as pl

from plotmap.model.class_rule import ClassRule
from plotmap.model.field_tables_thinning import DENSITY, SPACING, TARGET
from plotmap.model.thinning import Rule
from plotmap.statistics import largest_remainder, small_fractions
from plotmap.statistics.estimates import Floats
from plotmap.thinning.building import class_sizes
from plotmap.thinning.cells import Cells
from plotmap.thinning.removal import FIGURE_OF, Removal, remove
from plotmap.thinning.target import target_stems

_MARKED_OF = 8
"""Largest number of which a marker is told to mark some."""
_SMALL = 1e-9


@dataclass(frozen=True, slots=True)
class Target:
    """A target distribution over all classes of its range.

    Attributes
    ----------
    index : numpy.ndarray of int
        Classes.
    stems : numpy.ndarray of float
        Stems per hectare that each should have.
    """

    index: npt.NDArray[np.intp]
    stems: Floats

    def of(self, cells: Cells, largest_cm: float) -> Floats:
        """Return the target of each cell's class: 0 above the largest diameter, NaN below the smallest."""
        known = dict(zip(self.index.tolist(), self.stems.tolist(), strict=True))
        wanted = [known.get(number, math.nan) for number in cells.class_index.tolist()]
        return np.where(cells.middle_cm > largest_cm, 0.0, np.array(wanted, dtype=float))


def target_of(rule: Rule, classes: ClassRule) -> Target | None:
    """Return the target distribution of a rule; None where its kind is another.

    Its classes are those of the survey whose middle lies between the smallest and the largest diameter.
    """
    low, high, q = rule.target_smallest_dbh_cm, rule.target_largest_dbh_cm, rule.target_q
    width, residual = rule.target_class_width_cm, rule.residual
    if rule.kind != TARGET:
        return None
    if low is None or high is None or q is None or width is None or residual is None:
        return None
    ends = pl.DataFrame({"d": [low, high]}).select(classes.index(pl.col("d"))).to_series().to_list()
    index = np.arange(ends[0] - 1, ends[1] + 2, dtype=np.intp)
    if classes.width_cm is None:
        index = index[(index >= -1) & (index < len(classes.edges_cm))]
    middle, size = class_sizes(classes, index)
    inside = (middle >= low) & (middle <= high)
    return Target(
        index[inside],
        target_stems(middle[inside], size[inside], residual, q, width),
    )


def figures(
    cells: Cells, rule: Rule, removal: Removal, top_height_m: Floats, confidence: float
) -> dict[str, float | None]:
    """Return the figures of a proposal per hectare, with the ends of their ranges over the draws.

    The share of basal area over the share of stems is the thinning ratio k; the ratio of quadratic mean diameters is
    √k. These are identities of the sums and need no source.

    Parameters
    ----------
    cells : Cells
        What stands.
    rule : Rule
        The rule that was followed.
    removal : Removal
        What it takes.
    top_height_m : numpy.ndarray of float, shape (draws,)
        Top height.
    confidence : float
        Confidence of the ranges.

    Returns
    -------
    dict of str to float or None
        Columns of `PROPOSAL_RESULTS`.
    """
    before = {name: cells.total(name) for name in cells.sums}
    cut = {name: np.asarray(removal.taken(cells, name).sum(axis=0)) for name in cells.sums}
    basal, stems = cut["basal_area_m2"], cut["stems"]
    ranged = {
        "cut_basal_area_m2_per_ha": basal,
        "cut_stems_per_ha": stems,
        "after_basal_area_m2_per_ha": before["basal_area_m2"] - basal,
        "after_stems_per_ha": before["stems"] - stems,
        "basal_area_cut_pct": 100 * _over(basal, before["basal_area_m2"]),
        "stems_cut_pct": 100 * _over(stems, before["stems"]),
        "cut_volume_m3_per_ha": cut["volume_m3"],
    }
    made: dict[str, float | None] = {}
    for name, values in ranged.items():
        low, high = range_of(values, confidence)
        made |= {name: _known(values[0]), f"{name}_low": low, f"{name}_high": high}
    ratio = _over(_over(basal, before["basal_area_m2"]), _over(stems, before["stems"]))[0]
    mean = _over(_over(cut["dbh_sum_cm"], stems), _over(before["dbh_sum_cm"], before["stems"]))[0]
    nothing = stems[0] <= 0
    made["thinning_ratio"] = None if nothing else _known(ratio)
    made["dg_ratio"] = None if nothing else _known(math.sqrt(ratio))
    made["mean_dbh_ratio"] = None if nothing else _known(mean)
    made["residual_reached"] = _reached(cells, rule, removal, top_height_m)
    if rule.kind == TARGET:
        made["shortfall_m2_per_ha"] = _known(removal.shortfall[0])
        made["given_back_pct"] = _known(100 * removal.given_back[0])
    return made


def range_of(values: Floats, confidence: float) -> tuple[float | None, float | None]:
    """Return the ends of the middle `confidence` of the draws; the estimate itself where there are none."""
    drawn = values[1:] if len(values) > 1 else values
    low, high = np.quantile(drawn, [(1 - confidence) / 2, (1 + confidence) / 2])
    return _known(low), _known(high)


def _reached(cells: Cells, rule: Rule, removal: Removal, top_height_m: Floats) -> float | None:
    """Return what stays of the measure whose residual the rule gives."""
    if rule.residual_measure is None:
        return None
    word = rule.residual_measure.word
    left = (cells.sums[FIGURE_OF[word]] * (1 - removal.share))[:, 0]
    if rule.kind == TARGET and rule.target_smallest_dbh_cm is not None:
        left = left[cells.middle_cm >= rule.target_smallest_dbh_cm]
    stays = float(left.sum())
    if word == DENSITY:
        return _known(100 * stays)
    if word == SPACING:
        return _known(10_000 / math.sqrt(stays) / top_height_m[0]) if stays > 0 else None
    return _known(stays)


def _over(above: Floats, below: Floats) -> Floats:
    """Return a quotient, 0 where there is nothing below."""
    return np.divide(above, below, out=np.zeros_like(above), where=below > 0)


def _known(value: float | np.floating) -> float | None:
    """Return a number, None for NaN."""
    return None if math.isnan(value) else float(value)


def removal_rows(
    cells: Cells,
    removal: Removal,
    may: Floats,
    classes: ClassRule,
    *,
    target: Target | None,
    net_area_ha: float,
    confidence: float,
) -> pl.DataFrame:
    """Return what is taken from each species and class of one compartment.

    Parameters
    ----------
    cells : Cells
        What stands.
    removal : Removal
        What is taken.
    may : numpy.ndarray of float, shape (n,)
        Largest share of each cell that the rule allows to be cut.
    classes : ClassRule
        The size classes.
    target : Target or None
        The target distribution, where the kind has one.
    net_area_ha : float
        Area over which whole stems are given.
    confidence : float
        Confidence of the ranges.

    Returns
    -------
    polars.DataFrame
        Columns of `REMOVAL_RESULTS` but ``compartment``, by class and species.
    """
    _, species = np.unique(cells.species, return_inverse=True)
    keys, place = np.unique(np.stack([cells.class_index, species]), axis=1, return_inverse=True)
    first = np.zeros(keys.shape[1], dtype=np.intp)
    first[place[::-1]] = np.arange(len(place))[::-1]

    def grouped(values: Floats) -> Floats:
        """Sum cells that are one species and class."""
        made = np.zeros((keys.shape[1], *values.shape[1:]))
        np.add.at(made, place, values)
        return made

    stems, basal = grouped(cells.sums["stems"]), grouped(cells.sums["basal_area_m2"])[:, 0]
    cut = grouped(removal.taken(cells, "stems"))
    cut_basal = grouped(removal.taken(cells, "basal_area_m2"))[:, 0]
    drawn = cut[:, 1:] if cut.shape[1] > 1 else cut
    ends = np.quantile(drawn, [(1 - confidence) / 2, (1 + confidence) / 2], axis=1)
    share = _over(cut[:, 0], stems[:, 0])
    of, among = small_fractions(share, _MARKED_OF)
    index = cells.class_index[first]
    table = pl.DataFrame(
        {
            "species": cells.species[first].tolist(),
            "class_index": pl.Series(index, dtype=pl.Int32),
            "stems_per_ha": stems[:, 0],
            "cut_stems_per_ha": cut[:, 0],
            "cut_stems_per_ha_low": ends[0],
            "cut_stems_per_ha_high": ends[1],
            "after_stems_per_ha": stems[:, 0] - cut[:, 0],
            "basal_area_m2_per_ha": basal,
            "cut_basal_area_m2_per_ha": cut_basal,
            "after_basal_area_m2_per_ha": basal - cut_basal,
            "cut_volume_m3_per_ha": grouped(removal.taken(cells, "volume_m3"))[:, 0],
            "may_be_cut_pct": 100 * _over(grouped(cells.sums["stems"][:, 0] * may), stems[:, 0]),
            "stems_cut_pct": 100 * share,
            "mark": [_mark(*parts) for parts in zip(share, of, among, strict=True)],
            "cut_stems": largest_remainder(cut[:, 0] * net_area_ha),
        }
    ).with_columns(_against_target(stems[:, 0], index, target))
    labels = classes.frame(table["class_index"].unique())
    return table.join(labels, on="class_index", how="left", maintain_order="left").with_columns(
        pl.selectors.float().fill_nan(None)
    )


def _mark(share: float, of: int, among: int) -> str | None:
    """Return a share as a marker is told it."""
    if share <= _SMALL:
        return None
    if share >= 1 - _SMALL:
        return "all"
    if of in {0, among}:
        return f"fewer than 1 in {_MARKED_OF}" if not of else f"more than {_MARKED_OF - 1} in {_MARKED_OF}"
    return f"{of} in {among}"


def _against_target(stems: Floats, index: npt.NDArray[np.intp], target: Target | None) -> list[pl.Series]:
    """Return the target of each row's class and what the class has more."""
    names = ("target_stems_per_ha", "class_surplus_stems_per_ha")
    if target is None:
        return [pl.Series(name, [None] * len(index), dtype=pl.Float64) for name in names]
    numbers, place = np.unique(index, return_inverse=True)
    of_class = np.bincount(place, stems, len(numbers))[place]
    known = dict(zip(target.index.tolist(), target.stems.tolist(), strict=True))
    above = index > target.index.max(initial=-1)
    wanted = np.where(above, 0.0, np.array([known.get(number, math.nan) for number in index.tolist()]))
    return [pl.Series(name, values) for name, values in zip(names, (wanted, of_class - wanted), strict=True)]


def deficit(cells: Cells, target: Target) -> float:
    """Return the stems per hectare that classes of a target distribution lack."""
    stems = np.zeros(len(target.index))
    for place, number in enumerate(target.index.tolist()):
        stems[place] = cells.sums["stems"][cells.class_index == number, 0].sum()
    return float(np.clip(target.stems - stems, 0.0, None).sum())


def proposed(
    cells: Cells, rule: Rule, target: Target | None, top_height_m: Floats
) -> tuple[Removal, Floats | None]:
    """Return the removal of a rule, and the target of each cell.

    Parameters
    ----------
    cells : Cells
        What stands.
    rule : Rule
        The rule.
    target : Target or None
        Its target distribution.
    top_height_m : numpy.ndarray of float, shape (draws,)
        Top height.
    """
    wanted = None
    if target is not None and rule.target_largest_dbh_cm is not None:
        wanted = target.of(cells, rule.target_largest_dbh_cm)
    return remove(cells, rule, target=wanted, top_height_m=top_height_m), wanted


def spacing(cells: Cells, top_height_m: Floats) -> Floats:
    """Return the relative spacing in % of each draw; infinite without living stems, NaN without a top height."""
    live = cells.total("live")
    with np.errstate(divide="ignore"):
        return np.asarray(10_000 / np.sqrt(live) / top_height_m)
