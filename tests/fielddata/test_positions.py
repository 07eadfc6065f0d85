"""Plot centres: coordinates in three ways, and the compartment each lies in; distances are plain geometry."""

from __future__ import annotations

from pathlib import Path

import geopandas as gpd
import pyogrio
import pytest
from pyproj import CRS
from pyproj.crs import ProjectedCRS
from pyproj.crs.coordinate_operation import UTMConversion
from shapely.geometry import LineString, Point, box

from plotmap.fielddata import read_survey
from plotmap.model.survey import Survey
from tests.folder_example import CRS as GRID
from tests.folder_example import (
    FILES,
    as_csv,
    compartments_example,
    edited,
    folder_example,
    found,
    rows_of,
    settings_text,
    the_finding,
)


def _survey(tmp_path: Path, *edits: tuple[int, str, str], **settings: str) -> Survey:
    """Read the example with cells of plots.csv edited; row 2 is P1 at 499850, 5600050 in A."""
    files = {"plots.csv": edited("plots.csv", *edits)}
    if settings:
        files["survey.toml"] = settings_text(**settings)
    return read_survey(folder_example(tmp_path, files))


def _without(*columns: str) -> list[list[str]]:
    """Return the rows of plots.csv without some columns."""
    rows = rows_of(FILES["plots.csv"])
    kept = [number for number, name in enumerate(rows[0]) if name not in columns]
    return [[cells[number] for number in kept] for cells in rows]


def test_every_plot_of_the_example_lies_where_the_crew_says(tmp_path: Path) -> None:
    plots = read_survey(folder_example(tmp_path)).plots
    assert plots["located_in"].tolist() == ["A", "A", "B", "B", "C", "C"] == plots["compartment"].tolist()
    assert (plots.geometry.iloc[0].x, plots.geometry.iloc[0].y) == (499_850, 5_600_050)
    assert plots.crs == GRID


def test_longitude_and_latitude_are_brought_into_the_survey_s_crs(tmp_path: Path) -> None:
    expected = read_survey(folder_example(tmp_path / "metres")).plots.geometry
    lonlat = expected.to_crs("EPSG:4326")
    rows = _without("easting", "northing")
    places = [["lon", "lat"], *([f"{p.x:.9f}", f"{p.y:.9f}"] for p in lonlat)]
    text = as_csv([[*cells, *place] for cells, place in zip(rows, places, strict=True)])
    survey = read_survey(folder_example(tmp_path / "degrees", {"plots.csv": text}))
    assert not len(survey.findings)
    assert survey.plots.geometry.distance(expected, align=False).max() < 0.001


def test_a_geopackage_of_points_needs_no_coordinate_columns(tmp_path: Path) -> None:
    folder_example(tmp_path, {"plots.csv": None})
    rows = rows_of(FILES["plots.csv"])
    points = [Point(float(cells[1]), float(cells[2])) for cells in rows[1:]]
    columns = {name: [cells[rows[0].index(name)] for cells in rows[1:]] for name in ("plot", "state", "date")}
    frame = gpd.GeoDataFrame(columns, geometry=points, crs=GRID).to_crs("EPSG:4326")
    pyogrio.write_dataframe(frame, tmp_path / "plots.gpkg", layer="plots")
    survey = read_survey(tmp_path)
    assert not len(survey.findings)
    assert survey.sources["plots"] == "plots.gpkg, layer plots"
    assert survey.plots["located_in"].tolist() == ["A", "A", "B", "B", "C", "C"]
    assert survey.plots.geometry.distance(gpd.GeoSeries(points, crs=GRID), align=False).max() < 0.001
    assert survey.plots["source_row"].tolist() == [1, 2, 3, 4, 5, 6]


def test_points_without_crs_are_unreadable(tmp_path: Path) -> None:
    folder_example(tmp_path, {"plots.csv": None})
    frame = gpd.GeoDataFrame({"plot": ["P1"]}, geometry=[Point(499_850, 5_600_050)])
    with pytest.warns(UserWarning, match="crs"):
        pyogrio.write_dataframe(frame, tmp_path / "plots.gpkg", layer="plots")
    error = the_finding(read_survey(tmp_path), "file-unreadable")
    assert error["message"] == "the layer of plots has points, but no CRS"


