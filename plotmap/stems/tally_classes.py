"""What the class of a tally row stands for: a size class or a painted band, and where its edges are."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import polars as pl

from plotmap.model.class_rule import ClassMeasure, ClassRule
from plotmap.model.field_tables import TAPE, TREES, UNDER
from plotmap.model.findings import Findings, findings_of
from plotmap.stems.instrument_checks import MM_PER_CM

if TYPE_CHECKING:
    from plotmap.model.settings import Settings

BANDS, CLASSES = 0, 1
"""The two tallies a crew may keep; each has a density of its own."""
LABELS: dict[str, type[pl.DataType]] = {
    "class": pl.String,
    "scheme": pl.Int64,
    "low_cm": pl.Float64,
    "high_cm": pl.Float64,
    "band_letter": pl.String,
}
_SHOWN = 2


def labels(classes: pl.Series, settings: Settings) -> pl.DataFrame:
    """Return what every class as written stands for.

    Parameters
    ----------
    classes : polars.Series of str
        Cells of the tallies.
    settings : Settings
        Class rule, bands and the mean of the open class.

    Returns
    -------
    polars.DataFrame
        Columns of `LABELS`, one row a spelling that is known: `BANDS` or `CLASSES`, edges in cm of the rule's
        measure (the upper one infinite where open above) and the letter of a band.
    """
    rule, bands = settings.class_rule, settings.bands
    marks = {band.letter: band for band in bands} | {band.name: band for band in bands}
    cells: list[tuple[str, int, float, float, str | None]] = []
    for label in classes.drop_nulls().unique():
        band = marks.get(label.strip())
        edges = rule.edges_of_label(label)
        if band is not None:
            cells.append((label, BANDS, band.low_cm, band.high_cm, band.letter))
        elif edges and edges[0] < largest_cm(rule) and not _lacks_mean(edges, settings):
            cells.append((label, CLASSES, *_exact(edges, rule), None))
    return pl.DataFrame(cells, schema=LABELS, orient="row")


def largest_cm(rule: ClassRule) -> float:
    """Return the largest diameter or girth in cm that a stem may have: no class begins there."""
    return TREES["girth_cm" if rule.on is ClassMeasure.GIRTH else "d_cm"].high or math.inf


def to_diameter(rule: ClassRule) -> float:
    """Return what a size in the rule's measure is multiplied by to be a diameter."""
    return 1 / math.pi if rule.on is ClassMeasure.GIRTH else 1.0


def _lacks_mean(edges: tuple[float, float], settings: Settings) -> bool:
    """Say whether a class is open above without a stated mean."""
    return math.isinf(edges[1]) and settings.classes.top_mean_cm is None


def _exact(edges: tuple[float, float], rule: ClassRule) -> tuple[float, float]:
    """Return the edges as the rule itself computes them, so that one class has one pair of edges."""
    if rule.width_cm is None:
        return edges
    index = round(edges[0] / rule.width_cm)
    return index * rule.width_cm, (index + 1) * rule.width_cm


def class_findings(rows: pl.DataFrame, settings: Settings, file: str) -> Findings:
    """Return what is odd about the classes of tallies.

    Parameters
    ----------
    rows : polars.DataFrame
        Tallies with the columns of `LABELS` (missing where the class is not known), ``checked_kind``, ``zero_cm``
        and ``gain``.
    settings : Settings
        Class rule, bands and the smallest diameter.
    file : str
        File they come from.

    Returns
    -------
    Findings
        ``tally-class-unknown``, ``tally-below-threshold``, ``tally-over-bark``, ``tally-not-positive`` and
        ``band-edges-moved``.
    """
    return Findings.join(
        [
            _unknown(rows, settings, file),
            _below(rows, settings, file),
            _over_bark(rows, settings, file),
            _nothing_left(rows, settings, file),
            _moved(rows, settings, file),
        ]
    )


def _unknown(rows: pl.DataFrame, settings: Settings, file: str) -> Findings:
    """Find rows whose class is neither a band nor a class; name the band or class that was meant, if it is plain."""
    rule, bands = settings.class_rule, settings.bands
    index = 2 if rule.width_cm is not None else 0
    named = f"the bands {', '.join(band.name for band in bands)} and " if bands else ""
    allowed = (
        f"{named}{rule.describe().partition(';')[0]} up to {largest_cm(rule):g} cm, "
        f"written as in {rule.label(index)}"
    )
    by_plain = {band.name.casefold(): band.name for band in bands}
    unknown = rows.filter(pl.col("scheme").is_null() & pl.col("class").is_not_null())
    meant: dict[str, str] = {}
    for label in unknown["class"].unique():
        edges = rule.edges_of_label(label)
        name = by_plain.get(label.strip().casefold())
        if name is not None:
            meant[label] = f"; the band {name} differs only in capitals"
        elif edges and _lacks_mean(edges, settings):
            meant[label] = "; a class that is open above needs its mean, [classes] top_mean_cm"
    return findings_of(
        "tally-class-unknown",
        unknown.with_columns(
            pl.col("class").replace_strict(meant, default="", return_dtype=pl.String).alias("meant")
        ),
        file,
        pl.format("class {} is not known; allowed are {}{}", "class", pl.lit(allowed), "meant"),
        plot="plot",
        column="class",
        value="class",
    )


