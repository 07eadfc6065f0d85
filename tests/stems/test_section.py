"""Several readings of one stem: roundness, what random error adds to the square, what other means would give."""

import math
from typing import Any

import numpy as np
import polars as pl
import pytest

from plotmap.model.settings import SectionMean
from plotmap.model.stem_table import Stems
from plotmap.stems import measure_stems
from plotmap.stems.girth import belt_cm, diameter_in_belt_cm
from plotmap.stems.section import error_share
from tests.survey_example import survey_example

_M2_PER_CM2 = math.pi / 40_000
_REPEATED = {
    "instrument": ["C"] * 3,
    "date": ["2026-05-01"] * 3,
    "bar_mm": [300.0] * 3,
    "bar_reading_mm": [298.0, 302.0, 300.0],  # standard deviation 2 mm, gain 1
}


def _measure(trees: dict[str, list[Any]], **others: Any) -> Stems:
    count = len(next(iter(trees.values())))
    tables = {name: others.pop(name) for name in ("instruments", "species") if name in others}
    return measure_stems(
        survey_example(trees={"plot": ["P1"] * count, **trees}, settings={"stems": others}, **tables)
    )


def test_roundness_is_the_smallest_over_the_largest_reading() -> None:
    stems = _measure({"d1_cm": [36.0, 30.0, None], "d2_cm": [45.0, None, None], "d3_cm": [40.0, None, None],
                      "girth_cm": [None, None, 94.0]})  # fmt: skip
    assert stems.measured["roundness"].to_list() == [0.8, None, None]


def test_roundness_is_of_corrected_readings() -> None:
    checks = {"instrument": ["C"], "date": ["2026-05-01"], "zero_mm": [10.0]}
    stems = _measure({"d1_cm": [21.0], "d2_cm": [26.0], "instrument": ["C"]}, instruments=checks)
    assert stems.measured["roundness"].to_list() == [0.8]  # 20 / 25


@pytest.mark.parametrize(
    ("readings", "section", "share"),
    [
        ([30.0], "arithmetic", 1.0),
        ([30.0, 30.0], "arithmetic", 1 / 2),
        ([30.0, 30.0, 30.0], "arithmetic", 1 / 3),
        ([30.0, 30.0], "quadratic", 1.0),
        ([30.0], "geometric", 1.0),
        ([30.0, 30.0], "geometric", 0.0),
        ([30.0, 30.0, 30.0], "geometric", -1 / 3),
    ],
)
def test_the_random_error_is_taken_off_the_square_and_not_off_the_diameter(
    readings: list[float], section: str, share: float
) -> None:
    trees = {f"d{i}_cm": [size] for i, size in enumerate(readings, start=1)}
    row = _measure({**trees, "instrument": ["C"]}, instruments=_REPEATED, section=section).measured.row(
        0, named=True
    )
    assert row["dbh_cm"] == pytest.approx(30.0, abs=1e-12)
    assert row["square_cm2"] == pytest.approx(900 - share * 0.2**2, abs=1e-9)


