"""Settings: defaults as documented, bounds, and rules between keys; reading the file is tested with fielddata."""

from __future__ import annotations

import math
import re
from typing import Any

import pytest
from pydantic import ValidationError

from plotmap.model.class_rule import Band, ClassEdge, ClassMeasure, ClassRule
from plotmap.model.settings import AssignRule, EdgeRule, SectionMean, Settings, SlopeRule


def _settings(**sections: Any) -> Settings:
    return Settings.model_validate({"plots": {"design": "circle", "radius_m": 12.62}, **sections})


def test_only_the_design_is_needed() -> None:
    settings = Settings.model_validate({"plots": {"design": "rectangle"}})
    assert settings.plots.area_m2 is None
    with pytest.raises(ValidationError, match="design"):
        Settings.model_validate({"plots": {}})


def test_what_is_not_stated_has_the_documented_value() -> None:
    settings = _settings()
    assert (settings.survey.confidence, settings.survey.areas, settings.survey.crs) == (
        0.95,
        "register",
        None,
    )
    assert (settings.plots.slope, settings.plots.edge) == (SlopeRule.HORIZONTAL, EdgeRule.WHOLE)
    assert settings.plots.assign is AssignRule.POSITION
    assert (settings.stems.section, settings.stems.bark) == (SectionMean.ARITHMETIC, "over")
    assert (settings.stems.breast_height_m, settings.stems.min_dbh_cm) == (1.3, 0)
    assert (settings.stems.check_days, settings.stems.max_reading_difference_pct) == (30, 25)
    assert settings.estimates.one_plot_variance == "missing"
    assert settings.class_rule == ClassRule(5.0, (), ClassMeasure.DIAMETER, ClassEdge.LOWER)


def test_the_class_rule_is_that_of_the_settings() -> None:
    classes = {"edges_cm": [10, 20, 45], "on": "girth", "edge": "upper"}
    rule = _settings(classes=classes).class_rule
    assert rule == ClassRule(None, (10.0, 20.0, 45.0), ClassMeasure.GIRTH, ClassEdge.UPPER)


def test_bands_come_in_the_order_of_their_sizes() -> None:
    bands = [{"name": "blue", "low_cm": 20, "high_cm": 35}, {"name": "ochre", "low_cm": 10, "high_cm": 20}]
    assert _settings(classes={"bands": bands}).bands == (
        Band("ochre", 10, 20, letter="A"),
        Band("blue", 20, 35, letter="B"),
    )


def test_settings_cannot_be_changed() -> None:
    settings = _settings()
    with pytest.raises(ValidationError, match="frozen"):
        settings.survey.title = "other"


BOUNDS = [
    ("survey", "confidence", 0.5, 0.999),
    ("plots", "radius_m", 0.5, 200),
    ("plots", "area_m2", 1, 100_000),
    ("plots", "position_error_m", 0, 1000),
    ("stems", "breast_height_m", 1.0, 1.6),
    ("stems", "min_dbh_cm", 0, 200),
    ("stems", "check_days", 1, 3650),
    ("stems", "max_reading_difference_pct", None, 100),
    ("stems", "max_gain_off_pct", None, 20),
    ("stems", "max_zero_move_mm", None, 50),
    ("stems", "max_gain_move_pct", None, 20),
    ("classes", "width_cm", 0.5, 100),
    ("share", "round_sensitive_below", 0, 100),
]


def _with(section: str, key: str, value: float) -> Settings:
    keys = {"design": "circle", key: value} if section == "plots" else {key: value}
    return _settings(**{section: keys})


@pytest.mark.parametrize(("section", "key", "low", "high"), BOUNDS)
def test_both_bounds_are_allowed_and_a_step_beyond_is_not(
    section: str, key: str, low: float | None, high: float
) -> None:
    step = 1 if isinstance(high, int) and isinstance(low, int) else 1e-6
    for bound, sign in ((low, -1), (high, 1)):
        if bound is None:
            continue
        assert getattr(getattr(_with(section, key, bound), section), key) == bound
        with pytest.raises(ValidationError, match=key):
            _with(section, key, bound + sign * step)


@pytest.mark.parametrize(("section", "key"), [(section, key) for section, key, _, _ in BOUNDS])
@pytest.mark.parametrize("value", [float("nan"), float("inf")])
def test_what_is_not_a_finite_number_is_refused(section: str, key: str, value: float) -> None:
    with pytest.raises(ValidationError, match=key):
        _with(section, key, value)


def test_a_share_of_nothing_is_refused() -> None:
    with pytest.raises(ValidationError, match="max_reading_difference_pct"):
        _settings(stems={"max_reading_difference_pct": 0})


@pytest.mark.parametrize("section", ["survey", "plots", "stems", "classes", "estimates", "share"])
def test_unknown_keys_are_refused_in_every_section(section: str) -> None:
    with pytest.raises(ValidationError, match="Extra inputs are not permitted"):
        _settings(**{section: {"design": "circle", "colour": 1} if section == "plots" else {"colour": 1}})


