"""Tallies by class or painted band: stems shared out over the size classes by a linear density."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from plotmap.model.class_rule import Band, ClassMeasure, ClassRule
from plotmap.model.field_tables import NO_SPECIES, TREES
from plotmap.model.findings import Findings, findings_of
from plotmap.model.stem_table import TALLIED_SCHEMA
from plotmap.statistics.grouped import linear_density

if TYPE_CHECKING:
    from plotmap.model.settings import Settings

_BANDS, _CLASSES = 0, 1
"""The two tallies a crew may keep; each has a density of its own."""
_EDGE_CM = 1e-6
_KEYS = ("scheme", "low_cm", "high_cm")
_INTERVALS = {"scheme": pl.Int64, "low_cm": pl.Float64, "high_cm": pl.Float64}
NO_CLASS, NO_COUNT = "class unknown", "no count"
"""Why a tally row is set aside."""


def share_out(
    tallies: pl.DataFrame, settings: Settings, file: str
) -> tuple[pl.DataFrame, pl.Series, Findings]:
    """Share every tally row out over the size classes it reaches into.

    Within a class or band the sizes have a linear density that leans towards the fuller neighbour
    (`plotmap.statistics.grouped`). It is made once for the bands and once for the classes, over all plots
    and species. Classes are taken as they stand: neither rounding, bark, instruments nor the smallest
    diameter changes them.

    Parameters
    ----------
    tallies : polars.DataFrame
        Reads ``plot``, ``species``, ``class``, ``count`` and ``source_row``.
    settings : Settings
        Class rule, bands and the smallest diameter.
    file : str
        File the tallies come from.

    Returns
    -------
    tallied : polars.DataFrame
        Columns of `TALLIED_SCHEMA`. Counts of the parts of a row add up to its count.
    reasons : polars.Series of str
        For every input row why it is set aside, missing where it is used.
    findings : Findings
        ``tally-class-unknown``.
    """
    rule = settings.class_rule
    labels = _labels(tallies["class"], rule, settings.bands)
    rows = tallies.join(labels, on="class", how="left", maintain_order="left").with_columns(
        pl.col("count").cast(pl.Float64).fill_nan(None)
    )
    reason = (
        pl.when(pl.col("scheme").is_null())
        .then(pl.lit(NO_CLASS))
        .when(pl.col("count").is_null() | (pl.col("count") < 0))
        .then(pl.lit(NO_COUNT))
    )
    rows = rows.with_columns(reason.alias("reason"))
    findings = _unknown(rows, rule, settings.bands, file)
    used = rows.filter(pl.col("reason").is_null())
    parts = _parts(used, settings)
    tallied = used.join(parts, on=_KEYS, how="inner", maintain_order="left_right").select(
        "plot",
        pl.col("species").fill_null(NO_SPECIES),
        pl.col("class").alias("tallied_as"),
        "class_index",
        pl.col("count") * pl.col("share"),
        "dbh_cm",
        "square_cm2",
        "source_row",
    )
    return tallied.cast(TALLIED_SCHEMA), rows["reason"], findings


def _labels(classes: pl.Series, rule: ClassRule, bands: tuple[Band, ...]) -> pl.DataFrame:
    """Return scheme and edges (cm of the rule's measure) of every label that is written and known."""
    by_name = {band.name: (_BANDS, band.low_cm, band.high_cm) for band in bands}
    known: dict[str, tuple[int, float, float]] = {}
    for label in classes.drop_nulls().unique():
        if label.strip() in by_name:
            known[label] = by_name[label.strip()]
        elif (edges := rule.edges_of_label(label)) and edges[0] < _largest_cm(rule):
            known[label] = (_CLASSES, *_exact(edges, rule))
    cells = [(label, *place) for label, place in known.items()]
    return pl.DataFrame(cells, schema={"class": pl.String, **_INTERVALS}, orient="row")


def _largest_cm(rule: ClassRule) -> float:
    """Return the largest diameter or girth in cm that a stem may have: no class begins there."""
    return TREES["girth_cm" if rule.on is ClassMeasure.GIRTH else "d_cm"].high or math.inf


def _exact(edges: tuple[float, float], rule: ClassRule) -> tuple[float, float]:
    """Return the edges as the rule itself computes them, so that one class has one pair of edges."""
    if rule.width_cm is None:
        return edges
    index = round(edges[0] / rule.width_cm)
    return index * rule.width_cm, (index + 1) * rule.width_cm


def _unknown(rows: pl.DataFrame, rule: ClassRule, bands: tuple[Band, ...], file: str) -> Findings:
    """Find rows whose class is neither a band nor a class."""
    index = 2 if rule.width_cm is not None else 0
    named = f"the bands {', '.join(band.name for band in bands)} and " if bands else ""
    allowed = (
        f"{named}{rule.describe().partition(';')[0]} up to {_largest_cm(rule):g} cm, "
        f"written as in {rule.label(index)}"
    )
    return findings_of(
        "tally-class-unknown",
        rows.filter(pl.col("scheme").is_null() & pl.col("class").is_not_null()),
        file,
        pl.format("class {} is not known; allowed are {}", "class", pl.lit(allowed)),
        plot="plot",
        column="class",
        value="class",
    )


def _parts(used: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Return, for every interval of the tallies, its parts by size class with share, mean and mean square."""
    rule = settings.class_rule
    to_diameter = 1 / math.pi if rule.on is ClassMeasure.GIRTH else 1.0
    counted = used.group_by(_KEYS).agg(pl.col("count").sum())
    looked_for = _looked_for(counted, settings)
    intervals = (
        looked_for.join(counted, on=_KEYS, how="left", maintain_order="left")
        .with_columns(pl.col("count").fill_null(0.0))
        .with_row_index("row")
    )
    low, high = (intervals[name].to_numpy() * to_diameter for name in ("low_cm", "high_cm"))
    density = linear_density(low, high, intervals["count"].to_numpy(), intervals["scheme"].to_numpy())
    cut = _cut(intervals, rule).with_columns(pl.col("part_low", "part_high") * to_diameter)
    share, mean, mean_square = density.parts(
        cut["part_low"].to_numpy(), cut["part_high"].to_numpy(), cut["row"].to_numpy()
    )
    return (
        cut.with_columns(
            pl.Series("share", share), pl.Series("dbh_cm", mean), pl.Series("square_cm2", mean_square)
        )
        .with_columns(
            pl.col("share") / pl.col("share").sum().over("row"),
            rule.index((pl.col("part_low") + pl.col("part_high")) / 2).alias("class_index"),
        )
        .select(*_KEYS, "class_index", "share", "dbh_cm", "square_cm2")
    )


def _looked_for(counted: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Return every interval of the tallies, those in which nothing was found too.

    All bands, where a band was tallied. All classes up to the largest tallied: from the one the smallest
    diameter of the settings lies in, or from the smallest tallied where no such diameter is stated.
    """
    rule = settings.class_rule
    rows: list[tuple[int, float, float]] = []
    if not counted.filter(pl.col("scheme") == _BANDS).is_empty():
        rows += [(_BANDS, band.low_cm, band.high_cm) for band in settings.bands]
    classes = counted.filter(pl.col("scheme") == _CLASSES)
    if not classes.is_empty():
        middle = (pl.col("low_cm") + pl.col("high_cm")) / 2
        diameter = middle / math.pi if rule.on is ClassMeasure.GIRTH else middle
        indexes = classes.select(rule.index(diameter)).to_series().to_list()
        first, last = min(indexes), max(indexes)
        if settings.stems.min_dbh_cm > 0:
            smallest = pl.select(rule.index(pl.lit(settings.stems.min_dbh_cm))).item()
            first = min(first, max(smallest, 0))
        for index in range(first, last + 1):
            low, high = rule.low_cm(index), rule.high_cm(index)
            if low is not None and high is not None:
                rows.append((_CLASSES, low, high))
    return pl.DataFrame(rows, schema=_INTERVALS, orient="row")


def _cut(intervals: pl.DataFrame, rule: ClassRule) -> pl.DataFrame:
    """Cut intervals at the edges of the size classes (cm of the rule's measure)."""
    rows: list[tuple[int, int, float, float, float, float]] = []
    for row, scheme, low, high in intervals.select("row", *_KEYS).iter_rows():
        ends = [low, *_inner_edges(rule, low, high), high]
        rows += [(row, scheme, low, high, begin, end) for begin, end in pairwise(ends)]
    schema = {"row": pl.Int64, **_INTERVALS, "part_low": pl.Float64, "part_high": pl.Float64}
    return pl.DataFrame(rows, schema=schema, orient="row")


def _inner_edges(rule: ClassRule, low: float, high: float) -> list[float]:
    """Return the class edges between two sizes in cm of the rule's measure."""
    edges = np.asarray(rule.edges_cm, dtype=float)
    if rule.width_cm is not None:
        edges = rule.width_cm * np.arange(
            math.floor(low / rule.width_cm), math.ceil(high / rule.width_cm) + 1
        )
    inner: list[float] = edges[(edges > low + _EDGE_CM) & (edges < high - _EDGE_CM)].tolist()
    return inner
