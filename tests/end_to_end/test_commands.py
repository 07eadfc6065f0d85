"""The commands as a person calls them: what they write, what they leave alone, what their help says."""

from __future__ import annotations

import csv
import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import polars as pl
import pyogrio
import pytest

from plotmap import __version__
from plotmap.fielddata import read_survey
from plotmap.model.finding_rules import RULES
from plotmap.model.findings import FINDING_SCHEMA
from plotmap.model.result_tables import RESULT_TABLES
from plotmap.tools import TOOLS, Tool
from plotmap.workflow import check, compare_surveys
from tests.end_to_end.command import COMMAND, assert_refused, plotmap, snapshot
from tests.folder_example import N_STEMS, compartments_example, edited, folder_example

WITH_MISTAKES = Path(__file__).parents[2] / "sample_plots" / "with_mistakes"
RESULTS = {"stand.gpkg", "map.html", "report.html", "report.pdf", "tables.xlsx", "findings.csv", "ledger.csv"}
BAD_TREES = edited("trees.csv", (2, "plot", "P9"), (3, "d1_cm", "thick"), (9, "species", "oka"))
BAD_CODES = {"stem-without-plot", "number-unreadable", "species-unknown", "too-few-heights"}


def test_run_writes_every_result_and_a_second_run_the_same_bytes(tmp_path: Path) -> None:
    folder = folder_example(tmp_path / "survey")
    first = plotmap("run", folder, cwd=tmp_path)
    assert (first.code, first.err) == (0, "")
    assert first.out.startswith("No findings.\n")
    assert f"Results in {folder / 'results'}:" in first.out
    results = folder / "results"
    assert {path.name for path in results.iterdir()} == {*RESULTS, "tables"}
    tables = {path.name for path in (results / "tables").iterdir()}
    assert tables <= {f"{table.name}.csv" for table in RESULT_TABLES}
    assert {"compartments.csv", "plots.csv", "trees.csv", "classes.csv", "survey_total.csv"} <= tables
    before = snapshot(results)
    again = plotmap("run", folder, cwd=tmp_path)
    assert (again.code, again.out) == (0, first.out)
    after = snapshot(results)
    assert set(after) == set(before)
    assert {name for name in before if before[name] != after[name]} <= {"stand.gpkg"}
    assert not [path for path in folder.iterdir() if path.name.startswith(".")]