_LOW = {"name": "ochre", "low_cm": 10, "high_cm": 20}


def test_bands_get_the_letters_that_are_left() -> None:
    bands = [
        {"name": "moss", "low_cm": 30, "high_cm": 40},
        {"name": "B", "low_cm": 20, "high_cm": 30},
        {**_LOW, "letter": "A"},
    ]
    assert [(band.name, band.letter) for band in _settings(classes={"bands": bands}).bands] == [
        ("ochre", "A"),
        ("B", "C"),
        ("moss", "D"),
    ]


def test_the_twenty_seventh_band_has_two_letters() -> None:
    bands = [{"name": f"band {i}", "low_cm": i, "high_cm": i + 1} for i in range(28)]
    assert [band.letter for band in _settings(classes={"bands": bands}).bands][25:] == ["Z", "AA", "AB"]


@pytest.mark.parametrize(
    ("classes", "says"),
    [
        (
            {"bands": [{"name": "10-15", "low_cm": 10, "high_cm": 20}]},
            "band 10-15 is named like a size class",
        ),
        (
            {"bands": [{"name": "45+", "low_cm": 10, "high_cm": 20}], "edges_cm": [10, 45]},
            "named like a size class",
        ),
        ({"bands": [{"name": "ochre", "low_cm": 10}]}, "high_cm is missing: give it, or mean_cm"),
        (
            {"bands": [{"name": "ochre", "low_cm": 10, "mean_cm": 10}]},
            "mean_cm is 10, but must be more than low_cm",
        ),
        ({"bands": [{**_LOW, "mean_cm": 15}]}, "mean_cm is only for a band that is open above"),
        ({"bands": [{"name": "thick", "low_cm": 5, "mean_cm": 9}, _LOW]}, "bands thick and ochre overlap"),
        ({"bands": [{**_LOW, "colour": "ochre"}]}, "colour"),
        ({"bands": [{**_LOW, "letter": "ABC"}]}, "letter"),
        (
            {"bands": [{**_LOW, "letter": "M"}, {"name": "M", "low_cm": 20, "high_cm": 30}]},
            "the letter M stands for two bands",
        ),
        ({"top_mean_cm": 60}, "top_mean_cm is of the open class above the last edge"),
        (
            {"top_mean_cm": 45, "edges_cm": [10, 45]},
            "top_mean_cm is 45, but must be more than the last edge, 45 cm",
        ),
    ],
)
def test_bands_and_open_classes_that_cannot_be_meant_are_refused(classes: dict, says: str) -> None:
    with pytest.raises(ValidationError, match=re.escape(says)):
        _settings(classes=classes)


@pytest.mark.parametrize("name", ["10-20", "45+", "10–15 cm thick"])
def test_a_band_may_look_like_a_class_that_is_none(name: str) -> None:
    assert _settings(classes={"bands": [{**_LOW, "name": name}]}).bands[0].name == name


def test_an_open_band_reaches_to_infinity() -> None:
    band = _settings(classes={"bands": [{"name": "thick", "low_cm": 40, "mean_cm": 50}]}).bands[0]
    assert (band.high_cm, band.mean_cm) == (math.inf, 50)


def test_plots_are_samples_of_compartments_unless_the_settings_say_otherwise() -> None:
    rules = _settings().estimates
    assert (rules.sample_of, rules.finite_population, rules.merge_into) == ("compartment", False, {})
    for word in ("compartment", "stratum", "survey"):
        assert _settings(estimates={"sample_of": word}).estimates.sample_of == word
    with pytest.raises(ValidationError, match="sample_of"):
        _settings(estimates={"sample_of": "block"})


@pytest.mark.parametrize(
    "given",
    [
        {"merge_into": {"B": "A"}},
        {"one_plot_variance": "merge"},
        {"one_plot_variance": "pooled", "merge_into": {"B": "A"}},
    ],
)
def test_mergers_are_named_where_they_are_asked_for_and_only_there(given: dict[str, Any]) -> None:
    with pytest.raises(ValidationError, match="one_plot_variance = 'merge' and merge_into go together"):
        _settings(estimates=given)


@pytest.mark.parametrize(
    "into", [{"B": "A"}, {"B": "A", "A": "B"}, {"C": "B", "B": "A"}, {"C": "B", "B": "A", "A": "B"}]
)
def test_mergers_may_be_mutual_and_in_chains(into: dict[str, str]) -> None:
    assert (
        _settings(estimates={"one_plot_variance": "merge", "merge_into": into}).estimates.merge_into == into
    )


@pytest.mark.parametrize("into", [{"A": "A"}, {"A": "B", "B": "C", "C": "A"}, {"C": "B", "B": "B"}])
def test_mergers_that_lead_round_in_a_circle_are_refused(into: dict[str, str]) -> None:
    with pytest.raises(ValidationError, match="round in a circle: name one that has two plots or more"):
        _settings(estimates={"one_plot_variance": "merge", "merge_into": into})
