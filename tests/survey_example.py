"""A survey made from small frames, for tests of the stages: what is not given is filled in or missing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import polars as pl
from pyproj import Geod
from shapely.geometry import Point, box

from plotmap.model.columns import Column, Kind, Table
from plotmap.model.field_tables import (
    CHECK_TREES,
    INSTRUMENTS,
    ONE_STRATUM,
    PLOTS,
    SPECIES,
    TALLIES,
    TREES,
)
from plotmap.model.field_tables_thinning import PRESCRIPTIONS
from plotmap.model.findings import Findings
from plotmap.model.settings import Settings
from plotmap.model.survey import Survey

CRS = "EPSG:32630"
SQUARES = {"A": box(499_800, 5_600_000, 500_000, 5_600_200), "B": box(500_000, 5_600_000, 500_200, 5_600_200)}
"""The two compartments: squares of 200 m on the grid, side by side on the central meridian."""
DAY = "2026-05-14"
"""Day of measurement of every plot whose date is not given."""

Rows = Mapping[str, Sequence[Any]] | pl.DataFrame
_TYPES = {Kind.NUMBER: pl.Float64, Kind.COUNT: pl.Int64, Kind.DATE: pl.Date}


def _names(table: Table, given: Sequence[str]) -> dict[str, Column]:
    """Return every column of the table; a numbered one comes at least twice."""
    columns: dict[str, Column] = {}
    for column in table.columns:
        if not column.numbered:
            columns[column.name] = column
            continue
        own = [name for name in given if name[:1] == "d" and name[1:].removesuffix("_cm").isdecimal()]
        columns |= dict.fromkeys(sorted({"d1_cm", "d2_cm", *own}), column)
    return columns


def field_table(table: Table, rows: Rows | None = None) -> pl.DataFrame:
    """Return a table as reading delivers it: all declared columns, ``source_row`` from 2 unless given.

    Dates may be given as text (YYYY-MM-DD).

    Raises
    ------
    KeyError
        `rows` has a column that the table does not declare.
    """
    given = (rows.to_dict(as_series=False) if isinstance(rows, pl.DataFrame) else dict(rows or {})).copy()
    count = len(next(iter(given.values()))) if given else 0
    source_rows = given.pop("source_row", range(2, count + 2))
    columns = _names(table, list(given))
    if unknown := set(given) - set(columns):
        raise KeyError(f"table {table.name} declares no column {', '.join(sorted(unknown))}")
    made: dict[str, pl.Series] = {}
    for name, column in columns.items():
        kind = _TYPES.get(column.kind, pl.String)
        values = pl.Series(name, given.get(name, [None] * count), strict=False)
        is_text_date = kind is pl.Date and values.dtype == pl.String
        made[name] = values.str.to_date("%Y-%m-%d") if is_text_date else values.cast(kind)
    return pl.DataFrame({**made, "source_row": pl.Series(source_rows, dtype=pl.Int64)})


def _compartments() -> gpd.GeoDataFrame:
    """Return the two squares with their geodesic areas in ha."""
    frame = gpd.GeoDataFrame(
        {
            "compartment": list(SQUARES),
            "name": list(SQUARES),
            "stratum": ONE_STRATUM,
            "area_ha": np.nan,
            "source_row": [2, 3],
        },
        geometry=list(SQUARES.values()),
        crs=CRS,
    )
    geod = Geod(ellps="WGS84")
    lonlat = frame.geometry.to_crs("EPSG:4326")
    areas_ha = [abs(geod.geometry_area_perimeter(shape)[0]) / 10_000 for shape in lonlat]
    return frame.assign(area_geodesic_ha=areas_ha)


def _plots(rows: Rows) -> gpd.GeoDataFrame:
    """Return plots on a grid of 50 m in the squares, in turn in A and B unless the crew wrote which."""
    table = field_table(PLOTS, rows)
    frame = pd.DataFrame({name: table[name].to_list() for name in table.columns})
    frame["date"] = pd.to_datetime(frame["date"])
    numbers = [column.name for column in PLOTS.columns if column.kind is Kind.NUMBER]
    frame[numbers] = frame[numbers].astype(float)
    frame["state"] = frame["state"].astype(object).where(frame["state"].notna(), "measured")
    turn = np.arange(len(frame))
    crew = frame["compartment"].isin(list(SQUARES))
    home = np.where(crew, frame["compartment"].astype(object), np.array(list(SQUARES))[turn % len(SQUARES)])
    west = np.array([SQUARES[name].bounds[0] for name in home], dtype=float)
    frame["easting"] = frame["easting"].fillna(pd.Series(west + 50 + 50 * (turn % 3)))
    frame["northing"] = frame["northing"].fillna(pd.Series(5_600_050.0 + 50 * (turn // 3 % 3)))
    points = [Point(x, y) for x, y in zip(frame["easting"], frame["northing"], strict=True)]
    inside = [next((name for name, square in SQUARES.items() if square.covers(p)), None) for p in points]
    frame["located_in"] = pd.Series(inside, dtype=object)
    return gpd.GeoDataFrame(frame, geometry=points, crs=CRS)


def _settings(given: Mapping[str, Mapping[str, Any]] | Settings | None) -> Settings:
    """Return settings of circles of 12.62 m where nothing else is given."""
    if isinstance(given, Settings):
        return given
    return Settings.model_validate({"plots": {"design": "circle", "radius_m": 12.62}, **(given or {})})


def survey_example(
    *,
    trees: Rows | None = None,
    tallies: Rows | None = None,
    plots: Rows | None = None,
    instruments: Rows | None = None,
    species: Rows | None = None,
    check_trees: Rows | None = None,
    prescriptions: Rows | None = None,
    settings: Mapping[str, Mapping[str, Any]] | Settings | None = None,
) -> Survey:
    """Return a survey of two square compartments, ``A`` and ``B``, without findings.

    Parameters
    ----------
    trees, tallies, plots, instruments, species, check_trees, prescriptions : mapping or polars.DataFrame, optional
        Columns that are not given are missing in every row. Without `plots` every plot that stems name is
        there (``P1`` where none does), measured on `DAY`, in turn in A and B. Dates may be text.
    settings : mapping of sections or Settings, optional
        ``{"stems": {"bark": "under"}}``; circles of 12.62 m unless ``plots`` is among them.
    """
    stems = field_table(TREES, trees)
    tallied = field_table(TALLIES, tallies)
    named = pl.concat([stems["plot"], tallied["plot"]]).drop_nulls().unique(maintain_order=True).to_list()
    plot_rows: Rows = plots if plots is not None else {"plot": named or ["P1"]}
    if "date" not in plot_rows:
        count = len(plot_rows["plot"])
        plot_rows = {**{name: list(plot_rows[name]) for name in plot_rows}, "date": [DAY] * count}  # type: ignore[attr-defined]
    located = _plots(plot_rows)
    tables = {
        "trees": stems,
        "tallies": tallied,
        "instruments": field_table(INSTRUMENTS, instruments),
        "species": field_table(SPECIES, species),
        "check_trees": field_table(CHECK_TREES, check_trees),
        "prescriptions": field_table(PRESCRIPTIONS, prescriptions),
    }
    counts = {name: table.height for name, table in tables.items() if table.height}
    counts |= {"compartments": len(SQUARES), "plots": len(located)}
    return Survey(
        folder=Path(),
        settings=_settings(settings),
        crs=CRS,
        compartments=_compartments(),
        plots=located,
        trees=tables["trees"],
        tallies=tables["tallies"],
        instruments=tables["instruments"],
        species=tables["species"],
        check_trees=tables["check_trees"],
        prescriptions=tables["prescriptions"],
        sources={name: f"{name}.csv" for name in counts},
        rows_read=counts,
        rows_blank=dict.fromkeys(counts, 0),
        rows_no_data={name: {} for name in counts},
        inputs=(),
        findings=Findings.none(),
    )
