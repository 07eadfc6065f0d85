"""Files of a layout: read back by GDAL, by plotmap itself, and held against the facts of their standards."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from pathlib import Path
from xml.etree import ElementTree as ET

import geopandas as gpd
import numpy as np
import polars as pl
import pyogrio
import pytest
import shapely

from plotmap.fielddata import read_survey
from plotmap.layout import plan_layout
from plotmap.model.layout import PlotLayout
from plotmap.model.result_tables_layout import LAYOUT_TABLES
from plotmap.output import write_layout
from plotmap.output.waypoint_files import GPX_NAMESPACE, KML_NAMESPACE
from tests.folder_example import folder_example
from tests.layout_example import TWO, at, ground_example

_GPX, _KML = f"{{{GPX_NAMESPACE}}}", f"{{{KML_NAMESPACE}}}"
_WAYPOINT = [
    *(
        "ele",
        "time",
        "magvar",
        "geoidheight",
        "name",
        "cmt",
        "desc",
        "src",
        "link",
        "sym",
        "type",
        "fix",
        "sat",
    ),
    *("hdop", "vdop", "pdop", "ageofdgpsdata", "dgpsid", "extensions"),
]
"""Order of the elements of a waypoint: GPX 1.1 schema, wptType."""
_ROUTE = ["name", "cmt", "desc", "src", "link", "number", "type", "extensions", "rtept"]
"""GPX 1.1 schema, rteType."""


@pytest.fixture(scope="module")
def layout() -> PlotLayout:
    odd = {"A <&> \x0b'\"": TWO["A"], "B": TWO["B"], "C": at(3000, 0, 3001, 2)}
    keys = {"n_plots": 25, "method": "balanced", "reserve": 2, "plots_per_day": 7}
    return plan_layout(ground_example(keys, odd, survey={"title": "Küste & Wald"}))


@pytest.fixture(scope="module")
def folder(layout: PlotLayout, tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("layout")
    write_layout(layout, made)
    return made


def test_waypoints_are_the_plots_in_degrees_whatever_the_crs_is(folder: Path, layout: PlotLayout) -> None:
    found = pyogrio.read_dataframe(folder / "planned.gpx", layer="waypoints")
    assert found["name"].tolist() == layout.planned_plots["plot"].tolist()
    assert found.crs.to_epsg() == 4326
    expected = layout.planned_plots.to_crs("EPSG:4326").geometry
    np.testing.assert_allclose(
        shapely.get_coordinates(found.geometry), shapely.get_coordinates(expected), atol=1e-7
    )


def test_a_route_a_day_goes_through_the_plots_in_the_order_of_the_walk(
    folder: Path, layout: PlotLayout
) -> None:
    root = ET.parse(folder / "planned.gpx").getroot()  # noqa: S314 - our own file
    days = layout.planned_plots.dropna(subset="day").sort_values(["day", "order"]).groupby("day")["plot"]
    routes = {
        int(route.findtext(f"{_GPX}number", "")): [
            point.findtext(f"{_GPX}name") for point in route.iter(f"{_GPX}rtept")
        ]
        for route in root.iter(f"{_GPX}rte")
    }
    assert routes == {day: plots.tolist() for day, plots in days}
    assert len(routes) == 4


def test_gpx_has_the_elements_of_the_schema_in_its_order(folder: Path) -> None:
    root = ET.parse(folder / "planned.gpx").getroot()  # noqa: S314 - our own file
    assert (root.tag, root.get("version")) == (f"{_GPX}gpx", "1.1")
    assert root.get("creator", "").startswith("plotmap ")
    tops = [child.tag.removeprefix(_GPX) for child in root]
    assert tops == sorted(tops, key=["metadata", "wpt", "rte", "trk"].index)
    for parent, order in (("wpt", _WAYPOINT), ("rtept", _WAYPOINT), ("rte", _ROUTE)):
        for element in root.iter(f"{_GPX}{parent}"):
            names = [child.tag.removeprefix(_GPX) for child in element]
            assert names == sorted(names, key=order.index)
            if parent != "rte":
                assert -90 <= float(element.get("lat", "")) <= 90
                assert -180 <= float(element.get("lon", "")) < 180


def test_letters_that_xml_cannot_hold_do_not_break_the_files(folder: Path) -> None:
    root = ET.parse(folder / "planned.gpx").getroot()  # noqa: S314 - our own file
    said = root.findtext(f"{_GPX}wpt/{_GPX}cmt", "")
    assert said.startswith("compartment A <&> �'\" · day ")
    assert root.findtext(f"{_GPX}metadata/{_GPX}name") == "Küste & Wald"


def test_kml_has_a_folder_a_day_and_the_same_places(folder: Path, layout: PlotLayout) -> None:
    root = ET.parse(folder / "planned.kml").getroot()  # noqa: S314 - our own file
    assert root.tag == f"{_KML}kml"
    names = [part.findtext(f"{_KML}name") for part in root.iter(f"{_KML}Folder")]
    assert names == ["Day 1", "Day 2", "Day 3", "Day 4", "Reserve plots"]
    places = {
        mark.findtext(f"{_KML}name"): mark.findtext(f"{_KML}Point/{_KML}coordinates")
        for mark in root.iter(f"{_KML}Placemark")
    }
    plots = layout.planned_plots
    assert places == {row.plot: f"{row.lon:.7f},{row.lat:.7f}" for row in plots.itertuples()}


def test_the_geopackage_has_every_table_with_shapes_and_what_it_was_made_from(
    folder: Path, layout: PlotLayout
) -> None:
    path = folder / "planned.gpkg"
    plots = gpd.read_file(path, layer="planned_plots")
    assert plots["plot"].tolist() == layout.planned_plots["plot"].tolist()
    assert plots.crs.to_epsg() == 32630
    assert (plots.geometry.x == plots["easting"]).all()
    net = gpd.read_file(path, layer="planned_compartments")
    assert net["n_planned"].sum() == 25
    for table in LAYOUT_TABLES:
        assert pyogrio.read_info(path, layer=table.name)["fields"].tolist() == table.names
    with closing(sqlite3.connect(path)) as database:
        (told,) = database.execute("SELECT metadata FROM gpkg_metadata").fetchone()
        titles = database.execute("SELECT count(*) FROM gpkg_data_columns").fetchone()[0]
    assert json.loads(told)["settings"]["layout"]["n_plots"] == 25
    assert titles > sum(len(table.columns) for table in LAYOUT_TABLES)


def test_two_layouts_of_one_ground_have_the_same_bytes_and_another_seed_has_others(tmp_path: Path) -> None:
    def texts(name: str, seed: int) -> dict[str, bytes]:
        (tmp_path / name).mkdir()
        keys = {"n_plots": 20, "seed": seed, "plots_per_day": 6}
        write_layout(plan_layout(ground_example(keys)), tmp_path / name)
        files = [path for path in sorted((tmp_path / name).rglob("*")) if path.is_file()]
        return {path.name: path.read_bytes() for path in files if path.suffix != ".gpkg"}

    first, again, other = texts("1", 5), texts("2", 5), texts("3", 6)
    assert first == again
    assert first["planned.gpx"] != other["planned.gpx"]
    assert first["layout_design.csv"] != other["layout_design.csv"]


def test_the_table_to_fill_in_is_read_as_the_plots_of_a_survey(tmp_path: Path) -> None:
    layout = plan_layout(ground_example({"n_plots": 20, "reserve": 1}, survey={}))
    write_layout(layout, tmp_path)
    empty = {"trees.csv": "plot,tree,d1_cm\n", "instruments.csv": None, "species.csv": None}
    frame = layout.planned_compartments[["compartment", "geometry"]]
    folder = folder_example(
        tmp_path / "survey",
        {**empty, "plots.csv": (tmp_path / "planned.csv").read_bytes()},
        compartments=frame,
    )
    survey = read_survey(folder)
    assert survey.findings.frame["message"].to_list() == []
    assert set(survey.plots["state"]) == {"unvisited"}
    assert survey.plots["located_in"].tolist() == layout.planned_plots["compartment"].tolist()
    assert survey.plots.geometry.x.tolist() == layout.planned_plots["easting"].tolist()


def test_missing_figures_are_empty_cells(folder: Path) -> None:
    sizes = pl.read_csv(folder / "tables" / "sample_sizes.csv")
    assert sizes["error_pct"].null_count() == sizes.height  # no variation is stated
    assert sizes["n_for_target"].null_count() == sizes.height