@pytest.mark.parametrize("rule", list(SectionMean))
@pytest.mark.parametrize("k", [1, 2, 3, 5])
def test_what_is_taken_off_is_what_simulated_errors_add(rule: SectionMean, k: int) -> None:
    # 2 million simulated stems of 10 cm with errors of 0.8 cm; every mean by numpy
    rng = np.random.default_rng(k)
    readings = 10 + rng.normal(0, 0.8, (k, 2_000_000 // k))
    squares = {
        SectionMean.ARITHMETIC: readings.mean(axis=0) ** 2,
        SectionMean.QUADRATIC: (readings**2).mean(axis=0),
        SectionMean.GEOMETRIC: np.exp(np.log(readings).mean(axis=0)) ** 2,
    }[rule]
    frame = pl.DataFrame({f"d{i}": [10.0] for i in range(k)})
    share = frame.select(error_share(frame.columns, rule)).item()
    slack = 4 * squares.std() / math.sqrt(squares.size) + 0.01 * 0.8**2
    assert squares.mean() - 100 == pytest.approx(share * 0.8**2, abs=slack)


def test_the_error_of_a_tape_goes_into_the_diameter_over_pi() -> None:
    checks = {**_REPEATED, "kind": ["tape"] * 3}
    row = _measure({"girth_cm": [94.0], "instrument": ["C"]}, instruments=checks).measured.row(0, named=True)
    assert row["dbh_cm"] ** 2 - row["square_cm2"] == pytest.approx((0.2 / math.pi) ** 2, rel=1e-9)


def test_a_climber_makes_an_error_of_the_girth_larger() -> None:
    # the slope of the belt's inverse, by a small step
    checks = {**_REPEATED, "kind": ["tape"] * 3}
    girth = float(belt_cm(30, 20))
    trees = {"girth_cm": [girth], "climber_mm": [200.0], "instrument": ["C"]}
    row = _measure(trees, instruments=checks).measured.row(0, named=True)
    low, high = diameter_in_belt_cm([girth - 0.01, girth + 0.01], [20.0, 20.0])
    slope = (high - low) / 0.02
    assert slope > 1.1 / math.pi
    assert row["dbh_cm"] ** 2 - row["square_cm2"] == pytest.approx((0.2 * slope) ** 2, rel=1e-4)


def test_the_error_shrinks_with_the_gain_and_the_bark() -> None:
    # gain 300 / 250 = 1.2 and bark factor 0.9: 2 mm of the reading are 2.16 mm of the diameter
    checks = {**_REPEATED, "bar_reading_mm": [248.0, 252.0, 250.0]}
    species = {"species": ["oak"], "bark_factor": [0.9]}
    trees = {"d1_cm": [30.0], "instrument": ["C"], "species": ["oak"]}
    row = _measure(trees, instruments=checks, species=species, bark="under").measured.row(0, named=True)
    assert row["dbh_cm"] ** 2 - row["square_cm2"] == pytest.approx(0.216**2, rel=1e-9)


def test_a_square_is_never_less_than_nothing() -> None:
    checks = {**_REPEATED, "bar_reading_mm": [280.0, 320.0, 300.0]}
    row = _measure({"d1_cm": [1.0], "instrument": ["C"]}, instruments=checks).measured.row(0, named=True)
    assert row["square_cm2"] == 0.0
    assert row["dbh_cm"] == pytest.approx(1.0)


def test_the_log_says_how_much_basal_area_the_error_was() -> None:
    trees = {
        "d1_cm": [30.0, 20.0, 25.0, 8.0],
        "times": [2, None, None, None],
        "instrument": ["C", "C", None, "C"],
    }
    log = _measure(trees, instruments=_REPEATED, min_dbh_cm=10).instrument_log
    row = log.row(0, named=True)
    assert (row["n_stems"], row["bar_readings"], row["gain"], row["zero_mm"]) == (2, 3, 1.0, 0.0)
    assert row["random_error_mm"] == pytest.approx(2.0)
    assert row["basal_area_taken_off_m2"] == pytest.approx(3 * 0.04 * _M2_PER_CM2)  # the first counts twice


def test_a_check_that_corrects_nothing_is_in_the_log_with_nought() -> None:
    checks = {"instrument": ["C", "C"], "date": ["2026-05-01", "2026-06-01"], "zero_mm": [1.0, 2.0]}
    log = _measure({"d1_cm": [30.0], "instrument": ["C"]}, instruments=checks).instrument_log
    assert log.select("n_stems", "basal_area_taken_off_m2", "days_in_force").rows() == [
        (1, 0.0, 31),
        (0, 0.0, None),
    ]


def test_without_checks_the_log_is_empty() -> None:
    assert _measure({"d1_cm": [30.0]}).instrument_log.is_empty()


@pytest.mark.parametrize("section", ["arithmetic", "geometric", "quadratic"])
def test_the_effect_of_every_mean_is_told_against_the_one_used(section: str) -> None:
    # 2 and 8: squares 25, 16 and 34; the stem with one reading is left out, the second counts twice
    trees = {"d1_cm": [2.0, 2.0, 50.0], "d2_cm": [8.0, 8.0, None], "times": [1, 2, 1]}
    effect = _measure(trees, section=section, max_reading_difference_pct=100).section_effect
    squares = {"arithmetic": 25, "geometric": 16, "quadratic": 34}
    assert effect["mean"].to_list() == list(squares)
    assert effect["n_stems"].to_list() == [2] * 3
    assert effect["used"].to_list() == ["yes" if name == section else "no" for name in squares]
    assert effect["basal_area_m2"].to_list() == pytest.approx([3 * s * _M2_PER_CM2 for s in squares.values()])
    assert effect["difference_pct"].to_list() == pytest.approx(
        [100 * (s / squares[section] - 1) for s in squares.values()]
    )


def test_the_girth_is_set_against_the_calipers_of_the_same_stems() -> None:
    trees = {"d1_cm": [30.0, 40.0, None], "girth_cm": [33 * math.pi, None, 60.0]}
    (row,) = _measure(trees).section_effect.rows(named=True)
    assert (row["mean"], row["used"], row["n_stems"]) == ("girth", "no", 1)
    assert row["difference_pct"] == pytest.approx(21.0)  # 33² / 30²


def test_single_readings_alone_have_no_effect_to_tell() -> None:
    assert _measure({"d1_cm": [30.0]}).section_effect.is_empty()


@pytest.mark.parametrize(
    ("oval", "second", "found"),
    [("yes", None, True), ("yes", 31.0, False), ("no", None, False), (None, None, False)],
)
def test_single_readings_of_an_oval_species_are_counted(
    oval: str | None, second: float | None, *, found: bool
) -> None:
    trees = {"d1_cm": [30.0, 20.0], "d2_cm": [second] * 2, "species": ["elm"] * 2}
    stems = _measure(trees, species={"species": ["elm"], "oval": [oval]})
    cells = stems.findings.frame.filter(pl.col("code") == "single-reading-oval")
    assert cells.select("row", "plot", "value").rows() == ([(2, "P1", "elm")] if found else [])
    assert not found or "(stems: 2)" in cells["message"][0]


def test_a_girth_of_an_oval_species_is_no_finding() -> None:
    stems = _measure({"girth_cm": [94.0], "species": ["elm"]}, species={"species": ["elm"], "oval": ["yes"]})
    assert len(stems.findings) == 0
