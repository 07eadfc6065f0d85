"""The code lists of the results hold every word that the stages write."""

from __future__ import annotations

from pathlib import Path

import polars as pl
import pytest

from plotmap.fielddata import read_survey
from plotmap.layout import plots as layout_plots
from plotmap.layout import tables as layout_tables
from plotmap.layout import variation
from plotmap.model import check_table, field_tables, finding_rules, result_words, scopes
from plotmap.model import result_tables as stand
from plotmap.model import result_tables_change as change
from plotmap.model import result_tables_errors as errors
from plotmap.model import result_tables_heights as heights
from plotmap.model import result_tables_structure as structure
from plotmap.model.columns import Kind, Table
from plotmap.model.result_tables import RESULT_TABLES
from plotmap.model.result_tables_change import CHANGE_TABLES
from plotmap.model.result_tables_layout import LAYOUT_TABLES
from plotmap.model.settings import Design
from plotmap.output.declared import declared_frame, stand_frames
from plotmap.statistics import IntervalWord
from plotmap.stems import bark, diameters
from plotmap.workflow import compare_surveys, compile_survey

SAMPLE = Path(__file__).parents[2] / "sample_plots"
_NO_VOLUME = (heights.NO_EQUATION, heights.NO_HEIGHTS, heights.NO_CURVE, heights.NOT_ABOVE_ZERO)


@pytest.mark.parametrize(
    ("words", "constants"),
    [
        ("STATES", [field_tables.MEASURED, field_tables.EMPTY, field_tables.UNVISITED, field_tables.LOST]),
        ("DESIGNS", list(Design)),
        ("STATUS", [stand.ESTIMATED, stand.ONE_PLOT, stand.NO_PLOTS, stand.FULL_COUNT]),
        ("TOTAL_STATUS", [stand.ESTIMATED, stand.TOTAL_PARTLY, stand.NO_PLOTS]),
        ("INTERVALS", list(IntervalWord)),
        ("SCOPES", [scopes.SURVEY, scopes.STRATUM, scopes.COMPARTMENT]),
        ("CLIMBERS", [diameters.TAKEN_OFF, diameters.NOT_KNOWN]),
        ("BARK_BY", [bark.MEASURED_SO, bark.BY_THICKNESS, bark.BY_FACTOR]),
        ("INSTRUMENTS", [field_tables.CALIPER, field_tables.TAPE]),
        ("SEVERITIES", list(finding_rules.Severity)),
        ("CHECK_OUTCOMES", [check_table.PAIR, check_table.BY_TALLY, check_table.MISSED, check_table.EXTRA]),
        ("COMPARED_BY", [check_table.NUMBER, check_table.POSITION, check_table.SIZE, check_table.COUNT]),
        (
            "CHECK_GROUPS",
            [check_table.ALL, check_table.CREW, check_table.INSTRUMENT, check_table.CLASS, check_table.BAND],
        ),
        ("CHECK_BASIS", [check_table.BY_PAIRS, check_table.BY_COUNTS]),
        ("CHECK_STATUS", [stand.ESTIMATED, check_table.ONE_PAIR, check_table.NO_PAIRS]),
        ("WEIBULLS", [structure.TWO_PARAMETERS, structure.THREE_PARAMETERS]),
        ("SE_FROM", [structure.BY_PLOTS, structure.BY_STEMS]),
        (
            "FORMS",
            [
                structure.REVERSE_J,
                structure.BELL,
                structure.TWO_PEAKED,
                structure.IRREGULAR,
                structure.NOT_TOLD,
            ],
        ),
        (
            "GRID_STATUS",
            [
                errors.ESTIMATED,
                errors.NOT_ON_A_GRID,
                errors.WITHOUT_POSITION,
                errors.TOO_FEW_PLOTS,
                errors.FEW_NEIGHBOURS,
                errors.SINGLE_PLOT,
                errors.COUNTED,
            ],
        ),
        ("GRID_COMPARISONS", [errors.ABOUT_THE_SAME, errors.SMALLER, errors.LARGER]),
        ("HELPS_MOST", [errors.MORE_PLOTS, errors.BETTER_INSTRUMENT, errors.MEASURE]),
        ("MODEL_STATUS", [errors.MODEL_BASED, errors.TOO_FEW_COMPARTMENTS]),
        ("CURVE_STATUS", [heights.FITTED, heights.TOO_FEW_HEIGHTS, heights.NO_RISE]),
        (
            "HEIGHTS",
            [
                heights.ALL_MEASURED,
                heights.FROM_CURVES,
                heights.NO_HEIGHTS,
                heights.NO_CURVE,
                heights.NO_STEMS,
                stand.NO_PLOTS,
            ],
        ),
        ("VOLUME_STATUS", [*result_words.BOTH_STATUS, *_NO_VOLUME]),
        (
            "CHANGE_STATUS",
            [
                change.PAIRED,
                change.PARTLY_PAIRED,
                change.NOT_PAIRED,
                change.ONE_PAIR,
                change.COUNTED,
                change.NO_PLOTS,
                change.BOUNDARY_CHANGED,
                change.ONLY_OLD,
                change.ONLY_NEW,
            ],
        ),
        (
            "PAIRS",
            [
                change.PLOT_PAIRED,
                change.PLOT_MOVED,
                change.PLOT_ELSEWHERE,
                change.PLOT_ONLY_OLD,
                change.PLOT_ONLY_NEW,
            ],
        ),
        (
            "STEMS_BY",
            [change.FOLLOWED, change.TALLIED, change.NOT_NUMBERED, change.OTHER_AREA, change.ANGLE_COUNTS],
        ),
        ("FATES", [change.SURVIVOR, change.INGROWTH, change.DIED, change.CUT, change.NOT_FOUND]),
        ("LAYOUT_ROLES", [layout_plots.MAIN, layout_plots.RESERVE]),
        ("LAYOUT_SCOPES", [layout_tables.SURVEY, layout_tables.STRATUM, layout_tables.MEDIAN]),
        ("EDGE_TASKS", [*layout_plots.TASKS.values(), layout_plots.ALL_INSIDE, layout_plots.LOOK]),
        (
            "PLANNED_STATUS",
            [layout_tables.ENOUGH, layout_tables.FEW, layout_tables.NONE, layout_tables.EXCLUDED],
        ),
        (
            "CV_FROM",
            [
                variation.STATED,
                variation.OF_STRATUM,
                variation.PILOT,
                variation.PILOT_ALL,
                variation.WITHIN,
                variation.NOT_KNOWN,
                layout_tables.OF_STRATA,
            ],
        ),
        ("VERDICTS", [change.SAME, change.BROUGHT, change.DIFFERS]),
    ],
)
def test_a_list_has_exactly_the_words_that_the_code_writes(words, constants) -> None:
    assert sorted(getattr(result_words, words)) == sorted(map(str, constants))


