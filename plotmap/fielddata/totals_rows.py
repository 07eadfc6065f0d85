"""Rows of totals between or below the rows of a table: told by their word and by their sums, both at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray

from plotmap.fielddata.cells import PLACE, TableRows, text_of
from plotmap.fielddata.headings import Heading
from plotmap.model.columns import Kind
from plotmap.model.findings import Findings, finding

TOTALS_ROW = "row of totals"
"""Why such rows are set aside, as the ledger says."""
_SEEDS = ["total", "sum", "Σ", "∑", "gesamt", "somme", "totaal"]
_WORD = r"(?:(?:grand|sub)[\s-]*)?(?:totals?|totale|totaal|sums?|summe|(?:ins)?gesamt|somme|Σ|∑)"
_PLAIN = rf"(?i)^{_WORD}\s*[:=]?$"
_WITH_NAME = rf"(?i)^(?:{_WORD}\s+\S+|\S+\s+{_WORD})\s*[:=]?$"
"""A word of totals beside a name, as P1 Total; set aside where it sums, no finding where not."""
_RELATIVE = 1e-9
_NO_WORDS = (Kind.NUMBER, Kind.COUNT)
_Floats = NDArray[np.float64]
_Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class _Labels:
    """Rows with a word of totals: which, the first column it stands in, and whether it stands alone there."""

    found: _Flags
    column: NDArray[np.int64]
    plain: _Flags


def totals_rows(
    rows: pl.DataFrame, headings: Sequence[Heading], table: TableRows
) -> tuple[pl.Series, Findings]:
    """Find the rows that hold totals of the rows above them.

    A row is one of totals where a column of words holds one for totals (``Total``, ``Sum``, ``Σ``, ``P1 Total``, …),
    at least one number of it is the sum of the column since the row of totals before or since the heading, and
    every other number is such a sum too, or the mean or number of those rows. A sum may be rounded as far as it
    is written. Zeros prove nothing.

    Parameters
    ----------
    rows : polars.DataFrame
        Filled rows: cells c0, c1, … and their places.
    headings : sequence of Heading
        The headings that were understood.
    table : TableRows
        Where these rows stand.

    Returns
    -------
    is_total : polars.Series of bool
        One a row.
    findings : Findings
        totals-row; totals-row-doubtful for rows that have the word alone in a cell, but not the sums.
    """
    by_position = {heading.position: heading for heading in headings}
    positions = [int(name[1:]) for name in rows.columns if name != PLACE]
    kinds = {p: by_position[p].column.kind if p in by_position else None for p in positions}
    words = [p for p in positions if rows[f"c{p}"].dtype == pl.String and kinds[p] not in _NO_WORDS]
    labels = _labels(rows, words)
    nothing = pl.repeat(value=False, n=rows.height, eager=True, dtype=pl.Boolean)
    if not labels.found.any():
        return nothing, Findings.none()
    numbers = [p for p in positions if kinds[p] in (*_NO_WORDS, None)]
    is_total = labels.found & _sums(rows, numbers, labels.found)
    doubtful = labels.found & labels.plain & ~is_total
    found = [
        _told("totals-row", is_total, labels, rows, table, by_position),
        _told("totals-row-doubtful", doubtful, labels, rows, table, by_position),
    ]
    return pl.Series(is_total), Findings.join(found)


def _labels(rows: pl.DataFrame, words: Sequence[int]) -> _Labels:
    """Find words of totals."""
    found, plain = np.zeros(rows.height, dtype=bool), np.zeros(rows.height, dtype=bool)
    column = np.full(rows.height, -1)
    seeded = rows.select(
        pl.col([f"c{p}" for p in words]).str.contains_any(_SEEDS, ascii_case_insensitive=True).any()
    )
    hit = seeded.row(0) if words and rows.height else ()
    for position in (position for position, has_seed in zip(words, hit, strict=False) if has_seed):
        text = rows[f"c{position}"]
        alone = text.str.contains(_PLAIN).fill_null(value=False).to_numpy()
        named = text.str.contains(_WITH_NAME).fill_null(value=False).to_numpy()
        column[(alone | named) & ~found] = position
        found |= alone | named
        plain |= alone
    return _Labels(found, column, plain)


def _sums(rows: pl.DataFrame, numbers: Sequence[int], labelled: _Flags) -> _Flags:
    """Say which labelled rows hold sums, and nothing beside sums, means and numbers of the rows above."""
    any_sum, all_fit = np.zeros(rows.height, dtype=bool), np.ones(rows.height, dtype=bool)
    for position in numbers:
        text = text_of(rows[f"c{position}"]).str.replace(",", ".", literal=True)
        value = text.cast(pl.Float64, strict=False).fill_null(np.nan).to_numpy()
        there = labelled & text.is_not_null().to_numpy()
        decimals = text.str.extract(r"\.(\d+)$").str.len_chars().fill_null(0).to_numpy()
        tolerance = 0.5 * 10.0 ** -decimals.astype(float)
        is_sum, is_other = _fits(np.where(np.isfinite(value), value, np.nan), labelled, tolerance)
        any_sum |= there & is_sum & (value != 0)
        all_fit &= ~there | is_sum | is_other
    return any_sum & all_fit


def _fits(value: _Floats, labelled: _Flags, tolerance: _Floats) -> tuple[_Flags, _Flags]:
    """Say which numbers are the sum of those above, and which their mean or how many they are."""
    data = np.where(labelled | np.isnan(value), 0.0, value)
    rows = np.cumsum(~labelled)
    above, filled = np.cumsum(data), np.cumsum(~labelled & ~np.isnan(value))
    places = np.flatnonzero(labelled)
    before = np.searchsorted(places, np.arange(len(value))) - 1
    last = np.where(before >= 0, places[np.maximum(before, 0)], -1)

    def since(total: NDArray[np.generic]) -> _Floats:
        """Return a running total since the labelled row before."""
        start = np.where(last >= 0, total[np.maximum(last, 0)], 0)
        return np.asarray(total - start, dtype=float)

    is_sum = np.zeros(len(value), dtype=bool)
    is_other = np.zeros(len(value), dtype=bool)
    for total, n_filled, n_rows in (
        (since(above), since(filled), since(rows)),
        (above, filled.astype(float), rows.astype(float)),
    ):
        near = tolerance + _RELATIVE * np.abs(total)
        mean = np.divide(total, n_filled, out=np.full(len(value), np.nan), where=n_filled > 0)
        is_sum |= (np.abs(value - total) <= near) & (n_filled > 0)
        is_other |= (np.abs(value - mean) <= near) | (value == n_filled) | (value == n_rows)
    return is_sum, is_other


def _told(
    code: str,
    which: _Flags,
    labels: _Labels,
    rows: pl.DataFrame,
    table: TableRows,
    by_position: dict[int, Heading],
) -> Findings:
    """Return one finding for all such rows with the word in the same column."""
    found: list[Findings] = []
    for position in np.unique(labels.column[which]).tolist():
        places = np.flatnonzero(which & (labels.column == position))
        word = rows[f"c{position}"][int(places[0])]
        where = table.listed(places, position)
        column = by_position[position].written if position in by_position else None
        are = "1 row says" if len(places) == 1 else f"{len(places)} rows say"
        ends = (
            "and hold the sums of those above: no data, set aside"
            if code == "totals-row"
            else "but their numbers are not the sums of the rows above: read as data"
        )
        ends = ends.replace("hold", "holds").replace("their", "its") if len(places) == 1 else ends
        message = f"{are} {word} ({where}) {ends}"
        found.append(
            finding(
                code, table.source, message, row=table.row(int(places[0])), column=column, value=str(word)
            )
        )
    return Findings.join(found)
