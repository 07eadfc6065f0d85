"""The stems of checked plots side by side: partners, differences, what was missed, what is one too many."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from plotmap.model.check_table import (
    BY_COUNTS,
    BY_PAIRS,
    BY_TALLY,
    DIFFERENCE_SCHEMA,
    EXTRA,
    MISSED,
    PAIR,
    CheckComparison,
)
from plotmap.model.field_tables import CUT, DEAD
from plotmap.model.findings import Findings
from plotmap.model.stem_table import SET_ASIDE_SCHEMA
from plotmap.stems.remeasured.checks import check_findings
from plotmap.stems.remeasured.pairing import pair_stems
from plotmap.stems.remeasured.sides import both_sides
from plotmap.stems.remeasured.summary import confusion, summarise
from plotmap.stems.remeasured.tallied import pair_tallied, tallied_classes, with_own_class

if TYPE_CHECKING:
    from plotmap.model.settings import CheckSection, Settings
    from plotmap.model.stem_table import Stems
    from plotmap.model.survey import Survey
    from plotmap.stems.remeasured.sides import Sides

_MM_PER_CM = 10.0
_DECIMALS = 6
"""Differences are compared with the tolerance after rounding to a millionth of a millimetre."""
_CELLS = ("tree", "species", "instrument", "dbh_cm", "class", "set_aside", "source_row")


def compare_checks(survey: Survey, stems: Stems) -> CheckComparison:
    """Compare the stems of the crews with those of the check, on the plots that were measured again.

    Both sides go through the same corrections. Stems find their partners by number, else by position, else
    by size; what a crew tallied is compared by counts. The difference of a pair is the diameter by the crew
    less the one by the check: its mean is the bias of the crew, its standard deviation holds the random
    errors of both. Estimates do not change by any of it.

    Parameters
    ----------
    survey : Survey
        Reads ``check_trees``, the other tables of stems, ``plots`` and the settings.
    stems : Stems
        Of the survey.

    Returns
    -------
    CheckComparison
        Differences, summary, confused classes and bands, findings, and the rows of the check that are used
        and set aside. Without rows where no plot was checked.
    """
    if survey.check_trees.is_empty():
        return CheckComparison.none()
    sides = both_sides(survey, stems)
    differences = _differences(sides, stems, survey.settings)
    summary = summarise(differences, survey.settings.survey.confidence)
    set_aside = _set_aside(sides, differences)
    return CheckComparison(
        differences=differences.select(DIFFERENCE_SCHEMA.names()),
        summary=summary,
        confusion=confusion(differences),
        findings=Findings.join([sides.findings, check_findings(differences, summary, survey)]),
        set_aside=set_aside,
        rows_used=differences["check_source_row"].drop_nulls().len(),
    )


def _differences(sides: Sides, stems: Stems, settings: Settings) -> pl.DataFrame:
    """Return one row a stem: the columns of `DIFFERENCE_SCHEMA` and ``basis``."""
    pairs = pair_stems(sides.crew, sides.check, settings.check)
    tallied = tallied_classes(stems.tallied, sides.plots, settings)
    labels = settings.class_rule.frame(sides.crew["class_index"].unique().sort())
    crew = sides.crew.join(labels, on="class_index", how="left", maintain_order="left")
    check = with_own_class(sides.check, tallied, settings)
    left = check.join(pairs, left_on="node", right_on="check_node", how="anti", maintain_order="left")
    dead = pl.lit(settings.stems.count == "live") & (pl.col("condition") == DEAD)
    living = left.filter(~dead & (pl.col("condition") != CUT))
    placed = pair_tallied(tallied, living, settings.check.match_mm)
    missed = left.join(placed, left_on="node", right_on="check_node", how="anti", maintain_order="left")
    extra = crew.join(pairs, on="node", how="anti", maintain_order="left")
    by_tally = check.with_columns(pl.col("tally_class").alias("class"))
    counts = pl.col("set_aside").is_null()
    parts = [
        _pairs(pairs, crew, check, settings.check),
        _tallied(placed, tallied, by_tally),
        _of_check(missed.filter(counts).with_columns(pl.col("tally_class").alias("class"))).with_columns(
            pl.lit(MISSED).alias("outcome"),
            pl.when("is_tallied").then(pl.lit(BY_COUNTS)).otherwise(pl.lit(BY_PAIRS)).alias("basis"),
        ),
        _of_crew(extra.filter(counts)).with_columns(
            pl.lit(EXTRA).alias("outcome"), pl.lit(BY_PAIRS).alias("basis")
        ),
        _tallied_extra(tallied, placed),
    ]
    empty = pl.DataFrame(schema={**DIFFERENCE_SCHEMA, "basis": pl.String})
    rows = pl.concat([empty.drop("crew"), *parts], how="diagonal_relaxed").select(empty.drop("crew").columns)
    return (
        rows.with_columns(pl.col("n_stems").fill_null(1.0))
        .join(sides.plots, on="plot", how="left", maintain_order="left")
        .select(empty.columns)
        .sort("plot", "check_source_row", "source_row", "class", nulls_last=True)
    )


def _of_crew(side: pl.DataFrame) -> pl.DataFrame:
    """Return the cells that come from the crew."""
    return side.select("node", "plot", *_CELLS)


def _of_check(side: pl.DataFrame) -> pl.DataFrame:
    """Return the cells that come from the check."""
    return side.select(
        pl.col("node").alias("check_node"),
        "plot",
        pl.col("crew").alias("check_crew"),
        *(pl.col(name).alias(f"check_{name}") for name in _CELLS),
        "is_tallied",
    )


def _pairs(
    pairs: pl.DataFrame, crew: pl.DataFrame, check: pl.DataFrame, settings: CheckSection
) -> pl.DataFrame:
    """Return the stems that both measured, with difference and tolerance."""
    difference = ((pl.col("dbh_cm") - pl.col("check_dbh_cm")) * _MM_PER_CM).round(_DECIMALS)
    share_mm = pl.col("check_dbh_cm") * _MM_PER_CM * settings.tolerance_pct / 100
    return (
        pairs.join(_of_crew(crew), on="node", maintain_order="left")
        .join(_of_check(check).drop("plot"), on="check_node", maintain_order="left")
        .with_columns(
            pl.lit(PAIR).alias("outcome"),
            pl.lit(BY_PAIRS).alias("basis"),
            difference.alias("difference_mm"),
            pl.max_horizontal(pl.lit(settings.tolerance_mm), share_mm).round(_DECIMALS).alias("tolerance_mm"),
        )
        .with_columns(
            pl.when(pl.col("difference_mm").abs() <= pl.col("tolerance_mm"))
            .then(pl.lit("yes"))
            .otherwise(pl.lit("no"))
            .alias("within")
        )
    )


def _tallied(placed: pl.DataFrame, tallied: pl.DataFrame, check: pl.DataFrame) -> pl.DataFrame:
    """Return the stems that the crew tallied and the check measured."""
    return (
        placed.join(tallied.select("row", "class"), on="row", maintain_order="left")
        .join(_of_check(check), on="check_node", maintain_order="left")
        .with_columns(pl.lit(BY_TALLY).alias("outcome"), pl.lit(BY_COUNTS).alias("basis"))
    )


def _tallied_extra(tallied: pl.DataFrame, placed: pl.DataFrame) -> pl.DataFrame:
    """Return the counts of the crew that no stem of the check was put in."""
    filled = placed.group_by("row").agg(pl.len().alias("filled"))
    over = pl.col("count") - pl.col("filled").fill_null(0)
    return (
        tallied.join(filled, on="row", how="left", maintain_order="left")
        .select("plot", "class", over.cast(pl.Float64).alias("n_stems"))
        .filter(pl.col("n_stems") > 0)
        .with_columns(pl.lit(EXTRA).alias("outcome"), pl.lit(BY_COUNTS).alias("basis"))
    )


def _set_aside(sides: Sides, differences: pl.DataFrame) -> pl.DataFrame:
    """Count the rows of the check that are not compared, by reason."""
    used = differences.select(pl.col("check_source_row").alias("check_row")).drop_nulls()
    without = sides.check.select(
        pl.col("source_row").alias("check_row"), pl.col("set_aside").alias("reason")
    ).join(used, on="check_row", how="anti", maintain_order="left")
    counts = (
        pl.concat([sides.set_aside, without]).group_by("reason").agg(pl.len().alias("rows")).sort("reason")
    )
    return counts.select(pl.lit("check_trees").alias("table"), "reason", "rows").cast(SET_ASIDE_SCHEMA)
