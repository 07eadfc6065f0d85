"""The section of a stem: the mean of several readings, how round it is, and what other means would have given."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

import polars as pl

from plotmap.model.field_tables import CALIPER
from plotmap.model.result_tables import SECTION_EFFECT_RESULTS
from plotmap.model.settings import SectionMean
from plotmap.units import M2_PER_CM2

GIRTH = "girth"
"""The word of ``mean`` for the girth over π."""
_READING = re.compile(r"^d(\d+)_cm$")
_SCHEMA: dict[str, type[pl.DataType]] = {
    "mean": pl.String,
    "used": pl.String,
    "n_stems": pl.Int64,
    "basal_area_m2": pl.Float64,
    "basal_area_used_m2": pl.Float64,
    "difference_pct": pl.Float64,
}


def reading_columns(stems: pl.DataFrame) -> list[str]:
    """Return the caliper columns ``d1_cm`` … ``dn_cm`` that are there, in the order of their numbers."""
    numbers = {name: int(found[1]) for name in stems.columns if (found := _READING.match(name))}
    return sorted(numbers, key=numbers.__getitem__)


def corrected_name(column: str) -> str:
    """Return the name of the corrected reading of a column: ``d1_cm_corrected``."""
    return f"{column}_corrected"


def section_mean(readings_cm: Sequence[str], rule: SectionMean) -> pl.Expr:
    """Return the mean diameter of the readings that are there.

    Parameters
    ----------
    readings_cm : sequence of str
        Columns of readings in cm; missing ones are passed over.
    rule : SectionMean
        Arithmetic mean, geometric mean, or quadratic mean (root of the mean square).

    Returns
    -------
    polars.Expr
        Mean in cm; missing where there is no reading or one of them is not positive.
    """
    if not readings_cm:
        return pl.lit(None, pl.Float64)
    columns = [pl.col(name) for name in readings_cm]
    if rule is SectionMean.GEOMETRIC:
        mean = pl.mean_horizontal(column.log() for column in columns).exp()
    elif rule is SectionMean.QUADRATIC:
        mean = pl.mean_horizontal(column.pow(2) for column in columns).sqrt()
    else:
        mean = pl.mean_horizontal(columns)
    several = pl.sum_horizontal(column.is_not_null() for column in columns) > 1
    return pl.when(pl.min_horizontal(columns) > 0).then(
        pl.when(several).then(mean).otherwise(pl.coalesce(columns))
    )


def error_share(readings_cm: Sequence[str], rule: SectionMean) -> pl.Expr:
    """Return how much of one reading's error variance the squared mean of the section holds on average.

    Of k readings with independent errors of variance v, the square of the arithmetic mean is too large by v / k
    and the mean square by v, both exactly; the square of the geometric mean by (2 / k − 1) v, which is the second
    order of its series: nothing with two readings, and negative with more.

    Parameters
    ----------
    readings_cm : sequence of str
        Columns of readings in cm; missing ones are passed over.
    rule : SectionMean
        Mean that was used.
    """
    k = pl.sum_horizontal([pl.col(name).is_not_null() for name in readings_cm] or [pl.lit(0)]).cast(
        pl.Float64
    )
    if rule is SectionMean.QUADRATIC:
        return pl.lit(1.0)
    return 2 / k - 1 if rule is SectionMean.GEOMETRIC else 1 / k


def roundness(readings_cm: Sequence[str]) -> pl.Expr:
    """Return the smallest over the largest corrected reading (0 to 1); missing with fewer than two."""
    if len(readings_cm) < 2:  # noqa: PLR2004
        return pl.lit(None, pl.Float64)
    cells = [pl.col(corrected_name(name)) for name in readings_cm]
    smallest, largest = pl.min_horizontal(cells), pl.max_horizontal(cells)
    return pl.when((several(readings_cm) > 1) & (smallest > 0)).then(smallest / largest)


def several(readings_cm: Sequence[str]) -> pl.Expr:
    """Return how many of the readings are there."""
    return pl.sum_horizontal([pl.col(name).is_not_null() for name in readings_cm] or [pl.lit(0)])


def section_effect(stems: pl.DataFrame, rule: SectionMean) -> pl.DataFrame:
    """Return what each mean would give for the basal area of the stems with several readings.

    All on the basis of the reading (before bark) and before the random error of the instrument is taken off, so
    that nothing but the mean differs.

    Parameters
    ----------
    stems : polars.DataFrame
        Stems that count, after `plotmap.stems.diameters.with_diameters`; reads ``times`` (1 where missing).
    rule : SectionMean
        Mean of the settings.

    Returns
    -------
    polars.DataFrame
        Columns of `SECTION_EFFECT_RESULTS`: a row for each mean if any stem has two or more caliper readings, and
        one for the girth if any has both. Basal area in m².
    """
    readings = reading_columns(stems)
    calipered = stems.lazy().filter(pl.col("measured_by") == CALIPER)
    columns = [corrected_name(name) for name in readings]
    of_readings = calipered.filter(several(readings) > 1).select(
        _weight(),
        pl.col("outside_cm").alias("used"),
        *(section_mean(columns, mean).alias(mean.value) for mean in SectionMean),
    )
    of_girths = calipered.filter(pl.col("girth_diameter_cm").is_not_null()).select(
        _weight(), pl.col("outside_cm").alias("used"), pl.col("girth_diameter_cm").alias(GIRTH)
    )
    rows = []
    for frame, names in ((of_readings, [mean.value for mean in SectionMean]), (of_girths, [GIRTH])):
        sums = frame.select(
            pl.len().alias("n"),
            *((pl.col("times") * pl.col(name).pow(2)).sum().alias(name) for name in ["used", *names]),
        ).collect()
        if sums["n"].item():
            rows += [_row(name, sums, rule) for name in names]
    return pl.DataFrame(rows, schema=_SCHEMA, orient="row").select(SECTION_EFFECT_RESULTS.names)


def _weight() -> pl.Expr:
    """Return how often a stem counts."""
    return pl.col("times").fill_null(1.0)


def _row(name: str, sums: pl.DataFrame, rule: SectionMean) -> tuple[str, str, int, float, float, float]:
    """Return one row of the table from sums of squared diameters in cm²."""
    here, used = float(sums[name].item()) * M2_PER_CM2, float(sums["used"].item()) * M2_PER_CM2
    difference_pct = 100 * (here / used - 1) if used > 0 else math.nan
    return name, "yes" if name == rule.value else "no", int(sums["n"].item()), here, used, difference_pct
