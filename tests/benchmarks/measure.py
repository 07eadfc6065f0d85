"""Measure ``plotmap run``: time, processor time, peak memory and the sizes of what it writes.

``python -m tests.benchmarks.measure FOLDER`` after ``python -m tests.benchmarks.make_survey FOLDER``. The figures
belong to the machine they were measured on; say which when quoting them.
"""

from __future__ import annotations

import argparse
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

BYTES_PER_MAXRSS = 1 if sys.platform == "darwin" else 1024


@dataclass(frozen=True)
class Measurement:
    """What a command took.

    Attributes
    ----------
    exit_code : int
        Of the command.
    wall_s, cpu_s : float
        Time on the clock and of the processors, user and system, in seconds.
    peak_bytes : int
        Largest resident memory of any process started so far by this one.
    """

    exit_code: int
    wall_s: float
    cpu_s: float
    peak_bytes: int


def measure(command: Sequence[str]) -> Measurement:
    """Run a command to its end and say what it took; what it prints goes to the error stream."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    start = time.perf_counter()
    done = subprocess.run(command, stdout=sys.stderr, check=False)
    wall_s = time.perf_counter() - start
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    cpu_s = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return Measurement(done.returncode, wall_s, cpu_s, after.ru_maxrss * BYTES_PER_MAXRSS)


def sizes(folder: Path) -> dict[str, int]:
    """Return the size in bytes of every file below a folder, by its path in the folder."""
    files = sorted(path for path in folder.rglob("*") if path.is_file())
    return {str(path.relative_to(folder)): path.stat().st_size for path in files}


def report(measured: Measurement, written: dict[str, int]) -> str:
    """Return the measurement as text."""
    lines = [
        f"{'wall time':<24}{measured.wall_s:>12.2f} s",
        f"{'CPU time':<24}{measured.cpu_s:>12.2f} s",
        f"{'peak memory':<24}{measured.peak_bytes / 1e6:>12.1f} MB",
        f"{'processors':<24}{os.cpu_count() or 1:>12d}",
    ]
    lines += [f"{name:<24}{size / 1e6:>12.3f} MB" for name, size in written.items()]
    return "\n".join(lines)


def main(arguments: list[str] | None = None) -> int:
    """Measure one run of a survey folder; return the exit code of the run."""
    parser = argparse.ArgumentParser(description="Measure plotmap run on a survey folder.")
    parser.add_argument("folder", type=Path)
    parser.add_argument("--out", type=Path, help="folder for the results; left away, they are thrown away")
    given = parser.parse_args(arguments)
    with tempfile.TemporaryDirectory() as spare:
        out = given.out or Path(spare) / "results"
        measured = measure([sys.executable, "-m", "plotmap", "run", str(given.folder), "--out", str(out)])
        sys.stdout.write(report(measured, sizes(out)) + "\n")
    return measured.exit_code


if __name__ == "__main__":
    sys.exit(main())