def _below(rows: pl.DataFrame, settings: Settings, file: str) -> Findings:
    """Find tallied classes that begin below the smallest diameter of measured stems."""
    smallest = settings.stems.min_dbh_cm
    low = pl.col("low_cm") * to_diameter(settings.class_rule)
    found = (
        rows.filter(low.round(6) < smallest)
        .sort("source_row")
        .group_by("class", "low_cm", maintain_order=True)
        .agg(pl.col("source_row", "plot").first(), pl.col("count").sum().alias("stems"))
    )
    return findings_of(
        "tally-below-threshold",
        found,
        file,
        pl.format(
            f"class {{}} begins at a diameter of {{}} cm, but measured stems below {smallest:g} cm are set aside; "
            "all of it is counted (stems: {})",
            "class",
            low.round(2),
            pl.col("stems").cast(pl.Int64),
        ),
        plot="plot",
        column="class",
        value="class",
    )


def _over_bark(rows: pl.DataFrame, settings: Settings, file: str) -> Findings:
    """Say once that tallies stay as they are where results are under bark."""
    if settings.stems.bark != UNDER:
        return Findings.none()
    known = rows.filter(pl.col("scheme").is_not_null())
    taken = (
        "1 tally row is taken by its class"
        if known.height == 1
        else f"{known.height} tally rows are taken by their classes"
    )
    return findings_of(
        "tally-over-bark",
        known.sort("source_row").head(1),
        file,
        pl.lit(f"the results are under bark, but {taken} as written; the edges must be sizes under bark"),
        plot="plot",
        column="class",
        value="class",
    )


def _nothing_left(rows: pl.DataFrame, settings: Settings, file: str) -> Findings:
    """Find classes whose upper edge the zero of their instrument eats up."""
    high = pl.col("high_cm") * to_diameter(settings.class_rule)
    return findings_of(
        "tally-not-positive",
        rows.filter(pl.col("scheme").is_not_null() & (high <= pl.col("zero_diameter_cm"))),
        file,
        pl.format(
            "nothing is left of class {} after a zero of {} mm; its upper edge must be more than 0 cm",
            "class",
            (pl.col("zero_cm") * MM_PER_CM).round(3),
        ),
        plot="plot",
        column="class",
        value="class",
    )


def nominal_zero_cm(rows: pl.DataFrame) -> pl.Series:
    """Return the zero in force as a diameter, in cm: of a tape, over π."""
    return rows.select(
        pl.when(pl.col("checked_kind") == TAPE)
        .then(pl.col("zero_cm") / math.pi)
        .otherwise(pl.col("zero_cm"))
        .alias("zero_diameter_cm")
    ).to_series()


def _moved(rows: pl.DataFrame, settings: Settings, file: str) -> Findings:
    """Say for each instrument and correction where the edges of its classes went."""
    rule = settings.class_rule
    known = rows.filter(pl.col("scheme").is_not_null() & pl.col("checked_kind").is_not_null())
    moved = known.filter((pl.col("zero_cm") != 0) | (pl.col("gain") != 1))

    def edge(name: str) -> pl.Expr:
        """Return where an edge went, in cm of the rule's measure, as text."""
        size = (pl.col(name) * to_diameter(rule) - pl.col("zero_diameter_cm")) * pl.col("gain")
        return (size.clip(lower_bound=0.0) / to_diameter(rule)).round(_SHOWN).cast(pl.String)

    is_open = pl.col("high_cm").is_infinite()
    high = pl.when(is_open).then(pl.lit(" cm and up")).otherwise("–" + edge("high_cm") + " cm")
    told = (
        moved.with_columns(pl.format("{} to {}{}", "class", edge("low_cm"), high).alias("told"))
        .sort("source_row")
        .group_by("instrument", "zero_cm", "gain", maintain_order=True)
        .agg(
            pl.col("source_row", "plot").first(),
            pl.col("told").unique(maintain_order=True).str.join(", "),
            pl.len().alias("rows"),
        )
    )
    return findings_of(
        "band-edges-moved",
        told,
        file,
        pl.format(
            "instrument {} has a zero of {} mm and a gain of {} in force, which moves the edges of {} (rows: {}); "
            "the counts stay",
            "instrument",
            (pl.col("zero_cm") * MM_PER_CM).round(3),
            pl.col("gain").round(4),
            "told",
            "rows",
        ),
        plot="plot",
        column="class",
        value="instrument",
    )
