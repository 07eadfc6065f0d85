"""Findings in a file of the user's choice."""

from __future__ import annotations

import os
from pathlib import Path

from plotmap.errors import OutputError
from plotmap.model.findings import Findings
from plotmap.output.tables import write_findings


def save_findings(findings: Findings, path: Path) -> Path:
    """Write findings to a CSV file, whole or not at all.

    Parameters
    ----------
    findings : Findings
        All of them are written.
    path : Path
        File to write; an earlier one is replaced.

    Returns
    -------
    Path
        `path`.

    Raises
    ------
    OutputError
        `path` is a folder, or cannot be written.
    """
    if path.is_dir():
        raise OutputError(f"{path}: this is a folder, but findings go into a file. Name a file, as findings.csv.")
    beside = path.with_name(f".{path.name}.{os.getpid()}")
    try:
        write_findings(findings, beside)
        beside.replace(path)
    except OSError as error:
        beside.unlink(missing_ok=True)
        raise OutputError(
            f"{path}: the findings cannot be written: {error.strerror or error}. Name a file in a folder that is "
            "there and may be written to."
        ) from error
    return path
