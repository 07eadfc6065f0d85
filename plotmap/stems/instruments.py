"""Instruments: the check that was in force on the day of a reading, and what it corrects."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import pandas as pd
import polars as pl

from plotmap.model.field_tables import CALIPER, TAPE
from plotmap.model.findings import Findings, findings_of

if TYPE_CHECKING:
    from plotmap.model.survey import Survey

MIN_GAIN, MAX_GAIN = 0.8, 1.25
"""A gain outside is no reading of the check bar (common practice, no source)."""
_MM_PER_CM = 10.0


@dataclass(frozen=True, slots=True)
class _Files:
    """Names of the files that findings point to."""

    trees: str
    plots: str
    instruments: str


def with_checks(stems: pl.DataFrame, survey: Survey) -> tuple[pl.DataFrame, Findings]:
    """Add the check in force to every stem: the last one of its instrument up to the day of its plot.

    Parameters
    ----------
    stems : polars.DataFrame
        Reads ``plot``, ``instrument``, ``source_row`` and ``measured_by`` (`CALIPER` or `TAPE`, by the reading
        that is used; missing where there is none).
    survey : Survey
        Reads instruments, plots and the settings' ``check_days``.

    Returns
    -------
    stems : polars.DataFrame
        With ``checked_kind`` (missing where no check is in force), ``zero_cm`` (cm, 0 without a check) and
        ``gain`` (1 without a check or a bar).
    findings : Findings
        About checks and about instruments that have none.
    """
    neutral = (
        pl.lit(None, pl.String).alias("checked_kind"),
        pl.lit(0.0).alias("zero_cm"),
        pl.lit(1.0).alias("gain"),
    )
    if survey.instruments.is_empty():
        return stems.with_columns(neutral), Findings.none()
    names = {table: survey.sources.get(table, table) for table in ("trees", "plots", "instruments")}
    files = _Files(**names)
    checks, faults = _checks(survey.instruments, files)
    days = _plot_days(survey)
    uses = _uses(stems, days, survey.instruments)
    in_force = _in_force(uses, checks)
    findings = Findings.join(
        [
            *faults,
            _unknown(uses, files),
            _undated(uses, files),
            *_late_and_old(in_force, survey.settings.stems.check_days, files),
            _misfits(uses, in_force, files),
        ]
    )
    found = in_force.select("instrument", "date", pl.col("kind").alias("checked_kind"), "zero_cm", "gain")
    joined = stems.join(days.select("plot", "date"), on="plot", how="left", maintain_order="left").join(
        found, on=["instrument", "date"], how="left", maintain_order="left"
    )
    return joined.with_columns(pl.col("zero_cm").fill_null(0.0), pl.col("gain").fill_null(1.0)), findings


def corrected(reading_cm: pl.Expr, kind: str, allowance_cm: float) -> pl.Expr:
    """Return a reading in cm less the zero, times the gain of the check, where the check is of this kind.

    Parameters
    ----------
    reading_cm : polars.Expr
        Readings in cm.
    kind : str
        `CALIPER` or `TAPE`; with a check of the other kind the reading stays as it is.
    allowance_cm : float
        Added to every reading first, in cm: half a unit where the crews rounded down.
    """
    fits = pl.col("checked_kind") == kind
    zero = pl.when(fits).then("zero_cm").otherwise(0.0)
    gain = pl.when(fits).then("gain").otherwise(1.0)
    return (reading_cm + allowance_cm - zero) * gain


def _checks(instruments: pl.DataFrame, files: _Files) -> tuple[pl.DataFrame, list[Findings]]:
    """Return one check an instrument and day with its zero (cm) and gain, and the faults among them."""
    reading = pl.col("bar_reading_mm") - pl.col("zero_mm").fill_null(0.0)
    gain = pl.col("bar_mm") / reading
    usable = (reading > 0) & gain.is_between(MIN_GAIN, MAX_GAIN)
    all_checks = instruments.select(
        "instrument",
        "source_row",
        pl.col("date").cast(pl.Date),
        "bar_mm",
        reading.alias("bar_less_zero_mm"),
        pl.col("kind").fill_null(CALIPER),
        (pl.col("zero_mm").fill_null(0.0) / _MM_PER_CM).alias("zero_cm"),
        pl.when(usable).then(gain).otherwise(1.0).alias("gain"),
        (gain.is_not_null() & ~usable.fill_null(value=False)).alias("no_gain"),
    ).filter(pl.col("instrument").is_not_null())
    dated = all_checks.filter(pl.col("date").is_not_null()).sort("source_row")
    same_day = (
        dated.group_by("instrument", "date")
        .agg(pl.col("source_row"), pl.len().alias("times"))
        .filter(pl.col("times") > 1)
    )
    bars = findings_of(
        "bar-unusable",
        all_checks.filter("no_gain"),
        files.instruments,
        pl.format(
            "instrument {}: a bar of {} mm that reads {} mm less the zero gives no gain from "
            f"{MIN_GAIN:g} to {MAX_GAIN:g}; taken as 1",
            "instrument",
            "bar_mm",
            pl.col("bar_less_zero_mm").round(3),
        ),
        column="bar_reading_mm",
        value=pl.col("bar_less_zero_mm").round(3).cast(pl.String),
    )
    twice = findings_of(
        "instrument-check-twice",
        same_day,
        files.instruments,
        pl.format(
            "instrument {} has {} checks on {} (rows {}); one a day is allowed",
            "instrument",
            "times",
            "date",
            pl.col("source_row").cast(pl.List(pl.String)).list.join(", "),
        ),
        row=pl.col("source_row").list.get(1),
        column="date",
        value=pl.col("date").cast(pl.String),
    )
    return dated.unique(["instrument", "date"], keep="first", maintain_order=True), [bars, twice]


def _plot_days(survey: Survey) -> pl.DataFrame:
    """Return ``plot``, ``date`` (missing where not known) and ``plot_row`` of every plot."""
    days = pd.to_datetime(survey.plots["date"], errors="coerce", format="ISO8601")
    frame = pd.DataFrame(
        {
            "plot": survey.plots["plot"].astype(object).to_numpy(),
            "date": days.to_numpy(),
            "plot_row": survey.plots["source_row"].to_numpy(),
        }
    )
    return (
        pl.from_pandas(frame, schema_overrides={"plot": pl.String, "plot_row": pl.Int64})
        .with_columns(pl.col("date").cast(pl.Date))
        .filter(pl.col("plot").is_not_null())
        .unique("plot", keep="first", maintain_order=True)
    )


def _uses(stems: pl.DataFrame, days: pl.DataFrame, instruments: pl.DataFrame) -> pl.DataFrame:
    """Return one row an instrument, plot and kind of reading: stems, first row, day, whether it is known."""
    marks = instruments.select("instrument", pl.lit(value=True).alias("known")).drop_nulls().unique()
    return (
        stems.lazy()
        .filter(pl.col("instrument").is_not_null() & pl.col("measured_by").is_not_null())
        .group_by("instrument", "plot", "measured_by")
        .agg(pl.len().alias("stems"), pl.col("source_row").min())
        .join(days.lazy(), on="plot", how="left")
        .join(marks.lazy(), on="instrument", how="left")
        .with_columns(pl.col("known").fill_null(value=False))
        .sort("source_row")
        .collect()
    )


def _in_force(uses: pl.DataFrame, checks: pl.DataFrame) -> pl.DataFrame:
    """Return one row an instrument and day of use, with the last check up to that day (missing if none)."""
    pairs = _first(uses.filter(pl.col("known") & pl.col("date").is_not_null()), "instrument", "date")
    given = checks.select("instrument", pl.col("date").alias("check_date"), "kind", "zero_cm", "gain")
    return pairs.sort("date").join_asof(
        given.sort("check_date"),
        left_on="date",
        right_on="check_date",
        by="instrument",
        strategy="backward",
        check_sortedness=False,
    )


def _first(uses: pl.DataFrame, *keys: str) -> pl.DataFrame:
    """Return the first row of each group of uses with the sum of its stems."""
    others = [name for name in ("plot", "plot_row", "source_row") if name not in keys]
    return (
        uses.sort("source_row")
        .group_by(*keys, maintain_order=True)
        .agg(pl.col("stems").sum(), *(pl.col(name).first() for name in others))
    )


def _unknown(uses: pl.DataFrame, files: _Files) -> Findings:
    """Find instruments that are not in the instruments table."""
    return findings_of(
        "instrument-unknown",
        _first(uses.filter(~pl.col("known")), "instrument"),
        files.trees,
        pl.format(
            "instrument {} is not in {}; its readings stay uncorrected (stems: {})",
            "instrument",
            pl.lit(files.instruments),
            "stems",
        ),
        plot="plot",
        column="instrument",
        value="instrument",
    )


def _undated(uses: pl.DataFrame, files: _Files) -> Findings:
    """Find plots without a date whose stems name an instrument that has checks."""
    undated = uses.filter(pl.col("known") & pl.col("plot_row").is_not_null() & pl.col("date").is_null())
    return findings_of(
        "plot-date-missing",
        _first(undated, "plot"),
        files.plots,
        pl.format("no date, so readings stay uncorrected (stems: {}); a date is YYYY-MM-DD", "stems"),
        row="plot_row",
        plot="plot",
        column="date",
    )


def _late_and_old(in_force: pl.DataFrame, check_days: int, files: _Files) -> list[Findings]:
    """Find days of use before the first check, and days of use long after the last one."""
    cells = {"plot": "plot", "column": "instrument", "value": "instrument"}
    age = (pl.col("date") - pl.col("check_date")).dt.total_days()
    late = findings_of(
        "instrument-check-missing",
        in_force.filter(pl.col("check_date").is_null()),
        files.trees,
        pl.format(
            "instrument {} has no check on or before {}; its readings stay uncorrected (stems: {})",
            "instrument",
            "date",
            "stems",
        ),
        **cells,
    )
    old = findings_of(
        "instrument-check-old",
        in_force.filter(age > check_days),
        files.trees,
        pl.format(
            "instrument {} on {}: its last check of {} is {} days old, at most "
            f"{check_days} days are allowed; it is used (stems: {{}})",
            "instrument",
            "date",
            "check_date",
            age,
            "stems",
        ),
        **cells,
    )
    return [late, old]


def _misfits(uses: pl.DataFrame, in_force: pl.DataFrame, files: _Files) -> Findings:
    """Find caliper readings of tapes and girths of calipers, one finding an instrument and kind."""
    kinds = in_force.select("instrument", "date", "kind")
    misfits = uses.join(kinds, on=["instrument", "date"]).filter(pl.col("kind") != pl.col("measured_by"))
    girths = pl.col("measured_by") == TAPE
    return findings_of(
        "instrument-kind-differs",
        _first(misfits, "instrument", "measured_by"),
        files.trees,
        pl.format(
            "instrument {} is a {}, but {} are given by it; they stay uncorrected (stems: {})",
            "instrument",
            pl.when(girths).then(pl.lit(CALIPER)).otherwise(pl.lit(TAPE)),
            pl.when(girths).then(pl.lit("girths")).otherwise(pl.lit("caliper readings")),
            "stems",
        ),
        plot="plot",
        column="instrument",
        value="instrument",
    )
