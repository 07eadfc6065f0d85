"""What a day of checks says. Arithmetic that can be done in the head, and the geometry of the jaw."""

import math
from collections.abc import Sequence
from typing import Any

import polars as pl
import pytest

from plotmap.model.field_tables import INSTRUMENTS
from plotmap.model.findings import Findings
from plotmap.model.settings import StemsSection
from plotmap.stems.instrument_checks import lean_deg, read_checks
from tests.survey_example import field_table

_DAYS = ["2026-05-01", "2026-05-11", "2026-05-21"]


def _read(rows: dict[str, Sequence[Any]], **settings: Any) -> tuple[pl.DataFrame, Findings]:
    count = len(next(iter(rows.values())))
    given = {"instrument": ["C"] * count, "date": _DAYS[:count], **rows}
    return read_checks(field_table(INSTRUMENTS, given), StemsSection(**settings), "instruments.csv")


def _of(findings: Findings, code: str) -> list[dict[str, Any]]:
    return findings.frame.filter(pl.col("code") == code).rows(named=True)


def test_a_check_without_a_zero_keeps_that_of_the_check_before() -> None:
    checks, findings = _read({"zero_mm": [3.0, None, 1.0]})
    assert checks["zero_cm"].to_list() == pytest.approx([0.3, 0.3, 0.1])
    assert checks["from_earlier"].to_list() == [None, "zero", None]
    assert checks["days_in_force"].to_list() == [10, 10, None]
    assert len(findings) == 0


def test_a_bar_is_read_against_the_zero_that_is_in_force() -> None:
    # 303 mm less the zero of 3 mm read ten days before is the bar
    checks, _ = _read({"zero_mm": [3.0, None], "bar_mm": [None, 300.0], "bar_reading_mm": [None, 303.0]})
    assert checks["gain"].to_list() == pytest.approx([1.0, 1.0])


def test_a_check_without_a_bar_keeps_the_gain_of_the_check_before() -> None:
    # the gain of 300 / 297, not one of the old bar reading and the new zero
    checks, _ = _read({"zero_mm": [0.0, 2.0], "bar_mm": [300.0, None], "bar_reading_mm": [297.0, None]})
    assert checks["gain"].to_list() == pytest.approx([300 / 297] * 2)
    assert checks["from_earlier"].to_list() == [None, "gain"]


def test_what_was_never_read_is_neutral_and_nothing_is_taken_from_another_instrument() -> None:
    checks, _ = _read({"instrument": ["A", "C"], "zero_mm": [3.0, None], "bar_mm": [300.0, None],
                       "bar_reading_mm": [303.0, None]})  # fmt: skip
    assert checks.filter(pl.col("instrument") == "C").select("zero_cm", "gain", "from_earlier").row(0) == (
        0,
        1,
        None,
    )


def test_a_missing_kind_is_that_of_the_check_before() -> None:
    checks, _ = _read({"kind": ["tape", None], "zero_mm": [0.0, 0.0]})
    assert checks["kind"].to_list() == ["tape", "tape"]


@pytest.mark.parametrize(
    ("bar", "reading", "column", "says"),
    [
        (300.0, None, "bar_reading_mm", "a bar of 300.0 mm without its reading"),
        (None, 303.0, "bar_mm", "a reading of 303.0 mm of a bar whose size is not given"),
    ],
)
def test_half_a_bar_is_an_error_with_its_row(
    bar: float | None, reading: float | None, column: str, says: str
) -> None:
    checks, findings = _read(
        {"zero_mm": [0.0, 0.0], "bar_mm": [None, bar], "bar_reading_mm": [None, reading]}
    )
    (found,) = _of(findings, "bar-unusable")
    assert (found["severity"], found["row"], found["column"]) == ("error", 3, column)
    assert says in found["message"]
    assert checks["gain"].to_list() == [1.0, 1.0]


def test_repeated_readings_of_one_bar_are_one_check_with_a_scatter() -> None:
    # 302, 304, 300 mm: mean 302, standard deviation 2 mm
    rows = {
        "date": [_DAYS[0]] * 3,
        "zero_mm": [2.0] * 3,
        "bar_mm": [300.0] * 3,
        "bar_reading_mm": [302.0, 304.0, 300.0],
    }
    checks, findings = _read(rows)
    assert checks.select("source_row", "bar_readings").rows() == [(2, 3)]
    assert checks["gain"].to_list() == pytest.approx([1.0])
    assert checks["error_cm"].to_list() == pytest.approx([0.2])
    assert len(findings) == 0


def test_one_reading_of_a_bar_tells_no_scatter_but_an_earlier_one_does() -> None:
    rows = {
        "date": [_DAYS[0], _DAYS[0], _DAYS[1]],
        "bar_mm": [300.0] * 3,
        "bar_reading_mm": [299.0, 301.0, 300.0],
    }
    checks, _ = _read(rows)
    assert checks["error_cm"].to_list() == pytest.approx([math.sqrt(2) / 10] * 2)
    assert _read({"bar_mm": [300.0], "bar_reading_mm": [300.0]})[0]["error_cm"].to_list() == [None]


