"""What field sheets say of plots: positions, reach, boundaries."""

from __future__ import annotations

import math
from typing import Any

import pandas as pd
import pytest
from pyproj import Transformer

from plotmap.errors import SettingsError
from plotmap.plots.sheet_rows import sheet_rows
from tests.survey_example import CRS, survey_example

NESTS = [{"radius_m": 5, "min_dbh_cm": 0}, {"radius_m": 12, "min_dbh_cm": 30}]
EAST, NORTH = 499_900.0, 5_600_100.0


def rows(
    plots: dict[str, Any], settings: dict[str, Any] | None = None, wanted: tuple[str, ...] = ()
) -> pd.DataFrame:
    given = {"plots": settings} if settings else None
    return sheet_rows(survey_example(plots=plots, settings=given), wanted)


def at(*places: tuple[float, float], **columns: list[Any]) -> dict[str, Any]:
    return {
        "plot": [f"P{n + 1}" for n in range(len(places))],
        "easting": [x for x, _ in places],
        "northing": [y for _, y in places],
        **columns,
    }


def test_positions_are_given_on_the_grid_and_in_degrees() -> None:
    made = rows(at((EAST, NORTH))).iloc[0]
    lon, lat = Transformer.from_crs(CRS, 4326, always_xy=True).transform(EAST, NORTH)
    assert (made["easting"], made["northing"]) == (EAST, NORTH)
    assert (made["lon"], made["lat"]) == pytest.approx((lon, lat))


def test_a_boundary_within_reach_is_told_with_what_lies_beyond() -> None:
    """Geometry: A ends at easting 500 000, where B begins, and at northing 5 600 200, where nothing does."""
    made = rows(at((499_990, NORTH), (EAST, 5_600_195), (EAST, NORTH)))
    assert made["boundary_m"].tolist() == pytest.approx([10.0, 5.0, 100.0])
    assert made["beyond"].tolist()[0] == "B"
    assert made["beyond"].isna().tolist() == [False, True, True]
    assert (made["boundary_m"] < made["reach_m"]).tolist() == [True, True, False]


@pytest.mark.parametrize(
    ("settings", "columns", "reach_m"),
    [
        ({"design": "circle", "radius_m": 9.0}, {}, 9.0),
        ({"design": "circle", "area_m2": 314.159265}, {}, 10.0),
        ({"design": "circle", "radius_m": 9.0}, {"radius_m": [15.0]}, 15.0),
        (
            {"design": "rectangle"},
            {"length_m": [40.0], "width_m": [30.0]},
            25.0,
        ),  # half of the diagonal, 3-4-5
        ({"design": "angle-count", "baf_m2_per_ha": 4}, {}, 20.0),  # a stem of 80 cm: 80 · 0.25
        (
            {
                "design": "nested",
                "nests": [{"radius_m": 5, "min_dbh_cm": 0}, {"radius_m": 12, "min_dbh_cm": 30}],
            },
            {},
            12.0,
        ),
    ],
)
def test_a_plot_reaches_as_far_as_its_design(
    settings: dict[str, Any], columns: dict[str, Any], reach_m: float
) -> None:
    assert rows(at((EAST, NORTH), **columns), settings)["reach_m"].item() == pytest.approx(reach_m)


def test_a_plot_outside_has_no_boundary() -> None:
    made = rows(at((EAST + 5000, NORTH))).iloc[0]
    assert math.isnan(made["boundary_m"])


def test_only_the_plots_named_have_a_row_in_the_order_of_the_table() -> None:
    assert rows({"plot": ["P1", "P2", "P3"]}, wanted=("P3", "P1"))["plot"].tolist() == ["P1", "P3"]


def test_an_unknown_plot_is_refused_with_those_like_it() -> None:
    with pytest.raises(SettingsError, match=r"plot 'P11': the plots table has no such plot\. Like it: P1"):
        rows({"plot": ["P1", "P2"]}, wanted=("P11",))


def test_a_survey_without_plots_is_refused() -> None:
    with pytest.raises(SettingsError, match="there is no plot to make a sheet for"):
        rows({"plot": []})
