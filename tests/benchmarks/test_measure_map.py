"""The measurement of the map works, on a tiny survey; stands made for it have the sizes asked for."""

from __future__ import annotations

import shutil
import subprocess
import sys

import pytest
import shapely

from tests.benchmarks.large_stand import large_stand


def test_a_large_stand_has_the_sizes_asked_for_and_is_a_coverage() -> None:
    stand = large_stand(30, 100)
    assert (len(stand.compartments), len(stand.plots)) == (30, 100)
    assert shapely.coverage_is_valid(stand.compartments.geometry.to_numpy())
    homes = stand.compartments.set_index("compartment").geometry
    assert shapely.contains(
        homes[stand.plots["compartment"]].to_numpy(), stand.plots.geometry.to_numpy()
    ).all()


@pytest.mark.browser
def test_a_tiny_map_is_measured() -> None:
    if shutil.which("chromium") is None:
        pytest.skip("no chromium on this machine")
    command = [sys.executable, "-m", "tests.benchmarks.measure_map", "--sizes", "9:20"]
    lines = subprocess.run(command, capture_output=True, text=True, check=True).stdout.splitlines()
    figures = {line[:24].strip(): float(line[24:]) for line in lines[1:]}
    assert 0.1 < figures["file MB"] < 0.5
    assert figures["usable s"] > 0
    assert figures["whole: longest frame ms"] > 0
