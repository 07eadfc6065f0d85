"""`plotmap bands` as a person types it: what is written, exit codes, words."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.end_to_end.command import assert_refused, plotmap
from tests.folder_example import folder_example
from tests.output.paper.pdf_pages import size_mm, words

COLOURS = """\
[plots]
design = "circle"
radius_m = 12.62
[classes]
bands = [{name = "red", low_cm = 10, high_cm = 20, colour = "#b03020"}, {name = "green", low_cm = 20, high_cm = 30, \
colour = "#5a7a10"}]
"""


def test_bands_are_written_into_the_survey_folder_and_are_the_same_again(tmp_path: Path) -> None:
    folder = folder_example(tmp_path / "survey")
    before = {path.name for path in folder.iterdir()}
    outcome = plotmap("bands", folder, "--instrument", "K1", "--size", "A3")
    assert outcome.code == 0, outcome.err
    assert "16 classes for caliper K1, zero +1.00 mm and gain 1.0000 of 2026-05-01" in outcome.out
    assert "leave the column instrument blank" in outcome.out
    assert "Never cover the scale" in outcome.out
    assert {path.name for path in folder.iterdir()} - before == {"bands.pdf"}
    first = (folder / "bands.pdf").read_bytes()
    assert size_mm(first) == pytest.approx((420, 297), abs=0.01)
    assert "caliper K1" in words(first)
    assert plotmap("bands", folder, "--instrument", "K1", "--size", "a3").code == 0
    assert (folder / "bands.pdf").read_bytes() == first


def test_bands_need_settings_only(tmp_path: Path) -> None:
    bare = {"plots.csv": None, "trees.csv": None, "instruments.csv": None}
    folder = folder_example(tmp_path / "survey", bare, with_compartments=False)
    outcome = plotmap("bands", folder, "--kind", "tape", "--up-to", "40", "--out", tmp_path / "b.pdf")
    assert outcome.code == 0, outcome.err
    assert "8 classes for tape, without correction" in outcome.out
    assert (tmp_path / "b.pdf").exists()


def test_colours_that_look_alike_are_told_and_the_strip_is_written(tmp_path: Path) -> None:
    folder = folder_example(tmp_path / "survey", {"survey.toml": COLOURS})
    outcome = plotmap("bands", folder)
    assert outcome.code == 0
    assert "bands-hard-to-tell-apart (1)" in outcome.out
    assert (folder / "bands.pdf").exists()


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("--instrument", "K9"), ("instrument 'K9'", "Checked are K1")),
        (("--instrument", "K1", "--kind", "tape"), ("kind is tape, but instrument K1 is a caliper",)),
        (("--kind", "rope"), ("'rope' is not one of 'caliper', 'tape'",)),
        (("--up-to", "4"), ("4.0 is not in the range 5<=x<=400",)),
        (("--size", "A9"), ("'A9' is not one of",)),
        (("--out", "bands.png"), ("the name must end in .pdf",)),
        (("--out", "nowhere/bands.pdf"), ("its folder is not there",)),
    ],
)
def test_a_wrong_call_ends_with_2_and_says_why(
    tmp_path: Path, arguments: tuple[str, ...], says: tuple[str, ...]
) -> None:
    folder = folder_example(tmp_path / "survey")
    assert_refused(plotmap("bands", folder, *arguments, cwd=tmp_path), 2, *says)
    assert not list(tmp_path.rglob("*.pdf"))
