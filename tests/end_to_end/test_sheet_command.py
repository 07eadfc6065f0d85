"""`plotmap sheet` as a person types it: what is written, exit codes, words."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.end_to_end.command import assert_refused, plotmap
from tests.folder_example import edited, folder_example
from tests.output.paper.pdf_pages import size_mm, words


def test_a_sheet_is_written_into_the_survey_folder_and_is_the_same_again(tmp_path: Path) -> None:
    folder = folder_example(tmp_path / "survey")
    before = {path.name for path in folder.iterdir()}
    outcome = plotmap("sheet", folder, "--size", "A3", "--scale", "10000")
    assert outcome.code == 0, outcome.err
    assert "1 sheet A3 landscape at 1 : 10,000:" in outcome.out
    assert "Print at 100 %" in outcome.out
    assert {path.name for path in folder.iterdir()} - before == {"sheet.pdf"}
    first = (folder / "sheet.pdf").read_bytes()
    assert size_mm(first) == pytest.approx((420, 297), abs=0.01)
    assert "Tiny" in words(first)
    assert plotmap("sheet", folder, "--size", "a3", "--scale", "10000").code == 0
    assert (folder / "sheet.pdf").read_bytes() == first


def test_a_sheet_beside_the_tables_does_not_disturb_a_check(tmp_path: Path) -> None:
    folder = folder_example(tmp_path / "survey")
    plain = plotmap("check", folder).out
    assert plotmap("sheet", folder).code == 0
    assert plotmap("check", folder).out == plain


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("--size", "A9"), ("'A9' is not one of", "'a0', 'a1'")),
        (("--scale", "50"), ("50.0 is not in the range 100.0<=x<=10000000.0",)),
        (("--scale", "wide"), ("'wide' is not a valid float",)),
        (("--theme", "height"), ("'height' is not one of", "'basal_area'")),
        (("--orientation", "round"), ("'round' is not one of", "'portrait'")),
        (("--out", "sheet.png"), ("the name must end in .pdf",)),
        (("--out", "nowhere/sheet.pdf"), ("its folder is not there",)),
    ],
)
def test_a_wrong_call_ends_with_2_and_says_why(
    tmp_path: Path, arguments: tuple[str, str], says: tuple[str, ...]
) -> None:
    folder = folder_example(tmp_path / "survey")
    assert_refused(plotmap("sheet", folder, *arguments, cwd=tmp_path), 2, *says)
    assert not list(tmp_path.rglob("*.pdf"))


def test_a_font_that_is_not_there_ends_with_2(tmp_path: Path) -> None:
    text = '[plots]\ndesign = "circle"\nradius_m = 12.62\n[paper]\nfont = "own.ttf"\n'
    folder = folder_example(tmp_path / "survey", {"survey.toml": text})
    assert_refused(plotmap("sheet", folder), 2, "[paper] font", "own.ttf", "cannot be read")


def test_errors_in_the_data_end_with_1_and_write_nothing(tmp_path: Path) -> None:
    folder = folder_example(tmp_path / "survey", {"trees.csv": edited("trees.csv", (3, "d1_cm", "abc"))})
    assert_refused(plotmap("sheet", folder), 1, "abc", "Errors stopped the sheet; nothing was written.")
    assert not (folder / "sheet.pdf").exists()
