"""The longleaf survey folder holds what the published map of pines holds.

Expected figures: counted and summed from the same open data in R and in numpy when the figures of this project were
gathered (data: Platt, Evans and Rathbun 1988, R package spatstat.data); areas of cut circles by geometry.
"""

from __future__ import annotations

import tomllib
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest

from plotmap.model.field_tables import COMPARTMENTS, PLOTS, TREES
from plotmap.model.settings import Settings
from tests.longleaf_survey import GRID_CENTRES, longleaf_survey, longleaf_trees


def _basal_areas(folder: Path, area_m2: list[float]) -> list[float]:
    """Return basal area per hectare of each plot, m²/ha, straight from the files."""
    trees = pd.read_csv(folder / "trees.csv")
    times = trees.get("times", 1)
    sums = (np.pi / 40_000 * trees["d1_cm"] ** 2 * times).groupby(trees["plot"]).sum()
    return list(sums * 10_000 / np.array(area_m2))


def test_the_mapped_stand_has_the_published_number_basal_area_and_mean_diameter() -> None:
    trees = longleaf_trees()
    basal_area = (np.pi / 40_000 * trees["dbh_cm"] ** 2).sum() / 4
    assert len(trees) / 4 == 146
    assert basal_area == pytest.approx(12.109384140, abs=5e-10)
    assert np.sqrt((trees["dbh_cm"] ** 2).mean()) == pytest.approx(32.49672981, abs=5e-9)


def test_the_five_circles_hold_the_published_pines(tmp_path: Path) -> None:
    folder = longleaf_survey(tmp_path / "survey")
    counts = pd.read_csv(folder / "trees.csv").groupby("plot").size()
    assert counts.to_list() == [5, 11, 27, 23, 10]
    expected = [10.0508503, 15.1036308, 9.98646331, 7.94974523, 15.5707071]
    assert _basal_areas(folder, [1000.0] * 5) == pytest.approx(expected, rel=1e-7)


@pytest.mark.parametrize(
    ("edge", "area_m2", "expected"),
    [
        ("whole", [1000.0, 1000.0, 1000.0], [16.365828, 5.307139, 9.360375]),
        ("inside", [837.144, 451.049, 500.0], [19.549602, 11.766223, 18.720751]),
        ("mirage", [1000.0, 1000.0, 1000.0], [21.763627, 12.866518, 18.720751]),
    ],
)
def test_circles_over_the_stands_edge_give_the_published_basal_areas(
    tmp_path: Path, edge: str, area_m2: list[float], expected: list[float]
) -> None:
    centres = [(10.0, 100.0), (5.0, 5.0), (0.0, 50.0)]
    folder = longleaf_survey(tmp_path, centres=centres, edge=edge, quarters=False)  # type: ignore[arg-type]
    assert _basal_areas(folder, area_m2) == pytest.approx(expected, rel=2e-6)


def test_inside_the_quarters_only_pines_of_the_plots_own_quarter_are_written(tmp_path: Path) -> None:
    folder = longleaf_survey(tmp_path, centres=[(100.0, 100.0), (90.0, 50.0)], edge="inside")
    trees = pd.read_csv(folder / "trees.csv").merge(longleaf_trees(), on="tree")
    in_d, in_a = trees[trees["plot"] == "P1"], trees[trees["plot"] == "P2"]
    assert len(in_d) > 0
    assert (in_d[["x_m", "y_m"]] >= 100).all(axis=None)
    assert len(in_a) > 0
    assert (in_a[["x_m", "y_m"]] < 100).all(axis=None)


def test_bearing_and_distance_lead_back_to_the_mapped_pine(tmp_path: Path) -> None:
    folder = longleaf_survey(tmp_path, centres=GRID_CENTRES)
    trees = pd.read_csv(folder / "trees.csv").merge(longleaf_trees(), on="tree")
    centres = dict(zip([f"P{number}" for number in range(1, 17)], GRID_CENTRES, strict=True))
    x = trees["plot"].map(lambda plot: centres[plot][0])
    y = trees["plot"].map(lambda plot: centres[plot][1])
    bearing = np.radians(trees["azimuth_deg"])
    assert len(trees) > 100
    np.testing.assert_allclose(x + trees["distance_m"] * np.sin(bearing), trees["x_m"], atol=1e-5)
    np.testing.assert_allclose(y + trees["distance_m"] * np.cos(bearing), trees["y_m"], atol=1e-5)


def test_the_folder_has_declared_columns_and_settings_that_pass(tmp_path: Path) -> None:
    folder = longleaf_survey(
        tmp_path, settings={"stems": {"min_dbh_cm": 10}, "plots": {"assign": "recorded"}}
    )
    settings = Settings.model_validate(tomllib.loads((folder / "survey.toml").read_text(encoding="utf-8")))
    assert settings.stems.min_dbh_cm == 10
    assert settings.plots.assign == "recorded"
    assert settings.plots.radius_m == 17.84124
    assert set(pd.read_csv(folder / "plots.csv").columns) <= set(PLOTS.names)
    readings = {"d1_cm"}
    assert set(pd.read_csv(folder / "trees.csv").columns) - readings <= set(TREES.names)
    compartments = gpd.read_file(folder / "compartments.gpkg")
    assert set(compartments.columns) <= {*COMPARTMENTS.names, "geometry"}
    assert compartments.area.to_list() == pytest.approx([10_000.0] * 4)  # geometry
    assert list(compartments["compartment"]) == ["A", "B", "C", "D"]
