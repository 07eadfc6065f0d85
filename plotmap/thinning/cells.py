"""The class table of one compartment, as it is estimated and as bootstrap draws of its plots would have it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from plotmap.statistics.estimates import Floats

FIGURES = ("stems", "live", "basal_area_m2", "dbh_sum_cm", "density", "volume_m3")
"""Sums that a cell has for each hectare; density and volume may be missing."""


@dataclass(frozen=True, slots=True)
class Cells:
    """Cells of species and size class of one compartment; the thick stems that stay are cells of their own.

    Attributes
    ----------
    species : numpy.ndarray of str, shape (n,)
        Species, or the group it is reported with.
    class_index : numpy.ndarray of int, shape (n,)
        Size class.
    size_cm : numpy.ndarray of float, shape (n,)
        Quadratic mean diameter of the cell.
    middle_cm : numpy.ndarray of float, shape (n,)
        Middle of the class as a diameter; its one edge where it is open.
    width_cm : numpy.ndarray of float, shape (n,)
        Width of the class as a diameter.
    stays : numpy.ndarray of bool, shape (n,)
        Cells that are not cut: species never cut, and stems that are too thick.
    sums : dict of str to numpy.ndarray of float, shape (n, draws)
        `FIGURES` per hectare; the first column is the estimate, the others are bootstrap draws.
    """

    species: npt.NDArray[np.str_]
    class_index: npt.NDArray[np.intp]
    size_cm: Floats
    middle_cm: Floats
    width_cm: Floats
    stays: npt.NDArray[np.bool_]
    sums: dict[str, Floats]

    @property
    def draws(self) -> int:
        """Number of columns."""
        return int(self.sums["stems"].shape[1])

    def total(self, figure: str) -> Floats:
        """Return the sum of a figure over all cells, shape (draws,)."""
        return np.asarray(self.sums[figure].sum(axis=0))


def retained(cells: Cells, stems_per_ha: float) -> Floats:
    """Return the share of each cell that belongs to the thickest stems per hectare; shape (n, draws).

    Stems that stay anyway count among the thickest.
    """
    order = np.lexsort((cells.species, -cells.size_cm, -cells.class_index))
    stems = cells.sums["stems"][order]
    before = np.cumsum(stems, axis=0) - stems
    kept = np.clip(stems_per_ha - before, 0.0, stems)
    share = np.zeros_like(stems)
    share[order] = np.divide(kept, stems, out=np.zeros_like(stems), where=stems > 0)
    return share