@pytest.mark.parametrize(
    ("rows", "word"),
    [
        ({"zero_mm": [1.0, 2.0]}, "zero"),
        ({"bar_mm": [300.0, 200.0], "bar_reading_mm": [300.0, 200.0]}, "bar"),
        ({"kind": ["tape", "caliper"]}, "kind"),
        ({"zero_mm": [1.0, 1.0]}, None),
        ({"zero_mm": [1.0, None], "bar_mm": [None, 300.0], "bar_reading_mm": [None, 301.0]}, None),
    ],
)
def test_rows_of_one_day_may_repeat_but_not_disagree(rows: dict[str, Any], word: str | None) -> None:
    checks, findings = _read({"date": [_DAYS[0]] * 2, **rows})
    assert checks.height == 1
    found = _of(findings, "instrument-check-twice")
    assert [cell["row"] for cell in found] == ([3] if word else [])
    assert all(f"disagree on the {word};" in cell["message"] for cell in found)


@pytest.mark.parametrize(("reading", "found"), [(306.0, False), (307.0, True), (294.2, False), (294.0, True)])
def test_a_gain_outside_the_band_of_the_settings_is_found(reading: float, *, found: bool) -> None:
    # 300 / 306 = 0.9804 and 300 / 294.2 = 1.0197 are inside 2 %, 300 / 307 and 300 / 294 outside
    _, findings = _read({"bar_mm": [300.0], "bar_reading_mm": [reading]}, max_gain_off_pct=2.0)
    cells = _of(findings, "instrument-gain")
    assert [(cell["severity"], cell["row"]) for cell in cells] == ([("warning", 2)] if found else [])
    assert all("0.98 to 1.02 is allowed" in cell["message"] for cell in cells)


@pytest.mark.parametrize(("kind", "lean"), [("caliper", True), ("tape", False), (None, True)])
def test_the_lean_of_the_jaw_is_told_of_calipers_only(kind: str | None, *, lean: bool) -> None:
    checks, findings = _read({"kind": [kind], "bar_mm": [300.0], "bar_reading_mm": [290.0]})
    assert ("outward" in _of(findings, "instrument-gain")[0]["message"]) is lean
    assert (checks["lean_deg"][0] is not None) is lean


@pytest.mark.parametrize(("zero", "found"), [(5.0, False), (5.1, True), (-1.0, False), (-1.1, True)])
def test_a_zero_that_moved_more_than_allowed_is_found(zero: float, *, found: bool) -> None:
    _, findings = _read({"zero_mm": [2.0, None, zero]}, max_zero_move_mm=3.0)
    cells = _of(findings, "instrument-moved")
    assert [(cell["row"], cell["column"]) for cell in cells] == ([(4, "zero_mm")] if found else [])
    assert all("was 2.0 mm before" in cell["message"] and "at most 3 mm" in cell["message"] for cell in cells)


@pytest.mark.parametrize(("reading", "found"), [(303.0, False), (304.0, True)])
def test_a_gain_that_moved_more_than_allowed_is_found(reading: float, *, found: bool) -> None:
    # 300 / 303 is 0.990 and 300 / 304 is 0.987 of the gain before
    _, findings = _read({"bar_mm": [300.0] * 2, "bar_reading_mm": [300.0, reading]}, max_gain_move_pct=1.0)
    assert [cell["row"] for cell in _of(findings, "instrument-moved")] == ([3] if found else [])


@pytest.mark.parametrize("degrees", [-2.0, -1.0, 0.0, 0.5, 1.0, 2.0, 5.0])
def test_the_lean_solves_the_geometry_of_the_jaw(degrees: float) -> None:
    lean = math.radians(degrees)
    reading = (1 + (1 - math.sin(lean)) / math.cos(lean)) / 2
    assert pl.select(lean_deg(pl.lit(1 / reading))).item() == pytest.approx(degrees, abs=1e-12)


@pytest.mark.parametrize(
    ("reading", "usable"), [(375.0, True), (375.1, False), (240.0, True), (239.9, False)]
)
def test_every_reading_of_a_bar_must_be_one_of_it_not_only_their_mean(
    reading: float, *, usable: bool
) -> None:
    # 300 / 375 = 0.8 and 300 / 240 = 1.25
    rows = {"date": [_DAYS[0]] * 3, "bar_mm": [300.0] * 3, "bar_reading_mm": [300.0, 300.0, reading]}
    checks, findings = _read({**rows, "zero_mm": [0.0] * 3}, max_gain_off_pct=20)
    found = _of(findings, "bar-unusable")
    assert (found == []) is usable
    if not usable:
        assert found[0]["value"] == str(reading)
        assert checks["gain"].item() == 1
