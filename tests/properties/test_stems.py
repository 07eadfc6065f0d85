"""What must hold of the stems of any survey (hypothesis)."""

import math
from typing import Any

import numpy as np
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from plotmap.fielddata.convert import convert
from plotmap.fielddata.headings import match_headings
from plotmap.fielddata.raw import RawTable
from plotmap.model.field_tables import INSTRUMENTS, SPECIES, TALLIES, TREES
from plotmap.model.findings import Findings
from plotmap.model.settings import SectionMean
from plotmap.stems import measure_stems
from plotmap.stems.girth import belt_cm, diameter_in_belt_cm
from plotmap.stems.section import section_mean
from plotmap.units import Dimension, conversion_factor
from tests.properties.effort import one_stage
from tests.survey_example import field_table, survey_example

_PLOTS = ["P1", "P2", "P3"]
_DAYS = ["2026-04-01", "2026-05-01", "2026-05-14", "2026-06-30"]
_SIZES = st.floats(0.5, 400)


def _maybe(values: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    return st.none() | values


_TREE = st.fixed_dictionaries(
    {
        "plot": _maybe(st.sampled_from([*_PLOTS, "P9"])),
        "species": _maybe(st.sampled_from(["oak", "ash", "elm"])),
        "condition": _maybe(st.sampled_from(["live", "dead"])),
        "d1_cm": _maybe(_SIZES),
        "d2_cm": _maybe(_SIZES),
        "girth_cm": _maybe(st.floats(1.5, 1250)),
        "instrument": _maybe(st.sampled_from(["C", "T", "X"])),
        "bark": _maybe(st.sampled_from(["over", "under"])),
        "bark_mm": _maybe(st.floats(0, 150)),
        "climber": _maybe(st.sampled_from(["yes", "no"])),
        "climber_mm": _maybe(st.floats(0, 600)),
        "height_m": _maybe(st.floats(1.3, 120)),
        "times": _maybe(st.integers(1, 4)),
    }
)
_CHECK = st.fixed_dictionaries(
    {
        "instrument": _maybe(st.sampled_from(["C", "T"])),
        "kind": _maybe(st.sampled_from(["caliper", "tape"])),
        "date": _maybe(st.sampled_from(_DAYS)),
        "zero_mm": _maybe(st.floats(-50, 50)),
        "bar_mm": _maybe(st.floats(10, 3000)),
        "bar_reading_mm": _maybe(st.floats(10, 3000)),
    }
)
_TALLY = st.fixed_dictionaries(
    {
        "plot": _maybe(st.sampled_from(_PLOTS)),
        "species": _maybe(st.sampled_from(["oak", "ash"])),
        "class": _maybe(
            st.sampled_from(["10-15", "15-20", "40–<45", "thin", "mid", "thick", "huge", "A", "nought"])
        ),
        "instrument": _maybe(st.sampled_from(["C", "T", "X"])),
        "count": _maybe(st.integers(0, 500)),
    }
)
_FACTOR = st.fixed_dictionaries(
    {
        "species": _maybe(st.sampled_from(["oak", "ash"])),
        "bark_factor": _maybe(st.floats(0.5, 1)),
    }
)
_BANDS = [
    {"name": "thin", "low_cm": 7, "high_cm": 18},
    {"name": "mid", "low_cm": 18, "high_cm": 33},
    {"name": "thick", "low_cm": 40, "high_cm": 71},
    {"name": "huge", "low_cm": 80, "mean_cm": 95},
]


def _frame(table: Any, rows: list[dict[str, Any]]) -> pl.DataFrame:
    return field_table(table, {name: [row[name] for row in rows] for name in rows[0]} if rows else None)


def _settings(stems: dict[str, Any]) -> dict[str, Any]:
    return {"stems": stems, "classes": {"bands": _BANDS}}


@given(
    trees=st.lists(_TREE, max_size=8),
    checks=st.lists(_CHECK, max_size=4),
    tallies=st.lists(_TALLY, max_size=6),
    species=st.lists(_FACTOR, max_size=3),
    days=st.lists(_maybe(st.sampled_from(_DAYS)), min_size=3, max_size=3),
    stems=st.fixed_dictionaries(
        {
            "section": st.sampled_from(list(SectionMean)),
            "bark": st.sampled_from(["over", "under"]),
            "count": st.sampled_from(["live", "all"]),
            "rounding": st.sampled_from(["none", "down", "nearest"]),
            "min_dbh_cm": st.sampled_from([0, 10]),
            "interpolate_checks": st.booleans(),
        }
    ),
)
@one_stage
def test_every_row_is_used_or_set_aside_whatever_the_cells_are(
    trees: list[Any], checks: list[Any], tallies: list[Any], species: list[Any], days: list[Any], stems: Any
) -> None:
    survey = survey_example(
        trees=_frame(TREES, trees),
        instruments=_frame(INSTRUMENTS, checks),
        tallies=_frame(TALLIES, tallies),
        species=_frame(SPECIES, species),
        plots={"plot": _PLOTS, "date": days},
        settings=_settings(stems),
    )
    result = measure_stems(survey)
    aside = dict(result.set_aside.group_by("table").agg(pl.col("rows").sum()).iter_rows())
    assert result.measured.height + aside.get("trees", 0) == len(trees)
    assert result.tallied["source_row"].n_unique() + aside.get("tallies", 0) == len(tallies)
    measured = result.measured
    assert (
        measured.select(pl.all_horizontal(pl.col("dbh_cm", "class_index", "reading").is_not_null()))
        .to_series()
        .all()
    )
    assert (measured["dbh_cm"] > 0).all()
    assert (measured["dbh_cm"] >= stems["min_dbh_cm"] - 1e-6).all()
    assert result.findings.frame["message"].null_count() == 0


@given(tallies=st.lists(_TALLY, min_size=1, max_size=12))
@one_stage
def test_counts_over_the_parts_add_up_and_sizes_stay_in_their_class(tallies: list[Any]) -> None:
    frame = _frame(TALLIES, tallies)
    survey = survey_example(tallies=frame, plots={"plot": _PLOTS}, settings=_settings({}))
    tallied = measure_stems(survey).tallied
    sums = tallied.group_by("source_row").agg(pl.col("count").sum()).join(frame, on="source_row")
    np.testing.assert_allclose(sums["count"], sums["count_right"].cast(pl.Float64), rtol=1e-12, atol=1e-12)
    low = tallied["class_index"] * 5.0
    is_tail = (tallied["band_letter"] == "D").fill_null(value=False)  # its last part holds all that is larger
    assert ((tallied["dbh_cm"] >= low) & ((tallied["dbh_cm"] <= low + 5) | is_tail)).all()
    assert (tallied["square_cm2"] >= tallied["dbh_cm"] ** 2).all()
    assert (tallied["count"] >= 0).all()


@given(sizes=st.lists(_SIZES, min_size=1, max_size=8), order=st.randoms(use_true_random=False))
@one_stage
def test_the_order_of_the_rows_changes_nothing(sizes: list[float], order: Any) -> None:
    frame = _frame(
        TREES, [{"plot": _PLOTS[i % 3], "d1_cm": size, "instrument": "C"} for i, size in enumerate(sizes)]
    )
    places = list(range(frame.height))
    order.shuffle(places)
    checks = {"instrument": ["C", "C"], "date": ["2026-05-10", "2026-05-01"], "zero_mm": [-2.0, 5.0]}
    plots = {"plot": _PLOTS, "date": ["2026-05-05", "2026-05-10", "2026-04-01"]}
    one, other = (
        measure_stems(survey_example(trees=trees, instruments=checks, plots=plots))
        for trees in (frame, frame[places])
    )
    assert one.measured.sort("source_row").equals(other.measured.sort("source_row"))
    assert one.findings.frame.equals(other.findings.frame)


@given(sizes=st.lists(_SIZES, min_size=1, max_size=8))
@one_stage
def test_a_girth_and_its_diameter_are_the_same_stem(sizes: list[float]) -> None:
    plots = ["P1"] * len(sizes)
    by_caliper = measure_stems(survey_example(trees={"plot": plots, "d1_cm": sizes})).measured
    girths = [size * math.pi for size in sizes]
    by_tape = measure_stems(survey_example(trees={"plot": plots, "girth_cm": girths})).measured
    np.testing.assert_allclose(by_tape["dbh_cm"], by_caliper["dbh_cm"], rtol=1e-14)
    assert by_caliper["correction_mm"].to_list() == by_tape["correction_mm"].to_list() == [0.0] * len(sizes)


@given(readings=st.lists(_SIZES, min_size=1, max_size=6))
@one_stage
def test_means_of_a_section_are_in_their_order_and_within_the_readings(readings: list[float]) -> None:
    frame = pl.DataFrame({f"d{i}_cm": [reading] for i, reading in enumerate(readings)})
    geometric, arithmetic, quadratic = (
        frame.select(section_mean(frame.columns, rule)).item()
        for rule in (SectionMean.GEOMETRIC, SectionMean.ARITHMETIC, SectionMean.QUADRATIC)
    )
    slack = 1e-9
    assert min(readings) - slack <= geometric <= arithmetic + slack
    assert arithmetic - slack <= quadratic <= max(readings) + slack


@given(stem=st.floats(0.5, 400), climber=st.floats(0.1, 60))
@one_stage
def test_a_belt_is_undone_to_a_hundred_millionth_of_a_millimetre(stem: float, climber: float) -> None:
    belt = belt_cm(stem, climber)
    assert belt >= np.pi * max(stem, climber)
    assert diameter_in_belt_cm([belt], [climber]) == pytest.approx([stem], abs=1e-9)


@given(sizes=st.lists(_SIZES, min_size=1, max_size=8), unit=st.sampled_from(["mm", "in", "m", "ft"]))
@one_stage
def test_the_unit_of_the_heading_changes_no_diameter(sizes: list[float], unit: str) -> None:
    factor = conversion_factor(Dimension.LENGTH, "cm", unit)
    found = []
    for suffix, values in (("cm", sizes), (unit, [size * factor for size in sizes])):
        raw = RawTable(
            headings=("plot", f"d1_{suffix}"),
            cells=pl.DataFrame({"c0": ["P1"] * len(sizes), "c1": [repr(value) for value in values]}),
            first_row=2,
            findings=Findings.none(),
        )
        headings, _ = match_headings(TREES, raw.headings, {}, "trees.csv")
        trees = convert(TREES, raw, headings, "trees.csv").frame
        found.append(measure_stems(survey_example(trees=trees)).measured["dbh_cm"].to_numpy())
    np.testing.assert_allclose(found[1], found[0], rtol=1e-12)


@given(sizes=st.lists(st.floats(10.0, 59.999), min_size=1, max_size=30), girths=st.booleans())
@one_stage
def test_a_tally_of_the_same_stems_has_their_number_and_nearly_their_basal_area(
    sizes: list[float], *, girths: bool
) -> None:
    plots = ["P1"] * len(sizes)
    columns = {"girth_cm": [size * math.pi for size in sizes]} if girths else {"d1_cm": sizes}
    measured = measure_stems(survey_example(trees={"plot": plots, **columns})).measured
    labels = [f"{5 * (size // 5):g}-{5 * (size // 5) + 5:g}" for size in sizes]
    tallies = {"plot": plots, "class": labels, "count": [1] * len(sizes)}
    tallied = measure_stems(survey_example(tallies=tallies)).tallied
    numbers = measured.group_by("class_index").len().sort("class_index")
    counts = tallied.group_by("class_index").agg(pl.col("count").sum()).sort("class_index")
    if not girths:  # a girth of exactly a class edge may fall on its other side by the last digit
        assert counts["class_index"].to_list() == numbers["class_index"].to_list()
        np.testing.assert_allclose(counts["count"], numbers["len"], rtol=1e-12)
    # each stem is in its class, so no square can be off by more than the squares of the class's edges
    low, high = (sum((5 * (size // 5) + edge) ** 2 for size in sizes) for edge in (0, 5))
    basal_area = (tallied["count"] * tallied["square_cm2"]).sum()
    assert low <= basal_area <= high
    assert low * (1 - 1e-9) <= measured["square_cm2"].sum() <= high * (1 + 1e-9)


@given(
    counts=st.lists(st.integers(0, 50), min_size=4, max_size=4).filter(any),
    zero=st.floats(-40, 40),
    reading=st.floats(250, 370),
)
@one_stage
def test_a_correction_moves_sizes_and_never_counts(counts: list[int], zero: float, reading: float) -> None:
    tallies = {"plot": ["P1"] * 4, "class": ["10-15", "15-20", "20-25", "25-30"], "count": counts}
    checks = {"instrument": ["C"], "date": ["2026-05-01"], "zero_mm": [zero], "bar_mm": [300.0]}
    checks["bar_reading_mm"] = [reading + zero]
    plain = measure_stems(survey_example(tallies=tallies)).tallied
    moved = measure_stems(
        survey_example(tallies={**tallies, "instrument": ["C"] * 4}, instruments=checks)
    ).tallied
    gain = 300 / reading
    total = [frame["count"].sum() for frame in (plain, moved)]
    assert total[1] == pytest.approx(total[0], rel=1e-12)
    means = [(frame["count"] * frame["dbh_cm"]).sum() / frame["count"].sum() for frame in (plain, moved)]
    assert means[1] == pytest.approx((means[0] - zero / 10) * gain, rel=1e-9)
    # the variance of the sizes is stretched by the gain squared, wherever the class edges cut them
    spread = [
        (frame["count"] * frame["square_cm2"]).sum() / frame["count"].sum() - mean**2
        for frame, mean in zip((plain, moved), means, strict=True)
    ]
    assert spread[1] == pytest.approx(spread[0] * gain**2, rel=1e-6, abs=1e-7)
