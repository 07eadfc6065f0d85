"""What is told of a change of datum; names and accuracies are those of the EPSG register in PROJ's database."""

from __future__ import annotations

from pathlib import Path

import geopandas as gpd
import pytest
from pyproj import Transformer

from plotmap.fielddata import read_survey
from plotmap.fielddata.datums import datum_note
from plotmap.spatial import datum_change
from plotmap.spatial.datums import DatumChange
from tests.fielddata.test_waypoints import WITHOUT, gpx
from tests.folder_example import (
    FILES,
    as_csv,
    compartments_example,
    folder_example,
    found,
    rows_of,
    settings_text,
    the_finding,
)

KALIANPUR = "EPSG:24344"
"""Kalianpur 1975 / UTM zone 44N: three translations to WGS 84, accuracy 22 m (EPSG:1156)."""


def _in_kalianpur() -> gpd.GeoDataFrame:
    """Return the three compartments in that system, with its own numbers."""
    return compartments_example().set_crs(KALIANPUR, allow_override=True)


def test_degrees_that_change_their_datum_name_operation_accuracy_and_distance(tmp_path: Path) -> None:
    to_degrees = Transformer.from_crs(KALIANPUR, "EPSG:4326", always_xy=True)
    rows = rows_of(FILES["plots.csv"])
    places = [to_degrees.transform(float(row[1]), float(row[2])) for row in rows[1:]]
    heads = [["lon", "lat"], *([f"{x:.9f}", f"{y:.9f}"] for x, y in places)]
    text = as_csv([[row[0], *row[3:], *place] for row, place in zip(rows, heads, strict=True)])
    survey = read_survey(folder_example(tmp_path, {"plots.csv": text}, compartments=_in_kalianpur()))
    note = the_finding(survey, "datum-shift")
    assert (note["severity"], note["file"], note["row"]) == ("note", "plots.csv", None)
    assert note["value"] == "Inverse of Kalianpur 1975 to WGS 84 (1)"
    start = (
        "lon and lat go from EPSG:4326 (WGS 84) to EPSG:24344 (Kalianpur 1975 / UTM zone 44N) by the operation "
        "Inverse of Kalianpur 1975 to WGS 84 (1), stated to be good to 22 m; it moves them by "
    )
    assert note["message"].startswith(start)
    change = datum_change([places[0][0]], [places[0][1]], gpd.GeoSeries(crs=4326).crs, survey.plots.crs)
    assert change is not None
    assert float(note["message"].removeprefix(start).removesuffix(" m")) == pytest.approx(
        change.shift_m, abs=0.1
    )


def test_coordinates_in_the_survey_s_own_crs_change_no_datum(tmp_path: Path) -> None:
    survey = read_survey(folder_example(tmp_path, compartments=_in_kalianpur()))
    assert "datum-shift" not in survey.findings.codes


def test_degrees_that_are_only_compared_are_not_told(tmp_path: Path) -> None:
    to_degrees = Transformer.from_crs(KALIANPUR, "EPSG:4326", always_xy=True)
    rows = rows_of(FILES["plots.csv"])
    places = [to_degrees.transform(float(row[1]), float(row[2])) for row in rows[1:]]
    heads = [["lon", "lat"], *([f"{x:.9f}", f"{y:.9f}"] for x, y in places)]
    text = as_csv([[*row, *place] for row, place in zip(rows, heads, strict=True)])
    survey = read_survey(folder_example(tmp_path, {"plots.csv": text}, compartments=_in_kalianpur()))
    assert not survey.findings.codes & {"datum-shift", "plot-position-differs"}


def test_polygons_that_change_their_datum_are_told(tmp_path: Path) -> None:
    toml = settings_text(survey='crs = "EPSG:32644"')
    survey = read_survey(folder_example(tmp_path, {"survey.toml": toml}, compartments=_in_kalianpur()))
    note = the_finding(survey, "datum-shift")
    assert note["file"] == "compartments.gpkg, layer compartments"
    assert note["message"].startswith(
        "the polygons go from EPSG:24344 (Kalianpur 1975 / UTM zone 44N) to EPSG:32644"
    )


def test_waypoints_that_change_their_datum_are_told_under_their_own_file(tmp_path: Path) -> None:
    survey = read_survey(
        folder_example(tmp_path, {"plots.csv": WITHOUT, "plots.gpx": gpx("P1")}, compartments=_in_kalianpur())
    )
    note = the_finding(survey, "datum-shift")
    assert note["file"] == "plots.gpx"
    assert note["message"].startswith("the waypoints go from EPSG:4326 (WGS 84) to EPSG:24344")


@pytest.mark.parametrize("crs", ["EPSG:25830", "EPSG:32630"])
def test_datums_alike_to_the_millimetre_are_not_told(tmp_path: Path, crs: str) -> None:
    layer = compartments_example().to_crs(crs)
    toml = settings_text(survey=f'crs = "{crs}"')
    files = {"survey.toml": toml, "plots.csv": WITHOUT, "plots.gpx": gpx("P1", "P2", "P3", "P4", "P5", "P6")}
    assert not found(read_survey(folder_example(tmp_path, files, compartments=layer)), "datum-shift")


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (
            DatumChange(("a",), 22.0, 150.04),
            "by the operation a, stated to be good to 22 m; it moves them by 150 m",
        ),
        (DatumChange(("a", "b"), None, None), "by the operation a or b, of unknown accuracy"),
        (
            DatumChange(("a",), 2.0, 93.26, "c", 0.05, ("g.tif",)),
            " (stated to be good to 0.05 m) would be better, but needs the grid g.tif, which is not on this computer",
        ),
        (
            DatumChange(("a",), None, None, "c", 1.0, ("g.tif", "h.tif")),
            "would be better, but needs the grids g.tif and h.tif, which are not on this computer",
        ),
    ],
)
def test_accuracy_and_better_operations_are_worded(
    monkeypatch: pytest.MonkeyPatch, change: DatumChange, said: str
) -> None:
    monkeypatch.setattr("plotmap.fielddata.datums.datum_change", lambda *_: change)
    crs = compartments_example().crs
    assert crs is not None
    message = the_finding(datum_note("lon and lat", ([], []), crs, crs, "plots.csv"), "datum-shift")[
        "message"
    ]  # type: ignore[arg-type]
    assert message.endswith(said)
