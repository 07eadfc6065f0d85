"""Whole columns: units that do not fit, rounding, climbers. Each on both sides of its bound."""

import math
from typing import Any

import polars as pl
import pytest

from plotmap.model.stem_table import Stems
from plotmap.stems import measure_stems
from plotmap.stems.girth import belt_cm
from tests.survey_example import survey_example


def _measure(trees: dict[str, list[Any]], **stems: Any) -> Stems:
    count = len(next(iter(trees.values())))
    return measure_stems(survey_example(trees={"plot": ["P1"] * count, **trees}, settings={"stems": stems}))


def _of(stems: Stems, code: str) -> list[dict[str, Any]]:
    return stems.findings.frame.filter(pl.col("code") == code).rows(named=True)


@pytest.mark.parametrize(
    ("column", "size", "heading"),
    [
        ("d1_cm", 100.0, None),
        ("d1_cm", 100.1, "d1_mm"),
        ("d1_cm", 3.0, None),
        ("d1_cm", 2.9, "d1_cm"),
        ("d2_cm", 240.0, "d2_mm"),
        ("girth_cm", 314.0, None),
        ("girth_cm", 315.0, "girth_mm"),
        ("girth_cm", 9.5, None),
        ("girth_cm", 9.4, "girth_cm"),
    ],
)
def test_a_median_that_trees_hardly_have_is_found_by_column(
    column: str, size: float, heading: str | None
) -> None:
    stems = _measure({column: [size] * 10})
    cells = _of(stems, "readings-look-like-other-unit")
    assert [(cell["row"], cell["column"]) for cell in cells] == ([(2, column)] if heading else [])
    if heading:
        assert f"the median of the 10 readings is {size:.4g} cm" in cells[0]["message"]
        assert f"head the column {heading}" in cells[0]["hint"]
    factor = math.pi if column == "girth_cm" else 1
    assert stems.measured["dbh_cm"].to_list() == pytest.approx([size / factor] * 10)  # never converted


@pytest.mark.parametrize(("count", "found"), [(9, 0), (10, 1)])
def test_few_readings_tell_no_unit(count: int, found: int) -> None:
    assert len(_of(_measure({"d1_cm": [250.0] * count}), "readings-look-like-other-unit")) == found


def test_single_thick_stems_are_no_other_unit() -> None:
    assert not _of(_measure({"d1_cm": [150.0] * 5 + [30.0] * 6}), "readings-look-like-other-unit")


def test_readings_with_decimals_get_nothing_back_where_crews_rounded_down() -> None:
    trees = {"d1_cm": [31.0, 31.2, None], "d2_cm": [29.0, 29.0, None], "girth_cm": [None, None, 94.3]}
    stems = _measure(trees, rounding="down")
    assert stems.measured["dbh_cm"].to_list() == pytest.approx([30.5, (31.2 + 29.5) / 2, 94.3 / math.pi])
    (found,) = _of(stems, "rounding-not-whole")
    assert (found["severity"], found["row"], found["value"]) == ("warning", 3, "calipers 31.2, 29 cm")
    assert found["message"].startswith("2 of 5 readings are not whole centimetres")


@pytest.mark.parametrize(
    ("sizes", "says"), [([31.2], "the only reading is not in"), ([31.2, 30.0], "1 of 2 readings is not in")]
)
def test_one_reading_with_decimals_is_no_plural(sizes: list[float], says: str) -> None:
    (found,) = _of(_measure({"d1_cm": sizes}, rounding="down"), "rounding-not-whole")
    assert found["message"] == (
        f"{says} whole centimetres, so it was not rounded down to them; nothing is added to it"
    )


def test_two_climbers_without_size_are_said_as_two() -> None:
    trees = {"girth_cm": [94.0, 94.0], "climber": ["yes", "yes"], "climber_mm": [None, None]}
    (found,) = _of(_measure(trees), "climber-without-size")
    assert found["message"].startswith("2 of 2 girths were read round a climber")


@pytest.mark.parametrize(("rounding", "size"), [("down", 31.0), ("none", 31.2), ("nearest", 31.2)])
def test_whole_readings_and_other_rules_of_rounding_are_no_finding(rounding: str, size: float) -> None:
    assert len(_measure({"d1_cm": [size]}, rounding=rounding).findings) == 0


def test_readings_that_arithmetic_left_nearly_whole_are_whole() -> None:
    # 300 in by 0.1 in and back: 3 * 9.999999999 cm
    assert len(_measure({"d1_cm": [29.0 + 1e-9]}, rounding="down").findings) == 0


def test_climbers_without_size_are_kept_flagged_and_counted() -> None:
    trees = {
        "girth_cm": [94.0, 94.0, float(belt_cm(30, 4)), 94.0, None],
        "d1_cm": [None, None, None, None, 30.0],
        "climber": ["yes", "no", "yes", "yes", "yes"],
        "climber_mm": [None, None, 40.0, 0.0, None],
    }
    stems = _measure(trees)
    (found,) = _of(stems, "climber-without-size")
    assert (found["severity"], found["row"], found["column"]) == ("warning", 2, "climber_mm")
    assert found["message"] == (
        "1 of 4 girths was read round a climber whose climber_mm is not given; it is used as it stands, and so "
        "is too large"
    )
    assert stems.measured["climber"].to_list() == ["not known", None, "taken off", None, None]
    assert stems.measured["dbh_cm"].to_list() == pytest.approx(
        [94 / math.pi, 94 / math.pi, 30, 94 / math.pi, 30], abs=1e-9
    )
