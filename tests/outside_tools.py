"""Programs of Debian that tests need and pip cannot install: there, or the test is skipped.

CI sets PLOTMAP_ALL_TOOLS=yes, and then what is missing fails the test, so that nothing is left out unseen.
"""

from __future__ import annotations

import os
import subprocess
from pathlib import Path

import pytest

SYSTEM_PYTHON = Path("/usr/bin/python3")
"""Debian's own Python: its packages are not in our environment."""
VALIDATOR = Path("/usr/lib/python3/dist-packages/osgeo_utils/samples/validate_gpkg.py")
"""GDAL's check of GeoPackages, in Debian's python3-gdal."""


def needs_module(module: str, package: str, *, in_ci: bool = True) -> None:
    """Skip the test where Debian's Python lacks a module, or fail it where everything must be there.

    Parameters
    ----------
    module : str
        To be imported by `SYSTEM_PYTHON`.
    package : str
        Debian package that has it.
    in_ci : bool
        False for what is too large for CI: there the test is skipped too.
    """
    found = SYSTEM_PYTHON.exists() and (
        subprocess.run(
            [SYSTEM_PYTHON, "-c", f"import {module}"],
            capture_output=True,
            check=False,
            env=plain_environment(),
        ).returncode
        == 0
    )
    if found:
        return
    if in_ci and os.environ.get("PLOTMAP_ALL_TOOLS") == "yes":
        pytest.fail(f"PLOTMAP_ALL_TOOLS is set, but Debian's {package} is not installed")
    pytest.skip(f"Debian's {package} is not installed")


def plain_environment(**more: str) -> dict[str, str]:
    """Return the environment without our own Python's paths, for programs of the system."""
    return {name: value for name, value in os.environ.items() if not name.startswith("PYTHON")} | more
