"""Colours of bands, against what is published about colour differences and colour-vision deficiencies."""

import subprocess
import sys
from typing import Any

import pytest

from plotmap.model.settings import Settings
from plotmap.stems.bands import MIN_DISTANCE, VISIONS, band_findings, colour_distance


def _bands(*colours: str | None) -> Any:
    bands: list[dict[str, Any]] = [
        {"name": f"band {i}", "low_cm": 10 * i, "high_cm": 10 * i + 10} for i in range(len(colours))
    ]
    for band, colour in zip(bands, colours, strict=True):
        if colour is not None:
            band["colour"] = colour
    return Settings.model_validate(
        {"plots": {"design": "circle", "radius_m": 10}, "classes": {"bands": bands}}
    ).bands


@pytest.mark.parametrize("vision", list(VISIONS))
def test_black_and_white_are_a_hundred_apart_to_every_eye(vision: str) -> None:
    # CAM02-UCS: lightness J' runs from 0 to 100 (Luo, Cui & Li 2006)
    assert colour_distance("#000000", "#ffffff", vision) == pytest.approx(100.0, abs=0.1)
    assert colour_distance("#3a7f20", "#3a7f20", vision) == 0.0


def test_red_and_green_of_one_lightness_are_hard_to_tell_apart_with_deuteranopia() -> None:
    # the red and green of many maps; that deuteranopia confuses them is common knowledge, no source
    normal, deutan = (
        colour_distance("#d7191c", "#1a9641", vision) for vision in ("normal vision", "deuteranopia")
    )
    assert deutan < MIN_DISTANCE < normal


def test_blue_and_orange_are_told_apart_by_everyone() -> None:
    # two colours of Okabe & Ito 2008, "Color universal design", made for all of these
    assert min(colour_distance("#E69F00", "#0072B2", vision) for vision in VISIONS) > MIN_DISTANCE


def test_a_pair_that_is_hard_to_tell_apart_is_one_finding_with_its_letters() -> None:
    (found,) = band_findings(_bands("#d7191c", "#1a9641", "#0000ff", None)).frame.rows(named=True)
    assert (found["code"], found["severity"], found["file"]) == (
        "bands-hard-to-tell-apart",
        "warning",
        "survey.toml",
    )
    assert found["value"] == "#d7191c, #1a9641"
    assert "band 0 (A, #d7191c) and band 1 (B, #1a9641)" in found["message"]
    assert "deuteranopia" in found["message"]
    assert "normal vision" not in found["message"]


def test_bands_without_colours_need_no_colour_library() -> None:
    code = (
        "import sys; from tests.survey_example import survey_example; from plotmap.stems import measure_stems; "
        "measure_stems(survey_example(settings={'classes': {'bands': [{'name': 'a', 'low_cm': 1, 'high_cm': 2}]}})); "
        "sys.exit('colorspacious' in sys.modules)"
    )
    subprocess.run([sys.executable, "-c", code], check=True)
