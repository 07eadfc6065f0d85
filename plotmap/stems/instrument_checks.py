"""Checks of instruments: the zero, gain and random error that each day of checks says."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import polars as pl

from plotmap.model.field_tables import CALIPER
from plotmap.model.findings import Findings, findings_of

if TYPE_CHECKING:
    from plotmap.model.settings import StemsSection

MIN_GAIN, MAX_GAIN = 0.8, 1.25
"""A gain outside is no reading of the check bar (common practice, no source)."""
MM_PER_CM = 10.0
_DECIMALS = 6
_BAR = ("bar_mm", "bar_reading_mm")


def read_checks(
    instruments: pl.DataFrame, settings: StemsSection, file: str
) -> tuple[pl.DataFrame, Findings]:
    """Return what is in force from each day of checks on.

    Rows of one instrument and day are repeated readings of one bar, and their mean counts. What the day lacks
    (zero, bar, repeats, kind) is taken from the last earlier check of the instrument that has it.

    Parameters
    ----------
    instruments : polars.DataFrame
        Columns of `INSTRUMENTS` and ``source_row``. Rows without instrument or day are left out.
    settings : StemsSection
        Reads ``max_gain_off_pct``, ``max_zero_move_mm`` and ``max_gain_move_pct``.
    file : str
        File they come from.

    Returns
    -------
    checks : polars.DataFrame
        One row an instrument and day, sorted by both: ``instrument``, ``date``, ``source_row`` (of its first
        row), ``kind``, ``zero_cm`` (cm, 0 where never read), ``gain`` (1 where never read), ``error_cm`` (standard
        deviation of one reading in cm; missing where never repeated), ``bar_mm``, ``bar_readings``, ``lean_deg`` (see
        `lean_deg`), ``from_earlier`` (words; missing where nothing was) and ``days_in_force``.
    findings : Findings
        ``bar-unusable``, ``instrument-check-twice``, ``instrument-gain`` and ``instrument-moved``.
    """
    rows = instruments.filter(pl.col("instrument").is_not_null() & pl.col("date").is_not_null()).with_columns(
        pl.col("date").cast(pl.Date), pl.col("zero_mm", *_BAR).cast(pl.Float64).fill_nan(None)
    )
    days = _with_gain(_days(rows))
    findings = Findings.join(
        [
            _half_bars(rows, file),
            _unusable(days, file),
            _twice(days, file),
            _off(days, settings.max_gain_off_pct, file),
            _moved(days, settings, file),
        ]
    )
    return _in_force_from(days), findings


def lean_deg(gain: pl.Expr) -> pl.Expr:
    """Return the lean of a caliper's jaw in degrees that a gain means, outward plus.

    A round bar or stem of diameter d seated on the beam reads d / 2 · (1 + (1 − sin θ) / cos θ) under a jaw that
    leans by θ (geometry of the jaw). Since (1 − sin θ) / cos θ = tan(45° − θ / 2) and the gain k is d over the
    reading, θ = 90° − 2 · arctan(2 / k − 1).
    """
    return (math.pi / 2 - 2 * (2 / gain - 1).arctan()).degrees()


def _days(rows: pl.DataFrame) -> pl.DataFrame:
    """Return one row an instrument and day, its own zero, bar and readings side by side."""
    read = pl.col("bar_reading_mm").filter(pl.col("bar_mm").is_not_null())

    def own(name: str) -> tuple[pl.Expr, pl.Expr]:
        """Return the first value of the day and how many different ones there are."""
        cells = pl.col(name).drop_nulls()
        return cells.first().alias(name), cells.n_unique().alias(f"different_{name}")

    return (
        rows.sort("source_row")
        .group_by("instrument", "date", maintain_order=True)
        .agg(
            pl.col("source_row").first(),
            pl.col("source_row").alias("rows"),
            *own("kind"),
            *own("zero_mm"),
            *own("bar_mm"),
            read.mean().alias("bar_reading_mm"),
            read.min().alias("least_reading_mm"),
            read.max().alias("most_reading_mm"),
            read.std(ddof=1).alias("own_error_mm"),
            read.count().cast(pl.Int64).alias("bar_readings"),
        )
        .sort("instrument", "date")
    )


def _with_gain(days: pl.DataFrame) -> pl.DataFrame:
    """Carry zeros on, add the gain of each day's own bar, and what was in force before."""
    zero = pl.col("zero_mm").forward_fill().over("instrument")
    made = days.with_columns(
        zero.alias("zero_in_force_mm"),
        (pl.col("bar_reading_mm") - zero.fill_null(0.0)).alias("bar_less_zero_mm"),
    ).with_columns((pl.col("bar_mm") / pl.col("bar_less_zero_mm")).alias("bar_gain"))
    least, most = (pl.col(name) - zero.fill_null(0.0) for name in ("least_reading_mm", "most_reading_mm"))
    bar = pl.col("bar_mm")
    usable = (least > 0) & (least * MAX_GAIN >= bar) & (most * MIN_GAIN <= bar)
    odd = pl.when(least * MAX_GAIN >= bar).then(most).otherwise(least)
    made = (
        made.with_columns(odd.alias("odd_less_zero_mm"))
        .with_columns(
            pl.when(usable).then("bar_gain").alias("own_gain"),
            (pl.col("bar_gain").is_not_null() & ~usable.fill_null(value=False)).alias("no_gain"),
        )
        .with_columns(pl.col("own_gain").forward_fill().over("instrument").alias("gain_in_force"))
    )
    return made.with_columns(
        pl.col("zero_in_force_mm").shift(1).over("instrument").alias("zero_before_mm"),
        pl.col("gain_in_force").shift(1).over("instrument").alias("gain_before"),
    )


