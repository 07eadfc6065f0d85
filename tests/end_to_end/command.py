"""Calling plotmap as a person does: a process of its own, from another folder."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

COMMAND = [sys.executable, "-m", "plotmap"]


@dataclass(frozen=True)
class Outcome:
    """What a call came to.

    Attributes
    ----------
    code : int
        Exit code.
    out, err : str
        What it said on standard output and on standard error.
    """

    code: int
    out: str
    err: str


def plotmap(
    *arguments: str | Path,
    cwd: Path | str = "/",
    env: Mapping[str, str] | None = None,
    before: Callable[[], None] | None = None,
) -> Outcome:
    """Call plotmap; a call that takes more than a minute fails."""
    done = subprocess.run(
        [*COMMAND, *map(str, arguments)],
        cwd=cwd,
        env=env,
        capture_output=True,
        timeout=60,
        check=False,
        preexec_fn=before,
    )
    return Outcome(
        done.returncode, done.stdout.decode("utf-8", "replace"), done.stderr.decode("utf-8", "replace")
    )


def assert_refused(outcome: Outcome, code: int, *says: str) -> None:
    """Assert the exit code, that no traceback was shown, and that the parts of the message come in their order."""
    shown = outcome.out if code == 1 else outcome.err
    assert outcome.code == code, f"exit code {outcome.code}, not {code}:\n{outcome.out}\n{outcome.err}"
    for stream in (outcome.out, outcome.err):
        assert "Traceback" not in stream
        assert "fault of plotmap" not in stream
    place = 0
    for part in says:
        found = shown.find(part, place)
        assert found >= 0, f"{part!r} is not said, or not there:\n{shown}"
        place = found


def snapshot(folder: Path) -> dict[str, bytes]:
    """Return the bytes of every file below a folder, and of every folder its name."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes() if path.is_file() else b"folder"
        for path in sorted(folder.rglob("*"))
    }
