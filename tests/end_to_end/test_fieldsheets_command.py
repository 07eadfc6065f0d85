"""`plotmap fieldsheets` as a person types it: what is written, exit codes, words."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.end_to_end.command import assert_refused, plotmap
from tests.folder_example import FILES, edited, folder_example
from tests.output.paper.pdf_pages import n_pages

UNVISITED = FILES["plots.csv"].replace("measured", "unvisited").replace("empty", "unvisited")


def test_sheets_are_written_before_any_stem_is_measured(tmp_path: Path) -> None:
    folder = folder_example(tmp_path / "survey", {"plots.csv": UNVISITED, "trees.csv": None})
    before = {path.name for path in folder.iterdir()}
    outcome = plotmap("fieldsheets", folder)
    assert outcome.code == 0, outcome.err
    assert "6 field sheets:" in outcome.out
    assert {path.name for path in folder.iterdir()} - before == {"fieldsheets.pdf"}
    first = (folder / "fieldsheets.pdf").read_bytes()
    assert n_pages(first) == 6
    assert plotmap("fieldsheets", folder).code == 0
    assert (folder / "fieldsheets.pdf").read_bytes() == first


def test_only_the_plots_named_have_sheets(tmp_path: Path) -> None:
    folder = folder_example(tmp_path / "survey")
    outcome = plotmap("fieldsheets", folder, "--plots", "P1", "--plots", "P3", "--out", tmp_path / "two.pdf")
    assert "2 field sheets:" in outcome.out
    assert n_pages((tmp_path / "two.pdf").read_bytes()) == 2


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("--plots", "P9"), ("plot 'P9': the plots table has no such plot",)),
        (("--out", "s.txt"), ("the name must end in .pdf",)),
        (("--out", "nowhere/s.pdf"), ("its folder is not there",)),
    ],
)
def test_a_wrong_call_ends_with_2_and_says_why(
    tmp_path: Path, arguments: tuple[str, ...], says: tuple[str, ...]
) -> None:
    folder = folder_example(tmp_path / "survey")
    assert_refused(plotmap("fieldsheets", folder, *arguments, cwd=tmp_path), 2, *says)
    assert not list(tmp_path.rglob("*.pdf"))


def test_errors_in_the_plots_end_with_1_and_those_in_the_stems_do_not_matter(tmp_path: Path) -> None:
    twice = edited("plots.csv", (3, "plot", "P1"))
    folder = folder_example(tmp_path / "one", {"plots.csv": twice})
    assert_refused(plotmap("fieldsheets", folder), 1, "Errors stopped the sheets; nothing was written.")
    assert not (folder / "fieldsheets.pdf").exists()
    other = folder_example(tmp_path / "two", {"trees.csv": edited("trees.csv", (3, "d1_cm", "abc"))})
    assert plotmap("fieldsheets", other).code == 0


def test_a_workbook_is_written_beside_and_never_overwritten(tmp_path: Path) -> None:
    folder = folder_example(tmp_path / "survey", {"plots.csv": UNVISITED, "trees.csv": None})
    book = tmp_path / "typed.xlsx"
    outcome = plotmap("fieldsheets", folder, "--workbook", book)
    assert outcome.code == 0, outcome.err
    assert f"Workbook: {book}. Filled in, it takes the place of the tables it holds" in outcome.out
    held = book.read_bytes()
    assert_refused(plotmap("fieldsheets", folder, "--workbook", book), 2, "workbooks are never overwritten")
    assert book.read_bytes() == held
