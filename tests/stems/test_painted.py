"""Painted bands: where an instrument reads their edges, and how colours, patterns and letters are given out."""

from __future__ import annotations

import math
from itertools import combinations, pairwise

import pytest

from plotmap.errors import SettingsError
from plotmap.model.field_papers import COLOURS, PATTERNS, InstrumentState
from plotmap.model.settings import Settings
from plotmap.stems import measure_stems
from plotmap.stems.bands import MIN_DISTANCE, VISIONS, colour_distance
from plotmap.stems.painted import band_marks, band_strip, colour_findings, instrument_state, plain_state
from tests.survey_example import survey_example

CHECKS = {
    "instrument": ["K1", "K1", "T1"],
    "kind": ["caliper", None, "tape"],
    "date": ["2026-04-01", "2026-05-01", "2026-05-01"],
    "zero_mm": [9.0, 3.0, -4.0],
    "bar_mm": [None, 300.0, 300.0],
    "bar_reading_mm": [None, 308.0, 297.0],
}
"""K1 reads 3 mm too much and stretches by 305/300; T1 reads 4 mm too little and shrinks."""


def settings_of(**classes: object) -> Settings:
    given = {"plots": {"design": "circle", "radius_m": 12.62}, "classes": classes or {"width_cm": 5}}
    return Settings.model_validate(given)


def test_the_last_check_of_an_instrument_is_taken() -> None:
    state, _ = instrument_state(survey_example(instruments=CHECKS), "K1")
    assert (state.kind, state.zero_cm) == ("caliper", pytest.approx(0.3))
    assert state.gain == pytest.approx(300 / 305)  # by hand: 300 / (308 − 3)
    assert str(state.checked_on) == "2026-05-01"


def test_an_instrument_without_a_check_is_refused_with_those_that_have_one() -> None:
    survey = survey_example(instruments=CHECKS)
    with pytest.raises(
        SettingsError, match=r"instrument 'K9': there is no dated check .* Checked are K1, T1\."
    ):
        instrument_state(survey, "K9")


def test_an_edge_is_painted_where_the_instrument_reads_it() -> None:
    survey = survey_example(instruments=CHECKS)
    caliper = band_strip(survey, instrument_state(survey, "K1")[0], 80.0).bands[4]
    assert caliper.mark.low_cm == 20.0
    assert caliper.low_reading_cm == pytest.approx(20 * 305 / 300 + 0.3)  # by hand
    tape = band_strip(survey, instrument_state(survey, "T1")[0], 80.0).bands[4]
    assert tape.low_reading_cm == pytest.approx(math.pi * 20 * 301 / 300 - 0.4)  # by hand; 297 + 4 = 301


@pytest.mark.parametrize("edge", ["lower", "upper"])
@pytest.mark.parametrize("on", ["diameter", "girth"])
@pytest.mark.parametrize(("instrument", "column"), [("K1", "d1_cm"), ("T1", "girth_cm")])
def test_a_stem_read_at_a_painted_edge_is_put_into_the_class_that_the_edge_belongs_to(
    instrument: str, column: str, on: str, edge: str
) -> None:
    """The way back is plotmap's own: the reading through its correction, and the diameter through its class rule."""
    settings = settings_of(width_cm=5.0 if on == "diameter" else 15.0, on=on, edge=edge)
    plain = survey_example(instruments=CHECKS, settings=settings)
    bands = band_strip(plain, instrument_state(plain, instrument)[0], 60.0).bands[2:10]
    edges = [band.low_reading_cm for band in bands]
    readings = [reading + off for reading in edges for off in (-0.01, 0.0, 0.01)]
    trees = {"plot": ["P1"] * len(readings), column: readings, "instrument": [instrument] * len(readings)}
    stems = measure_stems(survey_example(trees=trees, instruments=CHECKS, settings=settings)).measured
    classes = stems.sort("source_row")["class_index"].to_list()
    rule = settings.class_rule
    for number, band in enumerate(bands):
        below, on_edge, above = (rule.label(at) for at in classes[3 * number : 3 * number + 3])
        assert above == band.mark.name
        assert below != band.mark.name
        assert on_edge == (above if edge == "lower" else below)


