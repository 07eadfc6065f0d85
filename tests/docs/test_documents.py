"""The documents say what the code does: generated parts, links, commands, settings, examples."""

from __future__ import annotations

import importlib.util
import math
import re
import shutil
import struct
import tomllib
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import geopandas as gpd
import pytest

import plotmap
from plotmap.fielddata.settings_file import settings_from
from plotmap.model.field_tables import FIELD_TABLES, INSTRUMENTS, PLOTS
from plotmap.model.finding_rules import RULES
from plotmap.model.settings import Design, EdgeRule, Settings, SlopeRule
from plotmap.tools import TOOLS

ROOT = Path(__file__).parents[2]
PAGES = sorted(
    [
        ROOT / "README.md",
        ROOT / "DEVELOPERS.md",
        ROOT / "tests" / "README.md",
        *(ROOT / "docs").rglob("*.md"),
    ]
)
NAMES = [page.relative_to(ROOT).as_posix() for page in PAGES]
_LINK = re.compile(r"\]\(([^)\s]+)\)")
_FENCE = re.compile(r"^```(\w*)\n(.*?)^```$", re.DOTALL | re.MULTILINE)
_PLOTS = {"plots": {"design": "circle", "radius_m": 12.62}}


@pytest.fixture(scope="module")
def make_docs() -> ModuleType:
    """Return docs/maintenance/make_docs.py as a module."""
    spec = importlib.util.spec_from_file_location("make_docs", ROOT / "docs" / "maintenance" / "make_docs.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def blocks(page: Path, language: str) -> list[str]:
    """Return the code blocks of a page in one language."""
    return [text for tag, text in _FENCE.findall(page.read_text("utf-8")) if tag == language]


def anchors(page: Path) -> set[str]:
    """Return the anchors of the headings of a page, as code hosts make them."""
    text = _FENCE.sub("", page.read_text("utf-8"))
    found = re.findall(r"^#+ (.+)$", text, re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", heading.lower()).replace(" ", "-") for heading in found}


# --- generated parts --------------------------------------------------------------------------------------


def test_every_generated_part_is_what_would_be_written_now(make_docs: ModuleType) -> None:
    assert make_docs.outdated() == [], "run python docs/maintenance/make_docs.py"


def test_a_change_by_hand_inside_the_marks_is_noticed(make_docs: ModuleType) -> None:
    text = (ROOT / "docs" / "findings.md").read_text("utf-8")
    changed = text.replace("A table is missing", "A table is absent")
    assert changed != text
    assert make_docs.renewed(changed) == text


def test_every_part_that_can_be_made_stands_in_one_document(make_docs: ModuleType) -> None:
    found = [
        part for name in make_docs.DOCUMENTS for part in make_docs.parts_of((ROOT / name).read_text("utf-8"))
    ]
    assert sorted(found) == sorted(make_docs.PARTS)


# --- links, and names of files and tests ------------------------------------------------------------------


@pytest.mark.parametrize("page", PAGES, ids=NAMES)
def test_every_relative_link_leads_somewhere(page: Path) -> None:
    dead = []
    for link in _LINK.findall(_FENCE.sub("", page.read_text("utf-8"))):
        if "://" in link:
            continue
        name, _, anchor = link.partition("#")
        target = (page.parent / name).resolve() if name else page
        if not target.exists() or (anchor and anchor not in anchors(target)):
            dead.append(link)
    assert dead == []


@pytest.mark.parametrize("page", PAGES, ids=NAMES)
def test_every_file_and_test_that_a_document_names_is_there(page: Path) -> None:
    gone = []
    for named in re.findall(r"`((?:plotmap|tests|docs|sample_plots)/[^`\s]*)`", page.read_text("utf-8")):
        name, _, test = named.partition("::")
        path = ROOT / name
        if not path.exists() or (test and f"def {test}(" not in path.read_text("utf-8")):
            gone.append(named)
    results = {"sample_plots/results/map.html"}
    assert set(gone) <= results


def test_every_document_is_reached_from_the_readme() -> None:
    reached, left = set[Path](), [ROOT / "README.md"]
    while left:
        page = left.pop()
        if page in reached or page.suffix != ".md":
            continue
        reached.add(page)
        names = [
            link.partition("#")[0] for link in _LINK.findall(page.read_text("utf-8")) if "://" not in link
        ]
        left += [(page.parent / name).resolve() for name in names if name]
    assert set(PAGES) <= reached


# --- findings, settings, columns, commands ----------------------------------------------------------------


def test_every_finding_has_its_paragraph() -> None:
    assert set(RULES) <= anchors(ROOT / "docs" / "findings.md")


def test_every_setting_is_explained() -> None:
    text = (ROOT / "docs" / "settings.md").read_text("utf-8")
    for name, field in Settings.model_fields.items():
        assert f"### [{name}]" in text
        section = text.partition(f"### [{name}]\n")[2].partition("\n### ")[0]
        for key in getattr(field.annotation, "model_fields", {}):
            assert f"| `{key}` |" in section, f"[{name}] {key}"


def test_every_column_of_the_field_files_is_explained() -> None:
    text = (ROOT / "docs" / "field_files.md").read_text("utf-8")
    for table in FIELD_TABLES:
        section = text.partition(f"### {table.name}\n")[2].partition("\n### ")[0]
        for column in table.columns:
            assert column.meaning in section, f"{table.name}.{column.name}"


@pytest.mark.parametrize("name", ["README.md", "docs/commands.md"])
def test_every_command_is_named(name: str) -> None:
    text = (ROOT / name).read_text("utf-8")
    assert all(f"plotmap {tool.name}" in text for tool in TOOLS)


def command_lines() -> Iterator[list[str]]:
    """Yield the words of every call of plotmap in shell blocks."""
    for page in PAGES:
        for block in blocks(page, "sh"):
            for part in re.split(r"&&|\n", block):
                words = part.split()
                if words[:1] == ["plotmap"]:
                    yield words


def test_every_call_of_plotmap_in_the_documents_is_one_it_takes() -> None:
    tools = {tool.name: tool for tool in TOOLS}
    calls = list(command_lines())
    assert calls
    for _, name, *words in calls:
        options = {f"--{parameter.name.replace('_', '-')}" for parameter in tools[name].parameters}
        assert {word for word in words if word.startswith("-")} <= options


def test_the_readme_gives_the_two_commands() -> None:
    calls = [block.strip() for block in blocks(ROOT / "README.md", "sh")]
    assert calls[:2] == ["pip install . && plotmap run sample_plots", 'pip install ".[test]" && pytest']


def glossary() -> list[str]:
    """Return the words of the glossary as they stand, those of one row parted."""
    rows = re.findall(
        r"^\| \*\*(.+?)\*\* \|", (ROOT / "docs" / "glossary.md").read_text("utf-8"), re.MULTILINE
    )
    return [word.strip() for row in rows for word in row.split(",")]


def test_the_words_of_plots_and_rules_are_in_the_glossary() -> None:
    states = PLOTS["state"].choices
    kinds = INSTRUMENTS["kind"].choices
    words = {*states, *kinds, *(rule.value for kind in (Design, EdgeRule, SlopeRule) for rule in kind)}
    assert words - set(glossary()) == set()


def test_the_titles_of_the_tables_of_a_survey_are_in_the_glossary() -> None:
    words = {column for table in FIELD_TABLES for column in table.key} - {"date", "tree"}
    assert {word for word in words if word not in glossary() and f"size {word}" not in glossary()} == set()


def test_every_word_of_the_glossary_is_used_elsewhere_and_stands_once_in_order() -> None:
    texts = " ".join(page.read_text("utf-8").casefold() for page in PAGES if page.name != "glossary.md")
    words = glossary()
    assert [word for word in words if word.casefold() not in re.sub(r"\s+", " ", texts)] == []
    assert len(set(words)) == len(words)
    rows = re.findall(
        r"^\| \*\*(.+?)\*\* \|", (ROOT / "docs" / "glossary.md").read_text("utf-8"), re.MULTILINE
    )
    assert rows == sorted(rows, key=str.casefold)


# --- examples ---------------------------------------------------------------------------------------------


def test_the_settings_of_the_readme_are_whole_and_valid() -> None:
    (block,) = blocks(ROOT / "README.md", "toml")
    assert settings_from(tomllib.loads(block)).plots.radius_m == 12.62


@pytest.mark.parametrize("page", PAGES, ids=NAMES)
def test_every_piece_of_settings_in_the_documents_is_valid(page: Path) -> None:
    for block in blocks(page, "toml"):
        content = _PLOTS | tomllib.loads(block)
        given = tomllib.loads(block).get("columns", {})
        assert settings_from(content).columns == given


def small_survey(folder: Path) -> set[str]:
    """Write the example of docs/field_files.md, each file as named above its block; return the names."""
    text = (ROOT / "docs" / "field_files.md").read_text("utf-8")
    section = text.partition("## How a small survey looks\n")[2].partition("\n## ")[0]
    parts = re.findall(r"^`([a-z_.]+)`(?:(?!^```).)*^```\w+\n(.*?)^```$", section, re.DOTALL | re.MULTILINE)
    for name, content in parts:
        (folder / name).write_text(content, "utf-8")
    return {name for name, _ in parts}


def test_the_small_survey_of_the_field_files_shows_every_table_and_has_no_findings(tmp_path: Path) -> None:
    names = small_survey(tmp_path)
    assert {name.partition(".")[0] for name in names} == {"survey", *(table.name for table in FIELD_TABLES)}
    stand = plotmap.compile_survey(plotmap.read_survey(tmp_path))
    assert stand.findings.frame["message"].to_list() == []
    assert stand.crs == "EPSG:32630"
    by_name = stand.compartments.set_index("compartment")
    # three measured and eight tallied; the dead stem does not count
    assert by_name.loc["A", "n_trees"] == 11
    assert by_name.loc["B", ["n_plots", "basal_area_m2_per_ha"]].tolist() == [1, 0.0]  # a real zero
    # 2 mm off each reading of K1, a gain of 300 / (302 - 2) = 1; a girth over π
    assert stand.trees["dbh_cm"].to_list() == pytest.approx([36.3, (31.5 + 31.2) / 2 - 0.2, 88.5 / math.pi])
    assert stand.check_summary["n_pairs"].max() == 3


def test_the_small_survey_needs_only_the_files_that_are_said_to_be_needed(tmp_path: Path) -> None:
    for name in small_survey(tmp_path) - {"survey.toml", "compartments.geojson", "plots.csv", "trees.csv"}:
        (tmp_path / name).unlink()
    stand = plotmap.compile_survey(plotmap.read_survey(tmp_path))
    assert stand.compartments.set_index("compartment").loc["A", "n_trees"] == 3


def test_the_python_example_of_the_readme_runs_on_the_sample_plots(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (code,) = blocks(ROOT / "README.md", "python")
    (tmp_path / "sample_plots").symlink_to(ROOT / "sample_plots")
    monkeypatch.chdir(tmp_path)
    names: dict[str, object] = {}
    exec(compile(code, "README.md", "exec"), names)  # noqa: S102 - our own example
    assert isinstance(names["stand"].compartments, gpd.GeoDataFrame)  # type: ignore[attr-defined]
    assert "High Bank" in capsys.readouterr().out
    assert (tmp_path / "map.html").stat().st_size > 100_000


def test_the_example_of_thinning_runs_on_the_sample_plots(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    section = (ROOT / "docs" / "methods.md").read_text("utf-8").partition("## Thinning\n")[2]
    rules, code = (
        re.search(rf"```{kind}\n(.*?)```", section, re.DOTALL)[1]  # type: ignore[index]
        for kind in ("csv", "python")
    )
    shutil.copytree(ROOT / "sample_plots", tmp_path / "sample_plots")
    (tmp_path / "sample_plots" / "prescriptions.csv").write_text(rules, "utf-8")
    monkeypatch.chdir(tmp_path)
    names: dict[str, Any] = {}
    exec(compile(code, "methods.md", "exec"), names)  # noqa: S102 - our own example
    assert set(names["found"].proposals["status"]) >= {"no rule", "proposed"}
    assert "no felling permit" in capsys.readouterr().out


# --- the picture ------------------------------------------------------------------------------------------


def test_the_picture_of_the_map_is_a_small_png_of_the_size_said() -> None:
    content = (ROOT / "docs" / "images" / "map.png").read_bytes()
    assert content.startswith(b"\x89PNG\r\n\x1a\n")
    assert struct.unpack(">II", content[16:24]) == (1280, 800)
    assert len(content) < 300_000


# --- tests/README.md --------------------------------------------------------------------------------------


def test_every_folder_of_tests_is_in_their_readme() -> None:
    text = (ROOT / "tests" / "README.md").read_text("utf-8")
    folders = {path.parent.name for path in (ROOT / "tests").glob("*/*.py")}
    assert [name for name in sorted(folders) if f"`tests/{name}/`" not in text] == []
