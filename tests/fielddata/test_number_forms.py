"""Numbers with their unit in the cell and in the digits of other scripts; exact conversions worked by hand."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from pathlib import Path

import polars as pl
import pytest

from plotmap.fielddata import read_survey
from plotmap.fielddata.convert import TypedTable, convert
from plotmap.fielddata.headings import match_headings
from plotmap.fielddata.number_forms import in_ascii_digits
from plotmap.fielddata.raw import RawTable
from plotmap.model.columns import Table
from plotmap.model.field_tables import COMPARTMENTS, PLOTS, TALLIES, TREES
from plotmap.model.findings import Findings
from tests.folder_example import edited, folder_example, found, the_finding


def _convert(table: Table, heading: str, cells: Sequence[str | None], first_row: int = 2) -> TypedTable:
    raw = RawTable(
        (heading,), pl.DataFrame({"c0": pl.Series(cells, dtype=pl.String)}), first_row, Findings.none()
    )
    headings, _ = match_headings(table, [heading], {}, "a.csv")
    return convert(table, raw, headings, "a.csv")


def _value(table: Table, heading: str, cell: str) -> float | None:
    name = match_headings(table, [heading], {}, "a.csv")[0][0].name
    return _convert(table, heading, [cell]).frame[name].item()


@pytest.mark.parametrize(
    ("table", "heading", "cell", "value"),
    [
        (TREES, "d1_cm", "25 cm", 25),
        (TREES, "d1_cm", "25cm", 25),
        (TREES, "d1_cm", "25,5 CM.", 25.5),
        (TREES, "d1_cm", "+25.5\u00a0cm", 25.5),
        (TREES, "d1_cm", "250 mm", 25),
        (TREES, "d1_cm", "0.25 m", 25),
        (TREES, "d1_cm", "10 in", 25.4),  # 1 in = 2.54 cm, exact
        (TREES, "d1_mm", "25 cm", 25),  # of a column in mm, in cm as plotmap computes
        (TREES, "height_m", "12 m", 12),
        (TREES, "height_m", "12 metres", 12),
        (TREES, "height_m", "50 feet", 15.24),  # 1 ft = 0.3048 m, exact
        (TREES, "height_cm", "12 m", 12),
        (PLOTS, "slope_pct", "30 %", 30),
        (PLOTS, "slope_pct", "30%", 30),
        (PLOTS, "slope_pct", "45°", 100),  # geometry: tan 45° is 1
        (PLOTS, "slope_deg", "100 %", 100),
        (PLOTS, "slope_deg", "45 deg", 100),
        (PLOTS, "area_m2", "0.05 ha", 500),
        (PLOTS, "easting", "500000 m", 500_000),
        (PLOTS, "baf_m2_per_ha", "4 m²/ha", 4),
        (TREES, "azimuth_deg", "100 gon", 90),
        (COMPARTMENTS, "area_ha", "5000 m²", 0.5),
    ],
)
def test_a_unit_of_the_same_kind_is_read(table: Table, heading: str, cell: str, value: float) -> None:
    assert _value(table, heading, cell) == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize(
    ("table", "heading", "cell"),
    [
        (TREES, "d1_cm", "25 ha"),
        (TREES, "d1_cm", "25 %"),
        (TREES, "d1_cm", "25 cm?"),
        (TREES, "d1_cm", "25 cm 5"),
        (TREES, "d1_cm", "ca. 25 cm"),
        (TREES, "d1_cm", "25-30 cm"),
        (TREES, "d1_cm", "25 30 cm"),
        (TREES, "d1_cm", "1.000,5 cm"),
        (TREES, "d1_cm", '10"'),
        (TREES, "azimuth_deg", "50 %"),
        (PLOTS, "easting", "500 km"),
        (TALLIES, "count", "5 stems"),
        (TALLIES, "count", "5 cm"),
    ],
)
def test_other_text_beside_a_number_stays_an_error(table: Table, heading: str, cell: str) -> None:
    typed = _convert(table, heading, [cell])
    assert the_finding(typed.findings, "number-unreadable")["value"] == cell
    assert "unit-in-cell" not in typed.findings.codes


def test_cells_with_a_unit_are_one_finding_a_unit_that_names_them(tmp_path: Path) -> None:
    text = edited("trees.csv", (3, "d1_cm", "25 cm"), (4, "d1_cm", "26cm"), (9, "d1_cm", "272 mm"))
    survey = read_survey(folder_example(tmp_path, {"trees.csv": text}))
    own, other = found(survey, "unit-in-cell")
    assert survey.findings.codes == {"unit-in-cell"}
    assert (own["severity"], own["row"], own["column"], own["value"]) == ("warning", 3, "d1_cm", "25 cm")
    assert own["message"] == "in d1_cm 2 cells are written with the unit (D3, D4); 25 cm is read as 25"
    assert other["message"] == "in d1_cm 1 cell is written in mm (D9); 272 mm is read as 27.2 cm"
    assert survey.trees["d1_cm"].gather([1, 2, 7]).to_list() == pytest.approx([25, 26, 27.2])


def test_a_value_with_unit_is_held_against_the_range() -> None:
    typed = _convert(TREES, "d1_cm", ["4 m", "4001 mm"])
    assert the_finding(typed.findings, "value-out-of-range")["value"] == "4001 mm"


def test_five_hundred_cells_with_a_unit_are_one_finding() -> None:
    typed = _convert(TREES, "d1_cm", [f"{20 + n / 100} cm" for n in range(500)])
    message = the_finding(typed.findings, "unit-in-cell")["message"]
    assert "500 cells are written with the unit (A2, A3, A4, A5, A6 and 495 more)" in message


def test_features_of_a_layer_are_named_by_their_rows() -> None:
    typed = _convert(TREES, "d1_cm", ["20", "25 cm"], first_row=1)
    assert "(row 2)" in the_finding(typed.findings, "unit-in-cell")["message"]


def test_every_decimal_digit_of_unicode_is_read() -> None:
    digits = [chr(code) for code in range(0x11_0000) if unicodedata.category(chr(code)) == "Nd"]
    assert len(digits) > 600
    cells = [f"1{d}" if d.isascii() else f"{d}{d}" for d in digits]
    values = _convert(PLOTS, "easting", cells).frame["easting"].to_list()
    assert values == [
        int(cell) for cell in cells
    ]  # int() of Python reads all of them, by the Unicode database


@pytest.mark.parametrize(
    ("cell", "value"),
    [
        ("٣١٫٥", 31.5),
        ("٣١.٥", 31.5),
        ("۳۱٫۵", 31.5),
        ("३१.५", 31.5),
        ("৩১,৫", 31.5),
        ("３１．５", 31.5),
        ("３１，５", 31.5),
        ("\u200f٣١٫٥", 31.5),
        ("٢٥ cm", 25),
        ("٢٥٠ mm", 25),
    ],
)
def test_numbers_of_other_scripts_are_read_with_their_decimal_mark(cell: str, value: float) -> None:
    typed = _convert(TREES, "d1_cm", ["30", cell])
    assert typed.frame["d1_cm"].to_list() == [30, value]
    note = the_finding(typed.findings, "other-digits")
    assert (note["severity"], note["row"], note["value"]) == ("note", 3, cell)
    assert note["message"].startswith("in d1_cm 1 cell is written in other digits (A3); ")


@pytest.mark.parametrize("cell", ["٣१", "3٣", "٣١٬٥٠٠", "٣ ١", "²⁵", "Ⅳ", "二五", "٣x", "٣.٣.٣"])
def test_mixed_scripts_thousands_and_what_is_no_decimal_digit_stay_errors(cell: str) -> None:
    typed = _convert(TREES, "d1_cm", [cell])
    assert typed.findings.codes == {"number-unreadable"}
    assert the_finding(typed.findings, "number-unreadable")["value"] == cell


@pytest.mark.parametrize("cell", ["22°٤5'30\"N", "٢२ 45 30 N"])
def test_angles_in_mixed_scripts_are_errors(cell: str) -> None:
    assert _convert(PLOTS, "lat", [cell]).findings.codes == {"number-unreadable"}


def test_angles_in_one_other_script_are_read() -> None:
    typed = _convert(PLOTS, "lat", ["٢٢°٣٠'N"])
    assert typed.frame["lat"].to_list() == [22.5]


def test_plain_text_is_left_as_it_is() -> None:
    text = pl.Series(["25", "Föhre", "٣१", None, "½"])
    assert in_ascii_digits(text).to_list() == ["25", "Föhre", "٣१", None, "½"]
