"""What was wrong or odd, and what was set aside."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import polars as pl

from plotmap.model.finding_rules import RULES, Severity
from plotmap.model.ledger import READ, SET_ASIDE, USED
from plotmap.output.report.blocks import Block, Head, Section, TableBlock, Text
from plotmap.output.report.figures import whole
from plotmap.output.webmap.notes import crews_of, names_any

if TYPE_CHECKING:
    from plotmap.model.labels import Labels
    from plotmap.model.survey import Stand

FIRST_FINDINGS = 3
"""Findings of one code that are shown."""


def findings_section(stand: Stand, labels: Labels) -> Section:
    """Return the findings: how many of each severity, then the first of each code with what to do."""
    return Section("findings", labels("report.findings"), tuple(_findings(stand, labels)))


def aside_section(stand: Stand, labels: Labels) -> Section:
    """Return what was read, used and set aside of each file, and why."""
    return Section("aside", labels("report.aside"), tuple(_aside(stand, labels)))


def _findings(stand: Stand, labels: Labels) -> Iterator[Block]:
    """Yield the findings, the gravest first. No crew is named: such a message gives way to the title of its rule."""
    frame = stand.findings.frame
    if frame.is_empty():
        yield Text(labels("report.findings_none"))
        return
    counts = [
        labels("report.findings_count", n=whole(n), severity=labels.word(severity.value))
        for severity in Severity
        if (n := stand.findings.of(severity).height)
    ]
    yield Text(", ".join(counts))
    if labels.language != "en":
        yield Text(labels("report.findings_language"), "note")
    crews = crews_of(stand)
    for severity in Severity:
        of_severity = stand.findings.of(severity)
        for (code,), rows in of_severity.group_by("code", maintain_order=True):
            rule = RULES[str(code)]
            yield Text(
                labels(
                    "report.findings_of_code",
                    title=rule.title,
                    severity=labels.word(severity.value),
                    n=whole(rows.height),
                ),
                "heading",
            )
            for row in rows.head(FIRST_FINDINGS).iter_rows(named=True):
                message = rule.title if names_any(str(row["message"]), crews) else str(row["message"])
                said = labels("report.finding_at", place=_place(row, labels), message=message)
                yield Text(said, "bullet")
            if rows.height > FIRST_FINDINGS:
                yield Text(labels.count("report.more_findings", rows.height - FIRST_FINDINGS), "bullet")
            hint = str(rows["hint"][0] or rule.hint)
            yield Text(
                labels("report.what_to_do", hint=rule.hint if names_any(hint, crews) else hint), "note"
            )


def _place(row: dict[str, Any], labels: Labels) -> str:
    """Return where a finding is: file, row, plot, compartment."""
    parts = [str(row["file"])]
    if row["row"] is not None:
        parts.append(labels("report.finding_row", row=row["row"]))
    if row["plot"] is not None:
        parts.append(labels("report.finding_plot", plot=row["plot"]))
    if row["compartment"] is not None:
        parts.append(labels("report.finding_compartment", compartment=row["compartment"]))
    return ", ".join(parts)


def _aside(stand: Stand, labels: Labels) -> Iterator[Block]:
    """Yield the ledger by file, and the plots set aside."""
    ledger = stand.ledger
    n_aside = int(ledger.filter(pl.col("outcome") == SET_ASIDE)["rows"].sum())
    yield Text(labels("report.aside_lead" if n_aside else "report.aside_none"))
    heads = (
        Head(labels("report.aside_file"), 3.0),
        Head(labels("report.aside_read"), 1.2, numeric=True),
        Head(labels("report.aside_used"), 1.2, numeric=True),
        Head(labels("report.aside_rows"), 1.2, numeric=True),
        Head(labels("report.aside_why"), 4.0),
    )
    rows = tuple(
        _ledger_row(str(file), of, labels)
        for (file, _table), of in ledger.group_by("file", "table", maintain_order=True)
    )
    yield TableBlock(labels("report.aside"), heads, rows, is_quiet=True)
    plots = stand.plots["set_aside"].dropna().astype(str).value_counts().sort_index()
    if len(plots):
        reasons = _reasons(zip(plots.index, plots.tolist(), strict=True), labels)
        yield Text(labels("report.aside_plots", reasons=reasons))


def _ledger_row(file: str, of: pl.DataFrame, labels: Labels) -> tuple[str, ...]:
    """Return what became of the rows of one file."""
    sums = {
        outcome: float(of.filter(pl.col("outcome") == outcome)["rows"].sum())
        for outcome in (READ, USED, SET_ASIDE)
    }
    aside = of.filter(pl.col("outcome") == SET_ASIDE).select("reason", "rows").iter_rows()
    return (file, *(whole(sums[outcome]) for outcome in (READ, USED, SET_ASIDE)), _reasons(aside, labels))


def _reasons(pairs: Any, labels: Labels) -> str:
    """Return reasons with how many rows each is of."""
    return ", ".join(
        labels("report.aside_reason", reason=labels.word(str(reason)), n=whole(n)) for reason, n in pairs
    )
