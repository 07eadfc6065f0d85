"""`plotmap distances` as a person types it: what is written, exit codes, words."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.end_to_end.command import assert_refused, plotmap
from tests.folder_example import folder_example, settings_text


def test_tables_are_written_and_are_the_same_again(tmp_path: Path) -> None:
    folder = folder_example(tmp_path / "survey", {"trees.csv": None})
    before = {path.name for path in folder.iterdir()}
    outcome = plotmap("distances", folder, "--csv", tmp_path / "d.csv")
    assert outcome.code == 0, outcome.err
    assert "radius 12.62 m; 1 page:" in outcome.out
    assert "Distances are level" in outcome.out
    assert {path.name for path in folder.iterdir()} - before == {"distances.pdf"}
    first = (folder / "distances.pdf").read_bytes(), (tmp_path / "d.csv").read_bytes()
    assert plotmap("distances", folder, "--csv", tmp_path / "d.csv").code == 0
    assert ((folder / "distances.pdf").read_bytes(), (tmp_path / "d.csv").read_bytes()) == first


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("--up-to", "401"), ("401.0 is not in the range 5<=x<=400",)),
        (("--out", "d.txt"), ("the name must end in .pdf",)),
        (("--csv", "d.txt"), ("a file that ends in .csv",)),
        (("--csv", "nowhere/d.csv"), ("its folder is not there",)),
    ],
)
def test_a_wrong_call_ends_with_2_and_writes_nothing(
    tmp_path: Path, arguments: tuple[str, ...], says: tuple[str, ...]
) -> None:
    folder = folder_example(tmp_path / "survey")
    assert_refused(plotmap("distances", folder, *arguments, cwd=tmp_path), 2, *says)
    assert not list(tmp_path.rglob("*.pdf"))


def test_a_full_count_ends_with_2(tmp_path: Path) -> None:
    folder = folder_example(tmp_path / "survey", {"survey.toml": settings_text(plots='design = "full"')})
    assert_refused(plotmap("distances", folder), 2, "design is full", "State the size")
