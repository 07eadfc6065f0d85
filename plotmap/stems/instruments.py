"""Instruments: the check that was in force on the day of a reading, and what it corrects."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import pandas as pd
import polars as pl

from plotmap.model.field_tables import CALIPER, TAPE
from plotmap.model.findings import Findings, findings_of
from plotmap.stems.instrument_checks import read_checks

if TYPE_CHECKING:
    from plotmap.model.settings import StemsSection
    from plotmap.model.survey import Survey


@dataclass(frozen=True, slots=True)
class Checked:
    """Rows of stems and tallies with the check in force for each.

    Attributes
    ----------
    stems, tallies : polars.DataFrame
        The rows given, with ``check_row`` (``source_row`` of the check in force; missing where none is),
        ``checked_kind`` (missing likewise), ``zero_cm`` (cm, 0 without a check), ``gain`` (1 without a check or a
        bar) and ``error_cm`` (standard deviation of one reading in cm, 0 where not known).
    checks : polars.DataFrame
        As `plotmap.stems.instrument_checks.read_checks` gives them; no rows without an instruments table.
    findings : Findings
        About checks and about instruments that have none.
    """

    stems: pl.DataFrame
    tallies: pl.DataFrame
    checks: pl.DataFrame
    findings: Findings


@dataclass(frozen=True, slots=True)
class _Book:
    """What finding the check in force needs."""

    checks: pl.DataFrame
    marks: pl.DataFrame
    days: pl.DataFrame
    settings: StemsSection
    plots_file: str
    instruments_file: str


@dataclass(frozen=True, slots=True)
class _Source:
    """Where rows come from, and what one of them is called in messages."""

    file: str
    rows: str


_NEUTRAL = (
    pl.lit(None, pl.Int64).alias("check_row"),
    pl.lit(None, pl.String).alias("checked_kind"),
    pl.lit(0.0).alias("zero_cm"),
    pl.lit(1.0).alias("gain"),
    pl.lit(0.0).alias("error_cm"),
)


def with_checks(stems: pl.DataFrame, survey: Survey) -> Checked:
    """Find the check in force for every stem and tally row: the last of its instrument up to the day of its plot.

    With ``interpolate_checks`` zero and gain run in a straight line from that check to the next one; the random
    error does not.

    Parameters
    ----------
    stems : polars.DataFrame
        Reads ``plot``, ``instrument``, ``source_row`` and ``measured_by`` (`CALIPER` or `TAPE`, by the reading
        that is used; missing where there is none).
    survey : Survey
        Reads tallies, instruments, plots and the settings of the stems.

    Returns
    -------
    Checked
        Stems and tallies in their order.
    """
    names = {name: survey.sources.get(name, name) for name in ("trees", "tallies", "plots", "instruments")}
    checks, found = read_checks(survey.instruments, survey.settings.stems, names["instruments"])
    tallies = survey.tallies.with_columns(pl.lit("").alias("measured_by"))
    if survey.instruments.is_empty():
        return Checked(stems.with_columns(_NEUTRAL), tallies.with_columns(_NEUTRAL), checks, Findings.none())
    book = _Book(
        checks=checks,
        marks=survey.instruments.select("instrument", pl.lit(value=True).alias("known"))
        .drop_nulls()
        .unique(),
        days=_plot_days(survey),
        settings=survey.settings.stems,
        plots_file=names["plots"],
        instruments_file=names["instruments"],
    )
    findings = [found, _unused(survey, names["instruments"])]
    made: list[pl.DataFrame] = []
    used: list[pl.DataFrame] = []
    for rows, name in ((stems, "trees"), (tallies, "tallies")):
        source = _Source(names[name], "stems" if name == "trees" else "tally rows")
        uses = _uses(rows, book)
        in_force = _in_force(uses, book)
        findings += [
            _unrecorded(rows, names[name], all_rows=name == "trees"),
            *_findings(uses, in_force, book, source),
        ]
        made.append(_joined(rows, in_force, book.days))
        used.append(uses.with_columns(pl.lit(source.rows).alias("rows_of")))
    findings.append(_undated(pl.concat(used), book.plots_file))
    return Checked(made[0], made[1], checks, Findings.join(findings))


def _joined(rows: pl.DataFrame, in_force: pl.DataFrame, days: pl.DataFrame) -> pl.DataFrame:
    """Join the checks in force to rows."""
    found = in_force.select(
        "instrument",
        "date",
        "check_row",
        pl.col("kind").alias("checked_kind"),
        "zero_cm",
        "gain",
        "error_cm",
    )
    return (
        rows.join(days.select("plot", "date"), on="plot", how="left", maintain_order="left")
        .join(found, on=["instrument", "date"], how="left", maintain_order="left")
        .with_columns(pl.col("zero_cm", "error_cm").fill_null(0.0), pl.col("gain").fill_null(1.0))
    )


def corrected(reading_cm: pl.Expr, kind: str, allowance_cm: pl.Expr | float) -> pl.Expr:
    """Return a reading in cm less the zero, times the gain of the check, where the check is of this kind.

    Parameters
    ----------
    reading_cm : polars.Expr
        Readings in cm.
    kind : str
        `CALIPER` or `TAPE`; with a check of the other kind the reading stays as it is.
    allowance_cm : polars.Expr or float
        Added to every reading first, in cm: half a unit where the crews rounded down.
    """
    fits = pl.col("checked_kind") == kind
    zero = pl.when(fits).then("zero_cm").otherwise(0.0)
    gain = pl.when(fits).then("gain").otherwise(1.0)
    return (reading_cm + allowance_cm - zero) * gain


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


def _uses(rows: pl.DataFrame, book: _Book) -> pl.DataFrame:
    """Return one row an instrument, plot and kind of reading: rows, first row, day, whether it is known."""
    return (
        rows.lazy()
        .filter(pl.col("instrument").is_not_null() & pl.col("measured_by").is_not_null())
        .group_by("instrument", "plot", "measured_by")
        .agg(pl.len().alias("stems"), pl.col("source_row").min())
        .join(book.days.lazy(), on="plot", how="left")
        .join(book.marks.lazy(), on="instrument", how="left")
        .with_columns(pl.col("known").fill_null(value=False))
        .sort("source_row")
        .collect()
    )


def _in_force(uses: pl.DataFrame, book: _Book) -> pl.DataFrame:
    """Return one row an instrument and day of use, with the last check up to that day (missing if none)."""
    pairs = _first(uses.filter(pl.col("known") & pl.col("date").is_not_null()), "instrument", "date")
    given = book.checks.select(
        "instrument",
        pl.col("date").alias("check_date"),
        pl.col("source_row").alias("check_row"),
        "kind",
        "zero_cm",
        "gain",
        pl.col("error_cm").fill_null(0.0),
    ).sort("check_date")
    found = pairs.sort("date").join_asof(
        given,
        left_on="date",
        right_on="check_date",
        by="instrument",
        strategy="backward",
        check_sortedness=False,
    )
    return _between(found, given) if book.settings.interpolate_checks else found


def _between(found: pl.DataFrame, given: pl.DataFrame) -> pl.DataFrame:
    """Move zero and gain in a straight line towards the next check, where there is one of the same kind."""
    following = given.select(
        "instrument",
        pl.col("check_date").alias("next_date"),
        pl.col("kind").alias("next_kind"),
        pl.col("zero_cm").alias("next_zero_cm"),
        pl.col("gain").alias("next_gain"),
    )
    both = found.join_asof(
        following,
        left_on="date",
        right_on="next_date",
        by="instrument",
        strategy="forward",
        check_sortedness=False,
    )
    passed, span = (
        (pl.col(day) - pl.col("check_date")).dt.total_days().cast(pl.Float64) for day in ("date", "next_date")
    )
    share = pl.when((span > 0) & (pl.col("kind") == pl.col("next_kind"))).then(passed / span).otherwise(0.0)
    return both.with_columns(
        (pl.col(name) + share * (pl.col(f"next_{name}") - pl.col(name)).fill_null(0.0)).alias(name)
        for name in ("zero_cm", "gain")
    )


def _first(uses: pl.DataFrame, *keys: str) -> pl.DataFrame:
    """Return the first row of each group of uses with the sum of its stems."""
    others = [name for name in ("plot", "plot_row", "source_row") if name not in keys]
    return (
        uses.sort("source_row")
        .group_by(*keys, maintain_order=True)
        .agg(pl.col("stems").sum(), *(pl.col(name).first() for name in others))
    )


def _findings(uses: pl.DataFrame, in_force: pl.DataFrame, book: _Book, source: _Source) -> list[Findings]:
    """Return what is odd about the instruments that the rows of one file name."""
    return [
        _unknown(uses, book.instruments_file, source),
        *_late_and_old(in_force, book.settings.check_days, source),
        _misfits(uses, in_force, source.file),
    ]


def _unrecorded(rows: pl.DataFrame, file: str, *, all_rows: bool) -> Findings:
    """Find rows that name no instrument; of tallies only where others do, since bands need none."""
    bare = rows.filter(pl.col("measured_by").is_not_null() & pl.col("instrument").is_null())
    if bare.is_empty() or not (all_rows or rows["instrument"].is_not_null().any()):
        return Findings.none()
    first = bare.sort("source_row").head(1)
    rows_name = (
        "the only row names"
        if rows.height == 1
        else f"{bare.height} of {rows.height} rows {'names' if bare.height == 1 else 'name'}"
    )
    return findings_of(
        "instrument-not-recorded",
        first,
        file,
        pl.lit(
            f"{rows_name} no instrument, so nothing is corrected there; each row names the "
            " caliper or tape it was measured with"
        ),
        plot="plot",
        column="instrument",
    )


def _unused(survey: Survey, file: str) -> Findings:
    """Find instruments that were checked, but that no reading names."""
    rows = (survey.trees, survey.check_trees, survey.tallies)
    named = pl.concat([table["instrument"] for table in rows]).drop_nulls().unique()
    idle = (
        survey.instruments.filter(
            pl.col("instrument").is_not_null() & ~pl.col("instrument").is_in(named.to_list())
        )
        .sort("source_row")
        .group_by("instrument", maintain_order=True)
        .agg(pl.col("source_row").first(), pl.len().alias("rows"))
    )
    return findings_of(
        "instrument-unused",
        idle,
        file,
        pl.format("instrument {} is named by no stem and no tally (rows here: {})", "instrument", "rows"),
        column="instrument",
        value="instrument",
    )


def _unknown(uses: pl.DataFrame, instruments_file: str, source: _Source) -> Findings:
    """Find instruments that are not in the instruments table."""
    return findings_of(
        "instrument-unknown",
        _first(uses.filter(~pl.col("known")), "instrument"),
        source.file,
        pl.format(
            f"instrument {{}} is not in {{}}; its readings stay uncorrected ({source.rows}: {{}})",
            "instrument",
            pl.lit(instruments_file),
            "stems",
        ),
        plot="plot",
        column="instrument",
        value="instrument",
    )


def _undated(uses: pl.DataFrame, plots_file: str) -> Findings:
    """Find plots without a date whose stems or tallies name an instrument that has checks; one finding a plot."""
    undated = uses.filter(pl.col("known") & pl.col("plot_row").is_not_null() & pl.col("date").is_null())
    counts = (
        undated.group_by("plot", "plot_row", "rows_of").agg(pl.col("stems").sum()).sort("plot_row", "rows_of")
    )
    counted = pl.format("{}: {}", "rows_of", "stems").str.join(", ")
    return findings_of(
        "plot-date-missing",
        counts.group_by("plot", "plot_row", maintain_order=True).agg(counted.alias("counted")),
        plots_file,
        pl.format("no date, so readings stay uncorrected ({}); a date is YYYY-MM-DD", "counted"),
        row="plot_row",
        plot="plot",
        column="date",
    )


def _late_and_old(in_force: pl.DataFrame, check_days: int, source: _Source) -> list[Findings]:
    """Find days of use before the first check, and days of use long after the last one."""
    cells = {"plot": "plot", "column": "instrument", "value": "instrument"}
    age = (pl.col("date") - pl.col("check_date")).dt.total_days()
    late = findings_of(
        "instrument-check-missing",
        in_force.filter(pl.col("check_date").is_null()),
        source.file,
        pl.format(
            f"instrument {{}} has no check on or before {{}}; its readings stay uncorrected ({source.rows}: {{}})",
            "instrument",
            "date",
            "stems",
        ),
        **cells,
    )
    old = findings_of(
        "instrument-check-old",
        in_force.filter(age > check_days),
        source.file,
        pl.format(
            "instrument {} on {}: its last check of {} is {} days old, at most "
            f"{check_days} days are allowed; it is used ({source.rows}: {{}})",
            "instrument",
            "date",
            "check_date",
            age,
            "stems",
        ),
        **cells,
    )
    return [late, old]


def _misfits(uses: pl.DataFrame, in_force: pl.DataFrame, file: str) -> Findings:
    """Find caliper readings of tapes and girths of calipers, one finding an instrument and kind."""
    kinds = in_force.select("instrument", "date", "kind")
    misfits = uses.join(kinds, on=["instrument", "date"]).filter(
        pl.col("measured_by").is_in([CALIPER, TAPE]) & (pl.col("kind") != pl.col("measured_by"))
    )
    girths = pl.col("measured_by") == TAPE
    return findings_of(
        "instrument-kind-differs",
        _first(misfits, "instrument", "measured_by"),
        file,
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
