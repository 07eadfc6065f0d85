"""Sharing results as a person does."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from tests.end_to_end.command import assert_refused, plotmap, snapshot
from tests.folder_example import compartments_example, folder_example
from tests.sharing.hostile_survey import CREWS, PLOTS, hostile_files, hostile_survey

FILES = {"about_sharing.txt", "findings.csv", "ledger.csv", "map.html", "stand.gpkg", "tables", "tables.xlsx"}


@pytest.mark.parametrize("audience", ["managers", "public"])
def test_share_writes_its_folder_and_tells_the_house_what_it_did(tmp_path: Path, audience: str) -> None:
    survey = hostile_survey(tmp_path / "wood")
    done = plotmap("share", "wood", "--for", audience, cwd=tmp_path)
    assert (done.code, done.err) == (0, "")
    assert "Reported together as 'other species': " in done.out
    assert "2 compartments with sensitive species" in done.out
    assert "none found" in done.out
    assert {path.name for path in (survey / f"shared_{audience}").iterdir()} >= FILES
    said = (survey / f"shared_{audience}" / "about_sharing.txt").read_text("utf-8")
    assert said.startswith("Hidden Wood – shared with ")
    assert "elm" not in said


def test_no_byte_of_what_is_shared_names_a_plot_a_crew_or_the_species(tmp_path: Path) -> None:
    """Beside the leak test, and simpler: the plain bytes of what is not compressed."""
    shared = hostile_survey(tmp_path / "wood") / "shared_managers"
    assert plotmap("share", "wood", "--for", "managers", cwd=tmp_path).code == 0
    names = [*PLOTS, *CREWS, "Ulmus", "wych", "ellm", "Quillcaliper", "the book"]
    plain = [path for path in shared.rglob("*") if path.suffix in {".csv", ".gpkg", ".txt", ".html"}]
    assert len(plain) > 20
    for path in plain:
        content = path.read_text("utf-8", errors="ignore")
        assert [name for name in names if name in content] == [], path.name


def test_the_same_survey_is_shared_in_the_same_bytes(tmp_path: Path) -> None:
    shared = hostile_survey(tmp_path / "wood") / "shared_managers"
    plotmap("share", "wood", "--for", "managers", cwd=tmp_path)
    before = snapshot(shared)
    assert plotmap("share", "wood", "--for", "managers", cwd=tmp_path).code == 0
    after = snapshot(shared)
    assert {name for name in before if before[name] != after.get(name)} <= {"stand.gpkg"}
    with closing(sqlite3.connect(shared / "stand.gpkg")) as database:
        assert database.execute("SELECT count(*) FROM plots").fetchone() == (len(PLOTS),)


def test_a_survey_with_errors_lists_them_and_writes_nothing(tmp_path: Path) -> None:
    survey = hostile_survey(tmp_path / "wood", trees="plot,species,d1_cm\nQP-nowhere,elm,20\n")
    done = plotmap("share", "wood", "--for", "public", cwd=tmp_path)
    assert done.code == 1
    assert "stem-without-plot" in done.out
    assert "nothing was written" in done.out
    assert not (survey / "shared_public").exists()


def test_without_a_species_table_only_plots_stems_and_crews_are_kept_back(tmp_path: Path) -> None:
    survey = hostile_survey(tmp_path / "wood", species=None)
    settings = survey / "survey.toml"
    settings.write_text(settings.read_text("utf-8").replace('species = "elm"', 'species = "oak"'), "utf-8")
    done = plotmap("share", "wood", "--for", "managers", cwd=tmp_path)
    assert done.code == 0
    assert "Nothing is sensitive by the species table" in done.out
    totals = (survey / "shared_managers" / "tables" / "species_totals.csv").read_text("utf-8")
    assert "elm" in totals
    assert "other species" not in totals


def _named_after_elm(folder: Path, more: str = "") -> Path:
    outlines = compartments_example().assign(name=["Elm Bank", "Birch Bank", "Cold Hill"])
    return folder_example(folder, hostile_files(more), compartments=outlines)


def test_a_leak_writes_nothing_and_is_told_without_the_secret(tmp_path: Path) -> None:
    survey = hostile_survey(tmp_path / "wood")
    plotmap("share", "wood", "--for", "public", cwd=tmp_path)
    before = snapshot(survey / "shared_public")
    _named_after_elm(survey)
    done = plotmap("share", "wood", "--for", "public", cwd=tmp_path)
    assert done.code == 3
    assert "nothing was shared" in done.err
    assert "map.html" in done.err
    assert "the name of a sensitive species" in done.err
    assert "elm" not in done.err.casefold()
    assert "Traceback" not in done.err
    assert snapshot(survey / "shared_public") == before
    assert not [path for path in survey.iterdir() if path.name.startswith(".")]


def test_a_text_that_may_be_shown_is_no_leak(tmp_path: Path) -> None:
    survey = _named_after_elm(tmp_path / "wood", '[share]\nmay_show = ["Elm Bank"]')
    done = plotmap("share", "wood", "--for", "public", cwd=tmp_path)
    assert (done.code, done.err) == (0, "")
    assert "Elm Bank" in (survey / "shared_public" / "tables" / "compartments.csv").read_text("utf-8")


def test_a_species_in_the_title_is_a_leak(tmp_path: Path) -> None:
    survey = hostile_survey(tmp_path / "wood")
    settings = survey / "survey.toml"
    settings.write_text(settings.read_text("utf-8").replace("Hidden Wood", "Wood of Ulmus glabra"), "utf-8")
    assert plotmap("share", "wood", "--for", "managers", cwd=tmp_path).code == 3
    assert not (survey / "shared_managers").exists()


def test_who_it_is_for_must_be_said(tmp_path: Path) -> None:
    hostile_survey(tmp_path / "wood")
    assert_refused(plotmap("share", "wood", cwd=tmp_path), 2, "managers or public")
    done = plotmap("share", "wood", "--for", "everybody", cwd=tmp_path)
    assert done.code == 2
    assert "managers" in done.err


def test_a_folder_with_files_of_others_is_not_shared(tmp_path: Path) -> None:
    survey = hostile_survey(tmp_path / "wood")
    plotmap("share", "wood", "--for", "public", cwd=tmp_path)
    shared = survey / "shared_public"
    (shared / "tables" / "own.csv").write_text("plot\nQP-1x\n")
    assert_refused(plotmap("share", "wood", "--for", "public", cwd=tmp_path), 2, "tables/own.csv")


@pytest.mark.parametrize(("first", "second"), [("run", "share"), ("share", "run")])
def test_results_for_the_house_and_for_others_never_take_each_others_place(
    tmp_path: Path, first: str, second: str
) -> None:
    hostile_survey(tmp_path / "wood")
    calls = {"run": ("run", "wood"), "share": ("share", "wood", "--for", "managers")}
    assert plotmap(*calls[first], "--out", "here", cwd=tmp_path).code == 0
    before = snapshot(tmp_path / "here")
    assert_refused(plotmap(*calls[second], "--out", "here", cwd=tmp_path), 2, "here")
    assert snapshot(tmp_path / "here") == before


def test_another_survey_draws_other_places_and_a_phrase_keeps_them(tmp_path: Path) -> None:
    def places(name: str, phrase: str, plots: str) -> dict[tuple[str, ...], int]:
        more = f'[share]\nphrase = "{phrase}"' if phrase else ""
        survey = hostile_survey(tmp_path / name, more, plots=plots)
        assert plotmap("share", survey, "--for", "managers").code == 0
        lines = (survey / "shared_managers" / "tables" / "plots.csv").read_text("utf-8").splitlines()
        return {tuple(line.split(",")[-2:]): number for number, line in enumerate(lines[1:])}

    plots = hostile_files()["plots.csv"]
    more = plots + "QP-10x,500060.1,5600020.3,B,unvisited,2026-05-14,,\n"
    assert set(places("a", "", plots)) & set(places("b", "", more)) == set()
    assert set(places("c", "a secret", plots)) < set(places("d", "a secret", more))
