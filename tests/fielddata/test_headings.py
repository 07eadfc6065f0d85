"""Headings: names, units by their suffix, own headings, and what is left over."""

from __future__ import annotations

import polars as pl
import pytest

from plotmap.fielddata.headings import Heading, match_headings, understand, without_heading
from plotmap.model.field_tables import FIELD_TABLES, PLOTS, TREES
from plotmap.model.findings import Findings
from tests.folder_example import found, the_finding


def _match(*written: str, own: dict[str, str] | None = None) -> tuple[dict[str, Heading], Findings]:
    headings, findings = match_headings(TREES, written, own or {}, "trees.csv")
    return {heading.name: heading for heading in headings}, findings


@pytest.mark.parametrize(
    ("written", "name", "factor"),
    [
        ("d1_cm", "d1_cm", 1.0),
        ("d1_mm", "d1_cm", 0.1),
        ("d12_in", "d12_cm", 2.54),
        ("d01_cm", "d1_cm", 1.0),
        ("girth_cm", "girth_cm", 1.0),
        ("girth_in", "girth_cm", 2.54),
        ("girth_m", "girth_cm", 100.0),
        ("height_ft", "height_m", 0.3048),
        ("bark_cm", "bark_mm", 10.0),
        ("azimuth_gon", "azimuth_deg", 0.9),
        (" Species ", "species", 1.0),
        ("SPECIES", "species", 1.0),
        ("Girth  CM", "girth_cm", 1.0),
        ("D1 (cm)", "d1_cm", 1.0),
        ("D2 [mm]", "d2_cm", 0.1),
        ("height(ft)", "height_m", 0.3048),
        ("Azimuth (°)", "azimuth_deg", 1.0),
    ],
)
def test_a_heading_is_understood_with_its_unit(written: str, name: str, factor: float) -> None:
    """1 in = 2.54 cm and 1 ft = 0.3048 m by definition; 400 gon are 360 degrees."""
    heading = understand(TREES, written)
    assert heading is not None
    assert heading.name == name
    assert heading.factor == pytest.approx(factor, rel=1e-15)


@pytest.mark.parametrize(
    "written",
    ["d0_cm", "d1", "d1_kg", "dbh_cm", "girth", "height_deg", "specie", "d_cm", "d1 (kg)", "girth ()", ""],
)
def test_what_is_no_column_is_not_understood(written: str) -> None:
    assert understand(TREES, written) is None


@pytest.mark.parametrize("table", FIELD_TABLES, ids=lambda table: table.name)
def test_every_declared_column_is_understood_by_its_own_name(table) -> None:
    names = [column.name.replace("d_cm", "d1_cm") for column in table.columns]
    headings, findings = match_headings(table, names, {}, "a.csv")
    assert [heading.name for heading in headings] == names
    assert not len(findings)


def test_positions_are_those_in_the_file() -> None:
    by_name, _ = _match("remark", "", "plot")
    assert {name: heading.position for name, heading in by_name.items()} == {"remark": 0, "plot": 2}


def test_a_missing_required_column_is_an_error() -> None:
    error = the_finding(_match("tree", "d1_cm")[1], "column-missing")
    assert (error["severity"], error["file"], error["row"], error["column"]) == (
        "error",
        "trees.csv",
        None,
        "plot",
    )
    assert error["message"] == "there is no column plot"
    assert "[columns]" in error["hint"]


def test_columns_that_are_not_required_may_be_missing() -> None:
    assert not len(_match("plot", "girth_cm")[1])


def test_an_unknown_column_is_noted_by_its_name() -> None:
    note = the_finding(_match("plot", "weather")[1], "column-unknown")
    assert (note["severity"], note["column"]) == ("note", "weather")
    assert note["message"] == "the column weather is none of table trees"
    assert "docs/field_files.md" in note["hint"]


def test_very_many_unknown_columns_are_one_finding() -> None:
    note = the_finding(_match("plot", *[f"h{number}" for number in range(10_000)])[1], "column-unknown")
    assert note["message"].startswith("10000 columns are not used: h0, h1, ")
    assert len(note["message"]) < 300


def test_one_column_under_two_units_is_an_error() -> None:
    by_name, findings = _match("plot", "d1_cm", "d1_mm")
    error = the_finding(findings, "column-twice")
    assert (error["severity"], error["value"]) == ("error", "d1_mm")
    assert error["message"] == "the headings d1_cm and d1_mm both stand for d1_cm"
    assert "Keep one" in error["hint"]
    assert by_name["d1_cm"].written == "d1_cm"


def test_two_readings_are_no_column_twice() -> None:
    assert not len(_match("plot", "d1_cm", "d2_mm")[1])


@pytest.mark.parametrize(
    ("written", "allowed"),
    [
        ("girth", "girth_mm, girth_cm, girth_m, girth_in, girth_ft"),
        ("Height", "height_mm, height_cm, height_m, height_in, height_ft"),
        ("d3", "d3_mm, d3_cm, d3_m, d3_in, d3_ft"),
        ("azimuth", "azimuth_deg, azimuth_gon"),
    ],
)
def test_a_measurement_without_unit_is_never_guessed(written: str, allowed: str) -> None:
    by_name, findings = _match("plot", written)
    warning = the_finding(findings, "column-without-unit")
    assert (warning["severity"], warning["column"]) == ("warning", written)
    assert warning["message"] == f"the heading {written} has no unit; it must be one of {allowed}"
    assert "Add the unit" in warning["hint"]
    assert set(by_name) == {"plot"}