def test_lines_are_no_positions(tmp_path: Path) -> None:
    folder_example(tmp_path, {"plots.csv": None})
    line = LineString([(499_850, 5_600_050), (499_860, 5_600_050)])
    frame = gpd.GeoDataFrame({"plot": ["P1"]}, geometry=[line], crs=GRID)
    pyogrio.write_dataframe(frame, tmp_path / "plots.gpkg", layer="plots")
    assert the_finding(read_survey(tmp_path), "plot-without-position")["row"] == 1


def test_a_measured_plot_without_position_is_an_error(tmp_path: Path) -> None:
    error = the_finding(_survey(tmp_path, (2, "easting", "")), "plot-without-position")
    assert (error["severity"], error["file"], error["row"]) == ("error", "plots.csv", 2)
    assert (error["plot"], error["compartment"]) == ("P1", "A")
    assert error["message"] == "the plot has neither easting and northing nor lon and lat"
    assert "Fill in the coordinates" in error["hint"]


@pytest.mark.parametrize("state", ["lost", "unvisited"])
def test_a_plot_that_was_not_measured_needs_no_position(tmp_path: Path, state: str) -> None:
    survey = _survey(tmp_path, (2, "easting", ""), (2, "state", state))
    assert "plot-without-position" not in survey.findings.codes


def test_plots_assigned_as_recorded_need_no_position(tmp_path: Path) -> None:
    plots = 'design = "circle"\nradius_m = 12.62\nassign = "recorded"'
    survey = _survey(tmp_path, (2, "easting", ""), plots=plots)
    assert "plot-without-position" not in survey.findings.codes
    assert not survey.findings.has_errors


def test_degrees_where_the_crs_cannot_show_them_are_told_so(tmp_path: Path) -> None:
    """The projected system of EPSG:2154 is a cone about the north pole: the south pole is infinitely far off."""
    text = as_csv([["plot", "lon", "lat"], ["P1", "3", "-90"]])
    toml = settings_text(survey='crs = "EPSG:2154"')
    error = the_finding(
        read_survey(folder_example(tmp_path, {"plots.csv": text, "survey.toml": toml})),
        "plot-without-position",
    )
    assert error["message"] == "lon 3.0 and lat -90.0 lie where the survey's CRS cannot show them"


def test_a_plot_outside_all_compartments_is_a_warning_with_the_distance(tmp_path: Path) -> None:
    survey = _survey(tmp_path, (2, "northing", "5600212.5"))
    row = the_finding(survey, "plot-outside")
    assert (row["severity"], row["row"], row["plot"], row["compartment"]) == ("warning", 2, "P1", "A")
    assert row["message"] == "the plot lies outside all compartments, 12.5 m from A; it is set aside"
    assert "Check the coordinates" in row["hint"]
    assert survey.plots["located_in"].isna().tolist() == [True, False, False, False, False, False]


def test_easting_and_northing_that_changed_places_are_far_outside(tmp_path: Path) -> None:
    survey = _survey(tmp_path, (2, "easting", "5600050"), (2, "northing", "499850"))
    assert the_finding(survey, "plot-outside")["plot"] == "P1"


@pytest.mark.parametrize(("crew", "expected"), [("A", "A"), ("B", "B"), ("C", "A"), ("", "A")])
def test_a_plot_on_a_shared_boundary_goes_to_the_crew_s_compartment_if_that_is_one(
    tmp_path: Path, crew: str, expected: str
) -> None:
    survey = _survey(tmp_path, (2, "easting", "500000"), (2, "compartment", crew))
    row = the_finding(survey, "plot-on-boundary")
    assert (row["severity"], row["row"], row["plot"]) == ("warning", 2, "P1")
    assert row["message"] == f"the plot lies on a boundary; it is counted in {expected}"
    assert row["hint"]
    assert survey.plots["located_in"].iloc[0] == expected
    assert "plot-outside" not in survey.findings.codes


def test_a_plot_one_centimetre_inside_is_on_no_boundary(tmp_path: Path) -> None:
    assert "plot-on-boundary" not in _survey(tmp_path, (2, "easting", "499999.99")).findings.codes


def test_a_crew_that_wrote_another_compartment_is_a_warning(tmp_path: Path) -> None:
    survey = _survey(tmp_path, (2, "compartment", "B"))
    row = the_finding(survey, "plot-compartment-differs")
    assert (row["severity"], row["row"], row["plot"]) == ("warning", 2, "P1")
    assert (row["column"], row["value"]) == ("compartment", "B")
    assert row["message"] == "the crew wrote B, but the position lies in A; it is counted in A"
    assert "Check the coordinates and the sheet" in row["hint"]
    assert survey.plots["located_in"].iloc[0] == "A"
    assert "plot-compartment-unknown" not in survey.findings.codes


