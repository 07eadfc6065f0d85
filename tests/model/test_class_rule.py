"""The class rule: which size is in which class, on both sides of every edge; arithmetic, needs no source."""

from __future__ import annotations

import math

import polars as pl
import pytest

from plotmap.model.class_rule import ClassEdge, ClassMeasure, ClassRule

TENS = ClassRule(10.0)
TENS_UPPER = ClassRule(10.0, edge=ClassEdge.UPPER)
OPEN = ClassRule(None, (10.0, 20.0, 30.0, 45.0))
OPEN_UPPER = ClassRule(None, (10.0, 20.0, 30.0, 45.0), edge=ClassEdge.UPPER)


def _index(rule: ClassRule, *sizes: float | None) -> list[int | None]:
    frame = pl.DataFrame({"dbh_cm": pl.Series(sizes, dtype=pl.Float64)})
    return frame.select(rule.index(pl.col("dbh_cm")).alias("i"))["i"].to_list()


def _label(rule: ClassRule, size: float) -> str:
    index = _index(rule, size)[0]
    assert index is not None
    return rule.label(index)


@pytest.mark.parametrize(
    ("size", "lower", "upper"),
    [
        (10.0, "10–<20", ">0–10"),
        (10.1, "10–<20", ">10–20"),
        (19.9, "10–<20", ">10–20"),
        (20.0, "20–<30", ">10–20"),
        (29.999_999_999_9, "30–<40", ">20–30"),
        (30.000_000_000_1, "30–<40", ">20–30"),
        (29.999, "20–<30", ">20–30"),
        (30.001, "30–<40", ">30–40"),
        (0.5, "0–<10", ">0–10"),
    ],
)
def test_the_edge_belongs_to_the_class_the_rule_says(size: float, lower: str, upper: str) -> None:
    assert _label(TENS, size) == lower
    assert _label(TENS_UPPER, size) == upper


@pytest.mark.parametrize(
    ("size", "lower", "upper"),
    [
        (9.9, "<10", "≤10"),
        (10.0, "10–<20", "≤10"),
        (20.0, "20–<30", ">10–20"),
        (29.999_999_999_9, "30–<45", ">20–30"),
        (44.9, "30–<45", ">30–45"),
        (45.0, "≥45", ">30–45"),
        (300.0, "≥45", ">45"),
    ],
)
def test_sizes_outside_stated_edges_are_in_the_open_classes(size: float, lower: str, upper: str) -> None:
    assert _label(OPEN, size) == lower
    assert _label(OPEN_UPPER, size) == upper


def test_indexes_count_widths_from_zero_and_stated_edges_from_the_first() -> None:
    assert _index(TENS, 5.0, 10.0, 25.0) == [0, 1, 2]
    assert _index(OPEN, 5.0, 10.0, 45.0) == [-1, 0, 3]


@pytest.mark.parametrize("rule", [TENS, TENS_UPPER, OPEN, OPEN_UPPER])
def test_a_missing_size_is_in_no_class(rule: ClassRule) -> None:
    assert _index(rule, None, 25.0)[0] is None


@pytest.mark.parametrize("width", [0.5, 2.54, 0.1, 4.0])
def test_every_edge_of_a_width_is_on_its_own_side(width: float) -> None:
    numbers = range(1, 400)
    edges = [number * width for number in numbers]
    assert _index(ClassRule(width), *edges) == list(numbers)
    assert _index(ClassRule(width, edge=ClassEdge.UPPER), *edges) == [number - 1 for number in numbers]


def test_classes_of_girth_are_edges_of_girth() -> None:
    rule = ClassRule(10.0, on=ClassMeasure.GIRTH)
    assert _label(rule, 60 / math.pi) == "60–<70"
    assert _label(rule, 59.99 / math.pi) == "50–<60"
    upper = ClassRule(10.0, on=ClassMeasure.GIRTH, edge=ClassEdge.UPPER)
    assert _label(upper, 60 / math.pi) == ">50–60"


