"""The layers are drawn by their styles in programs that are not ours.

MapServer draws by the SLD of ``layer_styles`` in CI; the desktop GIS by the style it loads by itself, where Debian's
python3-qgis is installed (it is too large for CI). Colours: ColorBrewer 2.0.
"""

from __future__ import annotations

import json
import subprocess
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from plotmap.model.survey import Stand
from plotmap.output.geopackage import write_geopackage
from plotmap.output.geopackage_styles import class_edges
from tests.outside_tools import SYSTEM_PYTHON, needs_module, plain_environment
from tests.stand_example import stand_example

DRAW = {
    "mapserver": Path(__file__).with_name("draw_with_mapserver.py"),
    "gis": Path(__file__).parents[2] / "docs" / "maintenance" / "draw_with_gis.py",
}
YLGNBU = ["#ffffcc", "#a1dab4", "#41b6c4", "#2c7fb8", "#253494"]  # ColorBrewer 2.0, five classes
GREY = "#e7e7e2"
VALUES = [0.0, 9.99, 10.0, 25.0, 30.0, 45.0, 50.0, 12.0, np.nan]
CLASSES = [0, 0, 1, 2, 3, 4, 4, 1]
HATCHED = 3


@pytest.fixture(scope="module")
def stand() -> Stand:
    """Return a stand with compartments on every edge of a class, one with a large error, one plot, and no plots."""
    stand = stand_example()
    compartments = stand.compartments.copy()
    compartments["basal_area_m2_per_ha"] = VALUES
    compartments["sampling_error_pct"] = [20.0] * HATCHED + [50.0] + [49.9] * 3 + [np.nan, np.nan]
    return replace(stand, compartments=compartments)


@pytest.fixture(scope="module")
def package(stand, tmp_path_factory) -> Path:
    path = tmp_path_factory.mktemp("drawn") / "stand.gpkg"
    write_geopackage(stand, path)
    return path


def drawn(program: str, package: Path, layer: str, folder: Path) -> list[list[str]]:
    """Draw a layer and return the colours about each feature, the most frequent first."""
    if program == "mapserver":
        needs_module("mapscript", "python3-mapscript")
        needs_module("osgeo.gdal", "python3-gdal")
    else:
        needs_module("qgis.core", "python3-qgis", in_ci=False)
    run = subprocess.run(
        [SYSTEM_PYTHON, DRAW[program], package, layer, folder / "drawn.png"],
        capture_output=True, text=True, check=False, timeout=120,
        env=plain_environment(QT_QPA_PLATFORM="offscreen"),
    )  # fmt: skip
    assert run.returncode == 0, run.stdout + run.stderr
    found: list[list[str]] = json.loads(run.stdout.splitlines()[-1])
    return found


def light(colour: str) -> float:
    """Return the mean of red, green and blue, 0 to 255."""
    return sum(bytes.fromhex(colour[1:])) / 3


def hatched(colours: list[str], fill: str) -> bool:
    """Say whether a fill is among the colours and much darker lines over it, blurred or not."""
    return fill in colours and min(map(light, colours)) < 0.7 * light(fill)


def test_the_edges_that_the_expected_classes_rest_on() -> None:
    edges = class_edges(VALUES[:-1])
    assert edges == [0, 10, 20, 30, 40, 50]
    holds = [[low <= value < high for low, high in pairwise([*edges[:-1], 51])] for value in VALUES[:-1]]
    assert [row.index(True) for row in holds] == CLASSES


@pytest.mark.parametrize("program", DRAW)
def test_every_compartment_has_the_colour_of_its_class_the_smallest_and_the_largest_too(
    program, package, tmp_path
) -> None:
    colours = drawn(program, package, "compartments", tmp_path)
    assert len(colours) == len(VALUES)
    for number, (seen, expected) in enumerate(zip(colours, CLASSES, strict=False)):
        if number == HATCHED:
            assert hatched(seen, YLGNBU[expected])
        else:
            assert seen == [YLGNBU[expected]]


@pytest.mark.parametrize("program", DRAW)
def test_no_plots_look_like_nothing_else(program, package, tmp_path) -> None:
    colours = drawn(program, package, "compartments", tmp_path)[-1]
    assert hatched(colours, GREY)
    assert not set(colours) & set(YLGNBU)


@pytest.mark.parametrize("program", DRAW)
def test_plots_are_drawn_by_their_state(program, stand, package, tmp_path) -> None:
    seen = drawn(program, package, "plots", tmp_path)
    states = stand.plots["state"].to_list()
    assert states[:3] == ["unvisited", "empty", "measured"]
    for state, colours in zip(states, seen, strict=True):
        darkest = min(map(light, colours))
        if state == "unvisited":
            assert "#bdbdbd" in colours
        elif state == "measured":
            assert "#08306b" in colours
        else:
            assert state == "empty"  # a white disc with a thin ring, which is blurred
            assert not {"#bdbdbd", "#08306b"} & set(colours)
            assert darkest < light("#bdbdbd")


@pytest.mark.parametrize("program", DRAW)
def test_findings_are_drawn_by_their_severity(program, stand, package, tmp_path) -> None:
    seen = drawn(program, package, "findings", tmp_path)
    words = stand.findings.frame["severity"].to_list()
    assert any(seen)
    for severity, colours in zip(words, seen, strict=True):
        if colours:
            assert ("#d95f0e" in colours) == (severity == "warning")