def test_a_compartment_nobody_knows_is_a_warning(tmp_path: Path) -> None:
    survey = _survey(tmp_path, (2, "compartment", "Z"))
    row = the_finding(survey, "plot-compartment-unknown")
    assert (row["severity"], row["row"], row["plot"], row["value"]) == ("warning", 2, "P1", "Z")
    assert row["message"] == "the crew wrote Z, which is no compartment of the layer"
    assert "Correct the spelling" in row["hint"]
    assert "plot-compartment-differs" not in survey.findings.codes


def test_a_crew_that_wrote_nothing_is_no_finding(tmp_path: Path) -> None:
    assert not len(_survey(tmp_path, (2, "compartment", "")).findings)


def test_places_of_plots_that_were_not_measured_are_not_told(tmp_path: Path) -> None:
    survey = _survey(tmp_path, (7, "state", "lost"), (7, "northing", "5700000"), (7, "compartment", "Z"))
    assert not [row for row in survey.findings.frame.to_dicts() if row["plot"] == "P6"]


def test_degrees_that_only_a_ballpark_brings_into_the_crs_are_an_error(tmp_path: Path) -> None:
    """PROJ has no operation of stated accuracy from WGS 84 to EPSG:4243 (Kalianpur 1880)."""
    name = "UTM 44 on Kalianpur 1880"
    own = ProjectedCRS(UTMConversion("44"), name=name, geodetic_crs=CRS.from_epsg(4243))
    text = as_csv([["plot", "lon", "lat"], ["P1", "80.5", "20"]])
    layer = compartments_example().set_crs(own, allow_override=True)
    survey = read_survey(folder_example(tmp_path, {"plots.csv": text}, compartments=layer))
    error = the_finding(survey, "datum-ballpark")
    assert (error["severity"], error["file"]) == ("error", "plots.csv")
    assert name in error["message"]
    assert error["hint"]


def test_degrees_with_a_known_datum_shift_are_no_ballpark(tmp_path: Path) -> None:
    text = as_csv([["plot", "lon", "lat"], ["P1", "-3.0021", "50.5511"]])
    toml = settings_text(survey='crs = "EPSG:27700"')
    survey = read_survey(folder_example(tmp_path, {"plots.csv": text, "survey.toml": toml}))
    assert "datum-ballpark" not in survey.findings.codes


RECORDED = 'design = "circle"\nradius_m = 12.62\nassign = "recorded"'


def test_a_full_count_needs_no_position(tmp_path: Path) -> None:
    survey = _survey(tmp_path, (2, "easting", ""), (2, "design", "full"))
    assert not survey.findings.codes & {"plot-without-position", "plot-without-compartment"}
    assert "plot-without-position" in _survey(tmp_path / "other", (2, "easting", "")).findings.codes


def test_full_counts_by_the_settings_need_no_position(tmp_path: Path) -> None:
    survey = _survey(tmp_path, (2, "easting", ""), plots='design = "full"')
    assert "plot-without-position" not in survey.findings.codes


def test_a_full_count_of_nobody_knows_what_is_an_error(tmp_path: Path) -> None:
    survey = _survey(tmp_path, (2, "easting", ""), (2, "design", "full"), (2, "compartment", ""))
    error = the_finding(survey, "plot-without-compartment")
    assert (error["severity"], error["row"], error["column"]) == ("error", 2, "compartment")
    assert error["message"] == "the plot is a full count, but nothing says of which compartment"


@pytest.mark.parametrize("edge", ["inside", "whole", "mirage"])
def test_plots_assigned_as_recorded_need_a_position_where_the_edge_does(tmp_path: Path, edge: str) -> None:
    survey = _survey(tmp_path, (2, "easting", ""), plots=f'{RECORDED}\nedge = "{edge}"')
    assert [row["row"] for row in found(survey, "plot-without-position")] == ([2] if edge == "inside" else [])
    if edge == "inside":
        said = the_finding(survey, "plot-without-position")["message"]
        assert (
            said == "the plot has neither easting and northing nor lon and lat, which edge = 'inside' needs"
        )


