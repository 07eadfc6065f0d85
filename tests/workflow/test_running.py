"""The order of the stages, and what a run leaves behind."""

from __future__ import annotations

import hashlib
from pathlib import Path

import geopandas as gpd
import pytest

import plotmap
from plotmap.errors import OutputError, SurveyHasErrorsError
from plotmap.model.ledger import READ, SET_ASIDE, USED
from plotmap.model.stages import STAGES
from plotmap.workflow import run
from tests.folder_example import FILES, folder_example
from tests.longleaf_survey import longleaf_survey


def _hashes(folder: Path) -> dict[str, str]:
    """Return the hash of every file below a folder."""
    files = sorted(path for path in folder.rglob("*") if path.is_file())
    return {str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


def _with_an_error(folder: Path) -> Path:
    """Return a survey one of whose stems names a plot that is not there."""
    longleaf_survey(folder, quarters=False)
    with (folder / "trees.csv").open("a", encoding="utf-8") as file:
        file.write("P99,1,longleaf pine,20,0,1\n")
    return folder


def test_a_survey_is_read_checked_and_compiled_into_geodataframes(tmp_path: Path) -> None:
    survey = plotmap.read_survey(longleaf_survey(tmp_path / "survey"))
    assert not plotmap.check(survey).has_errors
    stand = plotmap.compile_survey(survey)
    assert isinstance(stand.compartments, gpd.GeoDataFrame)
    assert isinstance(stand.plots, gpd.GeoDataFrame)
    assert stand.compartments.crs == stand.plots.crs == survey.crs


def test_a_survey_with_errors_is_not_compiled(tmp_path: Path) -> None:
    survey = plotmap.read_survey(_with_an_error(tmp_path / "survey"))
    assert plotmap.check(survey).codes >= {"stem-without-plot"}
    with pytest.raises(SurveyHasErrorsError, match=r"the survey has 1 error, .*plotmap\.check"):
        plotmap.compile_survey(survey)


def test_a_run_names_its_stages_in_order_and_writes_every_file(tmp_path: Path) -> None:
    stages: list[str] = []
    result = run(longleaf_survey(tmp_path / "survey"), tmp_path / "out", stages.append)
    assert tuple(stages) == STAGES
    assert result.stand is not None
    written = {path.name for path in (tmp_path / "out").iterdir()}
    pages = {"map.html", "report.html", "report.pdf"}
    assert written == {*pages, "stand.gpkg", "tables", "tables.xlsx", "findings.csv", "ledger.csv"}


def test_two_runs_write_the_same_bytes_but_for_the_geopackage(tmp_path: Path) -> None:
    survey = longleaf_survey(tmp_path / "survey")
    for name in ("one", "two"):
        run(survey, tmp_path / name)
    one, two = _hashes(tmp_path / "one"), _hashes(tmp_path / "two")
    assert one.keys() == two.keys()
    assert {name for name in one if one[name] != two[name]} <= {"stand.gpkg"}


def test_errors_change_nothing_that_was_written_before(tmp_path: Path) -> None:
    run(longleaf_survey(tmp_path / "good", quarters=False), tmp_path / "out")
    before = _hashes(tmp_path / "out")
    result = run(_with_an_error(tmp_path / "bad"), tmp_path / "out")
    assert result.stand is None
    after = _hashes(tmp_path / "out")
    assert {name: after[name] for name in before} == before
    assert after.keys() - before.keys() == {result.findings_file.name}
    assert "stem-without-plot" in result.findings_file.read_text(encoding="utf-8")


def test_the_survey_folder_is_never_the_result_folder(tmp_path: Path) -> None:
    folder = longleaf_survey(tmp_path / "survey")
    before = _hashes(folder)
    with pytest.raises(OutputError, match="survey folder"):
        run(folder, folder)
    assert _hashes(folder) == before


def test_the_ledger_balances_file_by_file(tmp_path: Path) -> None:
    folder = longleaf_survey(tmp_path / "survey", settings={"stems": {"min_dbh_cm": 10}})
    with (folder / "trees.csv").open("a", encoding="utf-8") as file:
        file.write(",,,,,\n")
    ledger = plotmap.compile_survey(plotmap.read_survey(folder)).ledger
    for (_file,), rows in ledger.group_by("file"):
        by = {
            outcome: rows.filter(rows["outcome"] == outcome)["rows"].sum()
            for outcome in (READ, USED, SET_ASIDE)
        }
        assert by[READ] == by[USED] + by[SET_ASIDE]
    reasons = set(ledger.filter(ledger["table"] == "trees")["reason"].to_list())
    assert {"below 10 cm", "blank row"} <= reasons


def test_instruments_and_species_that_no_stem_names_are_set_aside(tmp_path: Path) -> None:
    instruments = FILES["instruments.csv"] + "K9,caliper,2026-05-01,0\n"
    species = FILES["species.csv"] + "elm,Ulmus glabra,0.9\nyew,Taxus baccata,0.95\n"
    folder = folder_example(tmp_path, {"instruments.csv": instruments, "species.csv": species})
    ledger = plotmap.compile_survey(plotmap.read_survey(folder)).ledger
    rows = {(row["table"], row["outcome"], row["reason"]): row["rows"] for row in ledger.to_dicts()}
    assert rows["instruments", USED, ""] == 1
    assert rows["instruments", SET_ASIDE, "not named by any stem"] == 1
    assert rows["species", USED, ""] == 2
    assert rows["species", SET_ASIDE, "not named by any stem"] == 2


def test_the_public_verbs_are_few_and_all_there() -> None:
    verbs = {"read_survey", "check", "compile_survey", "propose_thinning", "write_geopackage", "write_map"}
    assert set(plotmap.__all__) == verbs
    assert all(callable(getattr(plotmap, name)) for name in plotmap.__all__)
    assert set(plotmap.__all__) <= set(dir(plotmap))
    with pytest.raises(AttributeError, match="no attribute nonsense"):
        plotmap.nonsense  # noqa: B018


def test_a_run_refuses_to_also_write_what_it_cannot(tmp_path: Path) -> None:
    folder = longleaf_survey(tmp_path / "survey", quarters=False)
    with pytest.raises(OutputError, match=r"also has 'pictures', but must be of geoparquet, geojson"):
        run(folder, also=["geojson", "pictures"])
    assert not (folder / "results").exists()
