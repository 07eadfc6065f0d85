"""Waypoints of a GPX file, as the plots or beside them. Degrees are by pyproj from the metres of the example."""

from __future__ import annotations

from pathlib import Path

import pytest
from pyproj import Transformer

import plotmap
from plotmap.fielddata import read_survey
from plotmap.model.survey import Survey
from tests.folder_example import CRS, FILES, as_csv, folder_example, found, rows_of, the_finding

_ROWS = rows_of(FILES["plots.csv"])
_METRES = {row[0]: (float(row[1]), float(row[2])) for row in _ROWS[1:]}
_TO_DEGREES = Transformer.from_crs(CRS, "EPSG:4326", always_xy=True)
WITHOUT = as_csv([[row[0], *row[3:]] for row in _ROWS])
"""plots.csv without coordinates."""


def gpx(*names: str | None, time: str = "", north_m: float = 0.0, more: str = "") -> str:
    """Return a GPX file with waypoints where the plots of these names are; others lie at the first plot."""
    lines = []
    for name in names:
        x, y = _METRES.get((name or "").strip().upper(), _METRES["P1"])
        lon, lat = _TO_DEGREES.transform(x, y + north_m)
        inside = f"<time>{time}</time>" * bool(time) + (f"<name>{name}</name>" if name is not None else "")
        lines.append(f'<wpt lat="{lat:.9f}" lon="{lon:.9f}"><ele>210.5</ele>{inside}</wpt>')
    head = '<?xml version="1.0"?>\n<gpx version="1.1" creator="test" xmlns="http://www.topografix.com/GPX/1/1">\n'
    return head + "\n".join(lines) + more + "\n</gpx>\n"


ALL = gpx(*_METRES)
TRACK = '<trk><trkseg><trkpt lat="50.5" lon="-3"/><trkpt lat="50.6" lon="-3"/></trkseg></trk>'
ROUTE = '<rte><rtept lat="50.5" lon="-3"/><rtept lat="50.6" lon="-3"/></rte>'


def _survey(folder: Path, files: dict[str, str | bytes | None]) -> Survey:
    return read_survey(folder_example(folder, files))


def _offset_m(survey: Survey) -> float:
    """Return how far the plots are from those of the example at most."""
    plots = survey.plots.set_index("plot").geometry
    return max(plots[name].distance(type(plots[name])(place)) for name, place in _METRES.items())


def test_waypoints_alone_are_the_plots(tmp_path: Path) -> None:
    text = gpx(*_METRES, time="2026-05-14T21:30:00Z")
    survey = _survey(tmp_path, {"plots.csv": None, "plots.gpx": text})
    assert survey.sources["plots"] == "plots.gpx"
    assert survey.plots["plot"].tolist() == list(_METRES)
    assert survey.plots["source_row"].tolist() == [1, 2, 3, 4, 5, 6]
    assert {str(day)[:10] for day in survey.plots["date"]} == {"2026-05-14"}
    assert _offset_m(survey) < 0.001
    assert survey.findings.codes == {"plot-without-stems"}  # P6 is empty, which a waypoint cannot say
    assert survey.rows_read["plots"] == 6


def test_waypoints_may_be_called_so_and_may_lack_a_time(tmp_path: Path) -> None:
    survey = _survey(tmp_path, {"plots.csv": None, "Waypoints.GPX": gpx(*list(_METRES)[:2])})
    assert survey.sources["plots"] == "Waypoints.GPX"
    assert survey.plots["date"].isna().all()


def test_a_waypoint_without_a_name_is_a_plot_without_one_and_two_of_a_name_are_a_plot_twice(
    tmp_path: Path,
) -> None:
    survey = _survey(tmp_path, {"plots.csv": None, "plots.gpx": gpx("P1", None, "P1")})
    assert the_finding(survey, "value-missing")["row"] == 2
    assert the_finding(survey, "plot-twice")["row"] == 3


def test_a_table_without_coordinates_takes_them_from_the_waypoints(tmp_path: Path) -> None:
    survey = _survey(tmp_path, {"plots.csv": WITHOUT, "plots.gpx": ALL})
    assert not len(survey.findings)
    assert _offset_m(survey) < 0.001
    assert survey.plots["located_in"].tolist() == ["A", "A", "B", "B", "C", "C"]
    assert survey.sources["plots"] == "plots.csv"
    assert "plots.gpx" in {file.name for file in survey.inputs}
    assert not plotmap.check(survey).has_errors


