from __future__ import annotations

import re
import time
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest

from plotmap.errors import OutputError
from plotmap.output.webmap import write_map
from tests.output.webmap.larger_stand import content_of, larger_stand, titled
from tests.stand_example import stand_example

NASTY = "<img src=x onerror=alert(1)>"


class Tags(HTMLParser):
    """Collects the tags of a page and whatever they refer to."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.references: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.references += [
            value or "" for name, value in attrs if name in {"src", "href", "action", "srcset"}
        ]


def test_the_same_stand_gives_the_same_bytes(tmp_path: Path) -> None:
    write_map(stand_example(), tmp_path / "one.html")
    write_map(stand_example(), str(tmp_path / "other.html"))
    assert (tmp_path / "one.html").read_bytes() == (tmp_path / "other.html").read_bytes()


def test_the_page_refers_to_no_other_file(tmp_path: Path) -> None:
    write_map(stand_example(), tmp_path / "map.html")
    tags = Tags()
    tags.feed((tmp_path / "map.html").read_text("utf-8"))
    assert tags.references == ["data:,"]
    assert "img" not in tags.tags


def test_own_files_name_no_host() -> None:
    page = Path(__file__).parents[3] / "plotmap" / "output" / "webmap" / "page"
    for file in page.iterdir():
        text = file.read_text("utf-8").replace(
            "http://www.w3.org/2000/svg", ""
        )  # name of SVG, not an address
        assert not re.search(r"\w+:?//\w", text.replace("https://", "x://")), file.name
        assert "innerHTML" not in text
        assert "insertAdjacentHTML" not in text


def test_what_a_user_typed_never_becomes_markup(tmp_path: Path) -> None:
    stand = titled(stand_example(species=(NASTY, "</script><b>")), f"</script><script>{NASTY}")
    write_map(stand, tmp_path / "map.html")
    text = (tmp_path / "map.html").read_text("utf-8")
    assert NASTY not in text
    assert text.count("</script>") == text.count("<script")
    content = content_of(tmp_path / "map.html")
    assert NASTY in content["species"]["words"]
    assert content["survey"]["title"] == f"</script><script>{NASTY}"


def test_the_licence_of_the_library_stays_in_the_page(tmp_path: Path) -> None:
    write_map(stand_example(), tmp_path / "map.html")
    text = (tmp_path / "map.html").read_text("utf-8")
    assert "Copyright (c) 2010-2023, Volodymyr Agafonkin" in text
    assert "THIS SOFTWARE IS PROVIDED BY THE COPYRIGHT HOLDERS" in text


def test_sixty_compartments_and_400_plots_stay_below_half_a_megabyte(tmp_path: Path) -> None:
    stand = larger_stand(8, 7)
    assert (len(stand.compartments), len(stand.plots)) == (64, 448)
    write_map(stand, tmp_path / "map.html")
    assert (tmp_path / "map.html").stat().st_size < 500_000


@pytest.mark.slow
def test_2000_compartments_and_20_000_plots_stay_below_five_megabytes(tmp_path: Path) -> None:
    stand = larger_stand(45, 10)
    assert (len(stand.compartments), len(stand.plots)) == (2025, 20_250)
    start = time.perf_counter()
    write_map(stand, tmp_path / "map.html")
    assert time.perf_counter() - start < 20
    assert (tmp_path / "map.html").stat().st_size < 5_000_000


@pytest.mark.parametrize("status", ["no plots", "estimated"])
def test_a_stand_without_figures_or_of_zeros_is_written(tmp_path: Path, status: str) -> None:
    stand = stand_example()
    compartments = stand.compartments.copy()
    numbers = [
        name
        for name in compartments.columns
        if name.startswith(("stems_", "basal_", "dg_", "mean_", "sampling_"))
    ]
    compartments[numbers] = np.nan if status == "no plots" else 0.0
    compartments["status"] = status
    if status == "estimated":
        compartments[["dg_cm", "mean_dbh_cm", "sampling_error_pct"]] = np.nan
    write_map(replace(stand, compartments=compartments), tmp_path / "map.html")
    basal_area = content_of(tmp_path / "map.html")["themes"][0]
    assert set(basal_area["classes"]) == ({-2} if status == "no plots" else {0})


def test_a_single_compartment_is_written(tmp_path: Path) -> None:
    stand = stand_example()
    write_map(replace(stand, compartments=stand.compartments.head(1)), tmp_path / "map.html")
    content = content_of(tmp_path / "map.html")
    assert content["compartments"]["compartment"] == ["01"]
    assert sum(content["themes"][0]["counts"]) == 1
    assert content["themes"][0]["labels"][0].startswith("0–")


def test_a_place_that_cannot_be_written_is_said(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="the map cannot be written"):
        write_map(stand_example(), tmp_path / "nowhere" / "map.html")
