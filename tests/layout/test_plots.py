"""The table of planned plots: names, degrees, edges, days and order."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pandas as pd
import pytest
from pyproj import Geod

from plotmap.errors import SettingsError
from plotmap.layout import plan_layout
from plotmap.model.result_words import EDGE_TASKS
from plotmap.model.settings import EdgeRule
from plotmap.spatial.walks import walk_length_m
from tests.layout_example import SOUTH_M, TWO, WEST_M, at, ground_example


def _plots(layout: dict, polygons: dict | None = None, **keys: Any) -> pd.DataFrame:
    return plan_layout(ground_example({"n_plots": 30} | layout, polygons, **keys)).planned_plots


def test_plots_are_named_by_compartment_from_north_to_south_and_reserves_by_their_turn() -> None:
    plots = _plots({"reserve": 2, "method": "random"}, strata=["wet", "dry"])
    main, reserve = plots[plots["role"] == "main"], plots[plots["role"] == "reserve"]
    assert main["plot"].tolist() == [f"P{n:02d}" for n in range(1, 31)]
    assert main["compartment"].is_monotonic_increasing
    assert all(part["northing"].is_monotonic_decreasing for _, part in main.groupby("compartment"))
    assert reserve["plot"].tolist() == ["R01", "R02", "R03", "R04"]
    assert reserve["order"].tolist() == [1, 2, 1, 2]
    assert reserve["stratum"].tolist() == ["wet", "wet", "dry", "dry"]
    assert reserve["density_per_ha"].isna().all()
    assert main["density_per_ha"].tolist() == pytest.approx([30 / 40] * 30, rel=0.01)


def test_degrees_are_those_of_the_place() -> None:
    # two routes: distances on the ellipsoid, by pyproj.Geod, are those of the plane near the central meridian
    plots = _plots({"method": "random"})
    lon, lat = plots["lon"].to_numpy(), plots["lat"].to_numpy()
    ground = Geod(ellps="WGS84").inv(lon[:-1], lat[:-1], lon[1:], lat[1:])[2]
    plane = np.hypot(np.diff(plots["easting"]), np.diff(plots["northing"]))
    np.testing.assert_allclose(plane / 0.9996, ground, rtol=1e-6, atol=0.03)  # degrees are rounded
    assert (np.abs(lon + 3) < 0.02).all()  # the central meridian of zone 30
    assert ((lat > 50) & (lat < 51)).all()


@pytest.mark.parametrize("edge", list(EdgeRule))
def test_a_circle_over_the_boundary_is_flagged_with_what_the_crew_does_there(edge: EdgeRule) -> None:
    rules = {"design": "circle", "radius_m": 20, "edge": edge.value}
    plots = _plots({"spacing_m": 40, "n_plots": None, "bearing_deg": 0}, plots=rules)
    west, east = WEST_M, WEST_M + 1000
    x, y = plots["easting"], plots["northing"] - SOUTH_M
    to_edge, second = np.sort(np.stack([x - west, east - x, (x - west - 600).abs(), y, 400 - y]), axis=0)[:2]
    touches = plots["touches_boundary"] == "yes"
    assert touches.any()
    assert (touches == (to_edge < 20)).all()
    assert set(plots.loc[~touches, "edge_task"]) == {"all inside"}
    (task,) = set(plots.loc[touches, "edge_task"])
    assert edge.value in (task, task.removeprefix("tally ").replace("all", "whole"))
    assert task in EDGE_TASKS
    single = touches.to_numpy() & (second > 20)
    d = to_edge[single] / 20  # geometry: a circle whose centre is d inside a straight edge
    share = 1 - (np.arccos(d) - d * np.sqrt(1 - d**2)) / math.pi
    np.testing.assert_allclose(plots.loc[single, "share_inside"], share, rtol=1e-6)


def test_a_design_without_a_radius_is_looked_at_in_the_field() -> None:
    plots = _plots({}, plots={"design": "angle-count", "baf_m2_per_ha": 4})
    assert set(plots["edge_task"]) == {"look"}
    assert plots[["touches_boundary", "share_inside", "radius_m"]].isna().all(axis=None)


def test_days_hold_at_most_their_plots_and_each_walk_is_an_order_of_its_day() -> None:
    layout = plan_layout(
        ground_example({"n_plots": 33, "method": "random", "plots_per_day": 8, "reserve": 1})
    )
    main = layout.planned_plots.query("role == 'main'")
    assert main.groupby("day").size().max() <= 8
    assert sorted(main["day"].unique()) == [1, 2, 3, 4, 5]
    assert layout.planned_plots.query("role == 'reserve'")["day"].isna().all()
    for row in layout.walks.iter_rows(named=True):
        day = main[main["day"] == row["day"]]
        assert sorted(day["order"]) == list(range(1, len(day) + 1))
        walked = day.sort_values("order")[["easting", "northing"]].to_numpy()
        assert row["walk_km"] == pytest.approx(walk_length_m(walked) / 1000)
        named = day.sort_values("plot")[["easting", "northing"]].to_numpy()
        assert row["walk_km_by_name"] == pytest.approx(walk_length_m(named) / 1000)
        assert row["walk_km"] <= row["walk_km_by_name"] + 1e-9


def test_a_walk_begins_and_ends_at_the_start() -> None:
    keys = {"n_plots": 8, "method": "random", "plots_per_day": 8}
    start = (WEST_M - 300, SOUTH_M)
    plan = plan_layout(ground_example(keys | {"start": start}))
    way = plan.planned_plots.sort_values("order")[["easting", "northing"]].to_numpy()
    assert plan.walks["walk_km"].item() == pytest.approx(walk_length_m(way, start) / 1000)
    with pytest.raises(SettingsError, match=r"start is \[10, 20\], 5,6.. km from the nearest plot"):
        plan_layout(ground_example(keys | {"start": (10, 20)}))


def test_without_plots_a_day_there_are_no_walks() -> None:
    layout = plan_layout(ground_example({"n_plots": 9}))
    assert layout.walks.height == 0
    assert layout.planned_plots[["day", "order"]].isna().all(axis=None)


def test_compartments_tell_their_plots_and_which_have_few() -> None:
    polygons = TWO | {"C": at(2000, 0, 2004, 4), "D": at(3000, 0, 3100, 100)}
    ground = ground_example(
        {"n_plots": 30, "cv_pct": 50, "enough_plots": 15}, polygons, excluded=[at(2990, -10, 3110, 110)]
    )
    found = plan_layout(ground).planned_compartments.set_index("compartment")
    assert found["status"].to_dict() == {"A": "enough", "B": "few plots", "C": "no plots", "D": "excluded"}
    assert found["n_planned"].sum() == len(plan_layout(ground).planned_plots)
    assert found.loc["D", ["area_ha", "n_wanted"]].tolist() == [0, 0]
    assert found.loc["D", "excluded_ha"] == pytest.approx(1, rel=1e-3)
    assert found.geometry["D"] is None
    assert found["n_wanted"].sum() == pytest.approx(30)
    assert found["error_pct"].notna().tolist() == [True, True, False, False]
