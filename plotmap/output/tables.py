"""The result tables as CSV files and as one workbook."""

from __future__ import annotations

from pathlib import Path

import polars as pl

from plotmap.model.findings import Findings
from plotmap.model.printed_tables import PRINTED_TABLES
from plotmap.model.result_tables import FINDING_RESULTS, LEDGER_RESULTS
from plotmap.model.survey import Stand
from plotmap.output.declared import declared_frame, stand_frames
from plotmap.output.workbook import write_sheets
from plotmap.output.workbook_about import about_stand


def printed_frames(stand: Stand) -> dict[str, pl.DataFrame]:
    """Return the tables of `PRINTED_TABLES` by name.

    Raises
    ------
    SchemaError
        A table of the stand lacks a declared column.
    """
    frames = stand_frames(stand)
    position = pl.DataFrame(
        {
            "easting": stand.plots.geometry.x.to_numpy(dtype=float),
            "northing": stand.plots.geometry.y.to_numpy(dtype=float),
        }
    ).fill_nan(None)
    frames["plots"] = frames["plots"].hstack(position)
    return frames


def write_tables(stand: Stand, folder: Path) -> None:
    """Write every result table to ``<folder>/<table>.csv``.

    The files are UTF-8 without byte-order mark, comma separated; the first row holds the column names,
    which end in their units. Numbers are the shortest decimals that read back as the same number, dates
    are ISO 8601, and missing is an empty cell (a text that is there but empty is ``""``).

    Text is written exactly as it was in the field sheets, so that it can be read again and compared; a
    remark such as ``=1+1`` may therefore be taken for a formula when a spreadsheet opens the CSV. The
    workbook (`write_workbook`) holds the same tables with such texts as texts.

    Parameters
    ----------
    stand : Stand
        What was computed.
    folder : Path
        Made where it is not there.

    Raises
    ------
    SchemaError
        A table of the stand lacks a declared column.
    OSError
        A file cannot be written; `plotmap.output.publish` words it.
    """
    folder.mkdir(exist_ok=True)
    for name, frame in printed_frames(stand).items():
        write_csv(frame, folder / f"{name}.csv")


def write_findings(findings: Findings, path: Path) -> None:
    """Write findings as CSV (see `write_tables`), with a heading also where there are none.

    Raises
    ------
    OSError
        The file cannot be written; `plotmap.output.publish` words it.
    """
    write_csv(declared_frame(FINDING_RESULTS, findings.frame), path)


def write_ledger(ledger: pl.DataFrame, path: Path) -> None:
    """Write the ledger as CSV (see `write_tables`).

    Parameters
    ----------
    ledger : polars.DataFrame
        Columns of `LEDGER_RESULTS`.
    path : Path
        File to write.

    Raises
    ------
    SchemaError
        `ledger` lacks a declared column.
    OSError
        The file cannot be written; `plotmap.output.publish` words it.
    """
    write_csv(declared_frame(LEDGER_RESULTS, ledger), path)


def write_workbook(stand: Stand, path: Path) -> None:
    """Write the result tables as one XLSX workbook, a sheet a table.

    The sheet *About* says what the figures rest on, what was left out and what to be careful with;
    *Columns* explains every column. Headings carry units, numbers keep their full precision under a
    format that suits the unit, texts are never taken for formulas. A table of more than
    `plotmap.output.workbook.MAX_ROWS` rows is left to its CSV file, and *About* says so. The same stand
    gives the same bytes.

    Parameters
    ----------
    stand : Stand
        What was computed.
    path : Path
        File to write, ending in ``.xlsx``.

    Raises
    ------
    SchemaError
        A table of the stand lacks a declared column.
    OSError, xlsxwriter.exceptions.XlsxFileError
        The file cannot be written; `plotmap.output.publish` words it.
    """
    frames = printed_frames(stand)
    write_sheets(PRINTED_TABLES, frames, stand.settings, path, about_stand(frames, stand.settings))


def write_csv(frame: pl.DataFrame, path: Path) -> None:
    """Write one table as plain UTF-8, lines ending in a line feed on every system.

    Raises
    ------
    OSError
        The file cannot be written; `plotmap.output.publish` words it.
    """
    with path.open("wb") as file:
        frame.write_csv(file, include_bom=False, line_terminator="\n")
