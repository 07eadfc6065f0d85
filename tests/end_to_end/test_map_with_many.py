"""The map of large surveys: plots gathered in circles, the table turned page by page, sizes and speed."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest
from shapely.affinity import translate

from tests.benchmarks.large_stand import large_stand
from tests.end_to_end.conftest import Visits
from tests.end_to_end.map_page import area, colour, number, opened, place, settle, written_numbers
from tests.stand_example import stand_example

pytestmark = pytest.mark.browser
TOO_MANY = 2100
"""Plots: above the number up to which each has its mark."""


def circles(page, act: str) -> list[int]:
    """Return the numbers that are written in circles while a button is pressed."""
    page.uncheck("#numbers-toggle")
    return [int(number(text)) for text in written_numbers(page, act)]


def test_plots_that_are_too_many_are_gathered_and_none_is_lost(visits: Visits, tmp_path: Path) -> None:
    page = opened(visits, large_stand(25, TOO_MANY), tmp_path).page
    assert page.locator("#plots-gathered").is_hidden()
    page.check("#plots-toggle")
    settle(page)
    assert page.locator("#plots-gathered").inner_text().startswith("More than 2\u202f000 plots are in view")
    found = circles(page, ".home")
    assert sum(found) == TOO_MANY
    page.uncheck("#plots-toggle")
    settle(page)
    assert page.locator("#plots-gathered").is_hidden()
    assert circles(page, ".home") == []


def test_a_click_on_a_circle_leads_to_single_plots(visits: Visits, tmp_path: Path) -> None:
    page = opened(visits, large_stand(25, TOO_MANY), tmp_path).page
    page.check("#plots-toggle")
    settle(page)
    middle = page.evaluate(
        """() => {
          const drawn = [];
          const usual = CanvasRenderingContext2D.prototype.fillText;
          CanvasRenderingContext2D.prototype.fillText = function (text, x, y) {
            const at = this.getTransform().transformPoint({ x: x, y: y });
            const box = this.canvas.getBoundingClientRect();
            const scale = box.width / this.canvas.width;
            const place = [box.left + at.x * scale, box.top + at.y * scale];
            if (!this.canvas.className.includes("numbers")) drawn.push(place);
            return usual.call(this, text, x, y);
          };
          document.querySelector(".home").click();
          CanvasRenderingContext2D.prototype.fillText = usual;
          const map = document.getElementById("map").getBoundingClientRect();
          const far = ([x, y]) => Math.hypot(x - map.left - map.width / 2, y - map.top - map.height / 2);
          return drawn.sort((one, other) => far(one) - far(other))[0];
        }"""
    )
    page.mouse.click(*middle)
    settle(page)
    assert page.locator("#card").is_hidden()
    assert page.locator("#plots-gathered").is_hidden()
    page.fill("#find-input", "plot p0007")
    page.keyboard.press("Enter")
    assert page.locator(".sheet h2").inner_text() == "Plot P0007"


def test_the_table_is_turned_page_by_page(visits: Visits, tmp_path: Path) -> None:
    page = opened(visits, large_stand(1100, 1100), tmp_path).page
    page.click("#table-open")
    rows = page.locator(".overview tbody tr")
    note = page.locator(".pager [role=status]")
    assert rows.count() == 500
    assert note.inner_text() == "Rows 1 to 500 of 1\u202f100"
    assert page.get_by_role("button", name="Rows before").is_disabled()
    for first in ("0501", "1001"):
        page.get_by_role("button", name="Next rows").click()
        assert rows.first.locator("th").inner_text() == first
    assert rows.count() == 100
    assert page.get_by_role("button", name="Next rows").is_disabled()
    page.click(".overview thead button:has-text('Compartment')")
    page.click(".overview thead button:has-text('Compartment')")
    assert rows.first.locator("th").inner_text() == "1100"
    assert note.inner_text().startswith("Rows 1 to 500")


def test_compartments_that_overlap_are_both_drawn_where_they_do(visits: Visits, tmp_path: Path) -> None:
    stand = stand_example()
    compartments = stand.compartments.copy()
    compartments.loc[1, "geometry"] = translate(compartments.geometry[1], -150)
    page = opened(visits, replace(stand, compartments=compartments), tmp_path).page
    left, _, right, bottom = area(page)
    side = (right - left) / 3
    at = (left + 0.9 * side, bottom - 0.1 * side)
    assert colour(page, at) != "#000000"
    page.mouse.click(*at)
    assert page.locator(".sheet h2").inner_text() == "02 Block 02"


def test_the_outline_under_the_pointer_goes_when_the_pointer_goes(visits: Visits, tmp_path: Path) -> None:
    page = opened(visits, stand_example(), tmp_path).page
    ink = """() => {
      const canvas = document.querySelector("#map canvas");
      const { data } = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height);
      let dark = 0;
      for (let at = 0; at < data.length; at += 4)
        dark += data[at] === 60 && data[at + 1] === 70 && data[at + 2] === 64;
      return dark;
    }"""
    page.mouse.move(5, 5)
    settle(page)
    before = page.evaluate(ink)
    page.mouse.move(*place(page, 4))
    page.locator(".hover").wait_for()
    settle(page)
    assert page.evaluate(ink) > before + 100
    page.mouse.move(5, 5)
    settle(page)
    assert page.locator(".hover").count() == 0
    assert page.evaluate(ink) == before


def test_the_last_of_quick_moves_counts(visits: Visits, tmp_path: Path) -> None:
    page = opened(visits, stand_example(), tmp_path).page
    places = [place(page, row) for row in (0, 1, 5)]
    told = page.evaluate(
        """(places) => {
          const canvas = document.querySelector("#map canvas");
          for (const [x, y] of places)
            canvas.dispatchEvent(new MouseEvent("mousemove", { clientX: x, clientY: y, bubbles: true }));
          return document.querySelector(".hover").textContent;
        }""",
        [list(one) for one in places],
    )
    assert told.startswith("06 Block 06")


def test_a_map_of_60_compartments_and_400_plots_is_small(tmp_path: Path, visits: Visits) -> None:
    visit = opened(visits, large_stand(60, 400), tmp_path)
    assert (tmp_path / "map.html").stat().st_size <= 500_000
    assert visit.messages == []
    visit.page.click("details.about summary")
    assert "none lies more than 0.6 m from where it was" in visit.page.locator("#about-outlines").inner_text()


def test_2000_compartments_and_20_000_plots_fit_into_5_mb_and_can_be_worked_with(
    visits: Visits, tmp_path: Path
) -> None:
    visit = opened(visits, large_stand(2000, 20_000), tmp_path)
    page = visit.page
    assert (tmp_path / "map.html").stat().st_size <= 5_000_000
    left, top, right, bottom = area(page)
    page.mouse.move(900, 400)
    page.mouse.down()
    page.mouse.move(1000, 440, steps=5)
    page.wait_for_timeout(200)  # so that the map does not slide on
    page.mouse.up()
    settle(page)
    assert area(page) == pytest.approx((left + 100, top + 40, right + 100, bottom + 40), abs=2)
    page.check("#plots-toggle")
    settle(page)
    found = circles(page, ".home")
    assert sum(found) == 20_000
    page.uncheck("#plots-toggle")
    page.mouse.click(800, 400)
    assert re.fullmatch(r"\d{4} Block \d+", page.locator(".sheet h2").inner_text())
    assert page.locator(".chart .bar").count() == 8
    assert visit.messages == []
