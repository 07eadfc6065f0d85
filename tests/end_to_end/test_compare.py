"""Comparing two surveys as a person does."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.end_to_end.command import assert_refused, plotmap, snapshot
from tests.folder_example import edited, folder_example

_STEMS = edited("trees.csv", (2, "d1_cm", "29.0"))


def test_compare_writes_its_results_and_says_the_change(tmp_path: Path) -> None:
    old, new = folder_example(tmp_path / "old"), folder_example(tmp_path / "new", {"trees.csv": _STEMS})
    done = plotmap("compare", "old", "new", cwd=tmp_path)
    assert (done.code, done.err) == (0, "")
    assert "visited twice" in done.out
    assert "  basal area +" in done.out
    written = {path.name for path in (new / "change").iterdir()}
    assert written == {"change.gpkg", "change.xlsx", "findings.csv", "tables"}
    assert not (old / "change").exists()


def test_a_second_comparison_takes_the_place_of_the_first(tmp_path: Path) -> None:
    folder_example(tmp_path / "old")
    new = folder_example(tmp_path / "new", {"trees.csv": _STEMS})
    plotmap("compare", "old", "new", cwd=tmp_path)
    before = snapshot(new / "change")
    assert plotmap("compare", "old", "new", cwd=tmp_path).code == 0
    after = snapshot(new / "change")
    assert {name for name in before if before[name] != after.get(name)} <= {"change.gpkg"}


def test_a_folder_that_is_not_there_is_refused(tmp_path: Path) -> None:
    folder_example(tmp_path / "new")
    assert_refused(plotmap("compare", "nowhere", "new", cwd=tmp_path), 2, "nowhere")


@pytest.mark.parametrize("out", ["old", "new", "change.gpkg"])
def test_a_place_that_is_none_is_refused(tmp_path: Path, out: str) -> None:
    folders = [folder_example(tmp_path / name) for name in ("old", "new")]
    before = [snapshot(folder) for folder in folders]
    assert_refused(plotmap("compare", "old", "new", "--out", out, cwd=tmp_path), 2, out)
    assert [snapshot(folder) for folder in folders] == before


def test_two_breast_heights_are_refused_with_both(tmp_path: Path) -> None:
    folder_example(tmp_path / "old")
    new = folder_example(tmp_path / "new")
    settings = new / "survey.toml"
    settings.write_text(settings.read_text("utf-8") + "\n[stems]\nbreast_height_m = 1.4\n", "utf-8")
    assert_refused(plotmap("compare", "old", "new", cwd=tmp_path), 2, "1.3 m in the old survey and 1.4 m")


def test_a_survey_with_errors_is_refused_with_its_name(tmp_path: Path) -> None:
    folder_example(tmp_path / "old")
    folder_example(tmp_path / "new", {"trees.csv": edited("trees.csv", (2, "plot", "P9"))})
    done = plotmap("compare", "old", "new", cwd=tmp_path)
    assert done.code == 1
    assert "the survey has 1 error" in done.err
    assert "new" in done.err
    assert not (tmp_path / "new" / "change").exists()