def test_slopes_may_be_in_per_cent_or_degrees() -> None:
    _, findings = match_headings(PLOTS, ["plot", "slope"], {}, "plots.csv")
    assert "slope_pct, slope_deg" in the_finding(findings, "column-without-unit")["message"]


def test_own_headings_stand_for_the_columns_they_are_mapped_to() -> None:
    own = {"Plot no.": "plot", "Sp.": "species", "BHD (mm)": "d1_mm"}
    by_name, findings = _match(" plot NO. ", "sp.", "BHD (mm)", own=own)
    assert {name: heading.position for name, heading in by_name.items()} == {
        "plot": 0,
        "species": 1,
        "d1_cm": 2,
    }
    assert by_name["d1_cm"].factor == pytest.approx(0.1)
    assert not len(findings)


def test_an_own_heading_that_is_not_in_the_file_is_an_error() -> None:
    error = the_finding(_match("plot", "d1_cm", own={"Sp.": "species"})[1], "column-missing")
    assert (error["severity"], error["column"], error["value"]) == ("error", "species", "Sp.")
    assert "survey.toml maps the heading Sp. to species" in error["message"]
    assert "Correct the heading" in error["hint"]


def test_an_own_heading_that_comes_twice_is_an_error() -> None:
    error = the_finding(_match("plot", "Sp.", "Sp.", own={"Sp.": "species"})[1], "column-twice")
    assert error["message"] == "the headings Sp. and Sp. both stand for species"


def test_an_own_heading_beside_the_column_itself_is_an_error() -> None:
    error = the_finding(_match("plot", "species", "Sp.", own={"Sp.": "species"})[1], "column-twice")
    assert error["value"] == "Sp."


def test_cells_below_a_blank_heading_are_noted() -> None:
    cells = pl.DataFrame({"c0": ["A", "B"], "c1": [None, "lost?"], "c2": [" ", None]})
    note = the_finding(without_heading(["plot", "", " "], cells, "plots.xlsx"), "column-unknown")
    assert (note["severity"], note["file"], note["column"], note["value"]) == (
        "note",
        "plots.xlsx",
        "2",
        "lost?",
    )
    assert note["message"] == "column 2 has no heading, but holds 1 cell; it is not read"


def test_a_blank_heading_over_nothing_is_no_finding() -> None:
    cells = pl.DataFrame({"c0": ["A"], "c1": [None]}, schema={"c0": pl.String, "c1": pl.String})
    assert not found(without_heading(["plot", ""], cells, "plots.xlsx"), "column-unknown")


@pytest.mark.parametrize(
    ("table", "written", "name"),
    [
        ("trees", "gitrh_cm", "girth_cm"),
        ("trees", "dbh_cm", "d1_cm"),
        ("trees", "DBH", "d1_cm"),
        ("trees", "specie", "species"),
        ("trees", "Plot No.", "plot"),
        ("check_trees", "dbh_mm", "d1_mm"),
        ("plots", "longitude", "lon"),
        ("plots", "Latitude", "lat"),
        ("plots", "x", "easting"),
        ("plots", "slope_pc", "slope_pct"),
    ],
)
def test_a_heading_close_to_a_column_is_a_warning_and_is_not_read(
    table: str, written: str, name: str
) -> None:
    declared = {each.name: each for each in FIELD_TABLES}[table]
    headings, findings = match_headings(declared, [written], {}, f"{table}.csv")
    assert not headings
    warning = the_finding(findings, "column-near-miss")
    assert (warning["severity"], warning["column"], warning["value"]) == ("warning", written, name)
    message = f"the column {written} is none of table {table} and is not read; {name} may be meant"
    assert warning["message"] == message
    assert f'[columns.{table}] "{written}" = "{name}"' in warning["hint"]
    assert "column-unknown" not in findings.codes


@pytest.mark.parametrize("written", ["weather", "photo", "checked by", "lower crown", "q"])
def test_a_heading_like_no_column_is_a_note(written: str) -> None:
    _, findings = _match("plot", "d1_cm", written)
    assert findings.codes == {"column-unknown"}


def test_a_column_that_is_there_is_not_proposed_again() -> None:
    _, findings = _match("plot", "d1_cm", "dbh_cm")
    assert findings.codes == {"column-unknown"}


@pytest.mark.parametrize("written", ["dbh_cm", "gitrh_cm", "d1", "girth"])
def test_stems_without_any_column_of_diameters_are_one_error_for_the_file(written: str) -> None:
    error = the_finding(_match("plot", written)[1], "column-missing")
    assert (error["severity"], error["row"], error["column"]) == ("error", None, "d1_cm")
    assert error["message"] == (
        "there is no column of diameters: neither d1_cm, d2_cm, … nor girth_cm; "
        f"{written} may be meant for one"
    )
