"""Findings in a terminal: grouped, counted, bounded, and unable to steer the terminal."""

from __future__ import annotations

import pytest

from plotmap.model.finding_rules import RULES
from plotmap.model.findings import Findings, finding
from plotmap.tools.findings_text import findings_lines, visible


def _lines(*parts: Findings) -> list[str]:
    return list(findings_lines(Findings.join(parts)))


def test_no_findings_are_said_so() -> None:
    assert _lines() == ["No findings."]


def test_findings_are_counted_by_severity_and_grouped_by_kind() -> None:
    lines = _lines(
        finding("plot-twice", "plots.csv", "plot P1 comes again", row=3, plot="P1"),
        finding("plot-twice", "plots.csv", "plot P2 comes again", row=4, plot="P2"),
        finding("plot-outside", "plots.csv", "out", row=5, plot="P3", compartment="A"),
        finding("row-blank", "trees.csv", "2 of 9 rows are blank"),
    )
    assert lines == [
        "Findings: 2 errors, 1 warning, 1 note",
        "",
        "ERROR plot-twice (2): A plot comes twice",
        "  plots.csv, row 3 (plot P1): plot P1 comes again",
        "  plots.csv, row 4 (plot P2): plot P2 comes again",
        f"  What to do: {RULES['plot-twice'].hint}",
        "",
        "WARNING plot-outside (1): A plot lies outside all compartments",
        "  plots.csv, row 5 (plot P3, compartment A): out",
        f"  What to do: {RULES['plot-outside'].hint}",
        "",
        "NOTE row-blank (1): Blank rows",
        "  trees.csv: 2 of 9 rows are blank",
        f"  What to do: {RULES['row-blank'].hint}",
        "",
    ]


@pytest.mark.parametrize(("count", "more"), [(5, None), (6, 1), (500, 495)])
def test_the_first_five_places_are_shown_and_the_others_counted(count: int, more: int | None) -> None:
    lines = _lines(*[finding("plot-twice", "plots.csv", "again", row=row) for row in range(2, count + 2)])
    assert sum("again" in line for line in lines) == 5
    told = [line for line in lines if line.startswith("  …")]
    assert told == ([] if more is None else [f"  … and {more} more (list all with --findings FILE)"])


def test_the_findings_file_is_named_only_where_one_is_written() -> None:
    findings = Findings.join([finding("plot-twice", "plots.csv", "again", row=row) for row in range(2, 9)])
    assert "  … and 2 more in the findings file" in list(findings_lines(findings, written=True))


def test_hints_that_differ_are_all_shown_up_to_three() -> None:
    hints = ["One.", "Two.", "One.", "Three.", "Four."]
    made = [finding("value-out-of-range", "a.csv", "x", row=i, hint=hint) for i, hint in enumerate(hints)]
    shown = [line for line in _lines(*made) if line.startswith("  What to do")]
    assert shown == ["  What to do: One.", "  What to do: Two.", "  What to do: Three."]


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("plain – m² × é 木", "plain – m² × é 木"),
        ("\x1b[31mred\x1b[0m", r"\x1b[31mred\x1b[0m"),
        ("\x1b]0;title\x07", r"\x1b]0;title\x07"),
        ("two\nlines\r", r"two\nlines\r"),
        ("tab\t", r"tab\t"),
        ("zero\x00", r"zero\x00"),
        ("\x9b31m", r"\x9b31m"),
        ("right\u202eleft", r"right\u202eleft"),
        ("\ud800", r"\ud800"),
        ("\u2028", r"\u2028"),
    ],
)
def test_control_characters_are_spelled_out(text: str, shown: str) -> None:
    """ECMA-48 for escape sequences, Unicode UAX 9 for the marks that turn the direction of writing."""
    assert visible(text) == shown
    if text != "\ud800":  # half a character, as in file names of other encodings, is in no table
        for line in _lines(finding("plot-twice", text, text, row=2, plot=text, hint=text)):
            assert line.isprintable()


def test_very_long_text_is_cut_off() -> None:
    assert visible("x" * 1000) == "x" * 1000
    assert visible("x" * 1001) == "x" * 1000 + "…"
    assert max(map(len, _lines(finding("plot-twice", "a.csv", "x" * 1_000_000)))) < 1100
