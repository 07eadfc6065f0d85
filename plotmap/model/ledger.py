"""The ledger: every input row is used or set aside for a stated reason, and the sums agree."""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from plotmap.errors import LedgerError

LEDGER_SCHEMA: dict[str, type[pl.DataType]] = {
    "file": pl.String,
    "table": pl.String,
    "outcome": pl.String,
    "reason": pl.String,
    "rows": pl.Int64,
}
READ, USED, SET_ASIDE = "read", "used", "set aside"


@dataclass(frozen=True, slots=True)
class LedgerEntry:
    """What became of the rows of one file.

    Attributes
    ----------
    file, table : str
        File (and sheet) and the table it holds.
    rows_read : int
        Rows below the heading, blank ones too.
    rows_used : int
        Rows that entered the results.
    set_aside : tuple of (str, int)
        Reason and number of rows, for each reason.
    """

    file: str
    table: str
    rows_read: int
    rows_used: int
    set_aside: tuple[tuple[str, int], ...] = ()


def ledger_frame(entries: list[LedgerEntry]) -> pl.DataFrame:
    """Return the ledger as a table.

    Parameters
    ----------
    entries : list of LedgerEntry
        One a file that was read.

    Returns
    -------
    polars.DataFrame
        ``file``, ``table``, ``outcome`` (read, used, set aside), ``reason`` (empty but for set aside) and
        ``rows``.

    Raises
    ------
    LedgerError
        Rows read are not rows used plus rows set aside.
    """
    rows: list[tuple[str, str, str, str, int]] = []
    for entry in entries:
        aside = sum(count for _, count in entry.set_aside)
        if entry.rows_read != entry.rows_used + aside:
            raise LedgerError(
                f"{entry.file}: {entry.rows_read} rows read, but {entry.rows_used} used and {aside} set aside "
                f"({dict(entry.set_aside)}). This is a fault of plotmap: please report it with the survey."
            )
        rows.append((entry.file, entry.table, READ, "", entry.rows_read))
        rows.append((entry.file, entry.table, USED, "", entry.rows_used))
        rows.extend((entry.file, entry.table, SET_ASIDE, reason, count) for reason, count in entry.set_aside)
    return pl.DataFrame(rows, schema=LEDGER_SCHEMA, orient="row")
