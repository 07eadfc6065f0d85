"""docs/a_day.md is followed to the letter: its files are written, its commands run, its quotes compared.

Blocks are taken in their order. ``sh``: commands, each line one; the last of a block ends with the exit code that
the text before says, the others and all else with 0. ``text``: what the last command prints, from its first line on,
up to the line ``…`` or to the end. ``diff``: lines to replace in the file named before. All other blocks: that file
itself.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import pandas as pd
import pytest

from plotmap.tools import TOOLS
from tests.output.paper.pdf_pages import n_pages, picture, size_mm, words

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "docs" / "a_day.md"
MORE = "…"
_BLOCK = re.compile(r"^```(\w+)\n(.*?)^```$", re.DOTALL | re.MULTILINE)
_NAMED = re.compile(r"`(first_wood[\w./]*)`")
_CODE = re.compile(r"ends with exit code (\d)")


@dataclass(frozen=True)
class Block:
    """A block of the page: what kind, the text since the block before, and what is in it."""

    kind: str
    before: str
    content: str


@dataclass
class Call:
    """A command of the page, what it should end with, what it did, and what the page quotes of it."""

    line: str
    expected: int
    code: int
    printed: str
    quoted: str = ""


def page_blocks() -> list[Block]:
    """Return the blocks of the page in their order."""
    text, end, found = PAGE.read_text("utf-8"), 0, []
    for match in _BLOCK.finditer(text):
        found.append(Block(match[1], text[end : match.start()], match[2]))
        end = match.end()
    return found


def called(line: str, folder: Path) -> tuple[int, str]:
    """Carry out a line of a shell block; return its exit code and what it printed."""
    words_of = line.split()
    if words_of[0] == "cp":
        shutil.copy(folder / words_of[1], folder / words_of[2])
        return 0, ""
    programs = {"plotmap": ["-m", "plotmap"], "python": []}
    command = [sys.executable, *programs[words_of[0]], *words_of[1:]]
    done = subprocess.run(command, cwd=folder, capture_output=True, timeout=120, check=False)
    return done.returncode, done.stdout.decode("utf-8") + done.stderr.decode("utf-8")


def replaced(path: Path, change: str) -> None:
    """Replace lines of a file, each of which must stand there once."""
    text = path.read_text("utf-8")
    old = [line[1:] + "\n" for line in change.splitlines() if line.startswith("-")]
    new = [line[1:] + "\n" for line in change.splitlines() if line.startswith("+")]
    for before, after in zip(old, new, strict=True):
        assert text.count(before) == 1, before
        text = text.replace(before, after)
    path.write_text(text, "utf-8", newline="\n")


@dataclass(frozen=True)
class Day:
    """Where the day took place, and its calls in order."""

    folder: Path
    calls: tuple[Call, ...]


@pytest.fixture(scope="module")
def day(tmp_path_factory: pytest.TempPathFactory) -> Day:
    """Follow the page in an empty folder that has nothing but the scripts of sample_plots."""
    folder = tmp_path_factory.mktemp("day")
    (folder / "sample_plots").mkdir()
    shutil.copy(ROOT / "sample_plots" / "invent_a_day.py", folder / "sample_plots")
    calls: list[Call] = []
    for block in page_blocks():
        if block.kind == "sh":
            lines = block.content.splitlines()
            said = _CODE.findall(block.before)
            for line in lines:
                expected = int(said[-1]) if said and line is lines[-1] else 0
                calls.append(Call(line, expected, *called(line, folder)))
        elif block.kind == "text":
            assert not calls[-1].quoted
            calls[-1].quoted = block.content
        elif block.kind == "diff":
            replaced(folder / _NAMED.findall(block.before)[-1], block.content)
        else:
            (folder / _NAMED.findall(block.before)[-1]).write_text(block.content, "utf-8", newline="\n")
    return Day(folder, tuple(calls))


def test_every_command_ends_as_the_page_says(day: Day) -> None:
    ended = [(call.line, call.code) for call in day.calls]
    assert ended == [(call.line, call.expected) for call in day.calls], "\n".join(
        call.printed for call in day.calls if call.code != call.expected
    )


def test_every_output_quoted_is_what_the_command_prints(day: Day) -> None:
    quoted = [call for call in day.calls if call.quoted]
    assert len(quoted) == len([block for block in page_blocks() if block.kind == "text"]) > 0
    for call in quoted:
        lines, printed = call.quoted.splitlines(), call.printed.rstrip().splitlines()
        if lines[-1] == MORE:
            lines = lines[:-1]
            assert len(printed) > len(lines), call.line
            printed = printed[: len(lines)]
        assert lines == printed, call.line


def test_the_day_goes_from_an_empty_folder_to_the_folder_for_others(day: Day) -> None:
    names = [call.line.split()[1] for call in day.calls if call.line.startswith("plotmap ")]
    assert names == [
        *("new", "layout", "bands", "distances", "fieldsheets"),
        *("check", "check", "run", "sheet", "share"),
    ]
    assert set(names) <= {tool.name for tool in TOOLS}


def test_the_mistake_stops_the_check_and_its_cure_lets_it_pass(day: Day) -> None:
    first, second = (call for call in day.calls if call.line.startswith("plotmap check"))
    assert (first.code, second.code) == (1, 0)


def test_every_file_that_the_page_names_is_there(day: Day) -> None:
    text = PAGE.read_text("utf-8")
    named = {*_NAMED.findall(text), *re.findall(r"first_wood/\S+\.pdf", text), "first_wood_typed.xlsx"}
    assert len(named) > 10
    gone = [name for name in sorted(named) if not (day.folder / name).exists()]
    assert gone == []
    for name in ("planned.kml", "planned.gpkg"):
        assert (day.folder / "first_wood" / "layout" / name).is_file()


def test_the_papers_are_as_many_as_the_plots(day: Day) -> None:
    plots = pd.read_csv(day.folder / "first_wood" / "layout" / "planned.csv")
    assert n_pages((day.folder / "first_wood" / "fieldsheets.pdf").read_bytes()) == len(plots)
    typed = pd.read_excel(day.folder / "first_wood_typed.xlsx", sheet_name="plots", engine="openpyxl")
    assert typed["plot"].tolist() == plots["plot"].tolist()


def test_the_place_to_sign_is_blank(day: Day) -> None:
    """Below the line with the version, at the right, down to the footer: 130 to 191 mm from the top of the sheet."""
    content = (day.folder / "first_wood" / "sheet.pdf").read_bytes()
    assert size_mm(content) == pytest.approx((297, 210), abs=0.01)
    assert "plotmap" in words(content)
    dots = picture(content, dots_per_mm=4)
    right_column = dots[:, 4 * 229 : 4 * 288]
    marked = (right_column < 250).any(axis=(1, 2)).nonzero()[0] / 4
    above, below = marked[marked < 160], marked[marked >= 160]
    assert above.max() < 130
    assert below.min() > 191


def test_the_invented_day_is_the_same_again(day: Day, tmp_path: Path) -> None:
    shutil.copy(day.folder / "first_wood" / "layout" / "planned.csv", tmp_path / "plots.csv")
    script = day.folder / "sample_plots" / "invent_a_day.py"
    subprocess.run([sys.executable, script, tmp_path], check=True, capture_output=True)
    assert (tmp_path / "plots.csv").read_bytes() == (day.folder / "first_wood" / "plots.csv").read_bytes()
    mended = (tmp_path / "trees.csv").read_text("utf-8").replace("P1O,", "P10,")
    assert mended == (day.folder / "first_wood" / "trees.csv").read_text("utf-8")