def test_without_an_instrument_bands_stand_at_their_sizes() -> None:
    survey = survey_example()
    strip = band_strip(survey, plain_state(survey.settings, None), 80.0)
    assert [(band.low_reading_cm, band.high_reading_cm) for band in strip.bands[:2]] == [(0, 5), (5, 10)]
    assert len(strip.bands) == 16  # 80 / 5


def test_classes_begin_where_stems_are_measured_and_end_where_asked() -> None:
    survey = survey_example(settings={"stems": {"min_dbh_cm": 12}})
    bands = band_strip(survey, plain_state(survey.settings, "caliper"), 32.0).bands
    assert [band.mark.name for band in bands] == ["10–<15", "15–<20", "20–<25", "25–<30", "30–<35"]
    assert [band.mark.letter for band in bands] == ["A", "B", "C", "D", "E"]


def test_a_strip_without_a_class_is_refused() -> None:
    survey = survey_example(settings={"stems": {"min_dbh_cm": 50}})
    with pytest.raises(SettingsError, match="up-to is 40 cm, but stems are measured from 50 cm on"):
        band_strip(survey, plain_state(survey.settings, "caliper"), 40.0)


def test_a_band_that_the_instrument_reads_below_its_zero_is_refused() -> None:
    survey = survey_example(settings={"classes": {"width_cm": 2}})
    state = InstrumentState("K1", "caliper", zero_cm=-3.0)
    with pytest.raises(SettingsError, match=r"band 0–<2 ends at 2 cm, which instrument K1 reads below its 0"):
        band_strip(survey, state, 40.0)


def test_stated_edges_leave_out_what_no_tally_can_hold() -> None:
    closed = settings_of(edges_cm=[10, 20, 35])
    assert [mark.name for mark in band_marks(closed, 80.0)] == ["10–<20", "20–<35"]
    opened = settings_of(edges_cm=[10, 20, 35], top_mean_cm=45)
    assert [mark.name for mark in band_marks(opened, 80.0)] == ["10–<20", "20–<35", "≥35"]


def test_a_band_open_above_goes_on_to_the_end_of_the_strip() -> None:
    band = {"name": "top", "low_cm": 30, "mean_cm": 40}
    survey = survey_example(settings={"classes": {"bands": [band]}})
    (top,) = band_strip(survey, plain_state(survey.settings, "caliper"), 60.0).bands
    assert (top.low_reading_cm, top.high_reading_cm, top.is_open) == (30.0, 60.0, True)


def test_every_two_default_colours_are_told_apart_with_every_vision() -> None:
    nearest = min(
        colour_distance(one, other, vision) for one, other in combinations(COLOURS, 2) for vision in VISIONS
    )
    assert nearest >= MIN_DISTANCE


def test_colour_and_pattern_together_come_again_only_after_56_bands() -> None:
    marks = band_marks(settings_of(width_cm=1), 56.0)
    assert len(marks) == 56
    assert len({(mark.colour, mark.pattern) for mark in marks}) == len(COLOURS) * len(PATTERNS) == 56
    assert all(one.colour != other.colour for one, other in pairwise(marks))
    assert not len(colour_findings(marks, settings_of(width_cm=1)))


def test_default_colours_keep_away_from_those_the_survey_gives() -> None:
    bands = [
        {"name": "a", "low_cm": 10, "high_cm": 20, "colour": "#F0E010"},
        {"name": "b", "low_cm": 20, "high_cm": 30},
    ]
    settings = settings_of(bands=bands)
    marks = band_marks(settings, 80.0)
    assert (marks[0].colour, marks[1].colour) == ("#F0E010", COLOURS[1])  # the first is the yellow given
    assert not len(colour_findings(marks, settings))


def test_colours_that_look_alike_are_told() -> None:
    bands = [
        {"name": "red", "low_cm": 10, "high_cm": 20, "colour": "#b03020"},
        {"name": "green", "low_cm": 20, "high_cm": 30, "colour": "#5a7a10"},
    ]
    settings = settings_of(bands=bands)
    found = colour_findings(band_marks(settings, 80.0), settings)
    assert found.frame["code"].to_list() == ["bands-hard-to-tell-apart"]
    assert "opia" in found.frame["message"][0]