def _in_force_from(days: pl.DataFrame) -> pl.DataFrame:
    """Return the columns that are handed on."""
    kind = pl.col("kind").forward_fill().over("instrument").fill_null(CALIPER)
    lacks_zero = pl.col("zero_mm").is_null() & pl.col("zero_in_force_mm").is_not_null()
    lacks_gain = pl.col("own_gain").is_null() & pl.col("gain_in_force").is_not_null()
    next_day = pl.col("date").shift(-1).over("instrument")
    return days.select(
        "instrument",
        "date",
        "source_row",
        kind.alias("kind"),
        (pl.col("zero_in_force_mm").fill_null(0.0) / MM_PER_CM).alias("zero_cm"),
        pl.col("gain_in_force").fill_null(1.0).alias("gain"),
        (pl.col("own_error_mm").forward_fill().over("instrument") / MM_PER_CM).alias("error_cm"),
        "bar_mm",
        "bar_readings",
        pl.when(kind == CALIPER).then(lean_deg(pl.col("gain_in_force"))).alias("lean_deg"),
        pl.when(lacks_zero & lacks_gain)
        .then(pl.lit("zero and gain"))
        .when(lacks_zero)
        .then(pl.lit("zero"))
        .when(lacks_gain)
        .then(pl.lit("gain"))
        .alias("from_earlier"),
        (next_day - pl.col("date")).dt.total_days().alias("days_in_force"),
    )


def _half_bars(rows: pl.DataFrame, file: str) -> Findings:
    """Find bars without a reading, and readings without a bar."""
    without_reading = pl.col("bar_reading_mm").is_null()
    half = rows.filter(pl.col("bar_mm").is_null() != without_reading)
    return findings_of(
        "bar-unusable",
        half,
        file,
        pl.format(
            "instrument {}: {}; a gain needs both bar_mm and bar_reading_mm",
            "instrument",
            pl.when(without_reading)
            .then(pl.format("a bar of {} mm without its reading", "bar_mm"))
            .otherwise(pl.format("a reading of {} mm of a bar whose size is not given", "bar_reading_mm")),
        ),
        column=pl.when(without_reading).then(pl.lit("bar_reading_mm")).otherwise(pl.lit("bar_mm")),
    )


