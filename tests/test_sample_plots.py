"""The sample survey is what its README says and can be made again; every mistake shown is found where it should be.

Expected figures are those of the task and of geometry; the findings expected are those listed in the README of the
surveys with mistakes, one table row each.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import polars as pl
import pytest
from shapely.geometry import MultiPolygon

from plotmap.fielddata import read_survey
from plotmap.model.finding_rules import RULES
from plotmap.model.findings import Findings, Severity
from plotmap.workflow import check, compare_surveys, compile_survey

SAMPLE = Path(__file__).parents[1] / "sample_plots"
MISTAKES = SAMPLE / "with_mistakes"
_ROW = re.compile(r"^\| (?P<file>\S+) \| (?P<row>\d+|-) \| `(?P<code>[a-z-]+)` \| ")


@dataclass(frozen=True)
class Told:
    """One row of the README: where a finding should be."""

    folder: str
    file: str
    row: int | None
    code: str


def _told() -> list[Told]:
    """Read the tables of the README."""
    folder, found = "", []
    for line in (MISTAKES / "README.md").read_text(encoding="utf-8").splitlines():
        if line.startswith("## "):
            folder = line.removeprefix("## ")
        elif match := _ROW.match(line):
            row = None if match["row"] == "-" else int(match["row"])
            found.append(Told(folder, match["file"], row, match["code"]))
    return found


TOLD = _told()


@pytest.fixture(scope="module")
def findings() -> dict[str, Findings]:
    """Check every folder with mistakes; compare the two surveys of a folder that holds two."""
    return {folder: _found(MISTAKES / folder) for folder in dict.fromkeys(t.folder for t in TOLD)}


def _found(folder: Path) -> Findings:
    """Return the findings of a survey, or of the comparison of two."""
    if (folder / "old").is_dir():
        return compare_surveys(read_survey(folder / "old"), read_survey(folder / "new")).findings
    return check(read_survey(folder))


@pytest.fixture(scope="module")
def made_again(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Run both generators in a folder of their own."""
    folder = tmp_path_factory.mktemp("sample")
    for script in SAMPLE.glob("*.py"):
        shutil.copy(script, folder)
    for name in ("make_sample.py", "make_mistakes.py"):
        subprocess.run([sys.executable, str(folder / name)], check=True, capture_output=True)
    return folder


@pytest.mark.parametrize("told", TOLD, ids=lambda told: f"{told.folder}-{told.file}-{told.row}-{told.code}")
def test_the_mistake_is_found_where_the_readme_says(findings: dict[str, Findings], told: Told) -> None:
    frame = findings[told.folder].frame.filter(
        pl.col("code") == told.code, pl.col("file").str.starts_with(told.file)
    )
    rows = frame["row"].to_list()
    assert rows
    assert told.row is None or told.row in rows or None in rows


def test_the_folders_with_mistakes_show_every_rule() -> None:
    assert {told.code for told in TOLD} == set(RULES)


def test_every_folder_with_mistakes_is_in_its_readme() -> None:
    assert {path.name for path in MISTAKES.iterdir() if path.is_dir()} == {told.folder for told in TOLD}


def test_both_generators_write_the_committed_texts_again(made_again: Path) -> None:
    written = [path for path in made_again.rglob("*") if path.suffix in {".csv", ".toml", ".md"}]
    assert len(written) > 25
    for path in written:
        assert path.read_bytes() == (SAMPLE / path.relative_to(made_again)).read_bytes(), path.name


def test_both_generators_write_the_committed_layers_again(made_again: Path) -> None:
    written = sorted(made_again.rglob("*.gpkg"))
    assert len(written) == len(list(SAMPLE.rglob("*.gpkg")))
    for path in written:
        again, committed = gpd.read_file(path), gpd.read_file(SAMPLE / path.relative_to(made_again))
        assert again.crs == committed.crs
        assert again.drop(columns="geometry").equals(committed.drop(columns="geometry"))
        same = again.geometry.geom_equals_exact(committed.geometry, tolerance=0.001, align=False)
        assert (same | (again.geometry.isna() & committed.geometry.isna())).all()


def test_the_sample_survey_has_no_error_and_few_warnings() -> None:
    found = check(read_survey(SAMPLE))
    assert found.of(Severity.ERROR).rows() == []
    # the three left in on purpose
    assert {"compartment-area-differs", "readings-differ", "check-stems-missed"} <= found.codes
    assert len(found) <= 5