@pytest.mark.parametrize(("state", "rows"), [("measured", [2]), ("empty", [2]), ("lost", [])])
def test_plots_assigned_as_recorded_need_a_compartment(tmp_path: Path, state: str, rows: list[int]) -> None:
    survey = _survey(tmp_path, (2, "compartment", ""), (2, "state", state), plots=RECORDED)
    errors = found(survey, "plot-without-compartment")
    assert [error["row"] for error in errors] == rows
    assert {error["severity"] for error in errors} <= {"error"}
    assert "plot-without-compartment" not in _survey(tmp_path / "b", (2, "compartment", "")).findings.codes


def test_places_are_worded_by_the_crew_s_word_where_it_counts(tmp_path: Path) -> None:
    edits = [(2, "northing", "5600212.5"), (3, "compartment", "B"), (4, "easting", "500000")]
    survey = _survey(tmp_path, *edits, plots=RECORDED)
    said = {row["code"]: row["message"] for row in survey.findings.frame.to_dicts()}
    counts = "it counts for {}, which the crew wrote"
    assert said["plot-outside"] == (
        "the plot lies outside all compartments, 12.5 m from A; " + counts.format("A")
    )
    assert said["plot-compartment-differs"] == (
        "the crew wrote B, but the position lies in A; " + counts.format("B")
    )
    assert said["plot-on-boundary"] == "the plot lies on a boundary; " + counts.format("B")


@pytest.mark.parametrize(("north_m", "apart"), [(4.9, False), (5.5, True)])
def test_two_positions_of_a_plot_that_are_apart_are_a_warning(
    tmp_path: Path, north_m: float, *, apart: bool
) -> None:
    place = gpd.GeoSeries([Point(499_850, 5_600_050 + north_m)], crs=GRID).to_crs("EPSG:4326").iloc[0]
    survey = _survey(tmp_path, (2, "lon", f"{place.x:.9f}"), (2, "lat", f"{place.y:.9f}"))
    assert survey.plots.geometry.iloc[0].y == 5_600_050
    warnings = found(survey, "plot-position-differs")
    assert [warning["row"] for warning in warnings] == ([2] if apart else [])
    if apart:
        message = "easting and northing and lon and lat are 5.5 m apart; easting and northing are used"
        assert (warnings[0]["severity"], warnings[0]["message"]) == ("warning", message)


def test_a_point_of_the_layer_that_is_apart_from_the_columns_is_a_warning(tmp_path: Path) -> None:
    folder_example(tmp_path, {"plots.csv": None})
    rows = {"plot": ["P1", "P2"], "easting": [499_850.0, None], "northing": [5_600_050.0, None]}
    points = [Point(499_850, 5_600_060), Point(499_950, 5_600_150)]
    frame = gpd.GeoDataFrame(rows, geometry=points, crs=GRID)
    pyogrio.write_dataframe(frame, tmp_path / "plots.gpkg", layer="plots")
    survey = read_survey(tmp_path)
    warning = the_finding(survey, "plot-position-differs")
    assert warning["row"] == 1
    assert (
        warning["message"] == "the columns and the point of the layer are 10.0 m apart; the columns are used"
    )
    assert [point.y for point in survey.plots.geometry] == [5_600_050, 5_600_150]


@pytest.mark.parametrize(("crew", "expected"), [("A", "A"), ("B", "B"), ("", "A")])
def test_a_plot_where_compartments_overlap_is_a_warning(tmp_path: Path, crew: str, expected: str) -> None:
    frame = compartments_example()
    frame.loc[1, "geometry"] = box(499_990, 5_600_000, 500_200, 5_600_200)
    text = edited("plots.csv", (2, "easting", "499995"), (2, "compartment", crew))
    survey = read_survey(folder_example(tmp_path, {"plots.csv": text}, compartments=frame))
    warning = the_finding(survey, "plot-in-overlap")
    assert (warning["severity"], warning["row"]) == ("warning", 2)
    assert warning["message"] == (
        f"the plot lies in two or more compartments that overlap; it is counted in {expected}"
    )
    assert survey.plots["located_in"].iloc[0] == expected


@pytest.mark.parametrize(
    ("northing", "told"),
    [
        ("5610199", "9999.0 m"),  # the layer ends at 5 600 200 m
        ("5612700", "12 km"),
        ("29000000", "23400 km"),
        ("1e300", "more than 100000 km"),
    ],
)
def test_far_distances_are_told_in_kilometres(tmp_path: Path, northing: str, told: str) -> None:
    row = the_finding(_survey(tmp_path, (2, "northing", northing)), "plot-outside")
    assert row["message"] == f"the plot lies outside all compartments, {told} from A; it is set aside"
