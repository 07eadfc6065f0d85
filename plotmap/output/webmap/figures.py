"""Columns of the results as lists for JSON, rounded once to what the map shows."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
import polars as pl

from plotmap.model.columns import Kind
from plotmap.output.webmap.breaks import reaches

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from numpy.typing import NDArray

    from plotmap.model.columns import Column, Table
    from plotmap.model.labels import Labels

Cell = float | int | str | None
"""What a figure or a text is in JSON."""
_DECIMALS_BY_UNIT = {"1/ha": 0, "m²/ha": 1, "cm": 1, "%": 0, "ha": 2, "m²": 0}
_DECIMALS_BY_NAME = {"area_m2": 1, "share_inside": 3, "n_trees": 1}
_FIGURES_WHEN_SMALL = 2
_MOST_MORE = 10
"""Decimals added at most where a value lies just below a class edge."""
_NOTHING = 1e-9
"""One side of an interval below this part of its estimate is no width but the last binary digits."""


def decimals_of(column: Column) -> int:
    """Return the decimals a number of this column is shown with."""
    return _DECIMALS_BY_NAME.get(column.name, _DECIMALS_BY_UNIT.get(column.unit, 0))


def field(column: Column, table: Table, labels: Labels) -> dict[str, str | int]:
    """Return what the page must know of a column: title and unit in the survey's words, and decimals."""
    title, unit = labels.title(column, table), labels.unit(column)
    return {"title": title, "unit": unit, "decimals": decimals_of(column)}


def rounded(values: NDArray[np.float64], decimals: int, edges: Iterable[float] = ()) -> NDArray[np.float64]:
    """Return the values as the map shows them.

    Parameters
    ----------
    values : numpy.ndarray of float, shape (n,)
        In the unit of their column; NaN where missing.
    decimals : int
        Decimals of usual values. A value with fewer than two figures left before the last of them keeps
        two figures (0.043 with one decimal), so that a small value is never shown as zero.
    edges : iterable of float
        Class edges, in the unit of `values`. A value that rounding would put on the other side of an edge
        keeps as many more decimals as it needs: 49.85 is 49.9, not 50, where 50 is an edge.

    Returns
    -------
    numpy.ndarray of float, shape (n,)
        Missing (NaN) where missing or infinite.
    """
    usual = np.round(values, decimals)
    usual[~np.isfinite(values)] = np.nan
    small = np.isfinite(values) & (values != 0) & (np.abs(values) < 10.0 ** (1 - decimals))
    if small.any():
        places = _FIGURES_WHEN_SMALL - 1 - np.floor(np.log10(np.abs(values[small])))
        usual[small] = np.round(values[small] * 10**places) / 10**places
    for edge in edges:
        _keep_side(usual, values, edge, decimals)
    return usual


def _keep_side(usual: NDArray[np.float64], values: NDArray[np.float64], edge: float, decimals: int) -> None:
    """Give rounded values that changed sides of a class edge more decimals, in place."""
    for more in range(1, _MOST_MORE + 1):
        wrong = np.isfinite(values) & (reaches(usual, edge) != reaches(values, edge))
        if not wrong.any():
            return
        usual[wrong] = np.round(values[wrong], decimals + more)


def numbers(values: pd.Series | pl.Series) -> NDArray[np.float64]:
    """Return a column as floats, NaN where missing."""
    if isinstance(values, pl.Series):
        return values.cast(pl.Float64).fill_null(np.nan).to_numpy()
    return pd.to_numeric(values).to_numpy(dtype=np.float64, na_value=np.nan)


def number_cells(values: NDArray[np.float64]) -> list[Cell]:
    """Return numbers for JSON: whole ones without decimals, missing ones as None."""
    cells = values.astype(object)
    whole = np.isfinite(values) & (values == np.round(values))
    cells[whole] = values[whole].astype(np.int64)
    cells[np.isnan(values)] = None
    return list(cells.tolist())


def text_cells(values: pd.Series | pl.Series) -> list[Cell]:
    """Return texts for JSON, days as ISO 8601, missing ones as None."""
    if isinstance(values, pl.Series):
        return list(values.cast(pl.String).to_list())
    is_time = pd.api.types.is_datetime64_any_dtype(values)
    texts = values.dt.strftime("%Y-%m-%d") if is_time else values
    cells = texts.astype(object).to_numpy(copy=True)
    present = values.notna().to_numpy()
    cells[present] = cells[present].astype(str)
    cells[~present] = None
    return list(cells.tolist())


def columns(
    frame: pd.DataFrame | pl.DataFrame,
    table: Table,
    names: Iterable[str],
    edges: Mapping[str, Iterable[float]] | None = None,
    *,
    sides: bool = True,
) -> dict[str, list[Cell]]:
    """Return the named columns of a result table for JSON.

    Parameters
    ----------
    frame : pandas.DataFrame or polars.DataFrame
        Columns of `table`.
    table : Table
        Declares kind and unit of each column.
    names : iterable of str
        Columns wanted. An estimate (one with ``_low`` and ``_high``) also brings ``_low``, ``_high``,
        ``_below`` (value minus lower limit) and ``_above`` (upper limit minus value), 0 where the plots agree.
    edges : mapping of str to iterable of float, optional
        Class edges by column, which rounding must not cross; see `rounded`.
    sides : bool
        Whether ``_below`` and ``_above`` are wanted.

    Returns
    -------
    dict of str to list
        One list per column, as long as `frame`; None where missing.
    """
    declared = {column.name for column in table.columns}
    cells: dict[str, list[Cell]] = {}
    for name in names:
        column = table[name]
        if column.kind not in {Kind.NUMBER, Kind.COUNT}:
            cells[name] = text_cells(frame[name])
            continue
        values, decimals = numbers(frame[name]), decimals_of(column)
        cells[name] = number_cells(rounded(values, decimals, (edges or {}).get(name, ())))
        if f"{name}_low" in declared:
            low, high = numbers(frame[f"{name}_low"]), numbers(frame[f"{name}_high"])
            parts = {"low": low, "high": high}
            if sides:
                parts |= {
                    "below": side_width(values - low, values),
                    "above": side_width(high - values, values),
                }
            for ending, part in parts.items():
                cells[f"{name}_{ending}"] = number_cells(rounded(part, decimals))
    return cells


def side_width(side: NDArray[np.float64], values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return one side of an interval, 0 where it is nothing but the last binary digits.

    Parameters
    ----------
    side : numpy.ndarray of float, shape (n,)
        Distance of a limit from its estimate; NaN where there is none.
    values : numpy.ndarray of float, shape (n,)
        The estimates, in the same unit.
    """
    return np.where(np.abs(side) <= _NOTHING * np.abs(values), 0.0, side)


def rows_of(names: pd.Series, compartments: pd.Series) -> list[int]:
    """Return the row of each named compartment, −1 where it is missing or not on the map."""
    return [int(row) for row in pd.Index(compartments).get_indexer(pd.Index(names))]
