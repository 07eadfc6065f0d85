"""Degrees in the forms people write; a degree has 60 minutes of 60 seconds, worked by hand."""

from __future__ import annotations

import re
from pathlib import Path

import polars as pl
import pytest

from plotmap.fielddata import read_survey
from plotmap.fielddata.angles import read_degrees
from tests.folder_example import FILES, as_csv, folder_example, found, rows_of, the_finding

WANTED = 22 + 45 / 60 + 30 / 3600


def _read(cell: str, *, is_longitude: bool = False) -> tuple[float | None, str | None]:
    return read_degrees(pl.Series([cell]), is_longitude=is_longitude).row(0)


@pytest.mark.parametrize(
    "cell",
    [
        "22°45'30\"N", "22° 45' 30\" N", "22 45 30 N", "22-45-30", "22:45:30", "N22 45 30", "22º45’30’’n",
        "22°45′30″", "22°45.5'", "22°45,5'N", "22 45.5 N", "+22°45'30\"", "22°45'30.0\"N", "22d45m30s", "22d45m30sN",
        "22D45M30s", "22d 45m 30s n", "22d45'30\"", "22 45,5", "22:45.5", "22-45.5", "22o45'30\"", "N 22° 45.500",
        "22 deg 45 min 30 sec north", "22deg45.5min", "22° 45.5' North", "North 22:45:30", "22°\u00a045′\u202f30″ N",
        "22°45'30''", "22˚45ʹ30ʺ", "22°45`30``", "22°45'30 sec",
    ],
)  # fmt: skip
def test_the_same_angle_in_every_form(cell: str) -> None:
    degrees, why = _read(cell)
    assert degrees == pytest.approx(WANTED, abs=1e-9)
    assert why is None


@pytest.mark.parametrize(
    "cell", ["22°45'30\"S", "-22°45'30\"", "−22-45-30", "s 22:45:30", "22°45'30\"s", "22d45m30s S", "22d45m30SS",
             "22:45:30 South", "S22d45m30S"]
)  # fmt: skip
def test_south_is_negative(cell: str) -> None:
    assert _read(cell)[0] == pytest.approx(-WANTED, abs=1e-9)


def _documented(begin: str, end: str) -> list[list[str]]:
    """Return the forms in each row of a table of docs/field_files.md."""
    text = (Path(__file__).parents[2] / "docs" / "field_files.md").read_text("utf-8")
    table = text.partition(begin)[2].partition(end)[0]
    rows = [line for line in table.splitlines() if line.startswith("| ") and "`" in line]
    return [re.findall(r"`([^`]+)`", row) for row in rows]


def test_the_forms_that_the_documents_show_are_read_as_one_latitude() -> None:
    *same, other = _documented("### How positions are written", "Not read, with")
    forms = [form for row in same for form in row if not re.fullmatch(r"[+]?22[.,]758333", form)]
    assert len(forms) > 12
    for form in forms:
        assert _read(form)[0] == pytest.approx(WANTED, abs=5e-7), form
    for form in other[1:4]:
        assert _read(form)[0] == pytest.approx(-WANTED, abs=1e-9), form


def test_the_forms_that_the_documents_refuse_are_not_read() -> None:
    rows = _documented("Not read, with", "`O` is east")
    refused = [form for row in rows for form in row if form not in {"lat", "22d45m30s S"}]
    assert len(refused) > 9
    assert [_read(form)[0] for form in refused] == [None] * len(refused)


def test_a_letter_at_decimal_degrees_is_their_side() -> None:
    assert _read("N22.4530")[0] == 22.4530
    assert _read("22,4530 S")[0] == -22.4530
    assert _read("22.4530° south")[0] == -22.4530
    assert _read("7°", is_longitude=True)[0] == 7


def test_the_last_s_of_a_longitude_is_seconds_and_that_of_a_latitude_may_be_south() -> None:
    assert _read("3d0m36S", is_longitude=True)[0] == pytest.approx(3.01, abs=1e-9)
    assert _read("3d0m36S W", is_longitude=True)[0] == pytest.approx(-3.01, abs=1e-9)
    assert _read("3d0m36S") == (None, "the S at its end may be seconds or south")
    assert _read("3d0m36s")[0] == pytest.approx(3.01, abs=1e-9)


@pytest.mark.parametrize(
    ("cell", "why"),
    [
        ("22°60'", "its minutes are 60 or more"),
        ("22°45'60\"", "its seconds are 60 or more"),
        ("22 60.5 N", "its minutes are 60 or more"),
        ("22.5°30'", "only the last of its parts may have decimals"),
        ("22°45.5'30\"", "only the last of its parts may have decimals"),
        ("-22°45'30\"S", "it has a sign and a letter for the side: keep one"),
        ("-22.75 N", "it has a sign and a letter for the side: keep one"),
        ("+22.75 N", "it has a sign and a letter for the side: keep one"),
        ("N22°45'N", "it has two letters for the side"),
        ("22°45'30\"E", "its letter does not say the side of a latitude, which is N or S"),
        ("22.75 west", "its letter does not say the side of a latitude, which is N or S"),
        ("22 45", "nothing marks it as degrees and minutes: write 22°45' or 22:45"),
        ("22-45", "nothing marks it as degrees and minutes: write 22°45' or 22:45"),
    ],
)
def test_what_is_no_angle_or_could_be_two_is_not_read_and_says_why(cell: str, why: str) -> None:
    assert _read(cell) == (None, why)


@pytest.mark.parametrize(
    "cell", ["224530", "22 4530 N", "22.75", "north", "", "2245.5N", "N", "°", "22°45'30\"N 3°W"]
)
def test_what_looks_like_no_angle_is_not_read(cell: str) -> None:
    assert _read(cell) == (None, None)


@pytest.mark.parametrize("cell", ["22°59.99'", "22°45'59.9\"", "22:59"])
def test_minutes_and_seconds_below_60_are_read(cell: str) -> None:
    assert 22.7 < (_read(cell)[0] or 0) < 23


def test_o_is_read_only_beside_the_letter_that_tells_its_language() -> None:
    def lon(*cells: str) -> list[float | None]:
        return read_degrees(pl.Series(cells), is_longitude=True)["degrees"].to_list()

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
    error = the_finding(survey, "number-unreadable")
    assert error["value"] == "3°61'W"
    assert error["message"] == "lon is 3°61'W, but must be a number; its minutes are 60 or more"