def test_the_order_of_the_waypoints_and_blanks_at_the_ends_of_names_do_not_matter(tmp_path: Path) -> None:
    survey = _survey(
        tmp_path, {"plots.csv": WITHOUT, "waypoints.gpx": gpx("P6", "P3", " P1 ", "P5", "P2", "P4")}
    )
    assert not len(survey.findings)
    assert _offset_m(survey) < 0.001


def test_a_heading_only_beside_waypoints_is_a_template(tmp_path: Path) -> None:
    survey = _survey(tmp_path, {"plots.csv": "plot,lon,lat\n", "plots.gpx": ALL})
    assert survey.sources["plots"] == "plots.gpx"
    note = the_finding(survey, "file-unused")
    assert (note["file"], note["message"]) == (
        "plots.csv",
        "it holds a heading and no rows; plots.gpx is read",
    )


def test_a_plot_without_a_waypoint_is_an_error_unless_it_needs_no_position(tmp_path: Path) -> None:
    names = [name for name in _METRES if name != "P2"]
    survey = _survey(tmp_path / "a", {"plots.csv": WITHOUT, "plots.gpx": gpx(*names)})
    error = the_finding(survey, "plot-without-waypoint")
    assert (error["severity"], error["file"], error["row"], error["plot"]) == ("error", "plots.csv", 3, "P2")
    assert error["message"] == (
        "the plot has neither easting and northing nor lon and lat, and no waypoint of plots.gpx is called P2"
    )
    assert not survey.findings.codes & {"plot-without-position", "column-missing"}
    lost = WITHOUT.replace("P2,A,measured", "P2,A,lost")
    assert lost != WITHOUT
    other = _survey(tmp_path / "b", {"plots.csv": lost, "plots.gpx": gpx(*names)})
    assert "plot-without-waypoint" not in other.findings.codes


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("p-02", "there is no plot p-02; P2 may be meant"),
        ("car park", "there is no plot car park"),
        ("P20", "there is no plot P20"),
        (None, "the waypoint has no name"),
    ],
)
def test_a_waypoint_without_a_plot_is_a_warning(tmp_path: Path, name: str | None, said: str) -> None:
    survey = _survey(tmp_path, {"plots.csv": WITHOUT, "plots.gpx": gpx(*_METRES, name)})
    warning = the_finding(survey, "waypoint-without-plot")
    assert (warning["severity"], warning["file"], warning["row"]) == ("warning", "plots.gpx", 7)
    assert (warning["value"], warning["message"]) == (name, said)
    assert _offset_m(survey) < 0.001


def test_two_waypoints_of_one_plot_are_an_error_and_none_is_taken(tmp_path: Path) -> None:
    survey = _survey(tmp_path, {"plots.csv": WITHOUT, "plots.gpx": gpx(*_METRES, "P2", "car", "car")})
    error = the_finding(survey, "waypoint-twice")
    assert (error["severity"], error["file"], error["row"], error["plot"]) == ("error", "plots.gpx", 7, "P2")
    assert error["message"] == "waypoint P2 comes again; it is first in row 2"
    assert survey.plots.set_index("plot").geometry.isna().to_dict()["P2"]
    told = plotmap.check(survey)
    assert not told.codes & {"plot-without-waypoint", "plot-without-position"}
    assert len(found(told, "waypoint-without-plot")) == 2


@pytest.mark.parametrize(("north_m", "apart"), [(4.9, False), (5.5, True)])
def test_coordinates_of_the_table_go_before_waypoints_and_it_is_told(
    tmp_path: Path, north_m: float, *, apart: bool
) -> None:
    survey = _survey(tmp_path, {"plots.gpx": gpx(*_METRES, north_m=north_m)})
    assert _offset_m(survey) == 0
    note = the_finding(survey, "positions-twice")
    assert (note["severity"], note["file"]) == ("note", "plots.csv")
    assert (
        note["message"]
        == "6 plots have a position here and a waypoint in plots.gpx; the position here is used"
    )
    said = [row["message"] for row in found(survey, "plot-position-differs")]
    message = "the table's own position and the waypoint are 5.5 m apart; the table's own position is used"
    assert said == ([message] * 6 if apart else [])


