"""The card of a compartment or plot, what leads to it, and the map on paper."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import geopandas as gpd
import numpy as np
import polars as pl
import pypdfium2
import pytest
import shapely

from plotmap.model.class_rule import ClassMeasure
from plotmap.model.survey import MapLayer
from tests.end_to_end.conftest import Visits
from tests.end_to_end.map_page import (
    area,
    box,
    opened,
    place,
    settle,
    shown,
)
from tests.stand_example import stand_example

pytestmark = pytest.mark.browser


def test_the_size_chart_has_a_bar_and_an_error_for_every_class(visits: Visits, tmp_path: Path) -> None:
    stand = stand_example()
    page = opened(visits, stand, tmp_path).page
    page.mouse.click(*place(page, 4))
    rows = stand.class_totals.filter(stand.class_totals["compartment"] == "05")
    heights = page.eval_on_selector_all(
        ".chart .bar", "bars => bars.map((bar) => Number(bar.getAttribute('height')))"
    )
    ratio = np.array(heights) / rows["stems_per_ha"].to_numpy()
    assert len(heights) == rows.height == 4
    assert np.allclose(ratio, ratio[0], rtol=0.06)  # heights are of the rounded values
    assert page.locator(".chart .error").count() == 4
    texts = page.locator(".chart text").all_text_contents()
    assert {"10–<15", "25–<30", "stems, 1/ha", "diameter class, cm"} <= set(texts)


def test_missing_figures_say_why(visits: Visits, tmp_path: Path) -> None:
    page = opened(visits, stand_example(), tmp_path).page
    page.mouse.click(*place(page, 7))
    assert "One plot: no error can be given." in page.locator(".sheet").inner_text()
    assert shown(page, "basal_area_m2_per_ha")[1:] == ["no error: one plot"]
    assert shown(page, "sampling_error_pct") == ["missing: one plot"]
    page.click("#card-close")
    page.click(".home")
    settle(page)
    page.mouse.click(*place(page, 8))
    text = page.locator(".sheet").inner_text()
    assert "No plots: nothing is known here." in text
    assert "They are not zero." in text
    assert page.locator(".sheet table, .sheet svg").count() == 0


def test_a_compartment_is_found_by_keyboard_alone(visits: Visits, tmp_path: Path) -> None:
    page = opened(visits, stand_example(), tmp_path).page
    page.focus("body")
    page.keyboard.press("Tab")
    assert page.evaluate("() => document.activeElement.id") == "find-input"
    page.keyboard.type("block 03")
    page.keyboard.press("Enter")
    assert page.locator(".sheet h2").inner_text() == "03 Block 03"
    assert page.evaluate("() => document.activeElement.textContent") == "03 Block 03"
    page.keyboard.press("Escape")
    assert page.locator(".sheet").count() == 0
    assert page.evaluate("() => document.activeElement.id") == "find-input"
    page.keyboard.press("Control+A")
    page.keyboard.type("nowhere")
    page.keyboard.press("Enter")
    assert page.locator("#find-note").inner_text() == (
        "No compartment or plot on the map has this number or name."
    )


@pytest.mark.parametrize(("width", "height"), [(1280, 800), (900, 700), (390, 844)])
def test_the_chosen_compartment_stays_in_sight_beside_its_card(
    visits: Visits, tmp_path: Path, width: int, height: int
) -> None:
    page = opened(visits, stand_example(), tmp_path, width=width, height=height).page
    for row in (0, 2, 6, 8):
        page.click(".home")
        settle(page)
        at = place(page, row)
        page.mouse.click(*at)
        settle(page)
        card, room = box(page, "#card"), box(page, "#map")
        assert card[0] >= room[2] or card[1] >= room[3]
        marked = area(page, outlined=True)
        assert room[0] <= marked[0] < marked[2] <= room[2]
        assert room[1] <= marked[1] < marked[3] <= room[3]
        page.keyboard.press("Escape")
        assert page.locator("#card").is_hidden()


def test_a_card_moves_the_map_no_further_than_needed(visits: Visits, tmp_path: Path) -> None:
    page = opened(visits, stand_example(), tmp_path).page
    before = area(page)
    page.mouse.click(*place(page, 0))
    settle(page)
    left, top, _, bottom = area(page)
    assert (left, top, bottom) == pytest.approx(
        (before[0], before[1], before[3]), abs=3
    )  # width of the outline
    page.click("#card-close")
    settle(page)
    assert area(page) == pytest.approx(before, abs=3)


def test_escape_closes_first_the_choices_then_the_card(visits: Visits, tmp_path: Path) -> None:
    page = opened(visits, stand_example(), tmp_path).page
    page.mouse.click(*place(page, 0))
    page.focus("#find-input")
    page.keyboard.type("block")
    page.keyboard.press("Escape")
    assert page.locator("#find-choices").is_hidden()
    assert page.locator("#card").is_visible()
    page.keyboard.press("Escape")
    assert page.locator("#card").is_hidden()


def test_several_that_fit_are_listed_as_choices(visits: Visits, tmp_path: Path) -> None:
    page = opened(visits, stand_example(), tmp_path).page
    page.fill("#find-input", "block")
    page.press("#find-input", "Enter")
    choices = page.locator("#find-choices [role=option]")
    assert choices.all_inner_texts() == [f"0{row} Block 0{row}" for row in range(1, 9)]
    assert page.locator("#find-note").inner_text() == "9 fit, 8 are listed. Choose one or type more."
    assert page.locator("#card").is_hidden()
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowDown")
    assert choices.nth(1).get_attribute("aria-selected") == "true"
    assert page.get_attribute("#find-input", "aria-activedescendant") == choices.nth(1).get_attribute("id")
    page.keyboard.press("Enter")
    assert page.locator(".sheet h2").inner_text() == "02 Block 02"
    page.fill("#find-input", "block 0")
    choices.nth(3).click()
    assert page.locator(".sheet h2").inner_text() == "04 Block 04"
    assert page.locator("#find-choices").is_hidden()


@pytest.mark.parametrize("typed", ["plot P009", "p009", "Plot p9"])
def test_a_plot_is_found_by_its_number(visits: Visits, tmp_path: Path, typed: str) -> None:
    stand = stand_example()
    page = opened(visits, stand, tmp_path).page
    page.uncheck("#plots-toggle")
    page.fill("#find-input", typed)
    page.press("#find-input", "Enter")
    assert page.locator(".sheet h2").inner_text() == "Plot P009"
    assert page.locator(".sheet .under").inner_text() == "In compartment 05 Block 05"
    assert page.is_checked("#plots-toggle")
    lines = page.locator(".copied").all_inner_texts()
    point = stand.plots.geometry.iloc[8]
    assert lines[0] == f"{point.x:.1f}, {point.y:.1f}"
    degrees = gpd.GeoSeries([point], crs=stand.crs).to_crs(4326)[0]
    assert lines[1] == f"{degrees.y:.6f}, {degrees.x:.6f}"
    assert "WGS 84 / UTM zone 30N" in page.locator(".sheet").inner_text()
    page.click(".copied >> nth=0")
    assert page.evaluate("() => getSelection().toString()") == lines[0]
    page.click(".sheet .under button")
    assert page.locator(".sheet h2").inner_text() == "05 Block 05"


def test_plots_that_agree_are_no_proof_of_no_error(visits: Visits, tmp_path: Path) -> None:
    stand = stand_example()
    compartments = stand.compartments.copy()
    for ending in ("_low", "_high"):
        column = compartments.columns.get_loc(f"stems_per_ha{ending}")
        compartments.iloc[0, column] = compartments["stems_per_ha"].iloc[0]
    page = opened(visits, replace(stand, compartments=compartments), tmp_path).page
    page.mouse.click(*place(page, 0))
    assert shown(page, "stems_per_ha")[1] == "plots agree: see below"
    assert page.locator(".sheet .agree").inner_text() == (
        "Stems: all 2 plots happen to agree; that is no proof of no error."
    )
    assert "±" in shown(page, "basal_area_m2_per_ha")[1]


def test_a_full_count_has_no_sampling_error_to_show(visits: Visits, tmp_path: Path) -> None:
    stand = stand_example()
    compartments = stand.compartments.copy()
    compartments.loc[0, "status"] = "full count"
    for column in ("stems_per_ha", "basal_area_m2_per_ha", "stems_total", "basal_area_m2_total"):
        compartments.loc[0, [f"{column}_low", f"{column}_high"]] = compartments.loc[0, column]
    compartments.loc[0, "sampling_error_pct"] = 0.0
    page = opened(visits, replace(stand, compartments=compartments), tmp_path).page
    page.mouse.click(*place(page, 0))
    card = page.locator("#card")
    assert card.locator(".status").inner_text() == "Every stem was counted: there is no sampling error."
    assert shown(page, "stems_total")[1:] == ["no sampling error"]
    assert "agree" not in card.inner_text()
    page.click("#table-open")
    assert page.locator("[data-column=stems_per_ha_above] >> nth=0").inner_text() == "counted"


def test_many_size_classes_are_told_by_their_edge(visits: Visits, tmp_path: Path) -> None:
    stand = stand_example()
    classes = stand.settings.classes.model_copy(update={"width_cm": 1.0, "on": ClassMeasure.GIRTH})
    settings = stand.settings.model_copy(update={"classes": classes})
    rows = pl.concat([stand.class_totals.head(1)] * 25).with_columns(
        pl.Series("compartment", ["01"] * 25),
        pl.Series("class", [f"{low}–<{low + 1}" for low in range(30, 55)]),
        pl.Series("low_cm", [float(low) for low in range(30, 55)]),
        pl.Series("high_cm", [float(low + 1) for low in range(30, 55)]),
    )
    page = opened(visits, replace(stand, settings=settings, class_totals=rows), tmp_path).page
    page.mouse.click(*place(page, 0))
    labels = page.locator(".chart .tick[text-anchor=middle]")
    texts = labels.all_text_contents()
    assert page.locator(".chart .bar").count() == 25
    assert texts[:2] == ["30", "32"]
    boxes = [label.bounding_box() for label in labels.all()]
    edges = [(one["x"], one["x"] + one["width"]) for one in boxes if one is not None]
    assert all(one[1] < other[0] for one, other in pairwise(edges))
    assert "girth class, cm, lower edge" in page.locator(".chart text").all_text_contents()


def test_one_stratum_is_not_mentioned(visits: Visits, tmp_path: Path) -> None:
    stand = stand_example()
    compartments = stand.compartments.copy()
    compartments["stratum"] = "all"
    page = opened(visits, replace(stand, compartments=compartments), tmp_path).page
    page.mouse.click(*place(page, 0))
    assert "tratum" not in page.locator("#card").inner_text()
    page.click("#table-open")
    assert "Stratum" not in page.locator(".overview thead").inner_text()


def test_on_paper_nothing_is_cut(visits: Visits, tmp_path: Path) -> None:
    stand = stand_example()
    page = opened(visits, stand, tmp_path).page
    page.evaluate("() => window.dispatchEvent(new Event('beforeprint'))")
    page.emulate_media(media="print")
    settle(page)
    sheet = box(page, "#app")
    assert sheet[2] - sheet[0] <= 1047  # 277 mm between the margins, at 96 px to 25.4 mm
    assert sheet[3] - sheet[1] <= 718  # 190 mm
    for name in (".head", ".panel", ".map-room", ".total table", ".caution"):
        part = box(page, name)
        assert sheet[0] <= part[0] < part[2] <= sheet[2] + 0.5, name
        assert sheet[1] <= part[1] < part[3] <= sheet[3] + 0.5, name
    assert box(page, ".total table")[2] <= box(page, ".map-room")[0]
    room = box(page, ".map-room")
    assert room[0] < place(page, 0)[0] < place(page, 2)[0] < room[2]
    assert room[1] < place(page, 6)[1] < place(page, 0)[1] < room[3]
    table = page.locator(".print-more .overview")
    assert table.locator("tbody tr").count() == len(stand.compartments)
    assert box(page, ".print-more .overview")[2] <= sheet[2] + 0.5
    assert page.locator(".print-more button").count() == 0  # Chromium leaves them out of repeated headings
    page.evaluate("() => window.dispatchEvent(new Event('afterprint'))")
    page.emulate_media(media="screen")
    assert page.locator(".print-more").inner_html() == ""


def test_on_paper_the_colours_of_the_compartments_are_there(visits: Visits, tmp_path: Path) -> None:
    """Chromium replays what was drawn on a canvas: a canvas above another can wipe it out."""
    stand = stand_example()
    road = shapely.LineString(stand.compartments.total_bounds.reshape(2, 2))
    stand = replace(stand, map_layers=(MapLayer("Road", np.array([road], dtype=object)),))
    page = opened(visits, stand, tmp_path).page
    page.mouse.click(*place(page, 4))
    colours = page.evaluate(
        """() => [...document.querySelectorAll("#legend canvas")].slice(0, 5).map((one) =>
          [...one.getContext("2d").getImageData(30, 20, 1, 1).data].slice(0, 3))"""
    )
    page.pdf(path=tmp_path / "map.pdf", prefer_css_page_size=True)
    with pypdfium2.PdfDocument(tmp_path / "map.pdf") as sheets:
        assert [round(side / 72 * 25.4) for side in sheets[0].get_size()] == [297, 210]
        texts = sheets[0].get_textpage().get_text_range()
        picture = np.asarray(sheets[0].render(scale=1).to_numpy())[..., :3]
    for words in ("Made-up stand", "Measured 2026-05-14", "Basal area, m²/ha", "100 m"):
        assert words in texts, words
    right = picture[:, picture.shape[1] // 2 :, ::-1].reshape(-1, 3).astype(int)  # off the legend, as RGB
    shares = [(np.abs(right - colour).sum(axis=1) < 12).mean() for colour in colours]
    assert sum(shares) > 0.2


def test_plots_that_are_not_shown_are_counted_all_the_same(visits: Visits, tmp_path: Path) -> None:
    stand = stand_example()
    none = replace(stand, plots=stand.plots.iloc[:0])
    heading = opened(visits, none, tmp_path).page.locator("#subtitle").inner_text().splitlines()[0]
    assert heading.endswith(f" {int(stand.survey_total['n_plots'].iloc[0])} sample plots")
