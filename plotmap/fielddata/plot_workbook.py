"""The workbook of a survey whose plots are known: what is known is filled in, the stems are still blank."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
import polars as pl
import shapely

from plotmap.errors import OutputError
from plotmap.fielddata.blank_workbook import blank_workbook
from plotmap.files import whole_file
from plotmap.model.columns import Kind
from plotmap.model.field_tables import COMPARTMENTS, FIELD_TABLES, INSTRUMENTS, PLOTS, SPECIES

if TYPE_CHECKING:
    from plotmap.model.survey import Survey

Row = dict[str, Any]


def check_workbook_file(path: Path) -> None:
    """Refuse a file that the workbook must not be written to; one that is there may hold field data.

    Raises
    ------
    OutputError
        `path` does not end in ``.xlsx``, is there already, or its folder is not.
    """
    if path.suffix.lower() != ".xlsx":
        raise OutputError(
            f"{path}: the workbook is written as XLSX, so the name must end in .xlsx. Name a file."
        )
    if not path.parent.is_dir():
        raise OutputError(f"{path}: its folder is not there. Make the folder, or name another place.")
    if path.exists():
        raise OutputError(
            f"{path}: this file is there, and workbooks are never overwritten: it may hold field data. Name another "
            "file, or move it away."
        )


def write_plot_workbook(survey: Survey, path: Path, plots: Sequence[str], classes: Sequence[str]) -> None:
    """Write the workbook, whole or not at all.

    The sheets of plots, species and instruments hold what the survey knows: plots with position in its CRS,
    compartment and state. Trees, tallies and check measurements are blank, with lists of plots, species, instruments
    and classes to choose from. The same survey gives the same bytes.

    Parameters
    ----------
    survey : Survey
        As it was read.
    path : Path
        File to write; must not be there.
    plots : sequence of str
        Plots wanted; all where none is named.
    classes : sequence of str
        Words that a tally may have for its class.

    Raises
    ------
    OutputError
        `path` is refused by `check_workbook_file`, or cannot be written.
    """
    check_workbook_file(path)
    tables = [table for table in FIELD_TABLES if table is not COMPARTMENTS]
    rows = {
        PLOTS.name: list(_plots(survey, plots)),
        SPECIES.name: _rows(survey.species),
        INSTRUMENTS.name: _rows(survey.instruments),
    }
    content = blank_workbook(tables, rows, classes)
    with whole_file(path, "the workbook") as beside:
        beside.write_bytes(content)


def _plots(survey: Survey, wanted: Sequence[str]) -> Iterator[Row]:
    """Yield the plots as rows: positions on the grid of the survey, the compartment of the crew or of the place."""
    frame = pd.DataFrame(survey.plots.drop(columns=survey.plots.geometry.name))
    points = np.asarray(survey.plots.geometry, dtype=object)
    known = ~shapely.is_missing(points)
    xy = np.full((len(points), 2), np.nan)
    xy[known] = shapely.get_coordinates(points[known])
    crew = frame["compartment"].astype(object)
    frame = frame.assign(
        easting=xy[:, 0], northing=xy[:, 1], compartment=crew.where(crew.notna(), frame["located_in"])
    )
    frame = frame[frame["plot"].notna() & (frame["plot"].isin(list(wanted)) if wanted else True)]
    names = [column.name for column in PLOTS.columns if column.name not in {"lon", "lat"}]
    days = {column.name for column in PLOTS.columns if column.kind is Kind.DATE}
    for cells in frame[names].itertuples(index=False, name=None):
        row = {name: cell for name, cell in zip(names, cells, strict=True) if not pd.isna(cell)}
        yield {name: cell.date() if name in days else cell for name, cell in row.items()}


def _rows(table: pl.DataFrame) -> list[Row]:
    """Return the rows of a table with what their cells hold."""
    made = table.drop("source_row").to_dicts()
    return [
        {name: cell for name, cell in row.items() if isinstance(cell, (str, int, float, dt.date))}
        for row in made
    ]
