"""Limiting distances and lengths on slopes: which tables are made, and what is in them."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import polars as pl
import pytest

from plotmap.errors import SettingsError
from plotmap.model.limits import DistanceTables
from plotmap.plots.distances import (
    angle_limits,
    distance_frame,
    distance_tables,
    lengths_on_slopes,
    same_area_radius_m,
)
from tests.survey_example import survey_example


def tables(plots: dict[str, Any], rows: dict[str, Any] | None = None, **more: Any) -> DistanceTables:
    survey = survey_example(plots=rows or {"plot": ["P1"]}, settings={"plots": plots, **more})
    return distance_tables(survey, 80.0)


def test_the_face_of_a_stem_is_half_its_diameter_nearer() -> None:
    limits = angle_limits(4, np.array([40.0]), np.array([0.0, 100.0]))
    assert limits.level_m == pytest.approx([10.0])  # 40 · 0.25
    assert limits.face_m == pytest.approx([9.8])  # 20 cm less
    assert limits.slope_face_m[0] == pytest.approx([9.8, 9.8 * math.sqrt(2)])


def test_a_stem_at_its_limit_stands_for_one_factor() -> None:
    """Geometry: its cross-section over the area of the circle of its limit is the factor, in m² a hectare."""
    limits = angle_limits(2.3, np.array([17.0]), np.array([0.0]))
    share = (math.pi * 0.17**2 / 4) / (math.pi * limits.level_m[0] ** 2)
    assert share * 10_000 == pytest.approx(2.3)


@pytest.mark.parametrize("slope_pct", [0.0, 15.0, 60.0])
def test_a_circle_of_the_same_area_has_the_level_area_of_the_stated_one(slope_pct: float) -> None:
    """Geometry: a circle along the ground covers its area times the cosine of the slope on the level."""
    laid = float(same_area_radius_m(12.62, slope_pct))
    level = math.pi * laid**2 * math.cos(math.atan(slope_pct / 100))
    assert level == pytest.approx(math.pi * 12.62**2)


def test_along_the_ground_nothing_is_lengthened() -> None:
    found = lengths_on_slopes("radius", 10.0, np.array([0.0, 75.0]), along_ground=True)
    assert found.along_m.tolist() == [10.0, 10.0]
    assert np.isnan(found.same_area_m).all()
    assert found.level_area_m2 == pytest.approx([math.pi * 100, math.pi * 80])  # cos(atan 0.75) is 0.8
    assert tables({"design": "angle-count", "baf_m2_per_ha": 4, "slope": "ground"}).angle_limits[
        0
    ].slope_pct.tolist() == [0.0]


def test_rings_have_the_diameters_that_count_on_them() -> None:
    nests = [{"radius_m": 7.98, "min_dbh_cm": 12}, {"radius_m": 12.62, "min_dbh_cm": 36}]
    found = tables({"design": "nested", "nests": nests}).lengths
    assert [(one.kind, one.level_m, one.from_cm, one.below_cm) for one in found] == [
        ("ring", 7.98, 12, 36),
        ("ring", 12.62, 36, math.inf),
    ]


def test_every_size_of_settings_and_plots_has_a_table_once() -> None:
    rows = {
        "plot": ["P1", "P2", "P3", "P4", "P5"],
        "design": [None, "angle-count", "circle", "rectangle", None],
        "radius_m": [None, None, 17.84, None, 17.84],
        "baf_m2_per_ha": [None, 2, None, None, None],
        "length_m": [None, None, None, 30, None],
        "width_m": [None, None, None, 20, None],
    }
    found = tables({"design": "circle", "area_m2": 500}, rows)
    assert [limits.baf_m2_per_ha for limits in found.angle_limits] == [2]
    sizes = [(one.kind, round(one.level_m, 2)) for one in found.lengths]
    assert sizes == [("radius", 12.62), ("radius", 17.84), ("side", 20.0), ("side", 30.0)]


def test_diameters_begin_where_stems_are_measured() -> None:
    found = tables({"design": "angle-count", "baf_m2_per_ha": 4}, stems={"min_dbh_cm": 12.5})
    assert found.angle_limits[0].dbh_cm[[0, -1]].tolist() == [12.0, 80.0]
    assert tables({"design": "angle-count", "baf_m2_per_ha": 4}).angle_limits[0].dbh_cm[0] == 5.0


def test_a_full_count_has_no_distances() -> None:
    with pytest.raises(SettingsError, match="design is full, and no plot has a radius"):
        tables({"design": "full"}, {"plot": ["P1"], "compartment": ["A"]})


def test_diameters_that_end_before_they_begin_are_refused() -> None:
    with pytest.raises(SettingsError, match="up-to is 80 cm, but stems are measured from 90 cm on"):
        tables({"design": "angle-count", "baf_m2_per_ha": 4}, stems={"min_dbh_cm": 90})


@pytest.mark.parametrize(("n_radii", "refused"), [(60, False), (61, True)])
def test_too_many_sizes_are_refused(n_radii: int, refused: bool) -> None:  # noqa: FBT001
    rows = {"plot": [f"P{n}" for n in range(n_radii)], "radius_m": [5.0 + n for n in range(n_radii)]}
    if refused:
        with pytest.raises(
            SettingsError, match="the plots have 61 sizes, but tables are made for at most 60"
        ):
            tables({"design": "circle"}, rows)
    else:
        assert len(tables({"design": "circle"}, rows).lengths) == n_radii


def test_the_frame_has_every_distance_and_nothing_where_there_is_none() -> None:
    rows = {"plot": ["P1", "P2"], "design": [None, "circle"], "radius_m": [None, 10]}
    frame = distance_frame(tables({"design": "angle-count", "baf_m2_per_ha": 1}, rows))
    angle = frame.filter(pl.col("kind") == "angle-count")
    assert angle.height == 76 * 7  # 5 to 80 cm, seven slopes
    assert angle["same_area_radius_m"].null_count() == angle.height
    circle = frame.filter((pl.col("kind") == "radius") & (pl.col("slope_pct") == 100))
    assert circle["along_slope_m"].item() == pytest.approx(10 * math.sqrt(2))
    assert circle["dbh_cm"].item() is None
