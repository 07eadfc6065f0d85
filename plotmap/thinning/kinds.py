"""In which order and in which shares each kind of removal takes the stems."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from plotmap.model.field_tables_thinning import ABOVE, BELOW, ROWS, SHAPE, TARGET
from plotmap.model.thinning import Rule
from plotmap.statistics import Paths
from plotmap.statistics.estimates import Floats
from plotmap.thinning.cells import Cells, retained


@dataclass(frozen=True, slots=True)
class Order:
    """The path along which a rule takes stems; a cell may be taken in two parts, rows first.

    Attributes
    ----------
    paths : Paths
        One row a part.
    cell : numpy.ndarray of int, shape (parts,)
        Cell of each part.
    open : numpy.ndarray of float, shape (n, draws)
        Largest share of each cell that may be cut.
    """

    paths: Paths
    cell: npt.NDArray[np.intp]
    open: Floats


def order_of(cells: Cells, rule: Rule, target: Floats | None = None) -> Order:
    """Return the path of a rule over the cells of a compartment.

    From below and above, classes are emptied one after the other, all species of a class alike, so that one class at
    most is taken in part. The shape family takes min(1, s (d / dg)^b) of every cell: b = 0 is proportional. Rows take
    the same share of every class first. A target distribution takes the classes above its largest diameter first,
    then the same share of every class's surplus; classes in deficit are not cut.

    Parameters
    ----------
    cells : Cells
        Of one compartment.
    rule : Rule
        Kind, and what may not be cut.
    target : numpy.ndarray of float, shape (n,), optional
        For a target distribution: stems per hectare that the class of each cell should have, all species together;
        0 above its largest diameter, NaN below its smallest.

    Returns
    -------
    Order
        The path.
    """
    may = np.where(cells.stays[:, None], 0.0, 1.0) * np.ones_like(cells.sums["stems"])
    if rule.retention_stems_per_ha is not None:
        may = np.minimum(may, 1.0 - retained(cells, rule.retention_stems_per_ha))
    everything = np.arange(len(cells.species), dtype=np.intp)
    if rule.kind == TARGET and target is not None:
        return _surplus(cells, may, target)
    rows = (rule.row_share_pct or 0.0) / 100.0
    if rule.kind == ROWS:
        return Order(Paths(np.zeros((len(may), 1)), rows * may, rows * may), everything, may)
    start, rate = _selective(cells, may, rule)
    if not rows:
        return Order(Paths(start, rate, may), everything, may)
    paths = Paths(
        np.concatenate([np.zeros_like(start), start + 1.0]),
        np.concatenate([rows * may, (1.0 - rows) * rate]),
        np.concatenate([rows * may, (1.0 - rows) * may]),
    )
    return Order(paths, np.concatenate([everything, everything]), may)


def _selective(cells: Cells, may: Floats, rule: Rule) -> tuple[Floats, Floats]:
    """Return where the cells begin to be taken, and how fast."""
    if rule.kind in (BELOW, ABOVE):
        _, place = np.unique(cells.class_index, return_inverse=True)
        place = place.max(initial=0) - place if rule.kind == ABOVE else place
        return place[:, None].astype(float), may
    power = (rule.shape_power or 0.0) if rule.kind == SHAPE else 0.0
    middle = float(np.sqrt((cells.size_cm**2).mean())) if len(may) else 1.0
    return np.zeros((len(may), 1)), ((cells.size_cm / middle) ** power)[:, None] * np.ones_like(may)


def _surplus(cells: Cells, may: Floats, target: Floats) -> Order:
    """Return the path of a target distribution: what is too thick first, then the surplus of every class."""
    stems = cells.sums["stems"]
    _, place = np.unique(cells.class_index, return_inverse=True)
    of_class = np.zeros((place.max(initial=-1) + 1, stems.shape[1]))
    cuttable = np.zeros_like(of_class)
    np.add.at(of_class, place, stems)
    np.add.at(cuttable, place, stems * may)
    wanted = np.where(np.isnan(target), np.inf, target)[:, None]
    surplus = np.clip(of_class[place] - wanted, 0.0, None)
    share = np.divide(surplus, cuttable[place], out=np.zeros_like(stems), where=cuttable[place] > 0)
    most = np.minimum(share, 1.0) * may
    start = np.where(target == 0, 0.0, 1.0)[:, None]
    return Order(Paths(start, most, most), np.arange(len(may), dtype=np.intp), most)
