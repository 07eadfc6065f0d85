"""Findings in a file of the user's choice."""

from __future__ import annotations

from pathlib import Path

from plotmap.errors import OutputError
from plotmap.files import whole_file
from plotmap.model.field_tables import FIELD_TABLES
from plotmap.model.findings import Findings
from plotmap.model.result_tables import FINDING_RESULTS
from plotmap.output.tables import write_findings

_ENDING = ".csv"
_SETTINGS_FILE = "survey.toml"
_TABLE_NAMES = frozenset(table.name for table in FIELD_TABLES)


def check_findings_file(path: Path) -> None:
    """Refuse a file that findings must not replace: field data, settings, anything that is not findings.

    Parameters
    ----------
    path : Path
        File that findings are to be written to.

    Raises
    ------
    OutputError
        `path` is a folder; does not end in ``.csv``; has the name of a table in a folder with a
        ``survey.toml``; or is there and holds something else than findings.
    """
    if path.is_dir():
        raise OutputError(
            f"{path}: this is a folder, but findings go into a file. Name a file, as findings.csv."
        )
    if path.suffix.lower() != _ENDING:
        raise OutputError(
            f"{path}: findings are written as CSV, so the name must end in {_ENDING}. Name a file, as findings.csv."
        )
    if path.stem.lower() in _TABLE_NAMES and (path.parent / _SETTINGS_FILE).exists():
        raise OutputError(
            f"{path}: in a survey folder this is the name of a table, and field data are never overwritten. "
            "Name another file, as findings.csv."
        )
    if path.exists() and not _holds_findings(path):
        raise OutputError(
            f"{path}: this file is there and holds no findings, so it is not replaced. Name another file, or move "
            "it away."
        )


def _holds_findings(path: Path) -> bool:
    """Say whether the first line of a file is the heading of findings, or the file is empty."""
    heading = ",".join(column.name for column in FINDING_RESULTS.columns).encode()
    try:
        with path.open("rb") as file:
            first = file.readline(len(heading) + 3)
    except OSError:
        return False
    return not first or first.rstrip(b"\r\n") == heading


def save_findings(findings: Findings, path: Path) -> Path:
    """Write findings to a CSV file, whole or not at all.

    Parameters
    ----------
    findings : Findings
        All of them are written.
    path : Path
        File to write; earlier findings are replaced, nothing else is.

    Returns
    -------
    Path
        `path`.

    Raises
    ------
    OutputError
        `path` is refused by `check_findings_file`, or cannot be written.
    """
    check_findings_file(path)
    with whole_file(path, "the findings") as beside:
        write_findings(findings, beside)
    return path