def test_only_plots_without_coordinates_of_their_own_take_the_waypoint(tmp_path: Path) -> None:
    text = FILES["plots.csv"].replace("P2,499950,5600150", "P2,,")
    survey = _survey(tmp_path, {"plots.csv": text, "plots.gpx": gpx("P2", "P3", north_m=3)})
    plots = survey.plots.set_index("plot").geometry
    assert plots["P2"].y == pytest.approx(5_600_153, abs=0.001)
    assert plots["P3"].y == 5_600_050
    assert the_finding(survey, "positions-twice")["message"].startswith("1 plot has a position here")


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (TRACK, "(1 track)"),
        (TRACK + ROUTE + TRACK, "(2 tracks and 1 route)"),
        ("", "(nothing else either)"),
    ],
)
@pytest.mark.parametrize("beside", [None, WITHOUT], ids=["alone", "beside a table"])
def test_tracks_and_routes_are_no_waypoints(tmp_path: Path, more: str, said: str, beside: str | None) -> None:
    survey = _survey(tmp_path, {"plots.csv": beside, "plots.gpx": gpx(more=more)})
    error = the_finding(survey, "file-unreadable")
    assert (error["severity"], error["file"]) == ("error", "plots.gpx")
    assert error["message"] == f"it has no waypoints {said}, and positions are read from waypoints only"


def test_a_file_that_is_no_gpx_is_unreadable(tmp_path: Path) -> None:
    survey = _survey(tmp_path, {"plots.csv": WITHOUT, "plots.gpx": "plot,lon,lat\n"})
    error = the_finding(survey, "file-unreadable")
    assert error["message"].startswith("the file is no GPX that can be read")


def test_a_gpx_of_another_name_is_told_to_be_unused(tmp_path: Path) -> None:
    survey = _survey(tmp_path, {"day1.gpx": ALL, "trees.gpx": ALL})
    notes = {row["file"]: row["message"] for row in found(survey, "file-unused")}
    assert notes == dict.fromkeys(
        ("day1.gpx", "trees.gpx"), "a GPX file is read only as plots.gpx or waypoints.gpx"
    )


def test_two_gpx_files_beside_a_table_are_an_error(tmp_path: Path) -> None:
    survey = _survey(tmp_path / "a", {"plots.csv": WITHOUT, "plots.gpx": ALL, "waypoints.gpx": ALL})
    error = the_finding(survey, "table-twice")
    assert error["message"] == "waypoints are in plots.gpx and in waypoints.gpx"
    alone = _survey(tmp_path / "b", {"plots.csv": None, "plots.gpx": ALL, "waypoints.gpx": ALL})
    assert (
        the_finding(alone, "table-twice")["message"] == "the table plots is in plots.gpx and in waypoints.gpx"
    )


def test_a_folder_without_plots_and_gpx_still_lacks_them(tmp_path: Path) -> None:
    survey = _survey(tmp_path, {"plots.csv": None})
    assert the_finding(survey, "table-missing")["file"] == "plots"


@pytest.mark.parametrize(
    ("lat", "lon", "told"),
    [
        ("90.001", "-3", True),
        ("-90", "180", False),
        ("50", "-180.5", True),
        ("5600050", "499850", True),
        ("nan", "1", True),
    ],
)
def test_degrees_out_of_range_are_told_as_of_a_layer_saved_in_metres(
    tmp_path: Path, lat: str, lon: str, *, told: bool
) -> None:
    more = f'<wpt lat="{lat}" lon="{lon}"><name>P2</name></wpt>'
    files = {"alone": None, "beside": WITHOUT}
    for name, table in files.items():
        survey = _survey(tmp_path / name, {"plots.csv": table, "plots.gpx": gpx("P1", more=more)})
        errors = found(survey, "value-out-of-range")
        assert [(row["file"], row["row"], row["plot"]) for row in errors] == (
            [("plots.gpx", 2, "P2")] if told else []
        )
        for error in errors:
            assert error["message"].endswith("but must be -90 to 90° and -180 to 180°")
            assert "brought to WGS 84" in error["hint"]
            assert survey.plots.set_index("plot").geometry.isna().to_dict()["P2"]
    alone = plotmap.check(read_survey(tmp_path / "alone"))
    assert "plot-without-position" not in alone.codes


@pytest.mark.parametrize("name", ["plots.gpx", "waypoints.gpx"])
def test_a_folder_called_like_a_gpx_file_is_told(tmp_path: Path, name: str) -> None:
    folder = folder_example(tmp_path)
    (folder / name).mkdir()
    error = the_finding(read_survey(folder), "file-unreadable")
    assert (error["file"], error["message"]) == (name, "this is a folder, but must be a file")
