"""The stage as a whole: what counts, what is set aside, and the frames it hands on."""

from dataclasses import replace
from typing import Any

import polars as pl
import pytest

from plotmap.model.field_tables import NO_SPECIES
from plotmap.model.stem_table import MEASURED_SCHEMA, SET_ASIDE_SCHEMA, TALLIED_SCHEMA
from plotmap.stems import measure_stems
from tests.survey_example import survey_example


def test_frames_have_the_declared_columns_even_when_empty() -> None:
    for survey in (
        survey_example(),
        survey_example(
            trees={"plot": ["P1"], "d1_cm": [30.0]},
            tallies={"plot": ["P1"], "class": ["10-15"], "count": [1]},
        ),
    ):
        stems = measure_stems(survey)
        assert stems.measured.schema == MEASURED_SCHEMA
        assert stems.tallied.schema == TALLIED_SCHEMA
        assert stems.set_aside.schema == SET_ASIDE_SCHEMA


def test_trees_without_any_caliper_column_are_fine() -> None:
    survey = survey_example(trees={"plot": ["P1"], "girth_cm": [94.2]})
    bare = replace(survey, trees=survey.trees.drop("d1_cm", "d2_cm"))
    assert measure_stems(bare).measured.equals(measure_stems(survey).measured)


def test_missing_cells_get_their_declared_meaning() -> None:
    trees = {"plot": ["P1"] * 2, "d1_cm": [30.0, 20.0], "times": [None, 2], "height_m": [None, 21.5]}
    measured = measure_stems(survey_example(trees=trees)).measured
    assert measured["species"].to_list() == [NO_SPECIES] * 2
    assert measured["condition"].to_list() == ["live"] * 2
    assert measured["times"].to_list() == [1.0, 2.0]
    assert measured["height_m"].to_list() == [None, 21.5]
    assert measured["source_row"].to_list() == [2, 3]
    assert measured["class_index"].to_list() == [6, 4]


@pytest.mark.parametrize(("count", "rows", "aside"), [("live", [2], 2), ("all", [2, 3], 1)])
def test_dead_stems_count_only_where_the_settings_say_so(count: str, rows: list[int], aside: int) -> None:
    trees = {
        "plot": ["P1"] * 3,
        "d1_cm": [30.0, 20.0, None],
        "condition": [None, "dead", "dead"],
    }
    stems = measure_stems(survey_example(trees=trees, settings={"stems": {"count": count}}))
    assert stems.measured["source_row"].to_list() == rows
    assert stems.set_aside["rows"].sum() == aside


def test_a_dead_stem_that_does_not_count_needs_no_diameter() -> None:
    stems = measure_stems(survey_example(trees={"plot": ["P1"], "condition": ["dead"]}))
    assert len(stems.findings) == 0
    assert stems.set_aside.rows() == [("trees", "dead", 1)]


@pytest.mark.parametrize(
    ("reading", "counts"),
    [
        ({"d1_cm": [10.0]}, True),
        ({"d1_cm": [9.99]}, False),
        ({"girth_cm": [31.415926535897928]}, True),  # 9.999 999 999 999 99 cm is 10
        ({"girth_cm": [31.4]}, False),
    ],
)
def test_stems_below_the_smallest_diameter_are_set_aside(reading: dict[str, Any], *, counts: bool) -> None:
    survey = survey_example(trees={"plot": ["P1"], **reading}, settings={"stems": {"min_dbh_cm": 10}})
    stems = measure_stems(survey)
    assert stems.measured.height == counts
    assert stems.set_aside.rows() == ([] if counts else [("trees", "below 10 cm", 1)])


def test_the_smallest_diameter_is_under_bark_where_results_are() -> None:
    trees = {"plot": ["P1"], "d1_cm": [11.0], "bark_mm": [6.0]}
    settings = {"stems": {"min_dbh_cm": 10, "bark": "under"}}
    stems = measure_stems(survey_example(trees=trees, settings=settings))
    assert stems.set_aside.rows() == [("trees", "below 10 cm", 1)]


@pytest.mark.parametrize(("edge", "index"), [("lower", 2), ("upper", 1)])
def test_classes_follow_the_rule_of_the_survey(edge: str, index: int) -> None:
    settings = {"classes": {"width_cm": 10, "edge": edge}}
    stems = measure_stems(survey_example(trees={"plot": ["P1"], "d1_cm": [20.0]}, settings=settings))
    assert stems.measured["class_index"].to_list() == [index]


def test_sizes_that_reading_has_found_fault_with_do_not_stop_the_stage() -> None:
    trees = {"plot": [None, "P1", "P1"], "d1_cm": [-5.0, 1e12, 0.0], "climber_mm": [-4.0, 1e9, 3.0]}
    stems = measure_stems(survey_example(trees=trees))
    assert stems.findings.codes == {"stem-not-positive"}
    assert stems.measured.select(pl.col("dbh_cm")).to_series().to_list() == [1e12]
