"""Plots near boundaries and positions with too few decimals; distances by hand, squares of 200 m side by side."""

from __future__ import annotations

from pathlib import Path

import polars as pl
import pytest
from pyproj import Transformer

import plotmap
from plotmap.fielddata import read_survey
from plotmap.fielddata.coarseness import written_step
from plotmap.model.survey import Survey
from tests.folder_example import (
    CRS,
    FILES,
    as_csv,
    edited,
    folder_example,
    found,
    rows_of,
    settings_text,
    the_finding,
)

_CIRCLES = 'design = "circle"\nradius_m = 12.62\nposition_error_m = {}'
_ROWS = rows_of(FILES["plots.csv"])
_TO_DEGREES = Transformer.from_crs(CRS, "EPSG:4326", always_xy=True)


def _moved(folder: Path, easting: float, northing: float, error_m: float, **cells: str) -> Survey:
    """Read the example with P1 elsewhere; A lies from 499800 to 500000 m east and from 5600000 to 5600200 m north."""
    edits = [(2, "easting", str(easting)), (2, "northing", str(northing))]
    text = edited("plots.csv", *edits, *((2, name, cell) for name, cell in cells.items()))
    toml = settings_text(plots=_CIRCLES.format(error_m))
    return read_survey(folder_example(folder, {"plots.csv": text, "survey.toml": toml}))


@pytest.mark.parametrize(
    ("place", "value", "said"),
    [
        (
            (499_996.8, 5_600_100),
            "3.2 m",
            "the plot lies in A, but 3.2 m from B and 100.0 m from the outer edge of",
        ),
        (
            (499_804, 5_600_100),
            "4.0 m",
            "the plot lies in A, but 4.0 m from the outer edge of all compartments",
        ),
        (
            (499_999, 5_600_002.5),
            "1.0 m",
            "the plot lies in A, but 1.0 m from B and 2.5 m from the outer edge of",
        ),
    ],
)
def test_a_plot_nearer_to_a_boundary_than_positions_are_good_is_a_note(
    tmp_path: Path, place: tuple[float, float], value: str, said: str
) -> None:
    note = the_finding(_moved(tmp_path, *place, 5), "plot-near-boundary")
    assert (note["severity"], note["file"], note["row"], note["plot"]) == ("note", "plots.csv", 2, "P1")
    assert (note["compartment"], note["value"]) == ("A", value)
    assert note["message"].startswith(said)
    assert note["message"].endswith("all compartments; positions are good to 5 m")


@pytest.mark.parametrize(("error_m", "told"), [(0, False), (3.1, False), (3.25, True), (1000, True)])
def test_the_position_error_decides_which_plots_are_near(
    tmp_path: Path, error_m: float, *, told: bool
) -> None:
    rows = found(_moved(tmp_path, 499_996.8, 5_600_100, error_m), "plot-near-boundary")
    assert (2 in [row["row"] for row in rows]) is told


def test_a_plot_exactly_as_far_as_positions_are_good_is_not_near(tmp_path: Path) -> None:
    assert "plot-near-boundary" not in _moved(tmp_path, 499_995, 5_600_100, 5).findings.codes


def test_plots_on_a_boundary_or_not_measured_or_placed_by_the_crew_are_not_told(tmp_path: Path) -> None:
    on_it = _moved(tmp_path / "on", 500_000, 5_600_100, 5)
    assert "plot-near-boundary" not in on_it.findings.codes
    assert "plot-on-boundary" in on_it.findings.codes
    lost = _moved(tmp_path / "lost", 499_998, 5_600_100, 5, state="lost")
    assert "plot-near-boundary" not in lost.findings.codes
    recorded = settings_text(plots=_CIRCLES.format(5) + '\nassign = "recorded"')
    text = edited("plots.csv", (2, "easting", "499998"))
    survey = read_survey(folder_example(tmp_path / "recorded", {"plots.csv": text, "survey.toml": recorded}))
    assert "plot-near-boundary" not in survey.findings.codes


