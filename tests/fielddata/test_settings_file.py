"""survey.toml: every fault at once, each with its key, its value and what is allowed."""

from __future__ import annotations

import os
import re
from pathlib import Path

import pytest

from plotmap.errors import SettingsError
from plotmap.fielddata.settings_file import read_settings, settings_from
from plotmap.model.field_tables import FIELD_TABLES
from plotmap.model.settings import Settings
from tests.folder_example import FILES

PLOTS = {"design": "circle", "radius_m": 12.62}


def _faults(content: dict) -> str:
    with pytest.raises(SettingsError, match=r"faults? in the settings:") as refused:
        settings_from(content, "survey.toml")
    return str(refused.value)


def test_a_correct_file_is_read(tmp_path: Path) -> None:
    path = tmp_path / "survey.toml"
    path.write_bytes(b"\xef\xbb\xbf" + FILES["survey.toml"].encode())
    settings = read_settings(path)
    assert (settings.survey.title, settings.plots.radius_m) == ("Tiny", 12.62)


def test_all_faults_are_told_at_once() -> None:
    text = _faults(
        {
            "survey": {"confidence": 95, "crs": 32630, "colour": "red"},
            "plots": {"design": "square", "radius_m": "wide"},
            "stems": {"bark": "none"},
            "classes": {"bands": [{"name": "ochre", "low_cm": 20, "high_cm": 10}, {"nam": "x"}]},
            "columns": {"trees": {"Sp.": "specis"}, "stems": {}},
            "fells": {},
        }
    )
    lines = text.splitlines()
    assert lines[0] == f"{len(lines) - 1} faults in the settings:"
    expected = [
        "[survey] confidence is 95, but must be less than or equal to 0.999.",
        "[survey] crs is 32630, but must be a valid string.",
        "[survey] colour is no setting. Allowed here: areas, confidence, crs, title.",
        "[plots] design is 'square', but must be 'circle', 'rectangle'",
        "[plots] radius_m is 'wide', but must be a valid number",
        "[stems] bark is 'none', but must be 'over' or 'under'.",
        "[classes] the 1st band (ochre): high_cm is 10, but must be more than low_cm, 20 cm.",
        "[classes] the 2nd band, name is missing, but is needed.",
        "[classes] the 2nd band, nam is no setting. Allowed here: name, low_cm, high_cm, ",
        "[columns.trees] 'Sp.' is 'specis', but must be one of plot, tree, species",
        f"[columns.stems] is no table. Allowed here: {', '.join(table.name for table in FIELD_TABLES)}.",
        f"[fells] is no setting. Allowed here: {', '.join(sorted(Settings.model_fields))}.",
    ]
    for part in expected:
        assert sum(line.startswith(f"  survey.toml, {part}") for line in lines) == 1, (part, text)


def test_the_plots_section_and_its_design_are_needed() -> None:
    assert "survey.toml, [plots] is missing, but is needed." in _faults({})
    assert "survey.toml, [plots] design is missing, but is needed." in _faults({"plots": {}})


@pytest.mark.parametrize(
    ("section", "keys", "says"),
    [
        (
            "plots",
            {"design": "circle", "radius_m": 5, "area_m2": 80},
            "[plots]: radius_m and area_m2 are both given",
        ),
        ("plots", {"design": "rectangle", "radius_m": 5}, "radius_m does not fit design = 'rectangle'"),
        (
            "plots",
            {"design": "rectangle", "area_m2": 80, "edge": "inside"},
            "edge = 'inside' does not fit design = 'rectangle'",
        ),
        ("classes", {"width_cm": 5, "edges_cm": [10, 20]}, "width_cm and edges_cm are both given"),
        ("classes", {"edges_cm": [20, 10]}, "must be at least two rising edges in cm"),
        ("classes", {"edges_cm": [20]}, "must be at least two rising edges in cm"),
        ("survey", {"confidence": float("nan")}, "[survey] confidence is nan, but must be"),
        ("survey", "x", "[survey] is 'x', but must be a section: write [survey] on a line of its own"),
        ("stems", {"min_dbh_cm": -1}, "[stems] min_dbh_cm is -1, but must be greater than or equal to 0."),
    ],
)
def test_each_fault_says_what_is_allowed(section: str, keys: object, says: str) -> None:
    assert says in _faults({"plots": PLOTS, section: keys})


@pytest.mark.parametrize(
    ("keys", "allowed"),
    [
        ({"width_cm": 0.5}, True),
        ({"width_cm": 0.49}, False),
        ({"width_cm": 100}, True),
        ({"width_cm": 101}, False),
    ],
)
def test_both_bounds_of_a_setting_are_allowed(keys: dict, *, allowed: bool) -> None:
    if allowed:
        assert settings_from({"plots": PLOTS, "classes": keys}).classes.width_cm == keys["width_cm"]
    else:
        assert "[classes] width_cm is" in _faults({"plots": PLOTS, "classes": keys})


def test_bands_that_overlap_or_share_a_name_are_refused() -> None:
    low = {"name": "ochre", "low_cm": 10, "high_cm": 20}
    high = {"name": "blue", "low_cm": 19, "high_cm": 30}
    assert "bands ochre and blue overlap" in _faults({"plots": PLOTS, "classes": {"bands": [low, high]}})
    same = {**high, "name": "ochre", "low_cm": 20}
    assert "two bands have one name" in _faults({"plots": PLOTS, "classes": {"bands": [low, same]}})
    assert (
        len(settings_from({"plots": PLOTS, "classes": {"bands": [low, {**high, "low_cm": 20}]}}).bands) == 2
    )