def test_the_sample_compartments_share_boundaries_without_gap_or_overlap() -> None:
    layer = gpd.read_file(SAMPLE / "compartments.gpkg")
    assert len(layer) >= 24
    assert layer["stratum"].nunique() == 3
    assert layer.is_valid.all()
    whole = layer.union_all()
    assert layer.area.sum() == pytest.approx(whole.area, abs=0.01)  # geometry: an overlap would count twice
    parts = list(whole.geoms) if isinstance(whole, MultiPolygon) else [whole]
    assert len(parts) == 2  # the forest and the part across the beck: no gap splits it
    assert [len(part.interiors) for part in parts if part.interiors] == [1]  # the tarn is the only hole
    assert (layer.count_geometries() > 1).sum() == 1


def test_the_sample_plots_lie_on_a_grid_in_the_compartment_the_crew_wrote() -> None:
    plots = pd.read_csv(SAMPLE / "plots.csv", dtype=str)
    assert len(plots) >= 130
    east, north = plots["easting"].astype(float), plots["northing"].astype(float)
    assert ((east - east.min()) % 150).abs().max() == pytest.approx(0, abs=1e-6)
    assert ((north - north.min()) % 150).abs().max() == pytest.approx(0, abs=1e-6)
    layer = gpd.read_file(SAMPLE / "compartments.gpkg")
    points = gpd.GeoDataFrame(plots, geometry=gpd.points_from_xy(east, north), crs=layer.crs)
    joined = points.sjoin(layer, predicate="within")
    assert len(joined) == len(plots)
    assert (joined["compartment_left"] == joined["compartment_right"]).all()
    counts = plots["compartment"].value_counts().reindex(layer["compartment"]).fillna(0)
    assert sorted(counts)[:3] == [0, 1, 2]
    assert set(plots["state"]) == {"measured", "empty", "lost", "unvisited"}


def test_the_sample_stems_exercise_every_way_of_measuring() -> None:
    trees = pd.read_csv(SAMPLE / "trees.csv", dtype={"plot": str})
    assert len(trees) >= 2600
    assert trees["Sp."].nunique() >= 6
    assert set(trees["condition"]) == {"live", "dead"}
    assert set(trees["instrument"]) == {"K1", "K2", "T1"}
    readings = trees[["d1_cm", "d2_cm", "d3_cm"]].notna().sum(axis=1)
    assert set(readings) == {0, 1, 2, 3}
    assert (trees["girth_cm"].notna() == (readings == 0)).all()
    for column in ("climber_mm", "bark_mm", "height_m", "azimuth_deg", "distance_m"):
        assert trees[column].notna().sum() >= 3, column
    tallies = pd.read_csv(SAMPLE / "tallies.csv", dtype={"plot": str})
    assert 10 <= tallies["plot"].nunique() <= 20
    assert set(tallies["class"]) == {"ochre", "slate", "moss", "chalk"}


def test_plotted_stems_of_the_sample_stand_inside_their_compartment() -> None:
    trees = pd.read_csv(SAMPLE / "trees.csv", dtype={"plot": str}).dropna(subset="azimuth_deg")
    plots = pd.read_csv(SAMPLE / "plots.csv", dtype={"plot": str, "compartment": str})
    layer = gpd.read_file(SAMPLE / "compartments.gpkg").set_index("compartment")
    placed = trees.merge(plots, on="plot")
    bearing = np.radians(placed["azimuth_deg"])
    points = gpd.points_from_xy(
        placed["easting"] + placed["distance_m"] * np.sin(bearing),
        placed["northing"] + placed["distance_m"] * np.cos(bearing),
    )
    homes = layer.loc[placed["compartment"]].geometry.to_numpy()
    assert placed["distance_m"].max() <= 12.62
    # half a degree at 12.6 m and half a decimetre: positions are rounded by less than 0.13 m
    assert gpd.GeoSeries(homes).distance(gpd.GeoSeries(points), align=False).max() < 0.13


def test_the_check_of_the_sample_finds_partners_in_every_way_but_by_size() -> None:
    stand = compile_survey(read_survey(SAMPLE))
    partners = stand.check_differences.group_by("crew", "compared_by").agg(pl.col("n_stems").sum())
    ways = {(row["crew"], row["compared_by"]) for row in partners.drop_nulls().to_dicts()}
    assert ways == {
        ("crew A", "number"),
        ("crew B", "position"),
        ("crew C", "number"),
        ("crew D", "count"),
    }
    whole = stand.check_summary.row(0, named=True)
    assert (whole["n_missed"], whole["n_extra"], whole["within_pct"]) == (1, 0, 100)
    # readings are made with a scatter of 0.8 mm, instruments put right: no crew is off on average
    assert abs(whole["bias_mm"]) < 0.5
