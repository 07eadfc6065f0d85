"""The tables of a stand exactly as they are declared: what every writer starts from."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from plotmap.errors import SchemaError
from plotmap.model.columns import Column, Kind, Table
from plotmap.model.result_tables import RESULT_TABLES
from plotmap.model.survey import Stand

if TYPE_CHECKING:
    import pandas as pd

DTYPES: dict[Kind, type[pl.DataType]] = {Kind.NUMBER: pl.Float64, Kind.COUNT: pl.Int64, Kind.DATE: pl.Date}
"""How a kind of column is held; all others are text."""


def declared_frame(table: Table, frame: pl.DataFrame | pd.DataFrame) -> pl.DataFrame:
    """Return the declared columns of a table, in order, each of its declared kind.

    Parameters
    ----------
    table : Table
        What is wanted.
    frame : polars.DataFrame or pandas.DataFrame
        Has at least the columns of `table`; others, and a geometry, are left out.

    Returns
    -------
    polars.DataFrame
        Numbers as Float64, counts as Int64, dates as Date, everything else as String. Missing is null,
        never NaN.

    Raises
    ------
    SchemaError
        `frame` lacks a declared column, or a column holds what is not of its kind.
    """
    lacking = [name for name in table.names if name not in frame.columns]
    if lacking:
        raise SchemaError(
            f"table {table.name}: the columns {', '.join(lacking)} are not there. "
            f"Hand over all columns of plotmap.model.result_tables, with missing values where there are none."
        )
    try:
        held = frame if isinstance(frame, pl.DataFrame) else _from_pandas(frame[table.names])
        return held.select(_typed(column, held.schema[column.name]) for column in table.columns)
    except (pl.exceptions.InvalidOperationError, TypeError, ValueError) as error:
        raise SchemaError(
            f"table {table.name}: a column holds what is not of its kind ({error}). "
            f"Hand over the kinds declared in plotmap.model.result_tables."
        ) from error


def stand_frames(stand: Stand) -> dict[str, pl.DataFrame]:
    """Return every result table of a stand by its name, in the order of `RESULT_TABLES`.

    Raises
    ------
    SchemaError
        A table of the stand lacks a declared column.
    """
    frames = {name: getattr(stand, name) for name in (table.name for table in RESULT_TABLES)}
    frames["findings"] = stand.findings.frame
    return {table.name: declared_frame(table, frames[table.name]) for table in RESULT_TABLES}


def _from_pandas(frame: pd.DataFrame) -> pl.DataFrame:
    """Return a pandas frame as polars; NaN, NaT and None become null."""
    import pandas as pd  # noqa: PLC0415 - slow to import, and not needed for stems
    import pyarrow as pa  # noqa: PLC0415

    plain = pd.DataFrame(frame).reset_index(drop=True)
    return pl.DataFrame(pl.from_arrow(pa.Table.from_pandas(plain, preserve_index=False)))


def _typed(column: Column, dtype: pl.DataType) -> pl.Expr:
    """Return one column as its declared kind."""
    cell = pl.col(column.name)
    wanted = DTYPES.get(column.kind, pl.String)
    if column.kind is Kind.DATE and dtype == pl.String:
        return cell.str.to_date("%Y-%m-%d")
    if dtype.is_float():
        cell = cell.fill_nan(None)
    return cell.cast(wanted)