def test_own_headings_may_name_any_unit_and_any_reading() -> None:
    own = {"trees": {"BHD": "d1_mm", "BHD 2": "d2_in"}, "plots": {"Hang": "slope_deg"}}
    assert settings_from({"plots": PLOTS, "columns": own}).columns == own


def test_own_headings_that_differ_only_by_capitals_are_refused() -> None:
    own = {"trees": {"Sp.": "species", "SP. ": "tree"}}
    assert "'SP. ' is the heading 'Sp.' again" in _faults({"plots": PLOTS, "columns": own})


def test_an_own_heading_for_a_measurement_without_unit_is_refused() -> None:
    assert "'BHD' is 'd1'" in _faults({"plots": PLOTS, "columns": {"trees": {"BHD": "d1"}}})


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"[plots\n", r"the file is no TOML: .*line 1"),
        (b"a = 1\na = 2\n", r"the file is no TOML"),
        (b"\xff\xfe[\x00", r"no UTF-8 text"),
        (bytes(range(256)), r"no UTF-8 text"),
        ("[survey]\ntitle = 'Föhre'\n".encode("latin-1"), r"no UTF-8 text"),
        (b"a = " + b"[" * 100_000, r"the file is no TOML"),
        (b"a = " + b"9" * 10_000, r"the file is no TOML"),
        (b"a = 2026-02-30\n", r"the file is no TOML"),
    ],
    ids=["cut", "twice", "utf-16", "binary", "latin-1", "deep", "long-number", "no-date"],
)
def test_what_is_no_toml_is_refused(tmp_path: Path, content: bytes, says: str) -> None:
    path = tmp_path / "survey.toml"
    path.write_bytes(content)
    with pytest.raises(SettingsError, match=says) as refused:
        read_settings(path)
    assert len(str(refused.value)) < 1000


def test_an_empty_file_lacks_the_plots(tmp_path: Path) -> None:
    (tmp_path / "survey.toml").write_bytes(b"")
    with pytest.raises(SettingsError, match=r"\[plots\] is missing, but is needed"):
        read_settings(tmp_path / "survey.toml")


def test_a_folder_inside_a_survey_is_told_from_it(tmp_path: Path) -> None:
    (tmp_path / "survey.toml").write_text("")
    (tmp_path / "results").mkdir()
    with pytest.raises(
        SettingsError, match=f"There is one in the folder above, {re.escape(str(tmp_path))}: give"
    ):
        read_settings(tmp_path / "results" / "survey.toml")


def test_a_missing_file_says_what_is_needed(tmp_path: Path) -> None:
    with pytest.raises(
        SettingsError, match=r"there is no survey.toml[\s\S]*design = \"circle\"[\s\S]*plotmap new"
    ):
        read_settings(tmp_path / "survey.toml")


def test_a_folder_in_its_place_is_refused(tmp_path: Path) -> None:
    (tmp_path / "survey.toml").mkdir()
    with pytest.raises(SettingsError, match="this is a folder, but must be a file in TOML"):
        read_settings(tmp_path / "survey.toml")


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may read everything")
def test_a_file_that_may_not_be_read_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "survey.toml"
    path.write_bytes(b"")
    path.chmod(0)
    with pytest.raises(SettingsError, match="cannot be read: Permission denied"):
        read_settings(path)


@pytest.mark.parametrize(
    ("line", "cause"),
    [
        ("radius_m = 12,62", "decimal comma"),
        ("design = circle", "double quotes"),
        ("Sp. = species", "quotes"),
    ],
)
def test_a_line_that_is_no_toml_is_shown_with_what_it_most_often_is(
    tmp_path: Path, line: str, cause: str
) -> None:
    path = tmp_path / "survey.toml"
    path.write_text(f"[plots]\n{line}\n", encoding="utf-8")
    with pytest.raises(SettingsError, match=f"The line is: {re.escape(line)}\n.*{cause}"):
        read_settings(path)


@pytest.mark.parametrize("name", ["survey.toml.txt", "Survey.TOML.bak", "survey.txt"])
def test_a_file_that_may_be_meant_is_named(tmp_path: Path, name: str) -> None:
    (tmp_path / name).write_text("", encoding="utf-8")
    with pytest.raises(SettingsError, match=f"{re.escape(name)} may be meant: rename it to survey.toml"):
        read_settings(tmp_path / "survey.toml")


def test_the_folder_below_that_holds_a_survey_is_named(tmp_path: Path) -> None:
    for name in ("north", "south", "photos"):
        (tmp_path / name).mkdir()
    for name in ("north", "south"):
        (tmp_path / name / "survey.toml").write_text("", encoding="utf-8")
    with pytest.raises(SettingsError, match=r"There is one in north, south: give that folder\."):
        read_settings(tmp_path / "survey.toml")


def test_rings_are_named_as_rings() -> None:
    content = {"plots": {"design": "nested", "nests": [{"radius_m": 0.1, "min_dbh": 5}]}}
    with pytest.raises(SettingsError) as caught:
        settings_from(content, "survey.toml")
    text = str(caught.value)
    assert "[plots] the 1st ring, radius_m is 0.1" in text
    assert "[plots] the 1st ring, min_dbh is no setting. Allowed here: radius_m, min_dbh_cm." in text
