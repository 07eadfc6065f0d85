"""Identifiers that two tables spell in the digits of different scripts."""

from __future__ import annotations

from collections.abc import Mapping

import polars as pl

from plotmap.fielddata.number_forms import in_ascii_digits
from plotmap.model.field_tables import SOURCE_ROW
from plotmap.model.findings import Findings, findings_of

_NAMED_IN = (
    ("plot", ("trees", "tallies", "check_trees"), "plots"),
    ("compartment", ("plots",), "compartments"),
    ("species", ("trees", "tallies", "check_trees"), "species"),
    ("instrument", ("trees", "tallies", "check_trees"), "instruments"),
)
"""Column, the tables that name something by it, and the table that lists what can be named."""
_PLAIN = "_plain"


def identifiers_in_other_digits(frames: Mapping[str, pl.DataFrame], sources: Mapping[str, str]) -> Findings:
    """Return identifier-other-digits for names that would be the same in ASCII digits, but are not.

    Parameters
    ----------
    frames : mapping of str to polars.DataFrame
        Typed tables.
    sources : mapping of str to str
        File of each table that is there.
    """
    return Findings.join(
        _differing(frames[table], frames[listing], column, sources[table], sources[listing])
        for column, naming, listing in _NAMED_IN
        for table in naming
        if {table, listing} <= sources.keys()
        and _beyond_ascii(frames[table][column], frames[listing][column])
    )


def _beyond_ascii(*columns: pl.Series) -> bool:
    """Say whether any cell holds anything but ASCII."""
    return any((column.str.len_bytes() != column.str.len_chars()).any() for column in columns)


def _differing(naming: pl.DataFrame, listing: pl.DataFrame, column: str, source: str, other: str) -> Findings:
    """Return one finding for each name that the listing table spells in other digits only."""
    named = (
        naming.lazy()
        .select(column, SOURCE_ROW)
        .drop_nulls(column)
        .group_by(column)
        .agg(pl.col(SOURCE_ROW).min(), pl.len().alias("rows"))
        .sort(SOURCE_ROW)
        .collect()
    )
    listed = listing.select(pl.col(column).alias("theirs")).drop_nulls().unique(maintain_order=True)
    named = named.with_columns(in_ascii_digits(named[column]).alias(_PLAIN))
    listed = listed.with_columns(in_ascii_digits(listed["theirs"]).alias(_PLAIN))
    unlisted = named.join(listed, left_on=column, right_on="theirs", how="anti", maintain_order="left")
    rows = unlisted.join(listed, on=_PLAIN, how="inner", maintain_order="left")
    are = pl.when(pl.col("rows") == 1).then(pl.lit("1 row has")).otherwise(pl.format("{} rows have", "rows"))
    message = pl.format(f"{column} {{}} is spelled {{}} in {other}; {{}} it", column, "theirs", are)
    return findings_of("identifier-other-digits", rows, source, message, column=column, value=column)
