"""The declared tools: what a host is told about them, and what they report."""

from __future__ import annotations

from pathlib import Path

import click
import pytest

from plotmap.cli import main
from plotmap.errors import OutputError, SettingsError
from plotmap.model.stages import STAGES
from plotmap.tools import TOOLS, Tool
from tests.folder_example import N_STEMS, edited, folder_example

BY_NAME = {tool.name: tool for tool in TOOLS}


def _call(name: str, **given: Path) -> tuple[bool, str, list[str]]:
    """Run a tool; return whether it went well, its lines as text, and the stages it told."""
    stages: list[str] = []
    report = BY_NAME[name].run(given, stages.append)
    return report.ok, "\n".join(report.lines), stages


@pytest.mark.parametrize("tool", TOOLS, ids=lambda tool: tool.name)
def test_every_tool_says_what_it_does_and_what_it_takes(tool: Tool) -> None:
    assert tool.title.endswith(".")
    assert tool.help.endswith(".")
    for parameter in tool.parameters:
        assert parameter.help.endswith(".")
        assert parameter.name.isidentifier()


@pytest.mark.parametrize("tool", TOOLS, ids=lambda tool: tool.name)
def test_every_tool_is_a_command_with_the_same_parameters(tool: Tool) -> None:
    command = main.commands[tool.name]
    assert isinstance(command, click.Command)
    assert [parameter.name for parameter in command.params] == [
        parameter.name for parameter in tool.parameters
    ]
    assert [parameter.required for parameter in command.params] == [p.required for p in tool.parameters]


def test_run_writes_the_results_and_sums_them_up(tmp_path: Path) -> None:
    ok, text, stages = _call("run", survey=folder_example(tmp_path))
    assert ok
    assert stages == list(STAGES)
    assert "3 compartments with 6 plots on 12.0 ha (register area):" in text  # three times 4.0 ha, six plots
    # 30 stems on 6 circles of 12.62 m: 30 / (6 π 12.62²) per m², by hand
    assert (
        f"stems      {N_STEMS / (6 * 3.141592653589793 * 12.62**2) * 10_000:.0f} per ha (95 % limits" in text
    )
    assert f"Results in {tmp_path / 'results'}:" in text
    assert "licensed, competent people" in text


def test_run_stops_at_errors_and_says_where_they_are(tmp_path: Path) -> None:
    folder_example(tmp_path, {"trees.csv": edited("trees.csv", (2, "plot", "P9"))})
    ok, text, stages = _call("run", survey=tmp_path)
    assert not ok
    assert stages == list(STAGES[:2])
    assert "nothing was computed" in text
    assert str(tmp_path / "results" / "findings.csv") in text


def test_run_says_which_compartments_are_left_out(tmp_path: Path) -> None:
    lost = edited("plots.csv", (6, "state", "lost"), (7, "state", "unvisited"))
    _, text, _ = _call("run", survey=folder_example(tmp_path, {"plots.csv": lost}))
    assert "2 compartments with 4 plots on 8.0 ha" in text
    assert "left out: 1 compartment without plots, 4.0 ha" in text


def test_run_says_why_no_error_can_be_given(tmp_path: Path) -> None:
    lost = edited("plots.csv", (7, "state", "lost"))
    _, text, _ = _call("run", survey=folder_example(tmp_path, {"plots.csv": lost}))
    assert "no error can be given: 1 compartment with one plot" in text
    assert "limits" not in text


def test_run_stops_where_no_plot_enters_the_estimates(tmp_path: Path) -> None:
    lost = edited("plots.csv", *[(row, "state", "lost") for row in range(2, 8)])
    ok, text, _ = _call("run", survey=folder_example(tmp_path, {"plots.csv": lost}))
    assert not ok
    assert "nothing was computed" in text


@pytest.mark.parametrize("name", ["results.xlsx", "stand.gpkg", "map.html", "results.csv"])
def test_the_name_of_a_file_is_no_result_folder(tmp_path: Path, name: str) -> None:
    folder = folder_example(tmp_path / "survey")
    with pytest.raises(OutputError, match="this is the name of a file, but results are a folder"):
        _call("run", survey=folder, out=tmp_path / name)
    assert [path.name for path in tmp_path.iterdir()] == ["survey"]


def test_a_findings_file_that_is_field_data_is_refused_before_anything_is_read(tmp_path: Path) -> None:
    folder = folder_example(tmp_path)
    before = (folder / "trees.csv").read_bytes()
    with pytest.raises(OutputError, match="field data are never overwritten"):
        _call("check", survey=folder, findings=folder / "trees.csv")
    assert (folder / "trees.csv").read_bytes() == before


def test_check_says_whether_the_survey_can_be_run(tmp_path: Path) -> None:
    ok, text, stages = _call("check", survey=folder_example(tmp_path / "good"))
    assert (ok, text, stages) == (True, "No errors: the survey can be run.", list(STAGES[:2]))
    bad = folder_example(tmp_path / "bad", {"plots.csv": edited("plots.csv", (3, "plot", "P1"))})
    ok, text, _ = _call("check", survey=bad)
    assert not ok
    assert text.startswith("A run would stop: ")


def test_new_names_the_files_it_laid_down(tmp_path: Path) -> None:
    ok, text, _ = _call("new", folder=tmp_path / "survey")
    assert ok
    for path in (tmp_path / "survey").iterdir():
        assert f"  {path.name}" in text
    assert "compartments.gpkg" in text


def test_new_lays_down_a_workbook_where_it_is_asked_for(tmp_path: Path) -> None:
    report = BY_NAME["new"].run({"folder": tmp_path / "survey", "workbook": True}, lambda _stage: None)
    assert sorted(path.name for path in (tmp_path / "survey").iterdir()) == ["survey.toml", "survey.xlsx"]
    assert "the sheet About explains every column" in "\n".join(report.lines)
    assert "CSV" not in "\n".join(report.lines)


def test_new_says_what_to_do_with_tables_that_are_brought_otherwise(tmp_path: Path) -> None:
    _, text, _ = _call("new", folder=tmp_path / "survey")
    assert "takes the place of its CSV file: delete that one" in text
    assert f"Then: plotmap check {tmp_path / 'survey'}" in text


def test_only_tools_that_look_at_data_have_findings(tmp_path: Path) -> None:
    new = BY_NAME["new"].run({"folder": tmp_path / "survey"}, lambda _stage: None)
    assert new.findings is None
    folder = folder_example(tmp_path / "other")
    for given, written in (({}, False), ({"findings": tmp_path / "found.csv"}, True)):
        report = BY_NAME["check"].run({"survey": folder, **given}, lambda _stage: None)
        assert report.findings is not None
        assert report.findings_written is written


def test_a_wrong_call_is_raised_for_the_host_to_show(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match="there is no such folder"):
        _call("run", survey=tmp_path / "nowhere")
    with pytest.raises(OutputError, match="this is a folder, but findings go into a file"):
        _call("check", survey=folder_example(tmp_path), findings=tmp_path)
