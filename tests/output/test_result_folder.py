"""Folders that plotmap must not replace are refused, and the message says why and what to do."""

from __future__ import annotations

from pathlib import Path

import pytest

from plotmap.errors import OutputError
from plotmap.output.result_folder import RUN, check_target, sweep


def test_the_survey_folder_and_everything_above_it_are_refused(tmp_path) -> None:
    survey = tmp_path / "surveys" / "fell"
    survey.mkdir(parents=True)
    for folder in (survey, survey.parent, tmp_path, Path("/"), survey / "results" / ".."):
        with pytest.raises(
            OutputError, match=r"this is the survey folder or holds it .* Name a folder of its own"
        ):
            check_target(folder, protect=survey)
    (tmp_path / "link").symlink_to(survey)
    with pytest.raises(OutputError, match="survey folder"):
        check_target(tmp_path / "link", protect=survey)


def test_folders_in_and_beside_the_survey_are_allowed(tmp_path) -> None:
    survey = tmp_path / "fell"
    survey.mkdir()
    (tmp_path / "fell 2").mkdir()
    for folder in (survey / "results", tmp_path / "results", tmp_path / "fell 2"):
        check_target(folder, protect=survey)
        assert not (folder / "stand.gpkg").exists()


def test_a_file_is_refused(tmp_path) -> None:
    (tmp_path / "results").write_text("mine")
    with pytest.raises(OutputError, match="results: this is a file, but results are a folder"):
        check_target(tmp_path / "results")


@pytest.mark.parametrize(("parent", "what"), [("nowhere", "is not there"), ("file", "is a file")])
def test_a_parent_that_is_no_folder_is_refused(tmp_path, parent, what) -> None:
    (tmp_path / "file").write_text("mine")
    with pytest.raises(OutputError, match=f"its parent .*{parent} {what}.*Make the parent folder"):
        check_target(tmp_path / parent / "results")
    sweep(tmp_path / parent / "results")
    assert (tmp_path / "file").read_text() == "mine"


@pytest.mark.parametrize(
    "names",
    [
        {"letter.txt"},
        {"stand.gpkg"},
        {"ledger.csv"},
        {"findings.csv", "letter.txt"},
        {"findings.csv", "ledger.csv"},
        {".git"},
    ],
)
def test_a_folder_with_what_plotmap_did_not_write_is_refused(tmp_path, names) -> None:
    for name in names:
        (tmp_path / name).write_text("mine")
    with pytest.raises(
        OutputError, match=rf"did not write \({', '.join(sorted(names))}\).*Name another folder"
    ):
        check_target(tmp_path)


def test_only_the_first_names_are_listed(tmp_path) -> None:
    for number in range(9):
        (tmp_path / f"letter {number}").write_text("mine")
    with pytest.raises(OutputError, match=r"\(letter 0, letter 1, letter 2, letter 3 and 5 more\)"):
        check_target(tmp_path)


@pytest.mark.parametrize(
    "names",
    [set(), {"findings.csv"}, {"stand.gpkg", "ledger.csv"}, {*RUN.files, "notes.txt"}, {".DS_Store"}],
)
def test_an_empty_folder_and_earlier_results_are_allowed(tmp_path, names) -> None:
    for name in names:
        (tmp_path / name).write_text("x")
    check_target(tmp_path)
    assert {path.name for path in tmp_path.iterdir()} == names
