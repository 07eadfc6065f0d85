"""Findings: their order, their cells, and that every rule says what to do."""

from __future__ import annotations

import re

import polars as pl
import pytest

from plotmap.model.finding_rules import RULES, FindingRule, Severity
from plotmap.model.findings import FINDING_SCHEMA, Findings, finding, findings_of


def test_no_findings_have_the_columns_all_the_same() -> None:
    assert dict(Findings.none().frame.schema) == {name: kind() for name, kind in FINDING_SCHEMA.items()}
    assert len(Findings.none()) == 0
    assert not Findings.none().has_errors


def test_a_finding_has_severity_and_hint_of_its_rule() -> None:
    made = finding(
        "plot-outside", "plots.csv", "out", row=3, plot="P1", compartment="A", column="x", value="5"
    )
    rule = RULES["plot-outside"]
    assert made.frame.rows() == [
        ("plot-outside", "warning", "plots.csv", 3, "P1", "A", "x", "5", "out", rule.hint)
    ]
    assert finding("plot-outside", "plots.csv", "out", hint="Look.").frame["hint"].item() == "Look."


def test_a_code_that_no_rule_has_is_a_key_error() -> None:
    with pytest.raises(KeyError, match="no-such-rule"):
        finding("no-such-rule", "a.csv", "x")
    with pytest.raises(KeyError, match="no-such-rule"):
        findings_of("no-such-rule", pl.DataFrame({"source_row": [1]}), "a.csv", pl.lit("x"))


def test_errors_come_first_then_files_codes_and_rows() -> None:
    parts = [
        finding("row-blank", "a.csv", "note"),
        finding("plot-outside", "b.csv", "warning", row=2),
        finding("plot-twice", "b.csv", "error", row=10),
        finding("plot-twice", "b.csv", "error", row=9),
        finding("plot-twice", "a.csv", "error", row=11),
        finding("no-rows", "b.csv", "error"),
    ]
    expected = [
        ("plot-twice", "a.csv", 11),
        ("no-rows", "b.csv", None),
        ("plot-twice", "b.csv", 9),
        ("plot-twice", "b.csv", 10),
        ("plot-outside", "b.csv", 2),
        ("row-blank", "a.csv", None),
    ]
    for ordered in (parts, parts[::-1]):
        assert Findings.join(ordered).frame.select("code", "file", "row").rows() == expected


def test_joining_nothing_is_no_findings() -> None:
    assert len(Findings.join([Findings.none(), Findings.none()])) == 0


def test_one_finding_is_made_for_each_row() -> None:
    rows = pl.DataFrame({"source_row": [4, 7], "plot": ["P1", None], "size": [1.5, None]})
    made = findings_of(
        "value-out-of-range",
        rows,
        "a.csv",
        pl.format("size is {}", "size"),
        plot="plot",
        column="size",
        value="size",
    )
    assert made.frame.select("row", "plot", "column", "value", "message").rows() == [
        (4, "P1", "size", "1.5", "size is 1.5"),
        (7, None, "size", None, None),
    ]


def test_only_an_error_makes_errors() -> None:
    assert not finding("plot-outside", "a.csv", "x").has_errors
    both = Findings.join([finding("plot-outside", "a.csv", "x"), finding("plot-twice", "a.csv", "x")])
    assert both.has_errors
    assert both.of(Severity.ERROR)["code"].to_list() == ["plot-twice"]
    assert both.codes == {"plot-outside", "plot-twice"}


@pytest.mark.parametrize("rule", RULES.values(), ids=lambda rule: rule.code)
def test_every_rule_says_what_is_wrong_and_what_to_do(rule: FindingRule) -> None:
    assert RULES[rule.code] is rule
    assert re.fullmatch(r"[a-z]+(-[a-z]+)*", rule.code)
    assert rule.title
    assert rule.meaning.endswith(".")
    assert rule.hint.endswith(".")
