"""Tallies by class or painted band: stems shared out over the size classes by a density of sizes."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from plotmap.model.class_rule import ClassRule
from plotmap.model.field_tables import NO_SPECIES
from plotmap.model.findings import Findings
from plotmap.model.stem_table import TALLIED_SCHEMA
from plotmap.statistics.grouped import linear_density
from plotmap.stems.tally_classes import BANDS, CLASSES, class_findings, labels, nominal_zero_cm, to_diameter
from plotmap.stems.tally_tail import TAIL_MEANS, tail_parts

if TYPE_CHECKING:
    from plotmap.model.settings import Settings

_EDGE_CM = 1e-6
_KEYS = ("scheme", "low_cm", "high_cm")
_CORRECTION = ("zero_diameter_cm", "gain")
_INTERVALS = {"scheme": pl.Int64, "low_cm": pl.Float64, "high_cm": pl.Float64, "mean_cm": pl.Float64}
_CUT = {
    "part_of": pl.Int64,
    "row": pl.Int64,
    "begin": pl.Float64,
    "end": pl.Float64,
    "inside": pl.Float64,
}
NO_CLASS, NO_COUNT = "class unknown", "no count"
"""Why a tally row is set aside."""


def share_out(
    tallies: pl.DataFrame, settings: Settings, file: str
) -> tuple[pl.DataFrame, pl.Series, Findings]:
    """Share every tally row out over the size classes it reaches into.

    Within a class or band the sizes have a linear density that leans towards the fuller neighbour
    (`plotmap.statistics.grouped`), and above an open edge one that falls off exponentially with the stated mean
    (`plotmap.stems.tally_tail`). They are made once for the bands and once for the classes, over all plots
    and species, on the scale of the instrument; a zero or gain in force on the day of the plot then moves every
    size t to (t − zero) · gain, so that edges move and counts do not. Neither rounding, bark nor the smallest
    diameter changes a tally.

    Parameters
    ----------
    tallies : polars.DataFrame
        Reads ``plot``, ``species``, ``class``, ``count``, ``source_row``, ``instrument`` and what
        `plotmap.stems.instruments.with_checks` adds.
    settings : Settings
        Class rule, bands, means of what is open above, and the smallest diameter.
    file : str
        File the tallies come from.

    Returns
    -------
    tallied : polars.DataFrame
        Columns of `TALLIED_SCHEMA`. Counts of the parts of a row add up to its count.
    reasons : polars.Series of str
        For every input row why it is set aside, missing where it is used.
    findings : Findings
        ``tally-class-unknown``, ``tally-below-threshold`` and ``band-edges-moved``.
    """
    rows = tallies.join(
        labels(tallies["class"], settings), on="class", how="left", maintain_order="left"
    ).with_columns(pl.col("count").cast(pl.Float64).fill_nan(None), nominal_zero_cm(tallies))
    reason = (
        pl.when(pl.col("scheme").is_null())
        .then(pl.lit(NO_CLASS))
        .when(pl.col("count").is_null() | (pl.col("count") < 0))
        .then(pl.lit(NO_COUNT))
    )
    rows = rows.with_columns(reason.alias("reason"))
    used = rows.filter(pl.col("reason").is_null())
    parts = _parts(used, settings)
    tallied = used.join(
        parts, on=[*_KEYS, *_CORRECTION], how="inner", maintain_order="left_right"
    ).with_columns(
        pl.col("species").fill_null(NO_SPECIES),
        pl.col("class").alias("tallied_as"),
        pl.col("count") * pl.col("share"),
        *_true_edges(to_diameter(settings.class_rule)),
    )
    tallied = tallied.select(TALLIED_SCHEMA.names()).cast(TALLIED_SCHEMA)
    return tallied, rows["reason"], class_findings(rows, settings, file)


def _true_edges(scale: float) -> list[pl.Expr]:
    """Return the edges of what was tallied as corrected diameters, in cm; never below zero."""
    zero, gain = pl.col("zero_diameter_cm"), pl.col("gain")
    return [
        ((pl.col(edge) * scale - zero) * gain).clip(lower_bound=0.0).alias(name)
        for edge, name in (("low_cm", "from_cm"), ("high_cm", "to_cm"))
    ]


def _parts(used: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Return, for every interval and correction, its parts by size class with share, mean and mean square."""
    rule = settings.class_rule
    scale = to_diameter(rule)
    counted = used.group_by(_KEYS).agg(pl.col("count").sum())
    intervals = (
        _looked_for(counted, settings)
        .join(counted, on=_KEYS, how="left", maintain_order="left")
        .with_columns(pl.col("count").fill_null(0.0))
        .with_row_index("row")
    )
    moved = (
        intervals.join(used.select(*_KEYS, *_CORRECTION).unique(), on=_KEYS, how="inner")
        .sort("row", *_CORRECTION)
        .with_row_index("part_of")
    )
    cut = _cut(moved, rule)
    share, mean, mean_square = _sizes(intervals, cut, scale)
    zero, gain, whole = pl.col("zero_diameter_cm"), pl.col("gain"), pl.col("share").sum().over("part_of")
    return (
        cut.with_columns(
            pl.Series("share", share), pl.Series("mean", mean), pl.Series("mean_square", mean_square)
        )
        .join(moved.select("part_of", *_KEYS, *_CORRECTION), on="part_of", how="left", maintain_order="left")
        .with_columns(
            pl.when(whole > 0).then(pl.col("share") / whole).otherwise(1 / pl.len().over("part_of")),
            rule.index(pl.col("inside")).alias("class_index"),
            ((pl.col("mean") - zero) * gain).clip(lower_bound=0.0).alias("dbh_cm"),
            ((pl.col("mean_square") - 2 * zero * pl.col("mean") + zero**2) * gain**2)
            .clip(lower_bound=0.0)
            .alias("square_cm2"),
        )
        .select(*_KEYS, *_CORRECTION, "class_index", "share", "dbh_cm", "square_cm2")
    )


