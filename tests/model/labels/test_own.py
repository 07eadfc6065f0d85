"""Own labels of survey.toml: each fault with its key, what it is and what is allowed, all at once."""

from __future__ import annotations

import tomllib

import pytest

from plotmap.errors import SettingsError
from plotmap.fielddata.settings_file import settings_from
from plotmap.model.labels import own_label_faults
from plotmap.model.labels.own import LONGEST

_PLOTS = {"design": "circle", "radius_m": 12.62}


@pytest.mark.parametrize(
    ("key", "text", "says"),
    [
        ("words.one_plott", "x", "'words.one_plott' is no label. Like it: words.one_plot"),
        ("column.basal_area", "x", "'column.basal_area' is no label. Like it: column.basal_area_m2"),
        ("qqqq", "x", "'qqqq' is no label. All labels are listed in docs/labels.md."),
        ("words.one_plot", " \u00a0", "is blank, but must have words. Leave the key out for 'one plot'."),
        ("words.one_plot", "a\nb", "must be one line without control characters"),
        ("words.one_plot", "a\x00", "must be one line without control characters"),
        ("words.one_plot", "{n}", "is '{n}', but must hold no {…} at all, as 'one plot' does."),
        ("words.one_plot", "a } b", "must hold no {…} at all"),
        ("words.plots_many", "plots", "is 'plots', but must hold {n}, as '{n} plots' does."),
        ("words.plots_many", "{n.real}", "must hold {n}"),
        ("words.plots_many", "{n} {m}", "must hold {n}"),
        ("words.plots_many", "{{n}}", "must hold {n}"),
        ("check_tolerance_is", "x", "Like it: workbook.check_tolerance_is"),
        ("workbook.check_tolerance_is", "{mm}", "must hold {mm}, {pct}, as"),
    ],
)
def test_a_label_that_does_not_fit_is_a_fault(key: str, text: str, says: str) -> None:
    (fault,) = own_label_faults({key: text})
    assert says in fault


@pytest.mark.parametrize(
    "own",
    [
        {"words.one_plot": "=1+1 <b>"},
        {"words.plots_many": "{n} {n} plots"},
        {"workbook.check_tolerance_is": "{pct} % or {mm}"},
        {"column.plots.easting": "East", "sheet_name.trees": "Stems", "table.trees": "T", "unit.°": "deg"},
        {"meaning.dg_cm": "x" * LONGEST},
    ],
)
def test_labels_that_fit_have_no_fault(own: dict[str, str]) -> None:
    assert own_label_faults(own) == []


def test_a_label_longer_than_allowed_is_a_fault() -> None:
    (fault,) = own_label_faults({"meaning.dg_cm": "x" * (LONGEST + 1)})
    assert fault == f"'meaning.dg_cm' has {LONGEST + 1} characters, but must have at most {LONGEST}."


def test_faults_of_labels_come_with_all_others() -> None:
    own = {"map.nothing_of_it": "x", "words.one_plot": " ", "words.total": 3}
    content = {"plots": {"design": "square"}, "labels": {"language": "xx", "own": own}}
    with pytest.raises(SettingsError, match="5 faults in the settings:") as refused:
        settings_from(content, "survey.toml")
    text = str(refused.value)
    for part in (
        "[plots] design is 'square'",
        "[labels] language is 'xx', but must be 'en' or 'de'.",
        "[labels] own.words.total is 3, but must be a valid string.",
        "[labels] own 'map.nothing_of_it' is no label.",
        "[labels] own 'words.one_plot' is blank",
    ):
        assert text.count(f"  survey.toml, {part}") == 1, (part, text)


def test_faults_of_labels_alone_are_told() -> None:
    with pytest.raises(
        SettingsError, match=r"1 fault in the settings:\n  survey\.toml, \[labels\] own 'a' is no label"
    ):
        settings_from({"plots": _PLOTS, "labels": {"own": {"a": "b"}}}, "survey.toml")


def test_own_that_is_no_table_is_refused() -> None:
    with pytest.raises(
        SettingsError, match=r"\[labels\] own is 'x', but must be a section: write \[labels\.own\] on"
    ):
        settings_from({"plots": _PLOTS, "labels": {"own": "x"}}, "survey.toml")


def test_keys_may_stand_with_quotes_or_without() -> None:
    texts = (
        '[labels]\nown = { "words.one_plot" = "single" }',
        '[labels]\nown = { words.one_plot = "single" }',
        '[labels.own]\nwords.one_plot = "single"',
        '[labels.own.words]\none_plot = "single"',
    )
    for text in texts:
        settings = settings_from({"plots": _PLOTS} | tomllib.loads(text))
        assert settings.labels.own == {"words.one_plot": "single"}
