"""From readings to diameters: arithmetic that can be done in the head."""

import math
from typing import Any

import polars as pl
import pytest

from plotmap.model.settings import SectionMean
from plotmap.model.stem_table import Stems
from plotmap.stems import measure_stems
from plotmap.stems.girth import belt_cm
from plotmap.stems.section import reading_columns, section_mean
from tests.survey_example import Rows, survey_example


def _measure(trees: dict[str, list[Any]], *, species: Rows | None = None, **stems: Any) -> Stems:
    count = len(next(iter(trees.values())))
    return measure_stems(
        survey_example(trees={"plot": ["P1"] * count, **trees}, species=species, settings={"stems": stems})
    )


def _row(stems: Stems) -> dict[str, Any]:
    assert stems.measured.height == 1
    return stems.measured.row(0, named=True)


def test_caliper_columns_are_taken_in_the_order_of_their_numbers() -> None:
    frame = pl.DataFrame(schema=["d10_cm", "d2_cm", "dbh_cm", "d_cm", "d1_cm", "d1_mm"])
    assert reading_columns(frame) == ["d1_cm", "d2_cm", "d10_cm"]


@pytest.mark.parametrize(
    ("rule", "expected"),
    [
        (SectionMean.ARITHMETIC, 5.0),
        (SectionMean.GEOMETRIC, 4.0),  # √(2 · 8)
        (SectionMean.QUADRATIC, math.sqrt(34)),  # √((4 + 64) / 2)
    ],
)
def test_the_section_mean_passes_over_missing_readings(rule: SectionMean, expected: float) -> None:
    frame = pl.DataFrame({"a": [2.0, None], "b": [8.0, None], "c": pl.Series([None, None], dtype=pl.Float64)})
    means = frame.select(section_mean(["a", "b", "c"], rule)).to_series().to_list()
    assert means == [pytest.approx(expected), None]


@pytest.mark.parametrize("rule", list(SectionMean))
def test_one_reading_is_its_own_mean_to_the_last_digit(rule: SectionMean) -> None:
    row = _row(_measure({"d2_cm": [31.7]}, section=rule))
    assert row["dbh_cm"] == 31.7
    assert row["correction_mm"] == 0.0


def test_caliper_readings_are_used_before_the_girth() -> None:
    row = _row(_measure({"d1_cm": [31.0], "d2_cm": [29.0], "girth_cm": [96.0]}))
    assert row["dbh_cm"] == 30.0
    assert row["square_cm2"] == 900.0
    assert row["reading"] == "calipers 31, 29 cm"


def test_a_girth_alone_is_divided_by_pi() -> None:
    row = _row(_measure({"girth_cm": [94.2]}))
    assert row["dbh_cm"] == pytest.approx(94.2 / math.pi, abs=1e-12)
    assert row["reading"] == "girth 94.2 cm"
    assert row["correction_mm"] == 0.0


@pytest.mark.parametrize("rule", list(SectionMean))
def test_nothing_is_corrected_where_nothing_is_to_be_corrected(rule: SectionMean) -> None:
    trees = {"d1_cm": [31.3, None], "d2_cm": [29.9, None], "d3_cm": [30.7, None], "girth_cm": [None, 77.7]}
    assert _measure(trees, section=rule).measured["correction_mm"].to_list() == [0.0, 0.0]


@pytest.mark.parametrize(("rounding", "added_cm"), [("down", 0.5), ("nearest", 0.0), ("none", 0.0)])
def test_half_a_unit_is_added_only_where_crews_rounded_down(rounding: str, added_cm: float) -> None:
    trees = {"d1_cm": [31.0, None], "d2_cm": [29.0, None], "girth_cm": [None, 94.0]}
    dbh = _measure(trees, rounding=rounding).measured["dbh_cm"].to_list()
    assert dbh == pytest.approx([30 + added_cm, (94 + added_cm) / math.pi])


def test_half_a_unit_is_added_before_the_gain() -> None:
    checks = {"instrument": ["C"], "date": ["2026-05-01"], "bar_mm": [300.0], "bar_reading_mm": [250.0]}
    survey = survey_example(
        trees={"plot": ["P1"], "d1_cm": [29.0], "instrument": ["C"]},
        instruments=checks,
        settings={"stems": {"rounding": "down"}},
    )
    assert measure_stems(survey).measured["dbh_cm"].to_list() == pytest.approx([29.5 * 1.2])