def _sizes(
    intervals: pl.DataFrame, cut: pl.DataFrame, scale: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return share, mean (cm) and mean square (cm²) of the parts, as diameters on the instrument's scale."""
    low, high, stated = (intervals[name].to_numpy() * scale for name in ("low_cm", "high_cm", "mean_cm"))
    is_open = np.isinf(high)
    # to its neighbour below, an open interval is a class of the same count whose middle is the stated mean
    closed_high = np.where(is_open, low + 2 * (stated - low), high)
    density = linear_density(low, closed_high, intervals["count"].to_numpy(), intervals["scheme"].to_numpy())
    row = cut["row"].to_numpy()
    begin, end = cut["begin"].to_numpy(), cut["end"].to_numpy()
    made = np.empty((3, cut.height))
    tail = is_open[row]
    made[:, ~tail] = density.parts(begin[~tail], end[~tail], row[~tail])
    made[:, tail] = tail_parts(begin[tail], end[tail], low[row[tail]], stated[row[tail]])
    return made[0], made[1], made[2]


def _looked_for(counted: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Return every interval of the tallies, those in which nothing was found too.

    All bands, where a band was tallied. All classes up to the largest tallied: from the one the smallest
    diameter of the settings lies in, or from the smallest tallied where no such diameter is stated.
    """
    rule = settings.class_rule
    rows: list[tuple[int, float, float, float | None]] = []
    if not counted.filter(pl.col("scheme") == BANDS).is_empty():
        rows += [(BANDS, band.low_cm, band.high_cm, band.mean_cm) for band in settings.bands]
    classes = counted.filter(pl.col("scheme") == CLASSES)
    if not classes.is_empty():
        is_open = pl.col("high_cm").is_infinite()
        middle = (
            pl.when(is_open)
            .then(pl.col("low_cm") + 1.0)
            .otherwise((pl.col("low_cm") + pl.col("high_cm")) / 2)
        )
        indexes = classes.select(rule.index(middle * to_diameter(rule))).to_series().to_list()
        first, last = min(indexes), max(indexes)
        if settings.stems.min_dbh_cm > 0:
            smallest = pl.select(rule.index(pl.lit(settings.stems.min_dbh_cm))).item()
            first = min(first, max(smallest, 0))
        for index in range(first, last + 1):
            low, high = rule.low_cm(index), rule.high_cm(index)
            if low is not None and high is not None:
                rows.append((CLASSES, low, high, None))
            elif low is not None:
                rows.append((CLASSES, low, math.inf, settings.classes.top_mean_cm))
    return pl.DataFrame(rows, schema=_INTERVALS, orient="row")


def _cut(moved: pl.DataFrame, rule: ClassRule) -> pl.DataFrame:
    """Cut intervals where the true sizes cross the edges of the size classes.

    Ends are diameters on the instrument's scale (cm); ``inside`` is a true diameter inside the part's class.
    """
    scale = to_diameter(rule)
    rows: list[tuple[int, int, float, float, float]] = []
    names = ("part_of", "row", "low_cm", "high_cm", "mean_cm", *_CORRECTION)
    for part_of, row, low_cm, high_cm, mean_cm, zero, gain in moved.select(names).iter_rows():
        low = max(low_cm * scale, min(zero, high_cm * scale))
        is_open = math.isinf(high_cm)
        reach = low_cm + TAIL_MEANS * (mean_cm - low_cm) if is_open else high_cm
        begin_true, end_true = ((low - zero) * gain, (reach * scale - zero) * gain)
        edges = [edge * scale for edge in _inner_edges(rule, begin_true / scale, end_true / scale)]
        ends = [low, *(edge / gain + zero for edge in edges), reach * scale]
        insides = [(one + other) / 2 for one, other in pairwise([begin_true, *edges, end_true])]
        parts = list(pairwise(ends))
        if is_open:
            parts[-1] = (parts[-1][0], math.inf)
        rows += [(part_of, row, *part, inside) for part, inside in zip(parts, insides, strict=True)]
    return pl.DataFrame(rows, schema=_CUT, orient="row")


def _inner_edges(rule: ClassRule, low: float, high: float) -> list[float]:
    """Return the class edges between two sizes in cm of the rule's measure."""
    edges = np.asarray(rule.edges_cm, dtype=float)
    if rule.width_cm is not None:
        edges = rule.width_cm * np.arange(
            math.floor(low / rule.width_cm), math.ceil(high / rule.width_cm) + 1
        )
    inner: list[float] = edges[(edges > low + _EDGE_CM) & (edges < high - _EDGE_CM)].tolist()
    return inner
