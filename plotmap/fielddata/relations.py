"""Checks across tables: plots without stems, stems without plots, rows that come twice."""

from __future__ import annotations

from collections.abc import Mapping

import polars as pl

from plotmap.fielddata.spelling import nearest
from plotmap.model.field_tables import EMPTY, ESTIMATED_STATES, MEASURED, SOURCE_ROW
from plotmap.model.findings import Findings, findings_of
from plotmap.model.settings import EdgeRule, Settings

_MOST_PROPOSED = 200
"""With more unknown species than these the column holds something else, and looking for near ones takes long."""


def check_relations(
    plots: pl.DataFrame,
    trees: pl.DataFrame,
    tallies: pl.DataFrame,
    species: pl.DataFrame,
    settings: Settings,
    sources: Mapping[str, str],
    *,
    stems_known: bool = True,
) -> Findings:
    """Check that plots, stems, tallies and species hang together.

    Parameters
    ----------
    plots, trees, tallies, species : polars.DataFrame
        Typed tables; empty where a file is not there.
    settings : Settings
        For the edge rule.
    sources : mapping of str to str
        File of each table that is there.
    stems_known : bool
        False where trees or tallies are there but could not be read: then no plot is said to lack stems.

    Returns
    -------
    Findings
        plot-twice, plot-without-stems, plot-empty-with-stems, stem-without-plot, stem-on-unmeasured-plot,
        stem-twice, species-twice, species-unknown, times-without-mirage, tally-without-plot,
        tally-on-unmeasured-plot, tally-twice.
    """
    trees_file, tallies_file = sources.get("trees", "trees"), sources.get("tallies", "tallies")
    plots_file = sources.get("plots", "plots")
    counts = _stems_on(plots, trees, tallies)
    findings = [
        _twice("plot-twice", plots, ["plot"], plots_file),
        _twice("species-twice", species, ["species"], sources.get("species", "species")),
        _twice("stem-twice", trees, ["plot", "tree"], trees_file),
        _twice("tally-twice", tallies, ["plot", "species", "class"], tallies_file, blank_ok="species"),
        _empty_with_stems(counts, plots_file),
        _stray("stem", trees, plots, trees_file, "tree"),
        _stray("tally", tallies, plots, tallies_file, "class"),
        _unknown_species(trees, species, trees_file),
        _unknown_species(tallies, species, tallies_file),
    ]
    if stems_known:
        findings.append(_without_stems(counts, plots_file))
    if settings.plots.edge is not EdgeRule.MIRAGE:
        findings.append(_times(trees, trees_file))
    return Findings.join(findings)


def _twice(code: str, table: pl.DataFrame, key: list[str], source: str, blank_ok: str = "") -> Findings:
    """Return a finding for each row whose key has come before."""
    full = table.lazy().filter(pl.all_horizontal(pl.col(n).is_not_null() for n in key if n != blank_ok))
    again = (
        full.select(*key, SOURCE_ROW)
        .with_columns(pl.col(SOURCE_ROW).first().over(key).alias("first"))
        .filter(pl.col(SOURCE_ROW) != pl.col("first"))
        .collect()
    )
    words = pl.concat_str(
        [pl.lit(f"{name} ") + pl.col(name).fill_null("not recorded") for name in key], separator=", "
    )
    message = pl.format("{} comes again; it is first in row {}", words, "first")
    plot = "plot" if "plot" in key else None
    return findings_of(code, again, source, message, plot=plot, column=key[-1], value=key[-1])


def _stems_on(plots: pl.DataFrame, trees: pl.DataFrame, tallies: pl.DataFrame) -> pl.DataFrame:
    """Return the plots with ``stems``, how many name them; missing where none does."""
    stems = pl.concat(
        [
            trees.lazy().group_by("plot").agg(pl.len().cast(pl.Int64).alias("stems")),
            tallies.lazy().group_by("plot").agg(pl.col("count").fill_null(1).sum().alias("stems")),
        ]
    )
    return (
        plots.lazy()
        .filter(pl.col("plot").is_not_null())
        .join(stems.group_by("plot").agg(pl.col("stems").sum()), on="plot", how="left", maintain_order="left")
        .collect()
    )