def _in_degrees(folder: Path, decimals: int, north_m: float = 0.0) -> Survey:
    """Read the example with its plots in degrees of some decimals."""
    places = [_TO_DEGREES.transform(float(row[1]), float(row[2]) + north_m) for row in _ROWS[1:]]
    heads = [["lon", "lat"], *([f"{x:.{decimals}f}", f"{y:.{decimals}f}"] for x, y in places)]
    text = as_csv([[row[0], *row[3:], *place] for row, place in zip(_ROWS, heads, strict=True)])
    return read_survey(folder_example(folder, {"plots.csv": text}))


def test_three_decimals_of_a_degree_do_not_tell_compartments_of_200_m_apart(tmp_path: Path) -> None:
    """Half of a thousandth of a degree is 56 m north and 35 m east; plots lie 50 m from their boundaries."""
    warning = the_finding(_in_degrees(tmp_path, 3), "positions-coarse")
    assert (warning["severity"], warning["file"], warning["row"]) == ("warning", "plots.csv", None)
    assert warning["message"].startswith("lon and lat have 3 decimals, which is 111 m on the ground: ")
    assert warning["message"].endswith(" of 6 plots could lie outside the compartment found")


@pytest.mark.parametrize(("north_m", "told"), [(0, False), (46, True)])
def test_four_decimals_are_enough_away_from_boundaries(tmp_path: Path, north_m: float, *, told: bool) -> None:
    """Half of a step is 5.6 m north; without a move no plot is closer than 40 m, then P2, P4 and P6 at about 4 m."""
    survey = _in_degrees(tmp_path, 4, north_m)
    assert ("positions-coarse" in survey.findings.codes) is told


def test_five_decimals_are_never_too_few(tmp_path: Path) -> None:
    survey = _in_degrees(tmp_path, 5, -49.5)
    assert "positions-coarse" not in survey.findings.codes


def test_plots_that_lie_elsewhere_are_told_so_only(tmp_path: Path) -> None:
    codes = plotmap.check(_in_degrees(tmp_path, 2)).codes
    assert "positions-coarse" not in codes


@pytest.mark.parametrize(
    ("lon", "lat", "words", "metres"),
    [
        ([-3.0, -4.0], [50.0, 51.0], "have no decimals", 111_320),
        ([-3.0, -3.1], [50.5, 51.0], "have 1 decimal", 11_132),
        ([-3.01, -3.1], [50.5, 51.0], "have 2 decimals", 1_113.2),
        ([-3.26, -3.1], [50.55, 51.35], "have 2 decimals", 1_113.2),
        ([-3 - 7 / 60], [50 + 31 / 60], "are written to whole minutes", 1_855.3),
        ([-3 - 7.1 / 60], [50 + 31.4 / 60], "are written to tenths of minutes", 185.533),
        ([-3 - 7.13 / 60], [50 + 31.47 / 60], "are written to hundredths of minutes", 18.5533),
        ([-3.002], [50 + 31 / 60 + 7 / 3600], None, None),
        ([-3 - 1 / 3600], [50 + 31 / 60 + 7 / 3600], "are written to whole seconds", 30.92),
        ([-3.0021], [50.5511], "have 4 decimals", 11.132),
        ([-3.00213], [50.55], None, None),
        ([None, -3.00213], [50.55, 50.5], None, None),
        ([None], [50.5], None, None),
        ([], [], None, None),
    ],
)
def test_the_step_is_the_coarsest_that_holds_all_values(
    lon: list[float | None], lat: list[float], words: str | None, metres: float | None
) -> None:
    """Geometry: a degree along the meridian is about 111.32 km, a minute a sixtieth of it."""
    step = written_step(pl.Series(lon, dtype=pl.Float64), pl.Series(lat, dtype=pl.Float64))
    assert (step.words if step else None) == words
    if step and metres:
        assert step.metres == pytest.approx(metres, rel=1e-4)