def test_a_climber_is_taken_off_the_girth_only() -> None:
    trees = {
        "girth_cm": [float(belt_cm(30, 4)), None, 94.2, 94.2],
        "d1_cm": [None, 30.0, None, None],
        "climber_mm": [40.0, 40.0, 0.0, None],
    }
    dbh = _measure(trees).measured["dbh_cm"].to_list()
    assert dbh == pytest.approx([30.0, 30.0, 94.2 / math.pi, 94.2 / math.pi], abs=1e-9)


def test_the_climbers_correction_is_stated_in_millimetres() -> None:
    # 31.178829 cm is the belt over π of 30 cm with a climber of 4 cm (geometry)
    row = _row(_measure({"girth_cm": [float(belt_cm(30, 4))], "climber_mm": [40.0]}))
    assert row["correction_mm"] == pytest.approx(-11.78829, abs=1e-5)


def test_a_girth_that_the_climber_fills_is_an_error() -> None:
    stems = _measure({"girth_cm": [12.0], "climber_mm": [40.0], "tree": ["7"]})
    (found,) = stems.findings.frame.rows(named=True)
    assert (found["code"], found["severity"], found["row"]) == ("stem-not-positive", "error", 2)
    assert (found["plot"], found["column"], found["value"]) == ("P1", "girth_cm", "girth 12 cm")
    assert found["message"].startswith("tree 7: nothing is left of girth 12 cm")
    assert stems.measured.is_empty()


def test_a_reading_that_the_zero_eats_up_is_an_error() -> None:
    survey = survey_example(
        trees={"plot": ["P1"], "d1_cm": [2.0], "d2_cm": [9.0], "instrument": ["C"]},
        instruments={"instrument": ["C"], "date": ["2026-05-01"], "zero_mm": [20.0]},
    )
    assert measure_stems(survey).findings.codes == {"stem-not-positive"}


@pytest.mark.parametrize(
    ("bark", "bark_mm", "factor", "expected"),
    [
        ("over", 10.0, 0.9, 30.0),
        ("under", 10.0, 0.9, 28.0),  # single thickness, twice
        ("under", 0.0, 0.9, 30.0),
        ("under", None, 0.9, 27.0),
    ],
)
def test_bark_is_taken_off_by_its_thickness_or_else_by_the_species(
    bark: str, bark_mm: float | None, factor: float, expected: float
) -> None:
    species = {"species": ["oak"], "bark_factor": [factor]}
    row = _row(
        _measure({"species": ["oak"], "d1_cm": [30.0], "bark_mm": [bark_mm]}, species=species, bark=bark)
    )
    assert row["dbh_cm"] == pytest.approx(expected)
    assert row["correction_mm"] == pytest.approx((expected - 30) * 10)


def test_unknown_bark_is_one_error_a_species() -> None:
    trees = {"species": ["oak", "ash", "ash", None], "d1_cm": [30.0] * 4}
    species = {"species": ["oak", "ash"], "bark_factor": [0.9, None]}
    stems = _measure(trees, species=species, bark="under")
    found = stems.findings.frame.filter(pl.col("code") == "bark-unknown").sort("row")
    assert found["severity"].to_list() == ["error", "error"]
    assert found["row"].to_list() == [3, 5]
    assert found["value"].to_list() == ["ash", None]
    assert "(stems: 2)" in found["message"][0]
    assert stems.measured["species"].to_list() == ["oak"]


def test_bark_thicker_than_the_stem_is_an_error() -> None:
    assert _measure({"d1_cm": [5.0], "bark_mm": [25.0]}, bark="under").findings.codes == {"stem-not-positive"}


def test_a_species_entered_twice_does_not_double_its_stems() -> None:
    species = {"species": ["oak", "oak"], "bark_factor": [0.9, 0.8]}
    assert (
        _row(_measure({"species": ["oak"], "d1_cm": [30.0]}, species=species, bark="under"))["dbh_cm"] == 27.0
    )


def test_a_stem_without_a_reading_is_an_error_with_its_row() -> None:
    stems = _measure({"d1_cm": [30.0, None], "tree": ["1", "2"]})
    (found,) = stems.findings.frame.rows(named=True)
    assert (found["code"], found["severity"], found["file"], found["row"]) == (
        "stem-without-diameter",
        "error",
        "trees.csv",
        3,
    )
    assert stems.set_aside.rows() == [("trees", "no diameter", 1)]
