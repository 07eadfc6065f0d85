"""Designs side by side, edge rules that fit only some, results under bark. Worked by hand, and geometry."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import geopandas as gpd
import pytest
from shapely import box

from plotmap.model.plot_table import PlotValues
from plotmap.plots import compute_plots
from plotmap.stand import estimate_stand
from plotmap.stems import measure_stems
from tests.survey_example import CRS, SQUARES, survey_example

_NESTS = [{"radius_m": 5.0, "min_dbh_cm": 10}, {"radius_m": 10.0, "min_dbh_cm": 30}]
_EDGE = SQUARES["A"].bounds[2]
"""Easting of the boundary between A and B, in m."""
_CIRCLE = {"design": "circle", "radius_m": 10.0}


def _values(plots: dict[str, Any], rules: dict[str, Any], **tables: Any) -> PlotValues:
    """Return plot values under [plots] rules; other sections in `sections`."""
    sections = tables.pop("sections", {})
    survey = survey_example(plots=plots, settings={"plots": rules, **sections}, **tables)
    return compute_plots(survey, measure_stems(survey))


def _codes(values: PlotValues) -> list[str]:
    return values.findings.frame["code"].to_list()


# ---- results under bark: crews take stems over bark


def test_an_angle_count_sees_stems_over_bark_whatever_the_results_are() -> None:
    # factor 4; 30 cm over bark, 15 mm of it on each side: 4 / (0.09 π / 4) = 56.588 stems of 27 cm
    rules = {"design": "angle-count", "baf_m2_per_ha": 4}
    trees = {"plot": ["P1"], "d1_cm": [30.0], "bark_mm": [15.0]}
    values = _values({"plot": ["P1"]}, rules, trees=trees, sections={"stems": {"bark": "under"}})
    stem = values.trees.row(0, named=True)
    assert stem["dbh_cm"] == pytest.approx(27)
    assert stem["stems_per_ha"] == pytest.approx(4 / (0.0225 * math.pi), rel=1e-12)
    assert values.plots["basal_area_m2_per_ha"].item() == pytest.approx(4 * 0.9**2, rel=1e-12)


def test_basal_area_over_bark_is_the_factor_for_stems_read_under_it_too() -> None:
    rules = {"design": "angle-count", "baf_m2_per_ha": 4}
    trees = {"plot": ["P1"], "d1_cm": [27.0], "bark": ["under"], "bark_mm": [15.0]}
    for basis, share in (("over", 1.0), ("under", 0.81)):
        values = _values({"plot": ["P1"]}, rules, trees=trees, sections={"stems": {"bark": basis}})
        assert values.plots["basal_area_m2_per_ha"].item() == pytest.approx(4 * share, rel=1e-12)
        assert "over-bark-unknown" not in _codes(values)


@pytest.mark.parametrize(("over_cm", "ring_m"), [(29.9, 5.0), (30.0, 10.0)])
def test_a_stem_counts_on_the_ring_of_its_size_over_bark(over_cm: float, ring_m: float) -> None:
    trees = {"plot": ["P1"], "d1_cm": [over_cm], "bark_mm": [20.0], "distance_m": [4.0]}
    values = _values(
        {"plot": ["P1"]},
        {"design": "nested", "nests": _NESTS},
        trees=trees,
        sections={"stems": {"bark": "under"}},
    )
    assert values.trees["stems_per_ha"].item() == pytest.approx(10_000 / (math.pi * ring_m**2), rel=1e-12)
    assert _codes(values) == []


@pytest.mark.parametrize(
    ("design", "bark_mm", "found"),
    [("angle-count", None, True), ("angle-count", 10.0, False), ("circle", None, False)],
)
def test_a_stem_under_bark_of_which_nobody_knows_the_bark_is_found_where_it_matters(
    design: str, bark_mm: float | None, *, found: bool
) -> None:
    rules = {"design": design, **({"area_m2": 500} if design == "circle" else {"baf_m2_per_ha": 4})}
    trees = {"plot": ["P1"], "d1_cm": [27.0], "bark": ["under"], "bark_mm": [bark_mm]}
    values = _values({"plot": ["P1"]}, rules, trees=trees, sections={"stems": {"bark": "under"}})
    if not found:
        assert _codes(values) == []
        return
    (row,) = values.findings.frame.rows(named=True)
    assert (row["code"], row["row"], row["column"]) == ("over-bark-unknown", 2, "bark_mm")
    assert "neither bark_mm nor a bark_factor" in row["message"]
    assert values.trees["stems_per_ha"].item() == pytest.approx(4 / (math.pi * 0.135**2), rel=1e-12)


# ---- edge rules that do not fit a plot's own design


@pytest.mark.parametrize(
    ("edge", "design", "found"),
    [
        ("inside", "rectangle", True),
        ("inside", "angle-count", True),
        ("inside", "nested", False),
        ("positions", "nested", True),
        ("positions", "strip", True),
        ("positions", "circle", False),
        ("mirage", "rectangle", False),
        ("whole", "angle-count", False),
    ],
)
def test_an_edge_rule_that_does_not_fit_a_plots_own_design_is_said_once(
    edge: str, design: str, *, found: bool
) -> None:
    size = {"rectangle": "area_m2", "strip": "area_m2", "angle-count": "baf_m2_per_ha"}.get(design)
    plots = {"plot": ["P1", "P2"], "design": [design] * 2} | ({size: [4.0] * 2} if size else {})
    values = _values(plots, {**_CIRCLE, "nests": _NESTS, "edge": edge})
    rows = values.findings.frame.filter(code="edge-not-for-design")
    assert rows.height == found
    if found:
        assert rows.select("plot", "row", "value").rows() == [("P1", 2, design)]
        assert f"edge = '{edge}'" in rows["message"].item()
        assert "(plots: 2)" in rows["message"].item()


def test_stems_of_other_designs_count_without_positions_where_circles_need_them() -> None:
    plots = {
        "plot": ["P1", "P2"],
        "design": ["rectangle", "angle-count"],
        "area_m2": [400.0, None],
        "baf_m2_per_ha": [None, 2.0],
    }
    trees = {"plot": ["P1", "P2"], "d1_cm": [30.0, 30.0]}
    values = _values(plots, {**_CIRCLE, "edge": "positions"}, trees=trees)
    assert values.plots["stems_per_ha"].to_list() == pytest.approx([25, 2 / (0.0225 * math.pi)], rel=1e-12)
    assert values.set_aside.is_empty()


def test_a_stem_in_a_compartment_that_its_circle_does_not_reach_is_set_aside_for_that() -> None:
    plots = {"plot": ["P1"], "easting": [_EDGE - 11], "northing": [5_600_100.0]}
    trees = {"plot": ["P1"] * 2, "d1_cm": [30.0] * 2, "azimuth_deg": [90.0, 0.0], "distance_m": [12.0, 3.0]}
    values = _values(plots, {**_CIRCLE, "edge": "positions"}, trees=trees)
    assert values.set_aside.rows() == [("trees", "in a compartment that its plot does not reach", 1)]
    assert _codes(values) == ["stem-beyond-radius"]


# ---- plots laid out along the slope reach their full radius along the contour


@pytest.mark.parametrize(("distance_m", "found"), [(10.04, False), (10.06, True)])
@pytest.mark.parametrize("slope", ["horizontal", "ground"])
def test_a_circle_reaches_its_radius_along_the_contour(distance_m: float, slope: str, *, found: bool) -> None:
    trees = {"plot": ["P1"], "d1_cm": [20.0], "distance_m": [distance_m]}
    values = _values({"plot": ["P1"], "slope_pct": [75.0]}, {**_CIRCLE, "slope": slope}, trees=trees)
    assert ("stem-beyond-radius" in _codes(values)) is found


@pytest.mark.parametrize(("distance_m", "found"), [(5.04, False), (5.06, True)])
def test_the_limiting_distance_holds_along_the_contour(distance_m: float, *, found: bool) -> None:
    trees = {"plot": ["P1"], "d1_cm": [20.0], "distance_m": [distance_m]}
    rules = {"design": "angle-count", "baf_m2_per_ha": 4, "slope": "ground"}
    values = _values({"plot": ["P1"], "slope_pct": [75.0]}, rules, trees=trees)
    assert ("stem-beyond-limit" in _codes(values)) is found


# ---- several designs in one compartment, and circles over its boundary


def test_a_cut_circle_beside_other_designs_weighs_by_its_share() -> None:
    # the circle on the boundary gives half of itself to A and half to B; only A has an angle count too
    plots = {
        "plot": ["P1", "P2"],
        "design": ["circle", "angle-count"],
        "baf_m2_per_ha": [None, 2.0],
        "easting": [_EDGE, _EDGE - 100],
        "northing": [5_600_100.0] * 2,
    }
    trees = {
        "plot": ["P1", "P1", "P2", "P2"],
        "d1_cm": [20.0] * 4,
        "azimuth_deg": [270.0, 80.0, None, None],
        "distance_m": [3.0, 3.0, None, None],
    }
    survey = survey_example(plots=plots, trees=trees, settings={"plots": {**_CIRCLE, "edge": "positions"}})
    values = compute_plots(survey, measure_stems(survey))
    per_ha = 10_000 / (50 * math.pi)  # one stem on half a circle of 10 m
    weights = {
        row["compartment"]: row["weight_ha"] for row in values.units.filter(plot="P1").rows(named=True)
    }
    assert weights == pytest.approx({"A": 0.5, "B": 0.005 * math.pi}, rel=1e-9)
    found = estimate_stand(survey, values).compartments.set_index("compartment")
    counted = 2 * 2 / (0.01 * math.pi)
    assert found.loc["A", "stems_per_ha"] == pytest.approx((0.5 * per_ha + counted) / 1.5, rel=1e-9)
    assert found.loc["B", "stems_per_ha"] == pytest.approx(per_ha, rel=1e-9)
    # the plot's own figure: two stems on the whole circle, however its halves weigh
    assert values.plots["stems_per_ha"].iloc[0] == pytest.approx(per_ha, rel=1e-9)


def test_a_compartment_in_the_hole_of_another_gets_its_part_of_the_circle_and_its_own_stems() -> None:
    # B fills a square hole of A; the circle's centre is on its north-east corner, so a quarter lies in B
    hole = box(499_880, 5_600_080, 499_900, 5_600_100)
    shapes = gpd.GeoSeries([SQUARES["A"].difference(hole), hole], crs=CRS)
    plots = {
        "plot": ["P1", "P2"],
        "easting": [499_900.0, 499_850.0],
        "northing": [5_600_100.0, 5_600_050.0],
    }
    trees = {
        "plot": ["P1"] * 3 + ["P2"],
        "d1_cm": [20.0] * 4,
        "azimuth_deg": [225.0, 10.0, 120.0, 0.0],
        "distance_m": [5.0] * 4,
    }
    survey = survey_example(plots=plots, trees=trees, settings={"plots": {**_CIRCLE, "edge": "positions"}})
    survey = replace(
        survey,
        compartments=survey.compartments.set_geometry(shapes),
        plots=survey.plots.assign(located_in=["A", "A"]),
    )
    values = compute_plots(survey, measure_stems(survey))
    area = 100 * math.pi
    parts = {(row["plot"], row["compartment"]): row["weight_ha"] for row in values.units.rows(named=True)}
    expected = {("P1", "A"): 0.75 * area, ("P1", "B"): 0.25 * area, ("P2", "A"): area}
    assert parts == pytest.approx({key: m2 / 10_000 for key, m2 in expected.items()}, rel=1e-9)
    found = estimate_stand(survey, values).compartments.set_index("compartment")["stems_per_ha"]
    # ratio of means: A has two stems and one on 1.75 circles, B one on a quarter
    assert found["A"] == pytest.approx(3 * 10_000 / (1.75 * area), rel=1e-9)
    assert found["B"] == pytest.approx(10_000 / (0.25 * area), rel=1e-9)


# ---- sizes


def test_a_rectangle_may_be_given_by_its_sides() -> None:
    plots = {"plot": ["P1", "P2"], "length_m": [30.0, None], "width_m": [20.0, None]}
    values = _values(plots, {"design": "rectangle", "area_m2": 500})
    assert values.plots["area_m2"].to_list() == [600.0, 500.0]


@pytest.mark.parametrize(("area_m2", "found"), [(502.4, False), (502.6, True)])
def test_sides_and_area_of_one_row_must_agree_within_half_a_per_cent(area_m2: float, *, found: bool) -> None:
    plots = {"plot": ["P1"], "length_m": [50.0], "area_m2": [area_m2]}
    values = _values(plots, {"design": "strip", "width_m": 10})
    assert _codes(values) == ["plot-size-twice"] * found
    if found:
        (row,) = values.findings.frame.rows(named=True)
        assert (row["column"], row["value"]) == ("length_m", "50.0")
        assert "500.0 m²), but area_m2 is 502.6" in row["message"]


@pytest.mark.parametrize(
    ("design", "column"),
    [
        ("circle", "baf_m2_per_ha"),
        ("circle", "length_m"),
        ("rectangle", "radius_m"),
        ("strip", "baf_m2_per_ha"),
        ("nested", "area_m2"),
        ("nested", "radius_m"),
        ("angle-count", "area_m2"),
        ("full", "area_m2"),
    ],
)
def test_a_size_that_plots_of_a_design_do_not_have_is_an_error(design: str, column: str) -> None:
    rules = {"design": "circle", "area_m2": 500, "nests": _NESTS, "baf_m2_per_ha": 4}
    values = _values({"plot": ["P1"], "design": [design], column: [10.0]}, rules)
    rows = values.findings.frame.filter(code="plot-size-twice")
    assert rows.select("severity", "row", "column", "value").rows() == [("error", 2, column, "10.0")]
    assert rows["message"].item() == f"{column} is 10.0, but the design is {design}"


@pytest.mark.parametrize(
    ("design", "column"),
    [
        ("circle", "radius_m"),
        ("rectangle", "area_m2"),
        ("angle-count", "baf_m2_per_ha"),
        ("nested", "design"),
    ],
)
def test_a_plot_without_size_names_the_column_to_fill(design: str, column: str) -> None:
    values = _values({"plot": ["P1"], "design": [design]}, {"design": "circle"})
    rows = values.findings.frame.filter(code="plot-without-size")
    assert rows["column"].to_list() == [column]
