"""Sums over groups of rows that come out the same to the last bit, whatever machine adds them up."""

from __future__ import annotations

import numpy as np
import polars as pl


def ordered_sums(frame: pl.DataFrame, key: list[str], **values: pl.Expr) -> pl.DataFrame:
    """Sum values within groups, always in the order of the rows.

    A sum of floating-point numbers depends on the order of adding, and the usual grouping adds in blocks that
    depend on the number of processors. Here the rows are sorted by the key, keeping their order within it, and
    added one after the other.

    Parameters
    ----------
    frame : polars.DataFrame
        Rows.
    key : list of str
        Columns that name a group; a missing value is a value of its own.
    **values : polars.Expr
        What is summed, by the name of the column it becomes; a missing value adds nothing.

    Returns
    -------
    polars.DataFrame
        `key` and one column of float for each of `values`; one row a group, sorted by `key` (missing first).
    """
    rows = frame.select(
        *key, *(expression.cast(pl.Float64).alias(name) for name, expression in values.items())
    )
    rows = rows.sort(key, maintain_order=True)
    if not rows.height:
        return rows
    group = rows.select(pl.struct(key).rle_id()).to_series().to_numpy()
    first = np.flatnonzero(np.diff(group, prepend=-1))
    sums = [
        pl.Series(name, np.bincount(group, rows[name].fill_null(0.0).to_numpy(), len(first)))
        for name in values
    ]
    return rows[first].select(key).with_columns(sums)
