"""Degrees in the forms people write; a degree has 60 minutes of 60 seconds, worked by hand."""

from __future__ import annotations

from pathlib import Path

import polars as pl
import pytest

from plotmap.fielddata import read_survey
from plotmap.fielddata.angles import degrees_in_parts
from tests.folder_example import FILES, as_csv, folder_example, found, rows_of, the_finding

WANTED = 22 + 45 / 60 + 30 / 3600


def _lat(cell: str) -> float | None:
    return degrees_in_parts(pl.Series([cell]), is_longitude=False).item()


@pytest.mark.parametrize(
    "cell",
    [
        "22°45'30\"N", "22° 45' 30\" N", "22 45 30 N", "22-45-30", "22:45:30", "N22 45 30", "22º45’30’’n",
        "22°45′30″", "22°45.5'", "22°45,5'N", "22 45.5 N", "+22°45'30\"", "22°45'30.0\"N",
    ],
)  # fmt: skip
def test_the_same_angle_in_every_form(cell: str) -> None:
    assert _lat(cell) == pytest.approx(WANTED, abs=1e-9)


@pytest.mark.parametrize("cell", ["22°45'30\"S", "-22°45'30\"", "−22-45-30", "s 22:45:30"])
def test_south_is_negative(cell: str) -> None:
    assert _lat(cell) == pytest.approx(-WANTED, abs=1e-9)


def test_a_letter_at_decimal_degrees_is_their_side() -> None:
    assert _lat("N22.4530") == 22.4530
    assert _lat("22,4530 S") == -22.4530


@pytest.mark.parametrize(
    "cell",
    [
        "22°60'", "22°45'60\"", "22.5°30'", "22°45.5'30\"", "-22°45'30\"S", "N22°45'N", "22°45'30\"E", "22 45",
        "224530", "22 4530 N", "22.75", "north", "", "22°45'30\"W",
    ],
)  # fmt: skip
def test_what_is_no_angle_or_could_be_two_is_not_read(cell: str) -> None:
    assert _lat(cell) is None


def test_o_is_read_only_beside_the_letter_that_tells_its_language() -> None:
    def lon(*cells: str) -> list[float | None]:
        return degrees_in_parts(pl.Series(cells), is_longitude=True).to_list()

    assert lon("8°O", "3°W") == [8, -3]  # German Ost
    assert lon("8°O", "3°E") == [-8, 3]  # Spanish oeste, French ouest
    assert lon("8°O", "9°O") == [None, None]
    assert lon("8°O", "3°W", "2°E") == [None, -3, 2]
    assert lon("8°N") == [None]


def test_plots_in_degrees_minutes_and_seconds_lie_where_those_in_decimals_do(tmp_path: Path) -> None:
    rows = [[row[0], *row[3:]] for row in rows_of(FILES["plots.csv"])][:2]
    places = {"parts": ["3°0'7.62\"W", "50°33'3.6\"N"], "decimals": ["-3.0021166667", "50.551"]}
    surveys = {
        name: read_survey(
            folder_example(
                tmp_path / name, {"plots.csv": as_csv([[*rows[0], "lon", "lat"], [*rows[1], *place]])}
            )
        )
        for name, place in places.items()
    }
    spots = [survey.plots.geometry.iloc[0] for survey in surveys.values()]
    assert spots[0].distance(spots[1]) < 0.001
    notes = found(surveys["parts"], "angle-in-parts")
    assert [(row["severity"], row["row"], row["column"]) for row in notes] == [
        ("note", 2, "lat"),
        ("note", 2, "lon"),
    ]
    assert notes[1]["message"] == "in lon 1 cell is no plain number; 3°0'7.62\"W is read as -3.002117°"
    assert "angle-in-parts" not in surveys["decimals"].findings.codes


def test_a_longitude_that_is_no_angle_is_unreadable(tmp_path: Path) -> None:
    text = as_csv([["plot", "lon", "lat"], ["P1", "3°61'W", "50.551"]])
    survey = read_survey(folder_example(tmp_path, {"plots.csv": text}))
    assert the_finding(survey, "number-unreadable")["value"] == "3°61'W"
