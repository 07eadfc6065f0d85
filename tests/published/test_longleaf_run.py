"""The whole way, from a survey folder to the layers, against the mapped longleaf pines.

Data: 584 longleaf pines with position and diameter, Platt, Evans & Rathbun 1988, The American Naturalist 131:
491-525, as in the R package spatstat.data (GPL-2 or later). Expected figures of circles: counted and summed from
these data in R and in numpy, apart from this project; the areas of cut circles are geometry. The truth of a
compartment is its census, summed here from the data.
"""

from __future__ import annotations

from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import polars as pl
import pytest

import plotmap
from plotmap.model.survey import Stand
from tests.longleaf_survey import GRID_CENTRES, SIDE_M, longleaf_survey, longleaf_trees

EDGE_CENTRES = [(10.0, 100.0), (5.0, 5.0), (0.0, 50.0)]


def _compiled(folder: Path) -> Stand:
    """Read and compute a survey folder."""
    return plotmap.compile_survey(plotmap.read_survey(folder))


def _census() -> pd.DataFrame:
    """Return stems and basal area per hectare of each quarter of the stand, from all 584 pines."""
    trees = longleaf_trees()
    half = SIDE_M / 2
    quarter = (trees["x_m"] >= half).astype(int) + 2 * (trees["y_m"] >= half)
    trees["compartment"] = quarter.map(dict(enumerate("ABCD")))
    trees["basal_area_m2"] = np.pi / 40_000 * trees["dbh_cm"] ** 2
    return trees.groupby("compartment").agg(stems=("tree", "size"), basal_area=("basal_area_m2", "sum"))


@pytest.fixture(scope="module")
def gridded(tmp_path_factory: pytest.TempPathFactory) -> Stand:
    """Four compartments with four circles each on a fixed grid."""
    folder = tmp_path_factory.mktemp("longleaf")
    return _compiled(longleaf_survey(folder / "survey", centres=GRID_CENTRES))


def test_the_five_circles_give_the_published_stems_and_basal_areas(tmp_path: Path) -> None:
    plots = _compiled(longleaf_survey(tmp_path / "survey", quarters=False)).plots
    assert plots["n_trees"].to_list() == [5, 11, 27, 23, 10]
    expected = [10.0508503, 15.1036308, 9.98646331, 7.94974523, 15.5707071]
    assert plots["basal_area_m2_per_ha"].to_list() == pytest.approx(expected, rel=2e-7)
    assert plots["stems_per_ha"].to_list() == pytest.approx([50, 110, 270, 230, 100], rel=2e-7)


@pytest.mark.parametrize(
    ("edge", "areas_m2", "basal_areas"),
    [
        ("whole", [1000.0, 1000.0, 1000.0], [16.365828, 5.307139, 9.360375]),
        ("inside", [837.144, 451.049, 500.0], [19.549602, 11.766223, 18.720751]),
        ("mirage", [1000.0, 1000.0, 1000.0], [21.763627, 12.866518, 18.720751]),
    ],
)
def test_circles_over_the_edge_give_the_published_areas_and_basal_areas(
    tmp_path: Path, edge: str, areas_m2: list[float], basal_areas: list[float]
) -> None:
    folder = longleaf_survey(tmp_path / "survey", centres=EDGE_CENTRES, edge=edge, quarters=False)  # type: ignore[arg-type]
    plots = _compiled(folder).plots
    assert plots["n_trees"].to_list() == [13, 6, 8]
    assert plots["area_m2"].to_list() == pytest.approx(areas_m2, abs=5e-4)
    assert plots["share_inside"].to_list() == pytest.approx([0.837144, 0.451049, 0.5], abs=5e-7)
    assert plots["basal_area_m2_per_ha"].to_list() == pytest.approx(basal_areas, rel=3e-7)


@pytest.mark.parametrize(
    ("edge", "expected"),
    [("lower", [154, 91, 68, 104, 95, 57, 13, 2]), ("upper", [156, 91, 66, 104, 97, 55, 13, 2])],
)
def test_a_census_of_the_stand_gives_the_published_ten_centimetre_classes(
    tmp_path: Path, edge: str, expected: list[int]
) -> None:
    folder = longleaf_survey(
        tmp_path / "survey",
        centres=[(100.0, 100.0)],
        radius_m=150.0,
        quarters=False,
        settings={"classes": {"width_cm": 10, "edge": edge}},
    )
    stand = _compiled(folder)
    assert stand.class_totals["n_trees"].to_list() == expected
    assert stand.compartments["dg_cm"].item() == pytest.approx(32.49672981, abs=5e-9)


def test_the_census_of_every_compartment_and_of_the_stand_is_inside_its_interval(gridded: Stand) -> None:
    census = _census()
    found = gridded.compartments.set_index("compartment")
    assert found["n_plots"].to_list() == [4, 4, 4, 4]
    for figure, truth in (("stems_per_ha", "stems"), ("basal_area_m2_per_ha", "basal_area")):
        assert (found[f"{figure}_low"] <= census[truth]).all()
        assert (census[truth] <= found[f"{figure}_high"]).all()
        total = gridded.survey_total.iloc[0]
        assert total[f"{figure}_low"] <= census[truth].mean() <= total[f"{figure}_high"]


def test_the_standard_errors_equal_those_of_pandas_on_the_plot_values(gridded: Stand) -> None:
    by = gridded.plots.groupby("compartment")
    found = gridded.compartments.set_index("compartment")
    for figure in ("stems_per_ha", "basal_area_m2_per_ha"):
        pd.testing.assert_series_equal(found[figure], by[figure].mean(), check_names=False, rtol=1e-12)
        pd.testing.assert_series_equal(found[f"{figure}_se"], by[figure].sem(), check_names=False, rtol=1e-12)


def test_a_run_writes_layers_and_a_map_that_carry_the_same_figures(tmp_path: Path) -> None:
    from plotmap.workflow import run  # noqa: PLC0415

    folder = longleaf_survey(tmp_path / "survey", centres=GRID_CENTRES)
    result = run(folder, tmp_path / "out")
    assert result.stand is not None
    layer = gpd.read_file(tmp_path / "out" / "stand.gpkg", layer="compartments")
    assert (
        layer["basal_area_m2_per_ha"].to_list() == result.stand.compartments["basal_area_m2_per_ha"].to_list()
    )
    table = pl.read_csv(tmp_path / "out" / "tables" / "compartments.csv")
    assert table["basal_area_m2_per_ha_high"].to_list() == layer["basal_area_m2_per_ha_high"].to_list()
    assert (tmp_path / "out" / "map.html").stat().st_size > 100_000