def test_run_counts_every_stem_once_in_the_results_and_the_ledger(tmp_path: Path) -> None:
    folder = folder_example(tmp_path)
    assert plotmap("run", folder, "--out", tmp_path / "out").code == 0
    assert pyogrio.read_info(tmp_path / "out" / "stand.gpkg", layer="trees")["features"] == N_STEMS
    with (tmp_path / "out" / "ledger.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.reader(file))
    assert [row[-1] for row in rows if row[1] == "trees"] == [str(N_STEMS), str(N_STEMS)]  # read, used


def test_run_takes_a_relative_folder_and_out_from_where_it_is_called(tmp_path: Path) -> None:
    folder_example(tmp_path / "survey")
    assert plotmap("run", "survey", "--out", "out", cwd=tmp_path).code == 0
    assert (tmp_path / "out" / "map.html").is_file()


def test_run_also_writes_what_it_is_asked_for_and_drops_it_when_it_is_not(tmp_path: Path) -> None:
    survey, out = folder_example(tmp_path / "survey"), tmp_path / "out"
    asked = plotmap("run", survey, "--out", out, "--also", "geojson", "--also", "GeoParquet")
    assert asked.code == 0, asked.err
    assert "geoparquet/" in asked.out
    assert (out / "geojson" / "compartments.geojson").exists()
    assert (out / "geoparquet" / "classes.parquet").exists()
    (out / "geojson" / "mine.txt").write_text("a file of somebody's own")
    plain = plotmap("run", survey, "--out", out)
    assert plain.code == 0, plain.err
    assert "geoparquet/" not in plain.out
    assert [path.name for path in (out / "geojson").iterdir()] == ["mine.txt"]
    assert not (out / "geoparquet").exists()


def test_run_refuses_another_word_than_those_it_can_write(tmp_path: Path) -> None:
    survey = folder_example(tmp_path / "survey")
    refused = plotmap("run", survey, "--also", "pictures")
    assert refused.code == 2
    assert "'pictures' is not one of 'geoparquet', 'geojson'" in refused.err
    assert not (survey / "results").exists()


def test_errors_stop_the_run_after_all_are_listed(tmp_path: Path) -> None:
    folder = folder_example(tmp_path, {"trees.csv": BAD_TREES})
    outcome = plotmap("run", folder)
    assert_refused(
        outcome,
        1,
        "Findings: 2 errors, 1 warning",
        "ERROR number-unreadable (1): A number cannot be read",
        "trees.csv, row 3 (plot P1): d1_cm is thick, but must be a number",
        "What to do: Write the number alone",
        "ERROR stem-without-plot (1)",
        "trees.csv, row 2 (plot P9): plot P9 is not in the plots table",
        "WARNING species-unknown (1)",
        "Errors stopped the run; nothing was computed",
    )
    assert {path.name for path in (folder / "results").iterdir()} == {"findings.csv"}
    with (folder / "results" / "findings.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    assert {next(iter(row.values())) for row in rows} == BAD_CODES


def test_a_stopped_run_leaves_earlier_results_byte_for_byte(tmp_path: Path) -> None:
    folder = folder_example(tmp_path)
    assert plotmap("run", folder).code == 0
    before = snapshot(folder / "results")
    (folder / "trees.csv").write_text(BAD_TREES)
    outcome = plotmap("run", folder)
    assert_refused(outcome, 1, "no earlier result was changed", "findings_stopped.csv")
    after = snapshot(folder / "results")
    assert set(after) - set(before) == {"findings_stopped.csv"}
    assert {name: after[name] for name in before} == before
    (folder / "trees.csv").write_text(edited("trees.csv"))
    assert plotmap("run", folder).code == 0
    assert not (folder / "results" / "findings_stopped.csv").exists()


def test_check_writes_nothing(tmp_path: Path) -> None:
    folder = folder_example(tmp_path)
    before = snapshot(tmp_path)
    outcome = plotmap("check", folder, cwd=tmp_path)
    assert (outcome.code, outcome.out) == (0, "No findings.\nNo errors: the survey can be run.\n")
    assert snapshot(tmp_path) == before


def test_check_writes_all_findings_to_the_file_it_is_given(tmp_path: Path) -> None:
    folder = folder_example(tmp_path / "survey", {"trees.csv": BAD_TREES})
    outcome = plotmap("check", folder, "--findings", "found.csv", cwd=tmp_path)
    assert_refused(outcome, 1, "All findings: found.csv", "A run would stop: 2 errors.")
    with (tmp_path / "found.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.reader(file))
    assert len(rows[0]) == len(FINDING_SCHEMA)
    assert {row[0] for row in rows[1:]} == BAD_CODES
    assert sorted(path.name for path in tmp_path.iterdir()) == ["found.csv", "survey"]


def test_new_lays_down_a_folder_that_reads_once_compartments_are_added(tmp_path: Path) -> None:
    outcome = plotmap("new", "survey", cwd=tmp_path)
    assert outcome.code == 0
    assert "Add the compartment layer as compartments.gpkg" in outcome.out
    assert_refused(
        plotmap("check", "survey", cwd=tmp_path), 1, "ERROR table-missing (1)", "no table compartments"
    )
    layer = tmp_path / "survey" / "compartments.gpkg"
    pyogrio.write_dataframe(compartments_example(), layer, layer="compartments")
    outcome = plotmap("check", "survey", cwd=tmp_path)
    assert_refused(outcome, 1, "Findings: 1 error\n", "ERROR no-rows (1)", "plots.csv")
    (tmp_path / "survey" / "plots.csv").write_text(edited("plots.csv"))
    (tmp_path / "survey" / "trees.csv").write_text(edited("trees.csv"))
    assert plotmap("check", "survey", cwd=tmp_path).code == 0
    assert_refused(
        plotmap("new", "survey", cwd=tmp_path), 2, "survey.toml", "already there", "Name another folder"
    )


def test_new_lays_down_one_workbook_that_lacks_only_what_nobody_has_filled_in(tmp_path: Path) -> None:
    assert plotmap("new", "survey", "--workbook", cwd=tmp_path).code == 0
    assert {path.name for path in (tmp_path / "survey").iterdir()} == {"survey.toml", "survey.xlsx"}
    assert_refused(
        plotmap("check", "survey", cwd=tmp_path),
        1,
        "Findings: 2 errors\n",
        "no table compartments",
        "survey.xlsx, sheet plots: there is no row below the heading",
    )
    for words in ((), ("--workbook",)):
        assert_refused(plotmap("new", "survey", *words, cwd=tmp_path), 2, "already there")


@pytest.mark.parametrize("tool", TOOLS, ids=lambda tool: tool.name)
def test_the_help_of_a_command_names_its_parameters_and_exit_codes(tool: Tool) -> None:
    outcome = plotmap(tool.name, "--help")
    text = re.sub(r"\s+", " ", outcome.out)
    assert outcome.code == 0
    assert tool.title in text
    for parameter in tool.parameters:
        assert (
            parameter.name.upper() if parameter.required else f"--{parameter.name.replace('_', '-')}"
        ) in text
        assert parameter.help in text
    for code in (
        "0 fine",
        "1 errors in the data",
        "2 a wrong call or wrong settings",
        "3 a fault of plotmap",
        "130",
    ):
        assert code in text


def test_the_help_of_plotmap_names_its_commands() -> None:
    outcome = plotmap("--help")
    assert outcome.code == 0
    for tool in TOOLS:
        assert re.search(rf"^  {tool.name}\s+\S", outcome.out, re.MULTILINE)


def test_the_version_is_that_of_the_package() -> None:
    assert plotmap("--version").out == f"plotmap, version {__version__}\n"


def test_help_loads_no_heavy_package() -> None:
    done = subprocess.run(
        [sys.executable, "-X", "importtime", "-m", "plotmap", "--help"],
        capture_output=True,
        text=True,
        check=True,
    )
    loaded = {line.rpartition("|")[2].strip().split(".")[0] for line in done.stderr.splitlines()}
    assert {"plotmap", "click"} <= loaded
    assert not loaded & {"geopandas", "folium", "pyproj", "scipy", "shapely", "pyogrio", "pandas", "pydantic"}


def test_every_kind_of_finding_is_shown_by_the_surveys_with_mistakes() -> None:
    folders = [path.parent for path in WITH_MISTAKES.glob("*/survey.toml")]
    found = set().union(*(check(read_survey(folder)).codes for folder in folders))
    for folder in (path.parent for path in WITH_MISTAKES.glob("*/old")):
        found |= compare_surveys(read_survey(folder / "old"), read_survey(folder / "new")).findings.codes
    assert found == set(RULES)


@pytest.mark.skipif(os.name != "posix", reason="pipes of POSIX")
@pytest.mark.parametrize(("files", "code"), [({}, 0), ({"trees.csv": BAD_TREES}, 1)])
def test_whoever_stops_reading_the_output_is_no_fault(
    tmp_path: Path, files: dict[str, str], code: int
) -> None:
    folder = folder_example(tmp_path, files)
    process = subprocess.Popen([*COMMAND, "check", folder], stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    assert process.stdout is not None
    process.stdout.close()
    _, err = process.communicate(timeout=60)
    assert (process.returncode, err) == (code, b"")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="the system has no /dev/full")
def test_an_output_that_takes_nothing_is_told(tmp_path: Path) -> None:
    folder = folder_example(tmp_path)
    with Path("/dev/full").open("w") as full:
        done = subprocess.run([*COMMAND, "check", folder], stdout=full, stderr=subprocess.PIPE, check=False)
    assert done.returncode == 2
    assert b"standard output: the findings cannot be shown there: No space left on device" in done.stderr
    assert b"Traceback" not in done.stderr


def test_a_terminal_that_lacks_letters_is_no_fault(tmp_path: Path) -> None:
    folder = folder_example(tmp_path, {"trees.csv": edited("trees.csv", (2, "species", "Дуб"))})
    outcome = plotmap("run", folder, env={**os.environ, "PYTHONIOENCODING": "latin-1"})
    assert outcome.code == 0
    assert r"species \u0414\u0443\u0431 is not in the species table; 1 row has it" in outcome.out


@pytest.mark.skipif(os.name != "posix", reason="signals of POSIX")
def test_ctrl_c_while_writing_leaves_nothing_and_earlier_results_as_they_were(tmp_path: Path) -> None:
    folder = folder_example(tmp_path)
    assert plotmap("run", folder).code == 0
    before = snapshot(folder)
    process = subprocess.Popen([*COMMAND, "run", folder], stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    end = time.monotonic() + 60
    while not list(folder.glob(".results.partial-*/*")):
        assert process.poll() is None, "the run ended before it could be stopped"
        assert time.monotonic() < end
        time.sleep(0.002)
    process.send_signal(signal.SIGINT)
    _, err = process.communicate(timeout=60)
    assert process.returncode == 130
    assert err.decode() == "plotmap: stopped. The results of the last good run are untouched.\n"
    assert snapshot(folder) == before


@pytest.mark.skipif(os.name != "posix", reason="signals of POSIX")
@pytest.mark.parametrize("wait_s", [0.0, 0.1, 0.2, 0.4])
def test_ctrl_c_at_any_time_shows_no_traceback(tmp_path: Path, wait_s: float) -> None:
    folder = folder_example(tmp_path)
    before = snapshot(folder)
    process = subprocess.Popen([*COMMAND, "run", folder], stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    _wait_for_package(process)
    time.sleep(wait_s)
    process.send_signal(signal.SIGINT)
    _, err = process.communicate(timeout=60)
    assert process.returncode == 130
    assert b"Traceback" not in err
    assert snapshot(folder) == before


def _wait_for_package(process: subprocess.Popen[bytes]) -> None:
    """Wait until Python has started and plotmap is being loaded (it maps the library of polars)."""
    maps = Path(f"/proc/{process.pid}/maps")
    if not maps.exists():
        time.sleep(0.3)
        return
    end = time.monotonic() + 30
    while "polars" not in maps.read_text() and time.monotonic() < end:
        time.sleep(0.005)


def test_findings_of_a_run_are_those_of_check(tmp_path: Path) -> None:
    folder = folder_example(tmp_path, {"trees.csv": BAD_TREES})
    shown = [plotmap(command, folder).out.split("\n\n")[:-1] for command in ("run", "check")]
    assert shown[0] == shown[1]
    assert check(read_survey(folder)).frame.select(pl.col("code").unique())["code"].len() == len(BAD_CODES)