def test_every_choice_of_a_result_has_words_with_a_meaning_each() -> None:
    choices = [
        column
        for table in (*RESULT_TABLES, *CHANGE_TABLES, *LAYOUT_TABLES)
        for column in table.columns
        if column.kind is Kind.CHOICE
    ]
    assert choices
    for column in choices:
        assert len(column.choices) == len(column.explained) == len(set(column.choices)) > 1
        assert all(column.explained)


def _unlisted(table: Table, frame: pl.DataFrame) -> dict[str, set[str]]:
    """Return the words of choices that their lists do not hold, by column."""
    found = {
        column.name: set(frame[column.name].drop_nulls().to_list()) - set(column.choices)
        for column in table.columns
        if column.choices
    }
    return {name: words for name, words in found.items() if words}


def test_results_of_the_sample_hold_no_word_that_is_not_listed() -> None:
    frames = stand_frames(compile_survey(read_survey(SAMPLE)))
    assert {table.name: _unlisted(table, frames[table.name]) for table in RESULT_TABLES} == {
        table.name: {} for table in RESULT_TABLES
    }
    two = SAMPLE / "with_mistakes" / "two_surveys"
    made = compare_surveys(read_survey(two / "old"), read_survey(two / "new"))
    for table in CHANGE_TABLES:
        assert _unlisted(table, declared_frame(table, getattr(made, table.name))) == {}


def test_words_that_are_not_listed_are_found() -> None:
    table = Table("t", "T", "a row", (stand.PLOT_RESULTS["state"],))
    assert _unlisted(table, pl.DataFrame({"state": ["empty", "gone", None]})) == {"state": {"gone"}}
