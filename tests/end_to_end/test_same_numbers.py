"""One figure is one figure: CSV, workbook, GeoPackage and map of a run are read back and held against each other."""

from __future__ import annotations

import re
import sqlite3
from contextlib import closing
from datetime import datetime
from pathlib import Path
from typing import Any

import polars as pl
import pytest
from openpyxl import load_workbook

from plotmap.model.columns import Kind, Table
from plotmap.model.result_tables import RESULT_TABLES
from plotmap.output.webmap.packing import unpacked
from plotmap.workflow import run

SAMPLE = Path(__file__).parents[2] / "sample_plots"
_NUMBERS = (Kind.NUMBER, Kind.COUNT)
_LATER = {"findings", "ledger"}
"""Tables that are CSV files beside the folder of tables as well."""


@pytest.fixture(scope="module")
def results(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Run the sample survey."""
    folder = tmp_path_factory.mktemp("same") / "results"
    assert run(SAMPLE, folder).stand is not None
    return folder


def _csv(results: Path, table: Table) -> dict[str, list[Any]]:
    """Return the declared columns of a CSV file: numbers as floats, all else as text."""
    frame = pl.read_csv(results / "tables" / f"{table.name}.csv", infer_schema=False)
    return {
        column.name: [_cell(cell, column.kind) for cell in frame[column.name]] for column in table.columns
    }


def _cell(cell: Any, kind: Kind) -> Any:
    """Return a cell as it can be compared: a float, a text, or None."""
    if cell is None:
        return None
    if kind in _NUMBERS:
        return float(cell)
    return f"{cell:%Y-%m-%d}" if isinstance(cell, datetime) else str(cell)


@pytest.mark.parametrize("table", RESULT_TABLES, ids=lambda table: table.name)
def test_the_geopackage_holds_what_the_csv_file_holds(results: Path, table: Table) -> None:
    expected = _csv(results, table)
    columns = ", ".join(f'"{name}"' for name in table.names)
    with closing(sqlite3.connect(results / "stand.gpkg")) as database:
        rows = database.execute(f'SELECT {columns} FROM "{table.name}" ORDER BY rowid').fetchall()  # noqa: S608
    for at, column in enumerate(table.columns):
        assert [_cell(row[at], column.kind) for row in rows] == expected[column.name], column.name


@pytest.mark.parametrize("table", RESULT_TABLES, ids=lambda table: table.name)
def test_the_workbook_holds_what_the_csv_file_holds(results: Path, table: Table) -> None:
    expected = _csv(results, table)
    with closing(load_workbook(results / "tables.xlsx", read_only=True)) as book:
        heading, *rows = book[table.name].iter_rows(values_only=True)
    for at, column in enumerate(table.columns):
        assert heading[at] == column.heading
        found = [_cell(row[at] if at < len(row) else None, column.kind) for row in rows]
        wanted = expected[column.name]
        if column.kind is Kind.NUMBER:  # the format keeps 15 to 17 digits
            assert [cell is None for cell in found] == [cell is None for cell in wanted], column.name
            there = [cell for cell in wanted if cell is not None]
            assert [cell for cell in found if cell is not None] == pytest.approx(there, rel=1e-14)
        else:
            assert found == wanted, column.name


def test_findings_and_ledger_are_the_same_in_both_places(results: Path) -> None:
    for name in _LATER:
        assert (results / f"{name}.csv").read_bytes() == (results / "tables" / f"{name}.csv").read_bytes()


def _map_content(results: Path) -> dict[str, Any]:
    """Return what the page of the map unpacks."""
    page = (results / "map.html").read_text(encoding="utf-8")
    texts = re.findall(r"H4sI[A-Za-z0-9+/=]{1000,}", page)  # base64 of a gzip header
    assert len(texts) == 1
    content: dict[str, Any] = unpacked(texts[0])
    return content


def _as_shown(shown: list[Any], exact: list[Any], decimals: int) -> None:
    """Assert that figures are those of the tables, rounded to the decimals that the map shows."""
    assert [cell is None for cell in shown] == [cell is None for cell in exact]
    pairs = [(a, b) for a, b in zip(shown, exact, strict=True) if b is not None]
    assert pairs
    for cell, figure in pairs:
        assert abs(cell - figure) <= 0.5 * 10**-decimals + 1e-9 * abs(figure)


@pytest.mark.parametrize(
    ("part", "table"),
    [("compartments", "compartments"), ("total", "survey_total")],
    ids=["compartments", "total"],
)
def test_the_map_shows_the_figures_of_the_tables(results: Path, part: str, table: str) -> None:
    content = _map_content(results)
    declared = next(one for one in RESULT_TABLES if one.name == table)
    expected = _csv(results, declared)
    numbers = [
        column.name
        for column in declared.columns
        if column.kind in _NUMBERS and column.name in content[part] and column.name in content["fields"][part]
    ]
    assert {"basal_area_m2_per_ha", "stems_per_ha", "n_plots", "area_ha", "sampling_error_pct"} <= set(
        numbers
    )
    for name in numbers:
        decimals = content["fields"][part][name]["decimals"]
        _as_shown(content[part][name], expected[name], decimals)


def test_the_map_shows_the_figures_of_the_plots(results: Path) -> None:
    content = _map_content(results)["plots"]
    fields = _map_content(results)["fields"]["plots"]
    declared = next(one for one in RESULT_TABLES if one.name == "plots")
    table = _csv(results, declared)
    rows = {plot: at for at, plot in enumerate(table["plot"])}
    order = [rows[plot] for plot in content["plot"]]
    for name in ("basal_area_m2_per_ha", "stems_per_ha", "n_trees", "area_m2"):
        _as_shown(content[name], [table[name][at] for at in order], fields[name]["decimals"])
