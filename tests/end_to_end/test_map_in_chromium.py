"""The map as a person uses it: mouse, keyboard, small screen, no network."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import geopandas as gpd
import numpy as np
import pytest
import shapely

from plotmap.output.webmap import write_map
from tests.end_to_end.conftest import Visits
from tests.end_to_end.map_page import (
    box,
    colour,
    number,
    opened,
    painted,
    place,
    settle,
    shown,
    written_numbers,
)
from tests.output.webmap.larger_stand import larger_stand, titled
from tests.stand_example import stand_example

pytestmark = pytest.mark.browser
NASTY = "<img src=x onerror=document.title='hit'>"
THIN_SPACE = "\u202f"


def test_the_map_asks_for_nothing_but_itself_and_complains_of_nothing(visits: Visits, tmp_path: Path) -> None:
    visit = opened(visits, stand_example(), tmp_path)
    visit.page.mouse.click(*place(visit.page, 4))
    visit.page.click("#table-open")
    visit.page.click("#table-close")
    settle(visit.page)
    assert visit.requests == [(tmp_path / "map.html").as_uri()]
    assert visit.messages == []


def test_the_policy_stops_a_script_that_is_not_of_the_page(visits: Visits, tmp_path: Path) -> None:
    visit = opened(visits, stand_example(), tmp_path)
    visit.page.evaluate(
        """() => {
          const script = document.createElement("script");
          script.textContent = "window.hit = 1";
          document.body.append(script);
        }"""
    )
    assert visit.page.evaluate("() => window.hit") is None
    assert "Content Security Policy" in visit.messages[0]


def test_a_click_on_a_compartment_shows_its_figures(visits: Visits, tmp_path: Path) -> None:
    stand = stand_example()
    page = opened(visits, stand, tmp_path).page
    page.mouse.click(*place(page, 4))
    row = stand.compartments.iloc[4]
    card = page.get_by_role("dialog", name="05 Block 05")
    assert card.locator("h2").inner_text() == f"{row['compartment']} {row['name']}" == "05 Block 05"
    value, half, limits = shown(page, "basal_area_m2_per_ha")
    assert number(value) == round(row["basal_area_m2_per_ha"], 1)
    assert number(half) == round(row["basal_area_m2_per_ha_high"] - row["basal_area_m2_per_ha"], 1)
    low, high = (number(part) for part in limits.split("–"))
    assert low == round(row["basal_area_m2_per_ha_low"], 1)
    assert high == round(row["basal_area_m2_per_ha_high"], 1)
    assert number(shown(page, "dg_cm")[0]) == round(row["dg_cm"], 1)
    page.click("#table-open")
    cells = page.locator(".overview tbody tr").nth(4)
    for column in ("basal_area_m2_per_ha", "stems_per_ha"):
        assert cells.locator(f"[data-column={column}]").inner_text() == shown(page, column)[0]
        assert cells.locator(f"[data-column={column}_above]").inner_text() == shown(page, column)[1]


def test_the_switch_changes_legend_and_colours_together(visits: Visits, tmp_path: Path) -> None:
    stand = stand_example()
    page = opened(visits, stand, tmp_path).page
    at = place(page, 0)
    seen = {}
    for theme in ("basal_area_m2_per_ha", "stems_per_ha", "dg_cm", "sampling_error_pct"):
        page.check(f"input[value={theme}]")
        settle(page)
        value = stand.compartments[theme].iloc[0]
        for key in page.locator("#legend li").all():
            label = key.locator(".key-label").inner_text()
            edges = re.fullmatch(r"([\d.]+)–<?([\d.]+)", label)
            if edges and float(edges[1]) <= value < float(edges[2]):
                swatch = key.locator("canvas").evaluate(
                    "canvas => [...canvas.getContext('2d').getImageData(30, 20, 1, 1).data].slice(0, 3)"
                )
                seen[theme] = "#" + "".join(f"{part:02x}" for part in swatch)
        assert colour(page, at) == seen[theme]
        counts = page.locator("#legend .key-count").all_inner_texts()
        assert sum(map(int, counts)) >= len(stand.compartments)
    assert len(set(seen.values())) > 1
    assert page.locator("#legend-title span").first.inner_text() == "Sampling error, %"


def test_no_plots_and_one_plot_are_hatched_and_in_the_legend(visits: Visits, tmp_path: Path) -> None:
    page = opened(visits, stand_example(), tmp_path).page
    legend = page.locator("#legend").inner_text()
    assert "one plot: no error can be given" in legend
    assert "no plots: nothing known" in legend
    for row, many in ((0, False), (7, True), (8, True)):
        x, y = place(page, row)
        found = {colour(page, (x + step, y)) for step in range(26)}
        assert (len(found) > 3) is many


def test_plots_go_and_come_back(visits: Visits, tmp_path: Path) -> None:
    page = opened(visits, stand_example(), tmp_path).page
    x, y = place(page, 4)
    side = place(page, 5)[0] - x
    middle = (x + side / 4, y - side / 4)
    assert colour(page, middle) == "#1b1b1b"
    page.mouse.click(*middle)
    assert page.locator(".sheet h2").inner_text() == "Plot P009"
    page.keyboard.press("Escape")
    page.click(".home")
    page.uncheck("#plots-toggle")
    settle(page)
    assert colour(page, middle) == colour(page, (x, y))
    page.check("#plots-toggle")
    settle(page)
    assert colour(page, middle) == "#1b1b1b"


def test_plots_are_told_apart_by_shape_and_the_unplaced_are_counted(visits: Visits, tmp_path: Path) -> None:
    stand = stand_example()
    plots = gpd.GeoDataFrame(stand.plots.copy())
    plots.loc[plots.index[[2, 3]], "state"] = "lost"
    plots.loc[plots.index[4], "set_aside"] = "outside its compartment"
    plots.loc[plots.index[5], "geometry"] = None
    page = opened(visits, replace(stand, plots=plots), tmp_path).page
    assert page.locator("#plots-legend .key-label").all_inner_texts() == [
        "measured",
        "visited, no trees: a real zero",
        "measured, but set aside",
        "not visited",
        "lost",
    ]
    assert page.locator("#plots-legend .key-count").all_inner_texts() == ["9", "1", "1", "1", "2"]
    assert "1 plot has no position" in page.locator("#plots-note").inner_text()
    pictures = page.eval_on_selector_all("#plots-legend canvas", "all => all.map((one) => one.toDataURL())")
    assert len(set(pictures)) == 5


def test_the_table_lists_sorts_and_leads_to_the_map(visits: Visits, tmp_path: Path) -> None:
    stand = stand_example()
    page = opened(visits, stand, tmp_path).page
    page.focus("#table-open")
    page.keyboard.press("Enter")
    assert page.locator(".overview tbody tr").count() == 9
    page.click(".overview thead button:has-text('Basal area')")
    values = page.locator(".overview tbody [data-column=basal_area_m2_per_ha]").all_inner_texts()
    numbers = [number(text) for text in values[:-1]]
    assert numbers == sorted(numbers)
    assert values[-1] == "–"
    page.click(".overview button.link:has-text('06')")
    assert page.locator(".sheet h2").inner_text() == "06 Block 06"


def test_the_table_says_and_shows_how_it_is_sorted(visits: Visits, tmp_path: Path) -> None:
    page = opened(visits, stand_example(), tmp_path).page
    page.click("#table-open")
    heads = page.locator(".overview thead th")
    assert heads.all_inner_texts()[:4] == ["Compartment", "Basal area m²/ha", "± m²/ha", "Stems 1/ha"]
    arrows = """all => all.map((one) => getComputedStyle(one, "::after").content.replace(/[^↕▲▼]/g, ""))"""
    assert page.eval_on_selector_all(".overview .arrow", arrows) == ["↕"] * heads.count()
    column = ".overview tbody [data-column=basal_area_m2_per_ha_above]"
    for direction in ("ascending", "descending"):
        page.click(".overview thead button[aria-label='± of Basal area, m²/ha']")
        assert page.locator(".overview [aria-sort]").count() == 1
        assert heads.nth(2).get_attribute("aria-sort") == direction
        arrow = "▲" if direction == "ascending" else "▼"
        assert page.eval_on_selector_all(".overview .arrow", arrows)[1:4] == ["↕", arrow, "↕"]
        values = [number(text) for text in page.locator(column).all_inner_texts() if text != "–"]
        assert len(values) == 7
        assert values == sorted(values, reverse=direction == "descending")
        assert page.locator(column).last.inner_text() == "–"


def test_what_a_user_typed_is_shown_as_text(visits: Visits, tmp_path: Path) -> None:
    stand = titled(
        stand_example(species=(NASTY, "oak")), f"</script><script>document.title='hit'</script>{NASTY}"
    )
    compartments = stand.compartments.copy()
    compartments["name"] = NASTY
    plots = stand.plots.copy()
    plots["set_aside"] = NASTY
    visit = opened(visits, replace(stand, compartments=compartments, plots=plots), tmp_path)
    page = visit.page
    page.mouse.click(*place(page, 4))
    settle(page)
    assert page.locator(".sheet h2").inner_text() == f"05 {NASTY}"
    assert NASTY in page.locator(".mix .species").all_inner_texts()
    assert page.locator("h1").inner_text().endswith(NASTY)
    page.click("#table-open")
    assert page.locator("img").count() == 0
    assert page.title() != "hit"
    assert visit.messages == []


def test_it_works_on_a_phone(visits: Visits, tmp_path: Path) -> None:
    page = opened(visits, stand_example(), tmp_path, width=390, height=844).page
    assert page.locator("#panel").is_hidden()
    assert page.locator("#strip").is_visible()
    assert page.evaluate("() => document.documentElement.scrollWidth") == 390
    assert page.locator("#strip .strip-rest").inner_text().splitlines() == [
        "one plot: no error can be given",
        "no plots: nothing known",
    ]
    page.mouse.click(*place(page, 1))
    settle(page)
    left, top, right, bottom = box(page, "#card")
    assert (left, right, bottom) == (0, 390, 844)
    assert 844 / 3 < bottom - top < 844 * 0.6
    assert box(page, "#map")[3] <= top
    assert page.evaluate("() => { const card = document.getElementById('card-body');"
                         " return card.scrollHeight > card.clientHeight; }")  # fmt: skip
    page.click("#card-close")
    assert page.locator("#card").is_hidden()
    page.click("#panel-toggle")
    assert page.locator("#legend").is_visible()
    page.check("input[value=stems_per_ha]")
    page.click("#table-open")
    assert box(page, ".overview thead th:nth-child(3)")[2] <= 390
    page.evaluate("() => { document.getElementById('table-body').scrollLeft = 300; }")
    assert box(page, ".overview tbody th >> nth=0")[0] >= 0
    page.click("#table-close")
    page.fill("#find-input", "02")
    page.keyboard.press("Enter")
    assert page.locator("#panel").is_hidden()
    assert page.locator(".sheet h2").inner_text() == "02 Block 02"


def test_numbers_stand_on_the_map_where_they_fit(visits: Visits, tmp_path: Path) -> None:
    stand = stand_example()
    page = opened(visits, stand, tmp_path).page
    assert painted(page, "canvas.numbers") > 500
    assert sorted(written_numbers(page, ".home")) == sorted(stand.compartments["compartment"])
    page.uncheck("#numbers-toggle")
    assert painted(page, "canvas.numbers") == 0
    assert written_numbers(page, ".home") == []
    page.mouse.click(*place(page, 4))
    assert painted(page, "canvas.numbers") > 100  # the chosen one is always told
    page = opened(visits, stand_example(36), tmp_path).page  # squares of some 20 px
    assert page.is_checked("#numbers-toggle")
    assert written_numbers(page, ".home") == []


def test_the_tooltip_begins_with_number_and_name(visits: Visits, tmp_path: Path) -> None:
    stand = stand_example()
    page = opened(visits, stand, tmp_path).page
    page.mouse.move(*place(page, 4))
    value = stand.compartments["basal_area_m2_per_ha"].iloc[4]
    assert page.locator(".hover").inner_text() == f"05 Block 05: {value:.1f}\u00a0m²/ha"


def test_colour_hatching_and_figure_agree_at_a_class_edge(visits: Visits, tmp_path: Path) -> None:
    stand = stand_example()
    compartments = stand.compartments.copy()
    compartments["sampling_error_pct"] = [49.87, 50.0, 12.0, 30.0, 90.0, 30.0, 30.0, np.nan, np.nan]
    page = opened(visits, replace(stand, compartments=compartments), tmp_path).page
    page.check("input[value=sampling_error_pct]")
    settle(page)
    keys = dict(
        zip(
            page.locator("#legend .key-label").all_inner_texts(),
            page.locator("#legend .key-count").all_inner_texts(),
            strict=True,
        )
    )
    assert (keys["40–<50"], keys["≥50"], keys["sampling error 50\u00a0% or more"]) == ("1", "2", "2")
    for row, text, words in (
        (0, "49.9", "Estimated from 2 plots."),
        (1, "50", "Estimated from 2 plots; the error is large."),
    ):
        page.click(".home")
        settle(page)
        page.mouse.click(*place(page, row))
        assert shown(page, "sampling_error_pct")[0] == text
        assert page.locator(".sheet .status").inner_text() == words


def test_no_part_of_the_panel_lies_over_the_compartments(visits: Visits, tmp_path: Path) -> None:
    page = opened(visits, stand_example(), tmp_path).page
    panel, room = (page.locator(name).bounding_box() for name in ("#panel", "#map"))
    assert panel is not None
    assert room is not None
    assert panel["x"] + panel["width"] <= room["x"]


def test_a_browser_that_is_too_old_is_told_so(visits: Visits, tmp_path: Path) -> None:
    write_map(stand_example(), tmp_path / "map.html")
    page = visits.browser.new_context(offline=True).new_page()
    page.add_init_script("delete window.DecompressionStream")
    page.goto((tmp_path / "map.html").as_uri())
    alert = page.get_by_role("alert")
    alert.wait_for()
    assert alert.inner_text().startswith("The map cannot be shown (DecompressionStream is not defined)")


@pytest.mark.parametrize("case", ["single", "no plots", "zeros", "holes"])
def test_odd_stands_are_shown(visits: Visits, tmp_path: Path, case: str) -> None:
    stand = stand_example()
    compartments = stand.compartments.copy()
    numbers = [
        name
        for name in compartments.columns
        if name.startswith(("stems_", "basal_", "dg_", "mean_", "sampling_"))
    ]
    if case == "single":
        compartments = compartments.head(1)
    elif case == "no plots":
        compartments[numbers] = np.nan
        compartments["status"] = "no plots"
        compartments["n_plots"] = 0
    elif case == "zeros":
        compartments[numbers] = 0.0
        compartments[["dg_cm", "mean_dbh_cm", "sampling_error_pct"]] = np.nan
        compartments["status"] = "estimated"
    else:
        shapes = compartments.geometry.to_numpy()
        rings = shapely.difference(shapes, shapely.buffer(shapely.centroid(shapes), 60))
        compartments = compartments.set_geometry(rings)
    visit = opened(visits, replace(stand, compartments=compartments), tmp_path)
    page = visit.page
    page.fill("#find-input", "01")
    page.keyboard.press("Enter")
    assert page.locator(".sheet h2").inner_text() == "01 Block 01"
    expected = {"no plots": "No plots: nothing is known here.", "zeros": "missing: no stems"}.get(
        case, "Estimated from 2 plots."
    )
    assert expected in page.locator(".sheet").inner_text()
    assert visit.messages == []


@pytest.mark.slow
def test_2000_compartments_and_20_000_plots_can_be_worked_with(visits: Visits, tmp_path: Path) -> None:
    visit = opened(visits, larger_stand(45, 10), tmp_path)
    page = visit.page
    assert not page.is_checked("#plots-toggle")
    page.check("#plots-toggle")
    settle(page)
    page.check("input[value=dg_cm]")
    settle(page)
    page.click("#table-open")
    assert page.locator(".pager [role=status]").inner_text() == f"Rows 1 to 500 of 2{THIN_SPACE}025"
    page.click("#table-close")
    page.fill("#find-input", "1234")
    page.keyboard.press("Enter")
    assert page.locator(".sheet h2").inner_text() == "1234 Block 1234"
    assert (
        page.locator("#subtitle").inner_text().splitlines()[0]
        == f"2{THIN_SPACE}025 compartments, 20{THIN_SPACE}250 sample plots"
    )
    assert visit.messages == []
