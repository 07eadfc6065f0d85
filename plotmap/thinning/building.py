"""The cells of a compartment, from its stems, its plots and the weights of the draws."""

from __future__ import annotations

import zlib
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import polars as pl
from scipy import sparse

from plotmap.frames import ordered_sums
from plotmap.model.class_rule import ClassRule
from plotmap.model.settings_thinning import ThinningSection
from plotmap.model.thinning import Rule
from plotmap.statistics import rescaled_weights
from plotmap.statistics.estimates import Floats
from plotmap.thinning.cells import FIGURES, Cells
from plotmap.units import M2_PER_CM2

_ROUND_OFF_CM = 1e-9


@dataclass(frozen=True, slots=True)
class Ground:
    """The plots of one compartment and what they weigh in each draw.

    Attributes
    ----------
    plots : list of str
        Their names, in order.
    weights : numpy.ndarray of float, shape (plots, draws)
        The first column is the estimate: all ones.
    hectares : numpy.ndarray of float, shape (draws,)
        Area that sums are divided by.
    top_height_m : numpy.ndarray of float, shape (draws,)
        Top height; NaN where it is not known.
    """

    plots: list[str]
    weights: Floats
    hectares: Floats
    top_height_m: Floats


def ground_of(units: pl.DataFrame, name: str, settings: ThinningSection, sampling_fraction: float) -> Ground:
    """Return the plots of a compartment with the weights of its draws.

    Parameters
    ----------
    units : polars.DataFrame
        Rows of `StemParts.units` of the compartment.
    name : str
        Its identifier, from which the seed of its draws is made: other compartments do not change them.
    settings : ThinningSection
        Draws and seed.
    sampling_fraction : float
        Share of it that is on plots, 0 where no correction is asked for.

    Returns
    -------
    Ground
        Without draws where it was counted whole or has one plot.
    """
    rows = units.sort("plot")
    weights = np.ones((rows.height, 1))
    if rows.height > 1:
        seed = [settings.seed, zlib.crc32(name.encode("utf-8"))]
        drawn = rescaled_weights(rows.height, settings.draws, seed, sampling_fraction)
        weights = np.concatenate([weights, drawn], axis=1)

    def summed(column: str) -> Floats:
        """Return the sum of a column of the plots in every draw."""
        return np.asarray((rows[column].to_numpy()[:, None] * weights).sum(axis=0))

    top, top_h = summed("top"), summed("top_h")
    known = (top > 0) & (rows["n_top_missing"].sum() == 0)
    height = np.divide(top_h, top, out=np.full_like(top, np.nan), where=known)
    return Ground(rows["plot"].to_list(), weights, summed("area"), height)


def cells_of(stems: pl.DataFrame, ground: Ground, rule: Rule, classes: ClassRule) -> Cells:
    """Return the class table of a compartment in all draws.

    Parameters
    ----------
    stems : polars.DataFrame
        Rows of `StemParts.stems` of the compartment.
    ground : Ground
        Its plots.
    rule : Rule
        Which stems stay: they become cells of their own.
    classes : ClassRule
        The size classes.

    Returns
    -------
    Cells
        Sorted by species, class and whether they stay. Density and volume are NaN where any stem has none.
    """
    thick = pl.lit(value=False)
    if rule.kept_from_dbh_cm is not None:
        thick = pl.col("dbh_cm") >= rule.kept_from_dbh_cm - _ROUND_OFF_CM
    named = pl.any_horizontal(pl.col(name).is_in(rule.never_cut) for name in ("species", "species_written"))
    rows = stems.with_columns((thick | named.fill_null(value=False)).alias("stays"))
    key = ["species", "class_index", "stays"]
    sums = ordered_sums(rows, [*key, "plot"], **{figure: pl.col(figure) for figure in FIGURES})
    cells = sums.select(key).unique(maintain_order=True)
    place = cells.with_row_index("cell")
    plots = pl.DataFrame({"plot": ground.plots}, schema={"plot": pl.String}).with_row_index("unit")
    sums = sums.join(place, on=key, maintain_order="left").join(plots, on="plot", maintain_order="left")
    at = (sums["cell"].to_numpy(), sums["unit"].to_numpy())
    shape = (cells.height, len(ground.plots))
    per_ha = {
        figure: (sparse.csr_array((sums[figure].to_numpy(), at), shape=shape) @ ground.weights)
        / ground.hectares
        for figure in FIGURES
    }
    for figure in ("density", "volume_m3"):
        if rows[figure].null_count():
            per_ha[figure] = np.full_like(per_ha[figure], np.nan)
    stems_now, basal_now = per_ha["stems"][:, 0], per_ha["basal_area_m2"][:, 0]
    square = np.divide(basal_now, stems_now * M2_PER_CM2, out=np.zeros_like(basal_now), where=stems_now > 0)
    index = cells["class_index"].to_numpy().astype(np.intp)
    middle, width = class_sizes(classes, index)
    return Cells(
        species=cells["species"].to_numpy().astype(np.str_),
        class_index=index,
        size_cm=np.sqrt(square),
        middle_cm=middle,
        width_cm=width,
        stays=cells["stays"].to_numpy().astype(bool),
        sums=per_ha,
    )


def class_sizes(classes: ClassRule, index: npt.NDArray[np.intp]) -> tuple[Floats, Floats]:
    """Return middle and width of classes as diameters in cm; an open class is as wide as its neighbour."""
    numbers, place = np.unique(index, return_inverse=True)
    edges = [_edges(classes, int(number)) for number in numbers]
    low, high = np.array(edges, dtype=float).reshape(-1, 2).T * classes.diameter_per_size
    return ((low + high) / 2)[place], (high - low)[place]


def _edges(classes: ClassRule, index: int) -> tuple[float, float]:
    """Return the edges of a class in the rule's measure, an open one closed at the width of its neighbour."""
    low, high = classes.low_cm(index), classes.high_cm(index)
    if low is not None and high is not None:
        return low, high
    if high is None and low is not None:
        return low, low + low - (classes.low_cm(index - 1) or 0.0)
    return 0.0, high or 0.0
