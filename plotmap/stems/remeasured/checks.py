"""What is found about crews by check measurements: stems missed, biased readings, too much scatter."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from plotmap.model.check_table import BY_TALLY, CREW, EXTRA, MISSED, NOT_KNOWN, PAIR
from plotmap.model.findings import Findings, findings_of

if TYPE_CHECKING:
    from plotmap.model.settings import CheckSection
    from plotmap.model.survey import Survey

_DIGITS = 1
_NO_CREW = "crew not known"


def check_findings(differences: pl.DataFrame, summary: pl.DataFrame, survey: Survey) -> Findings:
    """Return what is found by the comparison.

    Parameters
    ----------
    differences : polars.DataFrame
        Columns of `plotmap.model.check_table.DIFFERENCE_SCHEMA`.
    summary : polars.DataFrame
        Columns of `plotmap.model.check_table.SUMMARY_SCHEMA`.
    survey : Survey
        For the limits of ``[check]`` and the name of the file.

    Returns
    -------
    Findings
        ``check-without-pairs``, ``check-stems-missed`` and ``check-stems-extra`` by plot, ``check-bias`` and
        ``check-outside-tolerance`` by crew.
    """
    file = survey.sources.get("check_trees", "check_trees")
    named = pl.col("value").replace({NOT_KNOWN: _NO_CREW}).alias("value")
    crews = summary.filter(pl.col("group") == CREW).with_columns(named)
    return Findings.join(
        [
            *_of_plots(differences, file),
            _biased(crews, survey.settings.check, survey.settings.survey.confidence, file),
            _scattered(crews, survey.settings.check, file),
        ]
    )


def _of_plots(differences: pl.DataFrame, file: str) -> list[Findings]:
    """Find plots whose stems are missed, too many, or not in common at all."""
    stems, rows = pl.col("n_stems"), pl.col("check_source_row")
    is_missed, is_extra = pl.col("outcome") == MISSED, pl.col("outcome") == EXTRA
    plots = (
        differences.group_by("plot", maintain_order=True)
        .agg(
            pl.col("crew").first().fill_null(_NO_CREW),
            stems.filter(pl.col("outcome").is_in([PAIR, BY_TALLY])).sum().cast(pl.Int64).alias("common"),
            stems.filter(is_missed).sum().cast(pl.Int64).alias("missed"),
            stems.filter(is_extra).sum().cast(pl.Int64).alias("extra"),
            rows.filter(is_missed).cast(pl.String).alias("missed_rows"),
            rows.filter(is_missed).min().alias("missed_row"),
            pl.col("source_row").filter(is_extra).drop_nulls().cast(pl.String).alias("extra_rows"),
            rows.min().alias("row"),
        )
        .with_columns((pl.col("common") + pl.col("missed")).alias("by_check"))
    )
    without = findings_of(
        "check-without-pairs",
        plots.filter(pl.col("common") == 0),
        file,
        pl.format(
            "{}: none of the stems of the check ({}) and of the crew ({}) are partners; at least one is expected",
            "crew",
            "by_check",
            "extra",
        ),
        row="row",
        plot="plot",
        column="plot",
        value="plot",
    )
    missed = findings_of(
        "check-stems-missed",
        plots.filter(pl.col("missed") > 0),
        file,
        pl.format(
            "{}: {} missed ({}); none is allowed",
            "crew",
            _missed_of("missed", "by_check"),
            _rows_named("missed_rows"),
        ),
        row="missed_row",
        plot="plot",
        column="tree",
        value=pl.col("missed").cast(pl.String),
    )
    where = (
        pl.when(pl.col("extra_rows").list.len() > 0)
        .then(pl.format(" ({} of the trees)", _rows_named("extra_rows")))
        .otherwise(pl.lit(""))
    )
    extra = findings_of(
        "check-stems-extra",
        plots.filter(pl.col("extra") > 0),
        file,
        pl.format("{}: stems that the check did not find: {}{}; none is allowed", "crew", "extra", where),
        row="row",
        plot="plot",
        column="tree",
        value=pl.col("extra").cast(pl.String),
    )
    return [without, missed, extra]


def _missed_of(missed: str, by_check: str) -> pl.Expr:
    """Return how many of the stems of a check are missed, with the verb."""
    verb = pl.when(pl.col(missed) == 1).then(pl.lit("is")).otherwise(pl.lit("are"))
    return (
        pl.when(pl.col(by_check) == 1)
        .then(pl.lit("the only stem that the check found is"))
        .otherwise(pl.format("{} of the {} stems that the check found {}", missed, by_check, verb))
    )


def _rows_named(numbers: str) -> pl.Expr:
    """Return a list of row numbers in words: ``row 3``, ``rows 3, 4``."""
    listed = pl.col(numbers).list
    noun = pl.when(listed.len() == 1).then(pl.lit("row")).otherwise(pl.lit("rows"))
    return pl.format("{} {}", noun, listed.join(", "))


def _biased(crews: pl.DataFrame, settings: CheckSection, confidence: float, file: str) -> Findings:
    """Find crews whose mean difference is too large, and surely not zero."""
    bias, low, high = (pl.col(name) for name in ("bias_mm", "bias_low_mm", "bias_high_mm"))
    rows = crews.filter((bias.abs() > settings.bias_mm) & ((low > 0) | (high < 0)))
    message = pl.format(
        f"{{}} reads {{}} mm too {{}} on average ({100 * confidence:g} % interval {{}} to {{}} mm, pairs: {{}}); "
        f"{settings.bias_mm:g} mm is allowed. Basal area is {{}} % too {{}}",
        "value",
        bias.abs().round(_DIGITS),
        _high_or_low(bias),
        low.round(_DIGITS),
        high.round(_DIGITS),
        "n_pairs",
        pl.col("basal_area_pct").abs().round(_DIGITS),
        _high_or_low(pl.col("basal_area_pct")),
    )
    return findings_of(
        "check-bias",
        rows,
        file,
        message,
        row=pl.lit(None, pl.Int64),
        column="crew",
        value=bias.round(_DIGITS).cast(pl.String),
    )


def _high_or_low(value: pl.Expr) -> pl.Expr:
    """Return the word for the sign."""
    return pl.when(value > 0).then(pl.lit("high")).otherwise(pl.lit("low"))


def _scattered(crews: pl.DataFrame, settings: CheckSection, file: str) -> Findings:
    """Find crews too few of whose diameters are within the tolerance."""
    within = pl.col("within_pct")
    message = pl.format(
        f"{{}}: {{}} % of {{}} diameters are within {settings.tolerance_mm:g} mm or {settings.tolerance_pct:g} % "
        f"(whichever is more) of the check; {settings.min_within_pct:g} % is the least allowed",
        "value",
        within.round(_DIGITS),
        "n_pairs",
    )
    return findings_of(
        "check-outside-tolerance",
        crews.filter(within < settings.min_within_pct),
        file,
        message,
        row=pl.lit(None, pl.Int64),
        column="crew",
        value=within.round(_DIGITS).cast(pl.String),
    )
