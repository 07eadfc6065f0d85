"""Reading a survey folder before the field: settings and compartments alone."""

from __future__ import annotations

from contextlib import nullcontext
from pathlib import Path

import geopandas as gpd
import pyogrio
import pytest
from shapely.geometry import LineString, box

from plotmap.errors import SettingsError
from plotmap.fielddata import read_ground, read_survey
from plotmap.fielddata.blank_survey import lay_down
from tests.folder_example import CRS, SOUTH_M, WEST_M, compartments_example, folder_example, settings_text

NOTHING = dict.fromkeys(("plots.csv", "trees.csv", "instruments.csv", "species.csv"))


def _folder(folder: Path, layout: str = "") -> Path:
    return folder_example(folder, {**NOTHING, "survey.toml": settings_text(layout=layout)})


def test_settings_and_compartments_are_enough(tmp_path: Path) -> None:
    ground = read_ground(_folder(tmp_path))
    assert ground.findings.frame["code"].to_list() == []
    assert ground.compartments["compartment"].tolist() == ["A", "B", "C"]
    assert ground.crs == CRS
    assert [file.name for file in ground.inputs] == ["survey.toml", "compartments.gpkg"]


def test_a_run_still_needs_plots_and_stems(tmp_path: Path) -> None:
    found = read_survey(_folder(tmp_path)).findings.frame
    assert found.filter(code="table-missing")["file"].to_list() == ["plots", "trees"]


def test_a_folder_laid_down_needs_only_its_compartments(tmp_path: Path) -> None:
    lay_down(tmp_path)
    pyogrio.write_dataframe(compartments_example(), tmp_path / "compartments.gpkg", layer="compartments")
    assert not len(read_ground(tmp_path).findings)


def test_faults_of_other_tables_are_not_looked_at_those_of_compartments_are(tmp_path: Path) -> None:
    folder = _folder(tmp_path)
    (folder / "trees.csv").write_text("nonsense\n")
    (folder / "plots.csv").write_text("plot,easting\nP1,x\n")
    assert not len(read_ground(folder).findings)
    bad = compartments_example()
    bad.loc[1, "compartment"] = "A"
    pyogrio.write_dataframe(bad, folder / "compartments.gpkg", layer="compartments")
    assert read_ground(folder).findings.codes == {"compartment-twice"}
    (folder / "compartments.gpkg").unlink()
    missing = read_ground(folder).findings
    assert missing.has_errors
    assert missing.frame.filter(code="table-missing")["file"].to_list() == ["compartments"]


def test_what_is_excluded_is_brought_to_the_crs_and_hashed_and_no_note_is_made_of_it(tmp_path: Path) -> None:
    pond = gpd.GeoDataFrame(geometry=[box(WEST_M, SOUTH_M, WEST_M + 50, SOUTH_M + 50)], crs=CRS)
    folder = _folder(tmp_path, 'exclude = ["water.geojson"]')
    pyogrio.write_dataframe(pond.to_crs("EPSG:4326"), folder / "water.geojson", RFC7946="YES")
    ground = read_ground(folder)
    assert ground.excluded[0].area == pytest.approx(2500, rel=1e-3)
    assert "water.geojson" in [file.name for file in ground.inputs]
    assert "file-unused" not in read_survey(folder).findings.codes


@pytest.mark.parametrize(
    ("shapes", "crs", "words"),
    [
        (None, CRS, r"'no\.gpkg', but there is no such file"),
        (
            [LineString([(WEST_M, SOUTH_M), (WEST_M, SOUTH_M + 9)])],
            CRS,
            "must hold polygons, and nothing else",
        ),
        ([box(0, 0, 1, 1)], None, "says no CRS"),
    ],
)
def test_what_cannot_be_excluded_stops(tmp_path: Path, shapes, crs, words) -> None:
    folder = _folder(tmp_path, 'exclude = ["no.gpkg"]')
    if shapes is not None:
        with pytest.warns(UserWarning, match="crs") if crs is None else nullcontext():
            pyogrio.write_dataframe(gpd.GeoDataFrame(geometry=shapes, crs=crs), folder / "no.gpkg")
    with pytest.raises(SettingsError, match=words):
        read_ground(folder)


def test_a_file_that_is_no_layer_stops(tmp_path: Path) -> None:
    folder = _folder(tmp_path, 'exclude = ["no.gpkg"]')
    (folder / "no.gpkg").write_text("no layer")
    with pytest.raises(SettingsError, match=r"it cannot be used: no\.gpkg cannot be read"):
        read_ground(folder)


def test_a_folder_that_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match="there is no such folder"):
        read_ground(tmp_path / "nowhere")
