"""Names that differ only in capitals: two spellings of one species, class or band."""

from __future__ import annotations

import polars as pl

from plotmap.model.findings import Findings, findings_of
from plotmap.model.survey import Survey


def capitals(survey: Survey) -> Findings:
    """Find species, classes and bands that are written in two ways which differ only in capitals.

    Nothing is put together: each spelling is reported as it is.

    Parameters
    ----------
    survey : Survey
        Reads the species of stems, tallies and the species table, and the classes of tallies.

    Returns
    -------
    Findings
        ``spelling-differs-in-capitals``, one for each spelling that is not the most frequent one.
    """
    names = {table: survey.sources.get(table, table) for table in ("trees", "tallies", "species")}
    species = [
        _counted(survey.trees, "species", names["trees"]),
        _counted(survey.tallies, "species", names["tallies"]),
        _counted(survey.species, "species", names["species"]).with_columns(pl.lit(0).alias("rows")),
    ]
    classes = [_counted(survey.tallies, "class", names["tallies"])]
    return Findings.join([_differing(species, "species"), _differing(classes, "class")])


def _counted(rows: pl.DataFrame, column: str, file: str) -> pl.DataFrame:
    """Return every spelling of a column with its number of rows and its first row."""
    return (
        rows.lazy()
        .filter(pl.col(column).is_not_null())
        .group_by(pl.col(column).alias("written"))
        .agg(pl.len().cast(pl.Int32).alias("rows"), pl.col("source_row").min())
        .with_columns(pl.lit(file).alias("file"))
        .collect()
    )


def _differing(parts: list[pl.DataFrame], column: str) -> Findings:
    """Return a finding for each spelling that is another one but for capitals."""
    spellings = (
        pl.concat(parts, how="vertical_relaxed")
        .group_by("written", maintain_order=True)
        .agg(pl.col("rows").sum(), pl.col("source_row").first(), pl.col("file").first())
        .with_columns(pl.col("written").str.strip_chars().str.to_lowercase().alias("plain"))
        .sort("rows", "written", descending=[True, False])
        .with_columns(pl.col("written", "rows").first().over("plain").name.suffix("_most"))
        .filter(pl.col("written") != pl.col("written_most"))
    )
    message = pl.format(
        f"{column} {{}} (rows: {{}}) differs only in capitals from {{}} (rows: {{}}); each is taken for itself",
        "written",
        "rows",
        "written_most",
        "rows_most",
    )
    return Findings.join(
        findings_of(
            "spelling-differs-in-capitals",
            spellings.filter(pl.col("file") == file),
            file,
            message,
            column=column,
            value="written",
        )
        for file in spellings["file"].unique().sort()
    )
