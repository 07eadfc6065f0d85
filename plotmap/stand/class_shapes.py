"""What the size classes of a scope say about its form: whether a Weibull fits, and how many peaks there are."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import polars as pl

from plotmap.frames import ordered_sums
from plotmap.model.class_rule import ClassRule
from plotmap.stand.scopes import Scopes
from plotmap.stand.size_fits import LEAST_STEMS, SizeFits
from plotmap.statistics import (
    WeibullFit,
    cell_sums,
    chi_square,
    dip_of_classes,
    dip_p,
    fit_weibull,
    log_mass,
    pooled_cells,
    sizes_of,
)

_Floats = npt.NDArray[np.float64]
_Ints = npt.NDArray[np.intp]
_OPEN_WIDTH_CM = 5.0
"""Width of an open class that stands alone."""
_LEAST_WORTH = 20.0
"""Stems that a sample must be worth for the dip to be looked up."""
_LEAST_DF = 2
_SLACK = 0.05
"""Share of a class by which the edge of a band may be off the edge of the class: corrections move them a little."""
_LEAST_CM = 0.1


@dataclass(frozen=True, slots=True)
class ScopeClasses:
    """Stems by scope and class, one row a scope, one column a class from its smallest filled one up.

    Attributes
    ----------
    count, stems : numpy.ndarray of float, shape (m, k)
        Stems counted, and what they stand for: on the whole area, or m² of it for scopes of angle counts alone
        in `sampled`.
    sampled : numpy.ndarray of float, shape (m, k)
        As `stems`, but of angle counts alone basal area: as the stems were drawn.
    low_cm, high_cm : numpy.ndarray of float, shape (m, k)
        Edges as diameters; NaN where open, and behind the last class.
    rows : polars.DataFrame
        ``sample``, ``block``, ``plot``, ``column``, ``stems``, ``sampled``: the same by plot.
    """

    count: _Floats
    stems: _Floats
    sampled: _Floats
    low_cm: _Floats
    high_cm: _Floats
    rows: pl.DataFrame


def scope_classes(
    cells: pl.DataFrame, scopes: Scopes, biased: npt.NDArray[np.bool_], rule: ClassRule
) -> ScopeClasses:
    """Sum the cells of all plots by scope and class.

    Parameters
    ----------
    cells : polars.DataFrame
        Columns of `plotmap.model.plot_table.CELL_SCHEMA`.
    scopes : Scopes
        Scopes and weights.
    biased : numpy.ndarray of bool
        Scopes of angle counts alone.
    rule : ClassRule
        Edges.
    """
    joined = cells.join(scopes.members, on="compartment", maintain_order="left")
    factor = pl.col("factor")
    rows = ordered_sums(
        joined,
        ["sample", "block", "compartment", "plot", "class_index"],
        count=pl.col("n_trees"),
        stems=pl.col("stems") * factor,
        area=pl.col("basal_area_m2") * factor,
    )
    of_area = pl.Series(biased[rows["sample"].to_numpy()])
    rows = rows.with_columns(
        pl.when(of_area).then("area").otherwise("stems").alias("sampled"),
        (pl.col("class_index") - pl.col("class_index").min().over("sample")).alias("column"),
    )
    first = np.zeros(scopes.n, np.intp)
    firsts = rows.group_by("sample").agg(pl.col("class_index").min())
    first[firsts["sample"].to_numpy()] = firsts["class_index"].to_numpy()
    wide = int(rows["column"].max() or 0) + 1 if rows.height else 1  # type: ignore[arg-type]
    place = rows["sample"].to_numpy() * wide + rows["column"].to_numpy()
    count, stems, sampled = (
        np.bincount(place, rows[name].to_numpy(), scopes.n * wide).astype(float).reshape(scopes.n, wide)
        for name in ("count", "stems", "sampled")
    )
    index = first[:, None] + np.arange(wide)
    behind = np.cumsum(count[:, ::-1], axis=1)[:, ::-1] <= 0
    low, high = _edges(index, rule)
    return ScopeClasses(
        count, stems, sampled, np.where(behind, np.nan, low), np.where(behind, np.nan, high), rows
    )


def _edges(index: _Ints, rule: ClassRule) -> tuple[_Floats, _Floats]:
    """Return lower and upper edges of classes as diameters in cm; NaN where open."""
    known = np.arange(index.min(), index.max() + 1)
    numbers = (
        known.tolist() if rule.width_cm is not None else [i for i in known if -1 <= i < len(rule.edges_cm)]
    )
    scale = rule.diameter_per_size
    low, high = (np.full(len(known), np.nan) for _ in range(2))
    for number in numbers:
        below, above = rule.low_cm(number), rule.high_cm(number)
        low[number - known[0]] = np.nan if below is None else below * scale
        high[number - known[0]] = np.nan if above is None else above * scale
    return low[index - known[0]], high[index - known[0]]


def without_band_edges(classes: ScopeClasses, sizes: pl.DataFrame, scopes: Scopes) -> ScopeClasses:
    """Put classes together that a tally row of the scope reaches over: how its stems lie there was not seen.

    Parameters
    ----------
    classes : ScopeClasses
        Of all scopes.
    sizes : polars.DataFrame
        Columns of `plotmap.model.plot_table.SIZE_SCHEMA`.
    scopes : Scopes
        Who belongs to whom.
    """
    wide = (
        sizes.filter(~pl.col("one_class"))
        .select("compartment", "low_cm", "high_cm")
        .unique(maintain_order=True)
    )
    bands = wide.join(scopes.members, on="compartment", maintain_order="left")
    bands = bands.select("sample", "low_cm", "high_cm").unique(maintain_order=True)
    sample = bands["sample"].to_numpy()
    slack = _SLACK * np.nan_to_num(classes.high_cm - classes.low_cm)[sample]
    edge = classes.low_cm[sample]
    inside = (edge > bands["low_cm"].to_numpy()[:, None] + slack) & (
        edge < bands["high_cm"].to_numpy()[:, None] - slack
    )
    joined = np.zeros(classes.low_cm.shape, dtype=bool)
    np.logical_or.at(joined, sample, inside)
    joined[:, 0] = False
    cell = np.cumsum(~joined, axis=1) - 1
    last = np.column_stack([cell[:, 1:] != cell[:, :-1], np.ones(len(cell), dtype=bool)])
    first = ~joined
    low, high = (np.full(cell.shape, np.nan) for _ in range(2))
    row = np.broadcast_to(np.arange(len(cell))[:, None], cell.shape)
    low[row[first], cell[first]] = classes.low_cm[first]
    high[row[last], cell[last]] = classes.high_cm[last]
    rows = classes.rows
    moved = pl.Series("column", cell[rows["sample"].to_numpy(), rows["column"].to_numpy()])
    count, stems, sampled = (
        cell_sums(part, cell) for part in (classes.count, classes.stems, classes.sampled)
    )
    return ScopeClasses(count, stems, sampled, low, high, rows.with_columns(moved))


@dataclass(frozen=True, slots=True)
class ClassTests:
    """Figures of every scope; NaN where there is none.

    Attributes
    ----------
    chi_square, df, p : numpy.ndarray of float
        Pearson's figure of the better Weibull, degrees of freedom, and p-value after the design effect.
    effect : numpy.ndarray of float
        Mean design effect of the class shares, at least 1.
    dip, dip_p : numpy.ndarray of float
        Dip of the distribution through the class edges, and the upper bound of its p-value.
    """

    chi_square: _Floats
    df: _Floats
    p: _Floats
    effect: _Floats
    dip: _Floats
    dip_p: _Floats


def class_tests(
    classes: ScopeClasses, scopes: Scopes, fits: SizeFits, three: npt.NDArray[np.bool_]
) -> ClassTests:
    """Test the fit and the number of peaks of every scope on its classes.

    Parameters
    ----------
    classes : ScopeClasses
        Of all scopes.
    scopes : Scopes
        Blocks.
    fits : SizeFits
        Which scopes can be compared.
    three : numpy.ndarray of bool
        Scopes whose better Weibull has three parameters.
    """
    total = classes.sampled.sum(axis=1, keepdims=True)
    share = np.divide(classes.sampled, total, out=np.zeros_like(total * classes.sampled), where=total > 0)
    enough = fits.n >= LEAST_STEMS - 1e-9
    usable = enough & fits.one_kind
    parts = [
        _chi_square(classes, scopes, fits, share, usable & (three == located), located=bool(located))
        for located in (False, True)
    ]
    statistic, df, p, effect = (np.where(np.isnan(a), b, a) for a, b in zip(*parts, strict=True))
    stems = classes.stems.sum(axis=1, keepdims=True)
    stem_share = np.divide(classes.stems, stems, out=np.zeros_like(stems * classes.stems), where=stems > 0)
    columns = np.tile(np.arange(share.shape[1]), (scopes.n, 1))
    of_classes = _effect(classes, scopes, fits, columns, (stem_share, stem_share), "stems")
    dips = np.full(scopes.n, np.nan)
    for row in np.flatnonzero(enough).tolist():
        dips[row] = _dip(classes, row, float(np.nan_to_num(fits.smallest_cm[row])))
    worth = np.divide(fits.n, of_classes, out=np.full(scopes.n, np.nan), where=of_classes >= 1)
    bounds = np.where(worth >= _LEAST_WORTH, dip_p(dips, worth), np.nan)
    return ClassTests(statistic, df, p, np.where(np.isnan(effect), of_classes, effect), dips, bounds)


def _chi_square(
    classes: ScopeClasses,
    scopes: Scopes,
    fits: SizeFits,
    share: _Floats,
    wanted: npt.NDArray[np.bool_],
    *,
    located: bool,
) -> tuple[_Floats, _Floats, _Floats, _Floats]:
    """Return chi-square, degrees of freedom, p-value and design effect of one kind of Weibull."""
    filled = ~(np.isnan(classes.low_cm) & np.isnan(classes.high_cm))
    smallest = np.nan_to_num(fits.smallest_cm)
    low = np.maximum(np.nan_to_num(classes.low_cm), smallest[:, None])
    high = np.where(np.isnan(classes.high_cm), np.inf, classes.high_cm)
    there = wanted[:, None] & (share > 0) & (high > low)
    sample = np.nonzero(there)[0]
    sizes = sizes_of(
        low[there],
        high[there],
        weight=(share * fits.n[:, None])[there],
        order=np.where(fits.biased, 2, 0)[sample],
        truncation=smallest[sample],
        sample=sample,
        n_samples=scopes.n,
    )
    fit = fit_weibull(sizes, three_parameters=located)
    expected = _expected(fit, fits, low, filled & wanted[:, None])
    cells = pooled_cells(np.nan_to_num(expected))
    observed = cell_sums(np.where(wanted[:, None], share * fits.n[:, None], 0.0), cells)
    expected = cell_sums(expected, cells)
    model = np.divide(expected, fits.n[:, None], out=np.zeros_like(expected), where=fits.n[:, None] > 0)
    effect = _effect(classes, scopes, fits, cells, (cell_sums(share, cells), np.nan_to_num(model)), "sampled")
    known = ~np.isnan(fit.shape)
    statistic, df, p = chi_square(observed, np.nan_to_num(expected), fit.n_parameters, effect)
    return tuple(
        np.where(known, part, np.nan) for part in (statistic, df, p, np.where(df > 0, effect, np.nan))
    )  # type: ignore[return-value]


def _expected(fit: WeibullFit, fits: SizeFits, low: _Floats, filled: npt.NDArray[np.bool_]) -> _Floats:
    """Return expected stems by scope and class: the first from the smallest diameter up, the last open."""
    m, k = low.shape
    cuts = np.where(filled, low, np.inf)
    cuts[:, 0] = np.where(filled[:, 0], np.nan_to_num(fits.smallest_cm), np.inf)
    ends = np.column_stack([cuts[:, 1:], np.full(m, np.inf)])
    each = [np.repeat(part, k) for part in (fit.shape, fit.scale, fit.location)]
    order = np.repeat(np.where(fits.biased, 2, 0), k)
    above = log_mass(cuts.ravel(), np.full(m * k, np.inf), order, *each)
    beyond = log_mass(ends.ravel(), np.full(m * k, np.inf), order, *each)
    start = above.reshape(m, k)[:, :1]
    with np.errstate(invalid="ignore"):
        mass = np.exp(above.reshape(m, k) - start) - np.exp(beyond.reshape(m, k) - start)
    lost = np.isnan(fit.shape)[:, None]
    return np.where(lost, np.nan, np.where(filled, np.maximum(mass, 0.0), 0.0) * fits.n[:, None])


def _effect(
    classes: ScopeClasses,
    scopes: Scopes,
    fits: SizeFits,
    cells: _Ints,
    shares: tuple[_Floats, _Floats],
    what: str,
) -> _Floats:
    """Return the mean design effect n Σ v/π / (cells - 1), at least 1, with v the variance of cell shares by plots.

    Where there are too few plots, that of the weights alone.
    """
    found, model = shares
    rows = classes.rows.with_columns(
        pl.Series("cell", cells[classes.rows["sample"].to_numpy(), classes.rows["column"].to_numpy()])
    )
    key = ["sample", "block", "compartment", "plot"]
    by_cell = ordered_sums(rows, [*key, "cell"], y=pl.col(what))
    whole = ordered_sums(rows, key, w=pl.col(what))
    by_cell = by_cell.join(whole, on=key, maintain_order="left")
    n_blocks, n_cells = scopes.blocks.height, cells.shape[1]
    n, factor = scopes.blocks["n"].to_numpy(), scopes.blocks["factor"].to_numpy()
    of_sample = scopes.blocks["sample"].to_numpy()
    block, y, w = (by_cell[name].to_numpy() for name in ("block", "y", "w"))
    cell = block * n_cells + by_cell["cell"].to_numpy()

    def by_block(where: npt.NDArray[np.int64], values: _Floats, size: int) -> _Floats:
        """Sum values, with a cell's row for each block where asked for."""
        return np.bincount(where, values, size).astype(float)

    w_block = whole["block"].to_numpy()
    all_w = by_block(w_block, whole["w"].to_numpy(), n_blocks)
    spread_w = by_block(w_block, whole["w"].to_numpy() ** 2, n_blocks) - all_w**2 / n
    y_cell = by_block(cell, y, n_blocks * n_cells).reshape(n_blocks, n_cells)
    yy = by_block(cell, y**2, n_blocks * n_cells).reshape(n_blocks, n_cells) - y_cell**2 / n[:, None]
    yw = by_block(cell, y * w, n_blocks * n_cells).reshape(n_blocks, n_cells) - y_cell * (all_w / n)[:, None]
    sums = [np.zeros((scopes.n, n_cells)) for _ in range(2)]
    for total, part in zip(sums, (yy, yw), strict=True):
        np.add.at(total, of_sample, part * factor[:, None])
    base = np.bincount(of_sample, spread_w * factor, scopes.n)[:, None]
    everything = np.bincount(of_sample, all_w, scopes.n)
    variance = sums[0] - 2.0 * found * sums[1] + found**2 * base
    filled = model > 0
    with np.errstate(invalid="ignore", divide="ignore"):
        ratios = np.where(filled, variance / np.where(filled, model, 1.0), 0.0).sum(axis=1)
        by_plots = fits.n * ratios / everything**2 / (filled.sum(axis=1) - 1)
    effect = np.where(scopes.df >= _LEAST_DF, by_plots, fits.kish)
    return np.where(np.isfinite(effect), np.maximum(effect, 1.0), np.nan)


def _dip(classes: ScopeClasses, row: int, smallest_cm: float) -> float:
    """Return the dip of one scope; an open class is given the width of its neighbour."""
    last = int(np.flatnonzero(classes.count[row] > 0)[-1])
    low, high = classes.low_cm[row, : last + 1].copy(), classes.high_cm[row, : last + 1].copy()
    if np.isnan(low[0]):
        low[0] = min(smallest_cm, high[0] - _LEAST_CM)
    if np.isnan(high[-1]):
        high[-1] = low[-1] + (high[-2] - low[-2] if last else _OPEN_WIDTH_CM)
    if low[0] < smallest_cm < high[0]:
        low[0] = smallest_cm
    stems = classes.stems[row, : last + 1]
    return dip_of_classes([*low, high[-1]], stems / stems.sum())