def _unusable(days: pl.DataFrame, file: str) -> Findings:
    """Find bars whose reading cannot be one of them."""
    return findings_of(
        "bar-unusable",
        days.filter("no_gain"),
        file,
        pl.format(
            "instrument {}: a bar of {} mm that reads {} mm less the zero gives no gain from "
            f"{MIN_GAIN:g} to {MAX_GAIN:g}",
            "instrument",
            "bar_mm",
            pl.col("odd_less_zero_mm").round(3),
        ),
        column="bar_reading_mm",
        value=pl.col("odd_less_zero_mm").round(3).cast(pl.String),
    )


def _twice(days: pl.DataFrame, file: str) -> Findings:
    """Find days whose rows disagree on zero, bar or kind."""
    names = {"zero_mm": "zero", "bar_mm": "bar", "kind": "kind"}
    differ = [pl.when(pl.col(f"different_{name}") > 1).then(pl.lit(word)) for name, word in names.items()]
    found = days.with_columns(pl.concat_str(differ, separator=" and ", ignore_nulls=True).alias("differ"))
    return findings_of(
        "instrument-check-twice",
        found.filter(pl.col("differ") != ""),
        file,
        pl.format(
            "instrument {} has {} checks on {} (rows {}) that disagree on the {}; rows of one day must be repeated "
            "readings of one bar",
            "instrument",
            pl.col("rows").list.len(),
            "date",
            pl.col("rows").cast(pl.List(pl.String)).list.join(", "),
            "differ",
        ),
        row=pl.col("rows").list.get(1, null_on_oob=True),
        column="date",
        value=pl.col("date").cast(pl.String),
    )


def _off(days: pl.DataFrame, max_pct: float, file: str) -> Findings:
    """Find gains outside the band of the settings."""
    off_pct = ((pl.col("own_gain") - 1) * 100).abs().round(_DECIMALS)
    lean = lean_deg(pl.col("own_gain"))
    jaw = pl.format(
        ", as of a jaw that leans {}° {}",
        lean.abs().round(2),
        pl.when(lean > 0).then(pl.lit("outward")).otherwise(pl.lit("inward")),
    )
    is_caliper = pl.col("kind").forward_fill().over("instrument").fill_null(CALIPER) == CALIPER
    return findings_of(
        "instrument-gain",
        days.with_columns(pl.when(is_caliper).then(jaw).otherwise(pl.lit("")).alias("jaw")).filter(
            off_pct > max_pct
        ),
        file,
        pl.format(
            "instrument {} on {}: a bar of {} mm reads {} mm less the zero, a gain of {}{}; "
            f"{1 - max_pct / 100:g} to {1 + max_pct / 100:g} is allowed",
            "instrument",
            "date",
            "bar_mm",
            pl.col("bar_less_zero_mm").round(3),
            pl.col("own_gain").round(4),
            "jaw",
        ),
        column="bar_reading_mm",
        value=pl.col("own_gain").round(4).cast(pl.String),
    )


def _moved(days: pl.DataFrame, settings: StemsSection, file: str) -> Findings:
    """Find zeros and gains that are not what the check before said."""
    zero_mm = (pl.col("zero_mm") - pl.col("zero_before_mm")).abs().round(_DECIMALS)
    gain_pct = ((pl.col("own_gain") / pl.col("gain_before") - 1) * 100).abs().round(_DECIMALS)
    text = "instrument {}: the {} was {} before and is {} on {}; it may move by at most "
    zeros = findings_of(
        "instrument-moved",
        days.filter(zero_mm > settings.max_zero_move_mm),
        file,
        pl.format(
            f"{text}{settings.max_zero_move_mm:g} mm",
            "instrument",
            pl.lit("zero"),
            pl.format("{} mm", "zero_before_mm"),
            pl.format("{} mm", "zero_mm"),
            "date",
        ),
        column="zero_mm",
        value=pl.col("zero_mm").cast(pl.String),
    )
    gains = findings_of(
        "instrument-moved",
        days.filter(gain_pct > settings.max_gain_move_pct),
        file,
        pl.format(
            f"{text}{settings.max_gain_move_pct:g} %",
            "instrument",
            pl.lit("gain"),
            pl.col("gain_before").round(4),
            pl.col("own_gain").round(4),
            "date",
        ),
        column="bar_reading_mm",
        value=pl.col("own_gain").round(4).cast(pl.String),
    )
    return Findings.join([zeros, gains])