def test_edges_of_classes_are_in_the_measure_of_the_rule() -> None:
    assert (TENS.low_cm(2), TENS.high_cm(2)) == (20.0, 30.0)
    assert (OPEN.low_cm(-1), OPEN.high_cm(-1)) == (None, 10.0)
    assert (OPEN.low_cm(3), OPEN.high_cm(3)) == (45.0, None)


@pytest.mark.parametrize(
    "label",
    ["10–<20", "10-20", "10—20", "10 to 20", ">10–20", "10–20 cm", "10,0-20,0", " 10.0 - <20.0 ", "≥10–<20"],
)
@pytest.mark.parametrize("rule", [TENS, TENS_UPPER, OPEN])
def test_a_class_may_be_written_in_several_ways(rule: ClassRule, label: str) -> None:
    assert rule.edges_of_label(label) == (10.0, 20.0)


@pytest.mark.parametrize(
    "label", ["10-15", "5-15", "10-30", "20-10", "ochre", "", "10", "10–20 in", "-10-20", "1O-20"]
)
def test_what_is_no_class_of_the_rule_has_no_edges(label: str) -> None:
    assert TENS.edges_of_label(label) is None
    assert OPEN.edges_of_label(label) is None


def test_a_class_of_a_width_with_decimals_is_recognised() -> None:
    assert ClassRule(2.5).edges_of_label("7.5-10") == (7.5, 10.0)
    assert ClassRule(0.1).edges_of_label("0.3-0.4") == (0.3, 0.4)


@pytest.mark.parametrize(("rule", "numbers"), [(TENS, range(12)), (OPEN, range(3)), (TENS_UPPER, range(12))])
def test_every_closed_class_is_recognised_by_its_own_label(rule: ClassRule, numbers: range) -> None:
    for number in numbers:
        assert rule.edges_of_label(rule.label(number)) == (rule.low_cm(number), rule.high_cm(number))


@pytest.mark.parametrize(
    ("rule", "says"),
    [
        (TENS, "diameter classes 10 cm wide; the lower edge belongs to the class"),
        (OPEN_UPPER, "diameter classes with edges at 10, 20, 30, 45 cm; the upper edge belongs to the class"),
        (
            ClassRule(2.5, on=ClassMeasure.GIRTH),
            "girth classes 2.5 cm wide; the lower edge belongs to the class",
        ),
    ],
)
def test_the_rule_says_what_it_is_in_one_line(rule: ClassRule, says: str) -> None:
    assert rule.describe() == says


def test_the_frame_of_classes_has_labels_and_edges() -> None:
    frame = OPEN.frame(pl.Series([-1, 0, 3]))
    assert frame.rows() == [(-1, "<10", None, 10.0), (0, "10–<20", 10.0, 20.0), (3, "≥45", 45.0, None)]


@pytest.mark.parametrize("label", ["≥{}", ">{}", ">={}", "{}+", "{} +", "> {} cm", "{} cm+", " {},0+ "])
def test_the_open_top_class_may_be_written_in_several_ways(label: str) -> None:
    last = OPEN.edges_cm[-1]
    assert OPEN.edges_of_label(label.format(f"{last:g}")) == (last, math.inf)


@pytest.mark.parametrize("label", ["≥44", "<45", "≤45", "45", "+45", "≥45+", "45–"])
def test_what_is_not_the_open_top_class_has_no_edges(label: str) -> None:
    assert ClassRule(None, (10.0, 20.0, 45.0)).edges_of_label(label) is None
    assert TENS.edges_of_label("≥20") is None  # classes of a width are never open


def test_a_span_runs_from_the_lowest_class_to_the_highest_without_gaps() -> None:
    assert list(TENS.span([10.0, 40.0])) == [1, 2, 3, 4]
    assert list(OPEN.span([None, 45.0])) == [-1, 0, 1, 2, 3]
    assert list(TENS.span([])) == []


def test_a_short_label_is_the_edge_that_belongs_or_the_whole_where_that_is_open() -> None:
    assert TENS.short_label(2) == "20"
    assert ClassRule(10.0, edge=ClassEdge.UPPER).short_label(2) == "30"
    assert OPEN.short_label(-1) == OPEN.label(-1)
