"""Rules of thinning: what is complete, what contradicts itself, whom they are for. Both sides of each bound."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from plotmap.fielddata import read_survey
from plotmap.workflow import check, run
from tests.folder_example import as_csv, folder_example, found, settings_text, the_finding

RULE: dict[str, Any] = {
    "rule": "low",
    "compartment": "A",
    "stratum": None,
    "criterion": "basal area",
    "kind": "from below",
    "min_plots": 2,
    "trigger_basal_area_m2_per_ha": 30,
    "residual_basal_area_m2_per_ha": 22,
}
TARGET = {
    "kind": "target distribution",
    "target_smallest_dbh_cm": 10,
    "target_largest_dbh_cm": 50,
    "target_q": 1.3,
    "target_class_width_cm": 5,
}
SPACING = {
    "criterion": "relative spacing",
    "trigger_basal_area_m2_per_ha": None,
    "residual_basal_area_m2_per_ha": None,
    "trigger_spacing_pct": 18,
}
CODES = {
    "prescription-without-place",
    "prescription-elsewhere",
    "prescription-twice",
    "prescription-incomplete",
    "prescription-contradictory",
    "prescription-species-unknown",
}


def read(folder: Path, *rules: dict[str, Any], toml: str | None = None) -> Any:
    """Return the survey of the example with these rules, each `RULE` with other columns."""
    whole = [RULE | rule for rule in rules]
    names = list(dict.fromkeys(name for rule in whole for name in rule))
    text = as_csv([names, *([rule.get(name) for name in names] for rule in whole)])
    files = {"prescriptions.csv": text} | ({"survey.toml": toml} if toml else {})
    return read_survey(folder_example(folder / "survey", files))


@pytest.mark.parametrize(
    "rule",
    [
        {},
        {"compartment": None, "stratum": "all"},
        {"never_cut": "oak"},
        {"never_cut": " oak ; ash "},
        {"smallest_basal_area_m2_per_ha": 22},
        {"residual_basal_area_m2_per_ha": None, "residual_stems_per_ha": 400},
        {"kind": "shape", "shape_power": 0},
        {"kind": "rows", "row_share_pct": 20, "residual_basal_area_m2_per_ha": None},
        {"row_share_pct": 20},
        TARGET,
        SPACING | {"residual_spacing_pct": 18.1},
    ],
    ids=str,
)
def test_a_rule_that_can_be_followed_has_no_finding(tmp_path: Path, rule: dict[str, Any]) -> None:
    survey = read(tmp_path, rule)
    assert survey.findings.codes & CODES == set()
    assert survey.prescriptions.height == 1


def test_a_survey_without_rules_is_as_before(tmp_path: Path) -> None:
    survey = read_survey(folder_example(tmp_path / "survey"))
    assert survey.prescriptions.height == 0
    assert "prescriptions" not in survey.sources


@pytest.mark.parametrize(
    ("rule", "column", "words"),
    [
        ({"trigger_basal_area_m2_per_ha": None}, "trigger_basal_area_m2_per_ha", "is missing"),
        ({"residual_basal_area_m2_per_ha": None}, "kind", "no residual is given"),
        ({"kind": "shape"}, "shape_power", "kind is shape, but shape_power is missing"),
        ({"kind": "rows"}, "row_share_pct", "kind is rows, but row_share_pct is missing"),
        (TARGET | {"target_q": None}, "target_q", "but target_q is missing"),
        (
            TARGET | {"residual_basal_area_m2_per_ha": None, "residual_stems_per_ha": 400},
            "residual_basal_area_m2_per_ha",
            "a target distribution is made from residual_basal_area_m2_per_ha",
        ),
        (
            {"residual_basal_area_m2_per_ha": None, "residual_density_pct": 35},
            "criterion",
            "[density] maxima of the settings is not set",
        ),
    ],
)
def test_what_a_rule_lacks_is_an_error(tmp_path: Path, rule: dict[str, Any], column: str, words: str) -> None:
    error = the_finding(read(tmp_path, rule), "prescription-incomplete")
    assert (error["severity"], error["row"], error["column"]) == ("error", 2, column)
    assert words in error["message"]


def test_with_largest_indexes_in_the_settings_relative_density_is_complete(tmp_path: Path) -> None:
    toml = settings_text(density='maxima = [{species = "*", index = 1000}]')
    rule = {"residual_basal_area_m2_per_ha": None, "residual_density_pct": 35}
    assert read(tmp_path, rule, toml=toml).findings.codes & CODES == set()


@pytest.mark.parametrize(
    ("rule", "column", "words"),
    [
        ({"residual_basal_area_m2_per_ha": 30}, "residual_basal_area_m2_per_ha", "must be less than"),
        (SPACING | {"residual_spacing_pct": 18}, "residual_spacing_pct", "must be more than"),
        ({"residual_stems_per_ha": 400}, "residual_stems_per_ha", "but one must say what stays"),
        ({"trigger_stems_per_ha": 900}, "trigger_stems_per_ha", "but criterion is basal area"),
        ({"shape_power": 1}, "shape_power", "but kind is from below"),
        ({"target_q": 1.3}, "target_q", "but kind is from below"),
        (TARGET | {"row_share_pct": 20}, "row_share_pct", "a target distribution has no rows"),
        ({"smallest_basal_area_m2_per_ha": 22.5}, "smallest_basal_area_m2_per_ha", "must be at most"),
        (
            {
                "residual_basal_area_m2_per_ha": None,
                "residual_stems_per_ha": 400,
                "smallest_basal_area_m2_per_ha": 30,
            },
            "smallest_basal_area_m2_per_ha",
            "must be less than trigger_basal_area_m2_per_ha",
        ),
        (TARGET | {"target_smallest_dbh_cm": 50}, "target_smallest_dbh_cm", "must be less than"),
    ],
)
def test_what_contradicts_itself_is_an_error(
    tmp_path: Path, rule: dict[str, Any], column: str, words: str
) -> None:
    error = the_finding(read(tmp_path, rule), "prescription-contradictory")
    assert (error["severity"], error["row"], error["column"], error["compartment"]) == (
        "error",
        2,
        column,
        "A",
    )
    assert words in error["message"]


def test_a_rule_for_nothing_and_one_for_two_things_are_errors(tmp_path: Path) -> None:
    survey = read(tmp_path, {"compartment": None}, {"compartment": "B", "stratum": "all"})
    messages = [row["message"] for row in found(survey, "prescription-without-place")]
    assert messages == [
        "the rule names neither a compartment nor a stratum",
        "the rule names a compartment and a stratum, but is for one of them",
    ]


def test_a_rule_for_a_compartment_that_is_not_there_is_an_error(tmp_path: Path) -> None:
    survey = read(tmp_path, {"compartment": "D"}, {"compartment": None, "stratum": "valley"})
    errors = found(survey, "prescription-elsewhere")
    assert {(row["row"], row["column"], row["value"]) for row in errors} == {
        (2, "compartment", "D"),
        (3, "stratum", "valley"),
    }


def test_two_rules_for_one_compartment_are_an_error_and_one_beside_its_stratum_s_is_none(
    tmp_path: Path,
) -> None:
    twice = the_finding(read(tmp_path, {}, {"rule": "other"}), "prescription-twice")
    assert (twice["row"], twice["compartment"]) == (3, "A")
    assert twice["message"] == "compartment A has a rule already, in row 2"
    both = read(tmp_path / "both", {}, {"rule": "all", "compartment": None, "stratum": "all"})
    assert both.findings.codes & CODES == set()


def test_a_species_that_is_misspelt_is_an_error_since_it_would_not_be_spared(tmp_path: Path) -> None:
    error = the_finding(read(tmp_path, {"never_cut": "oak; ashe"}), "prescription-species-unknown")
    assert error["message"] == "no stem and no row of the species table is called ashe; ash may be meant"


def test_a_run_checks_the_rules_and_sets_them_aside(tmp_path: Path) -> None:
    survey = read(tmp_path, {})
    assert not check(survey).has_errors
    result = run(survey.folder, tmp_path / "results")
    assert result.stand is not None
    rows = result.stand.ledger.filter(result.stand.ledger["table"] == "prescriptions")
    assert rows.select("outcome", "reason", "rows").rows() == [
        ("read", "", 1),
        ("used", "", 0),
        ("set aside", "read for proposals only", 1),
    ]
