"""Findings for a terminal: grouped by kind, counted, with the first places of each."""

from __future__ import annotations

from collections.abc import Iterator

from plotmap.model.finding_rules import RULES, Severity
from plotmap.model.findings import Findings

_SHOWN = 5
_HINTS = 3
_MANY = 1000


def findings_lines(findings: Findings, *, written: bool = False) -> Iterator[str]:
    """Yield the lines that show findings in a terminal.

    Parameters
    ----------
    findings : Findings
        Errors first.
    written : bool
        Whether a findings file holds them all; otherwise it is said how to get one.

    Yields
    ------
    str
        For each severity and kind a heading with the count, the first places as file, row, plot and
        message, how many more there are, and the hint. Control characters of the data are made visible.
    """
    if not len(findings):
        yield "No findings."
        return
    counts = [(severity, findings.of(severity)) for severity in Severity]
    yield "Findings: " + ", ".join(
        counted(frame.height, severity.value) for severity, frame in counts if frame.height
    )
    for severity, frame in counts:
        for (code,), group in frame.group_by("code", maintain_order=True):
            yield ""
            yield f"{severity.value.upper()} {code} ({group.height}): {RULES[str(code)].title}"
            for row in group.head(_SHOWN).rows(named=True):
                yield f"  {_where(row)}: {visible(row['message'])}"
            if group.height > _SHOWN:
                where = "in the findings file" if written else "(list all with --findings FILE)"
                yield f"  … and {group.height - _SHOWN} more {where}"
            for hint in group["hint"].unique(maintain_order=True).head(_HINTS):
                yield f"  What to do: {visible(hint)}"
    yield ""


def _where(row: dict[str, object]) -> str:
    """Return file, row, plot and compartment of a finding."""
    about = [f"{name} {row[name]}" for name in ("plot", "compartment") if row[name] is not None]
    place = str(row["file"]) + (f", row {row['row']}" if row["row"] is not None else "")
    return visible(place + (f" ({', '.join(about)})" if about else ""))


def visible(text: object) -> str:
    """Return text with its control characters spelled out, so that data cannot steer a terminal.

    Parameters
    ----------
    text : object
        Its text is taken; what goes beyond 1000 letters is cut off and marked with ``…``.

    Returns
    -------
    str
        One line: a line break, too, is spelled out.
    """
    shown = "".join(letter if letter.isprintable() else repr(letter)[1:-1] for letter in str(text)[:_MANY])
    return shown + ("…" if len(str(text)) > _MANY else "")


def counted(n: int, noun: str) -> str:
    """Return a number with its noun: ``1 error``, ``2 errors``."""
    return f"{n} {noun}" if n == 1 else f"{n} {noun}s"
