"""What a comparison writes holds what was computed, read back by other libraries."""

from __future__ import annotations

from pathlib import Path

import geopandas as gpd
import polars as pl
import pyogrio
import pytest
from openpyxl import load_workbook

from plotmap.fielddata import read_survey
from plotmap.model.change import Change
from plotmap.model.result_tables_change import CHANGE_TABLES
from plotmap.output import write_change
from plotmap.workflow import compare_surveys

_TWO = Path(__file__).parents[2] / "sample_plots" / "with_mistakes" / "two_surveys"


@pytest.fixture(scope="module")
def change() -> Change:
    """Compare the two surveys with mistakes."""
    return compare_surveys(read_survey(_TWO / "old"), read_survey(_TWO / "new"))


@pytest.fixture(scope="module")
def folder(change: Change, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write the comparison."""
    place = tmp_path_factory.mktemp("change")
    write_change(change, place)
    return place


def test_every_table_is_a_layer_a_sheet_and_a_file_with_all_its_rows(change: Change, folder: Path) -> None:
    book = load_workbook(folder / "change.xlsx")
    for table in CHANGE_TABLES:
        rows = len(getattr(change, table.name))
        assert rows > 0
        assert pyogrio.read_info(folder / "change.gpkg", layer=table.name)["features"] == rows
        assert pl.read_csv(folder / "tables" / f"{table.name}.csv", infer_schema=False).height == rows
        assert sum(1 for _ in book[table.name].iter_rows()) == rows + 1
    assert pl.read_csv(folder / "findings.csv", infer_schema=False).height == len(change.findings)


def test_figures_are_the_same_in_the_layer_and_the_file(change: Change, folder: Path) -> None:
    layer = gpd.read_file(folder / "change.gpkg", layer="compartment_change")
    file = pl.read_csv(folder / "tables" / "compartment_change.csv")
    for column in ("stems_per_ha_change", "basal_area_m2_per_ha_change_se", "years"):
        computed = pl.Series(change.compartment_change[column].to_numpy()).fill_nan(None).to_list()
        assert pl.Series(layer[column].to_numpy(dtype=float)).fill_nan(None).to_list() == computed
        assert file[column].cast(pl.Float64).to_list() == computed
    assert layer.crs == change.crs
    assert set(layer.geom_type) == {"MultiPolygon"}


def test_two_times_give_the_same_bytes_but_for_the_package(
    change: Change, folder: Path, tmp_path: Path
) -> None:
    write_change(change, tmp_path)
    files = [
        path.relative_to(folder) for path in folder.rglob("*") if path.is_file() and path.suffix != ".gpkg"
    ]
    assert len(files) == len(CHANGE_TABLES) + 2
    for name in files:
        assert (tmp_path / name).read_bytes() == (folder / name).read_bytes(), name


def test_the_first_sheet_says_what_the_change_rests_on(folder: Path) -> None:
    rows = dict(load_workbook(folder / "change.xlsx")["About"].iter_rows(values_only=True, max_col=2))
    assert rows["Old survey"] == "With mistakes: two surveys, old (invented)"
    assert rows["Plots visited twice"] == 4  # of six: one was moved, one lies in the compartment left out
    assert rows["Compartments left out"] == 1
