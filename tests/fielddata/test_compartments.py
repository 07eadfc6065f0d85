"""The compartment layer: its CRS, its polygons, and what is wrong with them; sizes are plain geometry."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path

import geopandas as gpd
import numpy as np
import pytest
from pyproj import CRS
from shapely.affinity import translate
from shapely.geometry import LineString, MultiPolygon, Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from plotmap.errors import SettingsError
from plotmap.fielddata import read_survey
from plotmap.fielddata.compartments import NO_STRATUM, settle_crs
from plotmap.model.field_tables import ONE_STRATUM
from plotmap.model.survey import Survey
from plotmap.workflow import check
from tests.folder_example import (
    SIDE_M,
    SOUTH_M,
    WEST_M,
    compartments_example,
    folder_example,
    found,
    settings_text,
    the_finding,
)

FILE = "compartments.gpkg, layer compartments"
WEST = box(WEST_M, SOUTH_M, WEST_M + SIDE_M, SOUTH_M + SIDE_M)
EAST = translate(WEST, SIDE_M)


def _survey(tmp_path: Path, shapes: Sequence[BaseGeometry | None], **columns: Sequence[object]) -> Survey:
    """Read a survey whose compartments have these shapes; A, B, … unless named."""
    names = columns.pop("compartment", list("ABCDEFG"[: len(shapes)]))
    frame = gpd.GeoDataFrame(
        {"compartment": names, **columns}, geometry=list(shapes), crs=CRS.from_epsg(32630)
    )
    return read_survey(folder_example(tmp_path, compartments=frame))


def test_correct_compartments_are_read_without_a_finding(tmp_path: Path) -> None:
    survey = read_survey(folder_example(tmp_path))
    assert not len(survey.findings)
    assert survey.crs == "EPSG:32630"
    frame = survey.compartments
    assert frame["compartment"].tolist() == ["A", "B", "C"]
    assert frame["source_row"].tolist() == [1, 2, 3]
    assert frame["name"].tolist() == ["Ash Bank", "Birch Bank", "Cold Hill"]
    assert frame["stratum"].tolist() == [ONE_STRATUM] * 3
    # 4 ha on the grid; the scale is 0.9996 on the central meridian (EPSG guidance note 7-2, UTM)
    assert frame["area_geodesic_ha"].to_numpy() == pytest.approx(4 / 0.9996**2, rel=1e-6)


def test_a_blank_name_is_the_identifier_and_a_blank_stratum_is_not_stated(tmp_path: Path) -> None:
    survey = _survey(tmp_path, [WEST, EAST], name=["West", None], stratum=[None, "oak"])
    assert survey.compartments["name"].tolist() == ["West", "B"]
    assert survey.compartments["stratum"].tolist() == [NO_STRATUM, "oak"]


def test_a_layer_in_degrees_is_brought_into_its_utm_zone(tmp_path: Path) -> None:
    survey = read_survey(folder_example(tmp_path, compartments=compartments_example().to_crs("EPSG:4326")))
    assert not len(survey.findings)
    assert survey.crs == "EPSG:32630"  # 3° west: zone 30, 6° west to 0°
    assert survey.compartments.total_bounds == pytest.approx(
        [WEST_M, SOUTH_M, WEST_M + 3 * SIDE_M, SOUTH_M + SIDE_M], abs=0.001
    )


def test_the_crs_of_the_settings_goes_before_that_of_the_layer(tmp_path: Path) -> None:
    frame = compartments_example().to_crs("EPSG:27700")
    toml = settings_text(survey='crs = "EPSG:32630"')
    survey = read_survey(folder_example(tmp_path, {"survey.toml": toml}, compartments=frame))
    assert survey.crs == "EPSG:32630"
    assert survey.compartments.total_bounds[0] == pytest.approx(WEST_M, abs=0.01)


def test_a_layer_without_crs_is_an_error(tmp_path: Path) -> None:
    frame = compartments_example().set_crs(None, allow_override=True)
    with pytest.warns(UserWarning, match="crs"):
        folder_example(tmp_path, compartments=frame)
    error = the_finding(read_survey(tmp_path), "compartments-without-crs")
    assert (error["severity"], error["file"], error["row"]) == ("error", FILE, None)
    assert error["message"] == "the layer has no CRS"
    assert "Save the layer with its CRS" in error["hint"]


@pytest.mark.parametrize(
    ("crs", "name"), [("EPSG:3857", "WGS 84 / Pseudo-Mercator"), ("EPSG:2263", "New York Long Island (ftUS)")]
)
def test_a_layer_that_is_not_metric_or_web_mercator_is_an_error(tmp_path: Path, crs: str, name: str) -> None:
    frame = compartments_example().set_crs(crs, allow_override=True)
    error = the_finding(read_survey(folder_example(tmp_path, compartments=frame)), "crs-not-metric")
    assert (error["severity"], error["file"]) == ("error", FILE)
    assert name in error["value"]
    assert "must be projected, in metres, and not Web Mercator" in error["message"]
    assert "[survey] crs" in error["hint"]


@pytest.mark.parametrize("crs", ["EPSG:4326", "EPSG:3857", "EPSG:2263"])
def test_a_crs_of_the_settings_that_is_not_metric_is_an_error(tmp_path: Path, crs: str) -> None:
    toml = settings_text(survey=f'crs = "{crs}"')
    error = the_finding(read_survey(folder_example(tmp_path, {"survey.toml": toml})), "crs-not-metric")
    assert (error["severity"], error["file"], error["column"]) == ("error", "survey.toml", "crs")
    assert error["value"] == crs
    assert f"[survey] crs is {crs} (" in error["message"]


@pytest.mark.parametrize("crs", ["EPSG:32630", "EPSG:27700", "EPSG:3035"])
def test_projected_metres_are_metric(crs: str) -> None:
    settled, findings = settle_crs(crs, "EPSG:4326", np.array([Point(0, 0)], dtype=object), "a.gpkg")
    assert settled == CRS.from_user_input(crs)
    assert not len(findings)


def test_degrees_that_are_none_are_an_error(tmp_path: Path) -> None:
    frame = compartments_example().set_crs("EPSG:4326", allow_override=True)
    error = the_finding(read_survey(folder_example(tmp_path, compartments=frame)), "crs-not-metric")
    assert "says WGS 84 (degrees), but its coordinates are no degrees" in error["message"]


@pytest.mark.parametrize("crs", ["nonsense", "EPSG:999999", "", "UTM 30"])
def test_a_crs_nobody_knows_is_refused_with_an_example(tmp_path: Path, crs: str) -> None:
    toml = settings_text(survey=f'crs = "{crs}"')
    with pytest.raises(SettingsError, match=rf"\[survey\] crs is '{crs}', but must be .* EPSG:32630"):
        read_survey(folder_example(tmp_path, {"survey.toml": toml}))


def test_a_datum_change_that_is_only_a_ballpark_is_an_error(tmp_path: Path) -> None:
    """PROJ has no operation of stated accuracy between EPSG:4243 (Kalianpur 1880) and WGS 84."""
    frame = gpd.GeoDataFrame(
        {"compartment": ["A"]}, geometry=[box(80.5, 20, 80.501, 20.001)], crs="EPSG:4243"
    )
    toml = settings_text(survey='crs = "EPSG:32644"')
    survey = read_survey(folder_example(tmp_path, {"survey.toml": toml}, compartments=frame))
    error = the_finding(survey, "datum-ballpark")
    assert (error["severity"], error["file"]) == ("error", FILE)
    assert "EPSG:4243" in error["message"]
    assert "in the datum of the survey's CRS" in error["hint"]


@pytest.mark.parametrize(
    ("shape", "kind"),
    [
        (Point(WEST_M, SOUTH_M), "point"),
        (LineString([(WEST_M, SOUTH_M), (WEST_M + 9, SOUTH_M)]), "linestring"),
    ],
)
def test_what_is_no_polygon_is_an_error(tmp_path: Path, shape: BaseGeometry, kind: str) -> None:
    survey = _survey(tmp_path, [WEST, shape])
    error = the_finding(survey, "geometry-not-polygon")
    assert (error["severity"], error["row"], error["compartment"], error["value"]) == ("error", 2, "B", kind)
    assert error["message"] == f"compartment B is a {kind}, but must be a polygon"
    assert "Bring the polygon layer" in error["hint"]
    assert "compartment-empty" not in survey.findings.codes


def test_polygons_of_several_parts_are_fine(tmp_path: Path) -> None:
    parts = MultiPolygon([WEST, translate(WEST, 5 * SIDE_M)])
    codes = _survey(tmp_path, [parts, EAST]).findings.codes
    assert not codes & {"geometry-not-polygon", "compartment-invalid", "compartment-overlap"}


def test_a_compartment_that_comes_twice_is_an_error(tmp_path: Path) -> None:
    survey = _survey(tmp_path, [WEST, EAST, translate(EAST, SIDE_M)], compartment=["A", "B", "A"])
    error = the_finding(survey, "compartment-twice")
    assert (error["severity"], error["row"], error["compartment"], error["value"]) == ("error", 3, "A", "A")
    assert error["message"] == "compartment A comes again; it is first in row 1"
    assert "multi-part polygon" in error["hint"]


def test_names_that_differ_by_capitals_are_two_compartments(tmp_path: Path) -> None:
    assert "compartment-twice" not in _survey(tmp_path, [WEST, EAST], compartment=["a", "A"]).findings.codes


def test_a_compartment_without_a_name_is_an_error_and_no_double(tmp_path: Path) -> None:
    survey = _survey(tmp_path, [WEST, EAST, translate(EAST, SIDE_M)], compartment=["A", None, None])
    assert [error["row"] for error in found(survey, "value-missing")] == [2, 3]
    assert "compartment-twice" not in survey.findings.codes


def test_a_bow_tie_is_invalid_with_the_place(tmp_path: Path) -> None:
    tie = Polygon([(499_800, 5_601_000), (500_000, 5_601_200), (500_000, 5_601_000), (499_800, 5_601_200)])
    error = the_finding(_survey(tmp_path, [WEST, tie]), "compartment-invalid")
    assert (error["severity"], error["row"], error["compartment"]) == ("error", 2, "B")
    assert error["value"] == "Self-intersection[499900 5601100]"  # where the diagonals of the square cross
    assert error["value"] in error["message"]
    assert "Repair the polygon where the message says" in error["hint"]


@pytest.mark.parametrize("shape", [None, Polygon(), box(499_800, 5_601_000, 499_800.9, 5_601_001)])
def test_a_compartment_without_area_is_an_error(tmp_path: Path, shape: BaseGeometry | None) -> None:
    survey = _survey(tmp_path, [WEST, shape], area_ha=[4.0, 4.0])
    error = the_finding(survey, "compartment-empty")
    assert (error["severity"], error["row"], error["compartment"]) == ("error", 2, "B")
    assert error["message"] == "compartment B has no polygon, or one of less than 1 m²"
    assert "Draw the polygon" in error["hint"]
    assert not survey.findings.codes & {"compartment-invalid", "compartment-area-differs"}


@pytest.mark.parametrize(
    ("overlap_m", "code", "severity"),
    [(3.0, "compartment-overlap", "error"), (1.0, "compartment-sliver", "warning"), (0.0, None, None)],
)
def test_overlaps_are_told_by_their_share_of_the_smaller(
    tmp_path: Path, overlap_m: float, code: str | None, severity: str | None
) -> None:
    """A strip of 200 m x 3 m is 1.5 % of 4 ha, of 200 m x 1 m 0.5 %; the line is drawn at 1 %."""
    survey = _survey(tmp_path, [WEST, translate(EAST, -overlap_m)])
    both = {"compartment-overlap", "compartment-sliver"}
    assert survey.findings.codes & both == ({code} if code else set())
    if code:
        row = the_finding(survey, code)
        assert (row["severity"], row["row"], row["compartment"], row["value"]) == (severity, 2, "B", "A")
        area, share = 200 * overlap_m, overlap_m / 2
        assert row["message"] == f"compartments A and B overlap by {area} m² ({share} % of the smaller)"
        assert "boundary" in row["hint"]


def test_an_overlap_of_one_square_metre_is_none(tmp_path: Path) -> None:
    survey = _survey(tmp_path, [WEST, translate(EAST, -0.004)])
    assert not survey.findings.codes & {"compartment-overlap", "compartment-sliver"}


@pytest.mark.parametrize(
    ("area_ha", "differs"), [(4.2, False), (4.21, True), (3.81, False), (3.79, True), (None, False)]
)
def test_a_register_area_more_than_5_per_cent_off_is_a_warning(
    tmp_path: Path, area_ha: float | None, *, differs: bool
) -> None:
    """The polygon has 4 / 0.9996² = 4.0032 ha; 5 % of it are 0.2002 ha."""
    survey = _survey(tmp_path, [WEST, EAST], area_ha=[4.0, area_ha])
    if not differs:
        assert "compartment-area-differs" not in survey.findings.codes
        return
    row = the_finding(survey, "compartment-area-differs")
    assert (row["severity"], row["row"], row["compartment"]) == ("warning", 2, "B")
    assert (row["column"], row["value"]) == ("area_ha", str(area_ha))
    assert row["message"] == f"the register says {area_ha} ha, the polygon has 4.003 ha"
    assert "[survey] areas" in row["hint"]


def test_a_layer_without_rows_is_an_error_and_nothing_more_is_said_of_it(tmp_path: Path) -> None:
    survey = read_survey(folder_example(tmp_path, compartments=compartments_example().iloc[:0]))
    error = the_finding(survey, "no-rows")
    assert (error["severity"], error["file"]) == ("error", FILE)
    assert len(survey.findings) == 1


def _far(tmp_path: Path, crs: str) -> Survey:
    """Read the example, which lies on 3° W and 50.5° N, with another CRS in its settings."""
    return read_survey(folder_example(tmp_path, {"survey.toml": settings_text(survey=f'crs = "{crs}"')}))


@pytest.mark.parametrize(
    ("crs", "code"),
    [
        ("EPSG:32631", None),  # one zone east: 6° · cos 50.5° = 3.8°, 0.9996 (1 + 0.0666²/2) = 1.0018
        ("EPSG:32633", "crs-distorts"),  # three: 0.9996 (1 + 0.1998²/2) = 1.0196
        ("EPSG:32635", "crs-not-metric"),  # five: 0.9996 (1 + 0.333²/2) = 1.0550
        ("EPSG:3395", "crs-not-metric"),  # Mercator: 1 / cos 50.5° = 1.57
    ],
)
def test_a_crs_that_stretches_lengths_at_the_compartments_is_told(
    tmp_path: Path, crs: str, code: str | None
) -> None:
    """Scale of the transverse Mercator by Snyder (USGS PP 1395) eq. 8-4, k0 (1 + (Δλ cos φ)² / 2)."""
    survey = _far(tmp_path, crs)
    told = survey.findings.codes & {"crs-distorts", "crs-not-metric"}
    assert told == ({code} if code else set())
    if code:
        row = the_finding(survey, code)
        assert (row["file"], row["value"]) == ("survey.toml", crs)
        assert "% too long" in row["message"]
        assert row["severity"] == ("error" if code == "crs-not-metric" else "warning")
    if code != "crs-not-metric":
        cure = the_finding(survey, "plots-elsewhere")["value"]
        assert cure == "they are in EPSG:32630 (UTM zone 30)"


def test_nothing_is_located_where_the_crs_is_refused(tmp_path: Path) -> None:
    survey = _far(tmp_path, "EPSG:3395")
    assert survey.crs == ""
    assert survey.findings.codes == {"crs-not-metric"}


@pytest.mark.parametrize(
    ("west", "east", "epsg"), [(-180.0, -179.0, 32701), (179.0, 180.0, 32760), (3.0, 4.0, 32731)]
)
def test_the_utm_zone_is_that_of_the_middle(west: float, east: float, epsg: int) -> None:
    shapes = np.array([box(west, -17, east, -16.9)], dtype=object)
    assert settle_crs(None, "EPSG:4326", shapes, "a.gpkg")[0] == CRS.from_epsg(epsg)


def test_compartments_on_both_sides_of_180_degrees_get_a_zone_beside_it() -> None:
    """Taveuni in Fiji lies on 180°; the plain mean of 179.8 and −179.9 would be 0°, zone 31."""
    shapes = np.array([box(179.8, -17, 179.9, -16.9), box(-179.9, -17, -179.85, -16.9)], dtype=object)
    crs, findings = settle_crs(None, "EPSG:4326", shapes, "a.gpkg")
    assert crs == CRS.from_epsg(32760)
    assert not len(findings)


def test_longitude_and_latitude_that_changed_places_beyond_utm_are_told() -> None:
    shapes = np.array([box(12.5, 85.0, 12.6, 85.1)], dtype=object)  # 85° E, 12.5° N written the other way
    crs, findings = settle_crs(None, "EPSG:4326", shapes, "a.gpkg")
    assert crs is None
    assert "longitude and latitude may be swapped" in the_finding(findings, "crs-not-metric")["message"]
    shapes = np.array([box(12.5, 100.0, 12.6, 100.1)], dtype=object)
    crs, findings = settle_crs(None, "EPSG:4326", shapes, "a.gpkg")
    assert "are no degrees: longitude and latitude may be swapped" in findings.frame["message"][0]


def test_a_layer_at_the_pole_is_asked_for_a_polar_crs() -> None:
    shapes = np.array([box(100.0, 85.0, 100.1, 85.1)], dtype=object)
    row = the_finding(settle_crs(None, "EPSG:4326", shapes, "a.gpkg")[1], "crs-not-metric")
    assert "about 85.0°, where there are no UTM zones" in row["message"]
    assert "swapped" not in row["message"]
    assert "polar" in row["hint"]


def test_a_ring_that_is_not_closed_is_said_so(tmp_path: Path) -> None:
    ring = [[-3.003, 50.551], [-3.0, 50.551], [-3.0, 50.553], [-3.003, 50.553]]
    shape = {"type": "Polygon", "coordinates": [ring]}
    feature = {"type": "Feature", "properties": {"compartment": "A"}, "geometry": shape}
    text = json.dumps({"type": "FeatureCollection", "features": [feature]})
    survey = read_survey(folder_example(tmp_path, {"compartments.geojson": text}, with_compartments=False))
    error = the_finding(survey, "compartment-invalid")
    assert (error["file"], error["row"]) == ("compartments.geojson", 1)
    assert error["message"] == (
        "the outline of row 1 is no polygon: a ring is not closed: its last point must be its first"
    )
    assert "compartment-empty" not in check(survey).codes
    assert "geometry-broken" not in survey.findings.codes


def test_a_broken_outline_of_plots_is_no_invalid_compartment(tmp_path: Path) -> None:
    ring = [[-3.0021, 50.5511], [-3.0022, 50.5511], [-3.0022, 50.5512], [-3.0021, 50.5512]]
    rows = [("P1", {"type": "Polygon", "coordinates": [ring]}),
            ("P2", {"type": "Point", "coordinates": [-3.0007, 50.5519]})]  # fmt: skip
    features = [{"type": "Feature", "properties": {"plot": name}, "geometry": shape} for name, shape in rows]
    text = json.dumps({"type": "FeatureCollection", "features": features})
    survey = read_survey(folder_example(tmp_path, {"plots.csv": None, "plots.geojson": text}))
    warning = the_finding(survey, "geometry-broken")
    assert (warning["severity"], warning["file"], warning["row"]) == ("warning", "plots.geojson", 1)
    assert warning["message"].startswith("the outline of row 1 is no polygon: a ring is not closed")
    assert the_finding(survey, "plot-without-position")["row"] == 1
    assert "compartment-invalid" not in survey.findings.codes


def test_a_bow_tie_in_degrees_is_placed_in_degrees_too(tmp_path: Path) -> None:
    tie = Polygon([(-3.002, 50.550), (-3.000, 50.552), (-3.000, 50.550), (-3.002, 50.552)])
    frame = gpd.GeoDataFrame({"compartment": ["A"]}, geometry=[tie], crs="EPSG:4326")
    error = the_finding(read_survey(folder_example(tmp_path, compartments=frame)), "compartment-invalid")
    assert "in degrees Self-intersection[-3.001 50.551" in error["message"]  # the middle of the square