def _without_stems(counts: pl.DataFrame, source: str) -> Findings:
    """Return plot-without-stems."""
    rows = counts.filter((pl.col("state") == MEASURED) & (pl.col("stems").fill_null(0) == 0))
    message = pl.lit("the plot is marked measured, but has no stems; it counts as a zero")
    return findings_of(
        "plot-without-stems", rows, source, message, plot="plot", column="state", value="state"
    )


def _empty_with_stems(counts: pl.DataFrame, source: str) -> Findings:
    """Return plot-empty-with-stems."""
    rows = counts.filter((pl.col("state") == EMPTY) & (pl.col("stems") > 0))
    words = (
        pl.when(pl.col("stems") == 1)
        .then(pl.lit("1 stem names"))
        .otherwise(pl.format("{} stems name", "stems"))
    )
    message = pl.format("the plot is marked empty, but {} it", words)
    return findings_of(
        "plot-empty-with-stems", rows, source, message, plot="plot", column="state", value="state"
    )


def _stray(what: str, table: pl.DataFrame, plots: pl.DataFrame, source: str, name: str) -> Findings:
    """Return the findings for rows whose plot is not there, or was not measured."""
    states = plots.lazy().select("plot", "state").unique("plot", keep="first")
    rows = (
        table.lazy()
        .select("plot", name, SOURCE_ROW)
        .filter(pl.col("plot").is_not_null())
        .join(states, on="plot", how="left")
        .filter(~pl.col("state").is_in(ESTIMATED_STATES).fill_null(value=False))
        .collect()
    )
    lost = rows.filter(pl.col("state").is_not_null())
    return Findings.join(
        [
            findings_of(
                f"{what}-without-plot",
                rows.filter(pl.col("state").is_null()),
                source,
                pl.format("plot {} is not in the plots table", "plot"),
                plot="plot",
                column="plot",
                value="plot",
            ),
            findings_of(
                f"{what}-on-unmeasured-plot",
                lost,
                source,
                pl.format("the plot is marked {}, so the row is set aside", "state"),
                plot="plot",
                column="plot",
                value="plot",
            ),
        ]
    )


def _unknown_species(table: pl.DataFrame, species: pl.DataFrame, source: str) -> Findings:
    """Return species-unknown, one finding for each spelling with the number of rows."""
    if not species.height:
        return Findings.none()
    rows = (
        table.lazy()
        .filter(pl.col("species").is_not_null())
        .join(species.lazy().select("species"), on="species", how="anti")
        .group_by("species")
        .agg(pl.col(SOURCE_ROW).min(), pl.col("plot").sort_by(SOURCE_ROW).first(), pl.len().alias("rows"))
        .sort(SOURCE_ROW)
        .collect()
    )
    known = species["species"].drop_nulls().to_list()
    near = [nearest(word, known) if rows.height <= _MOST_PROPOSED else None for word in rows["species"]]
    rows = rows.with_columns(pl.Series("near", near, dtype=pl.String))
    meant = (
        pl.when(pl.col("near").is_null()).then(pl.lit("")).otherwise(pl.format("; {} may be meant", "near"))
    )
    words = (
        pl.when(pl.col("rows") == 1).then(pl.lit("1 row has")).otherwise(pl.format("{} rows have", "rows"))
    )
    message = pl.format("species {} is not in the species table; {} it{}", "species", words, meant)
    return findings_of(
        "species-unknown", rows, source, message, plot="plot", column="species", value="species"
    )


def _times(trees: pl.DataFrame, source: str) -> Findings:
    """Return times-without-mirage."""
    rows = trees.filter(pl.col("times") > 1)
    message = pl.format("times is {}, but the edge rule of the settings is not mirage", "times")
    return findings_of(
        "times-without-mirage", rows, source, message, plot="plot", column="times", value="times"
    )
