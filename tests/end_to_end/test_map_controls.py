"""Every control of the map, at the size of a desk and of a phone, without a network: used, looked at, compared."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import polars as pl
import pytest
from playwright.sync_api import Page
from pyproj import Transformer
from shapely.geometry import LineString, Point, box

from plotmap.model.findings import Findings, finding
from plotmap.model.survey import MapLayer, Stand
from tests.end_to_end.conftest import Visit, Visits
from tests.end_to_end.map_page import colour, number, opened, place, settle, shown
from tests.stand_example import stand_example

pytestmark = pytest.mark.browser
SIZES = pytest.mark.parametrize(("width", "height"), [(1280, 800), (390, 844)], ids=["desk", "phone"])
NASTY = "<img src=x onerror=document.title='hit'>{{ 7 * 7 }}</script>"
TILES = "https://tiles.example.org/{z}/{x}/{y}.png"
WEST, SOUTH = 499_000, 5_600_000


def with_map(stand: Stand, **section: Any) -> Stand:
    """Return the stand with a section [map]."""
    chosen = type(stand.settings.map).model_validate(section)
    return replace(stand, settings=stand.settings.model_copy(update={"map": chosen}))


def with_findings(stand: Stand) -> Stand:
    """Return the stand with two findings on plot P009, one on compartment 01 and one without a place."""
    return replace(
        stand,
        findings=Findings.join(
            [
                finding(
                    "plot-without-stems", "plots.csv", f"no stems {NASTY}", plot="P009", hint="Look again."
                ),
                finding("plot-date-missing", "plots.csv", "no date", plot="P009"),
                finding("compartment-area-differs", "c.gpkg", "the register says 4 ha", compartment="01"),
                finding("column-unknown", "trees.csv", "sweep"),
            ]
        ),
    )


def panel(page: Page) -> None:
    """Unfold the panel where it is folded away."""
    if page.locator("#panel").is_hidden():
        page.click("#panel-toggle")


def to_map(page: Page) -> None:
    """Fold the panel away where it covers the map."""
    if page.locator("#map").is_hidden():
        page.click("#panel-toggle")
    settle(page)


def quiet(visit: Visit, folder: Path) -> None:
    """Assert that the page asked for nothing but itself and complained of nothing."""
    assert visit.requests == [(folder / "map.html").as_uri()]
    assert visit.messages == []


@SIZES
def test_compartments_are_coloured_by_the_share_of_the_species_chosen(
    visits: Visits, tmp_path: Path, width: int, height: int
) -> None:
    stand = stand_example()
    visit = opened(visits, stand, tmp_path, width=width, height=height)
    page = visit.page
    panel(page)
    for species in ("ash", "oak <b>"):
        page.select_option("#species", label=species)
        assert page.is_checked("#theme-basal_area_share_pct")
        assert (
            page.locator("#legend-title span").first.inner_text()
            == f"Share of {species} in the basal area, %"
        )
        table = stand.species_totals.filter(pl.col("species") == species)
        shares = dict(zip(table["compartment"], table["basal_area_share_pct"], strict=True))
        counts = [int(text) for text in page.locator("#legend .key-count").all_inner_texts()]
        expected = np.histogram(list(shares.values()), [0, 10, 25, 50, 75, 100])[0]
        assert counts[:5] == expected.tolist()
        assert counts[-1] == 1  # no plots
    to_map(page)
    if width > 640:
        page.mouse.move(*place(page, 4))
        assert page.locator(".hover").inner_text() == f"05 Block 05: oak <b> {shares['05']:.0f}\u00a0%"
    page.mouse.click(*place(page, 4))
    listed = dict(
        zip(
            page.locator(".mix .species").all_inner_texts(),
            page.locator(".mix .num").all_inner_texts(),
            strict=True,
        )
    )
    assert number(listed["oak <b>"]) == round(shares["05"])
    quiet(visit, tmp_path)


def test_a_share_is_missing_where_there_is_no_basal_area_and_zero_where_another_species_stands(
    visits: Visits, tmp_path: Path
) -> None:
    stand = stand_example()
    compartments = stand.compartments.copy()
    compartments.loc[0, "basal_area_m2_per_ha"] = 0.0
    species = stand.species_totals.filter(
        ~((pl.col("compartment") == "02") & (pl.col("species") == "ash"))
    ).with_columns(
        pl.when(pl.col("compartment") != "01").then("basal_area_share_pct").alias("basal_area_share_pct")
    )
    page = opened(visits, replace(stand, compartments=compartments, species_totals=species), tmp_path).page
    page.select_option("#species", label="ash")
    settle(page)
    assert colour(page, place(page, 0)) == "#ffffff"
    assert "no basal area, so no share" in page.locator("#legend").inner_text()
    page.mouse.move(*place(page, 0))
    assert page.locator(".hover").inner_text() == "01 Block 01: no basal area, so no share"
    page.mouse.move(*place(page, 1))
    assert page.locator(".hover").inner_text() == "02 Block 02: ash 0\u00a0%"


def test_classes_and_the_large_error_are_those_of_the_settings(visits: Visits, tmp_path: Path) -> None:
    stand = with_map(
        stand_example(), breaks={"basal_area_m2_per_ha": [10, 20]}, large_error_pct=5, species="ash"
    )
    page = opened(visits, stand, tmp_path).page
    assert page.locator("#legend .key-label").all_inner_texts()[:3] == ["<10", "10–<20", "≥20"]
    assert "sampling error 5\u00a0% or more" in page.locator("#legend").inner_text()
    assert page.locator("#species option:checked").inner_text() == "ash"
    assert page.is_checked("#theme-basal_area_m2_per_ha")


@SIZES
def test_findings_are_off_until_asked_for_and_open_a_card(
    visits: Visits, tmp_path: Path, width: int, height: int
) -> None:
    visit = opened(visits, with_findings(stand_example()), tmp_path, width=width, height=height)
    page = visit.page
    panel(page)
    assert not page.is_checked("#findings-toggle")
    assert page.locator("#findings-label").inner_text() == "Findings (3)"
    assert page.locator("#findings-note").inner_text() == "1 more finding has no place: see findings.csv."
    page.uncheck("#plots-toggle")
    page.check("#findings-toggle")
    assert page.locator("#findings-legend .key-count").inner_text() == "2"
    to_map(page)
    x, y = place(page, 4)
    side = place(page, 5)[0] - x
    page.mouse.click(x + side / 4, y - side / 4)
    card = page.locator("#card")
    assert card.locator("h2").inner_text() == "2 findings"
    assert card.locator("code").all_inner_texts() == ["plot-date-missing", "plot-without-stems"]
    assert f"no stems {NASTY}" in card.inner_text()
    assert "What to do: Look again." in card.inner_text()
    card.locator("button.link").click()
    assert card.locator("h2").inner_text() == "Plot P009"
    assert page.title() != "hit"
    quiet(visit, tmp_path)


def test_a_survey_without_placed_findings_has_nothing_to_switch_on(visits: Visits, tmp_path: Path) -> None:
    page = opened(visits, replace(stand_example(), findings=Findings.none()), tmp_path).page
    assert page.is_disabled("#findings-toggle")
    assert page.locator("#findings-note").inner_text() == ""


def test_coordinates_under_the_pointer_are_those_of_pyproj(visits: Visits, tmp_path: Path) -> None:
    page = opened(visits, stand_example(), tmp_path).page
    page.mouse.move(*place(page, 4))
    lines = page.locator(".position span").all_inner_texts()
    east, north = (float(part) for part in re.findall(r"(?:Easting|Northing) ([\d.]+)", lines[0]))
    assert lines[0].endswith("m (WGS 84 / UTM zone 30N)")
    lat, lon = (float(part) for part in re.findall(r"([\d.]+)°", lines[1]))
    assert lines[1].endswith("W (WGS\u00a084)")
    there = Transformer.from_crs(4326, 32630, always_xy=True).transform(-lon, lat)
    assert np.hypot(there[0] - east, there[1] - north) < 1.5  # both are rounded to the ground a pixel covers
    assert (east, north) == pytest.approx(
        (WEST + 250, SOUTH + 250), abs=6
    )  # a quarter into the middle square
    page.mouse.move(*place(page, 5))
    assert page.locator(".position span").all_inner_texts() != lines


def located(visits: Visits, tmp_path: Path, at: dict[str, float] | None, width: int, height: int) -> Visit:
    """Open the map where the browser may say where it is, or may not."""
    visit = opened(visits, stand_example(), tmp_path, width=width, height=height)
    if at is not None:
        visit.page.context.grant_permissions(["geolocation"])
        visit.page.context.set_geolocation(at)  # type: ignore[arg-type]
    return visit


@SIZES
def test_where_am_i_shows_the_place_with_its_accuracy_when_it_is_asked(
    visits: Visits, tmp_path: Path, width: int, height: int
) -> None:
    lon, lat = Transformer.from_crs(32630, 4326, always_xy=True).transform(WEST + 300, SOUTH + 300)
    visit = located(visits, tmp_path, {"longitude": lon, "latitude": lat, "accuracy": 12}, width, height)
    page = visit.page
    assert page.locator(".where").inner_text() == ""
    page.focus("button.locate")
    page.keyboard.press("Enter")
    note = page.get_by_role("status").filter(has_text="You are within 12 m of the dot.")
    note.wait_for()
    east, north = (float(part) for part in re.findall(r"(?:Easting|Northing) ([\d.]+)", note.inner_text()))
    assert (east, north) == pytest.approx((WEST + 300, SOUTH + 300), abs=1)
    assert page.locator(".leaflet-where-pane path").count() == 2
    assert "km from" not in note.inner_text()
    quiet(visit, tmp_path)


def test_a_reader_far_away_is_told_how_far_and_the_map_stays(visits: Visits, tmp_path: Path) -> None:
    page = located(visits, tmp_path, {"longitude": -3.0, "latitude": 51.55, "accuracy": 40}, 1280, 800).page
    before = place(page, 0)
    page.click("button.locate")
    page.get_by_text("km from the middle of the survey").wait_for()
    settle(page)
    assert place(page, 0) == before


@SIZES
def test_a_refusal_is_told_in_plain_words(visits: Visits, tmp_path: Path, width: int, height: int) -> None:
    page = located(visits, tmp_path, None, width, height).page
    page.evaluate(
        "() => { navigator.geolocation.getCurrentPosition = (_, failed) => failed({ code: 1, message: 'no' }); }"
    )
    page.click("button.locate")
    page.get_by_text(
        "The browser refuses to say where you are. Pages opened as files often may not ask"
    ).wait_for()
    for code, words in ((2, "This device cannot say where it is."), (3, "No position was found in time.")):
        page.evaluate(
            "(code) => { navigator.geolocation.getCurrentPosition = (_, failed) => failed({ code: code }); }",
            code,
        )
        page.click("button.locate")
        page.get_by_text(words).wait_for()


@SIZES
def test_the_compartments_are_walked_through_by_keys_and_buttons(
    visits: Visits, tmp_path: Path, width: int, height: int
) -> None:
    stand = stand_example()
    visit = opened(visits, stand, tmp_path, width=width, height=height)
    page = visit.page
    page.focus("#map")
    assert "Page Down and Page Up" in str(page.get_attribute("#map", "aria-label"))
    heading = page.locator(".sheet h2")
    page.keyboard.press("PageDown")
    assert heading.inner_text() == "01 Block 01"
    assert page.evaluate("() => document.activeElement.id") == "map"
    value = stand.compartments["basal_area_m2_per_ha"].iloc[0]
    assert page.locator("#said").inner_text() == f"01 Block 01: {value:.1f}\u00a0m²/ha. 1 of 9"
    page.keyboard.press("PageDown")
    assert heading.inner_text() == "02 Block 02"
    page.keyboard.press("PageUp")
    page.keyboard.press("PageUp")
    assert heading.inner_text() == "09 Block 09"
    page.get_by_role("button", name="Next compartment").click()
    assert heading.inner_text() == "01 Block 01"
    page.get_by_role("button", name="Compartment before").click()
    assert heading.inner_text() == "09 Block 09"
    page.keyboard.press("Escape")
    assert page.locator("#card").is_hidden()
    quiet(visit, tmp_path)


def test_limits_that_are_not_as_far_away_on_both_sides_are_told_apart(visits: Visits, tmp_path: Path) -> None:
    stand = stand_example()
    compartments = stand.compartments.copy()
    columns = ["basal_area_m2_per_ha", "basal_area_m2_per_ha_low", "basal_area_m2_per_ha_high"]
    compartments.loc[0, columns] = [20.0, 17.5, 26.0]
    total = stand.survey_total.copy()
    total.loc[0, columns] = [20.0, 17.5, 26.0]
    page = opened(visits, replace(stand, compartments=compartments, survey_total=total), tmp_path).page
    page.mouse.click(*place(page, 0))
    assert shown(page, "basal_area_m2_per_ha") == ["20.0", "−2.5\u00a0+6.0", "17.5\u00a0–\u00a026.0"]
    assert shown(page, "stems_per_ha")[1].startswith("±")  # 0.8 and 1.2 of the value
    assert "20.0\u00a0m²/ha (17.5\u00a0–\u00a026.0)" in page.locator("#headline").inner_text()
    assert "±" not in page.locator("#headline").inner_text() + page.locator("#total").inner_text()


def test_days_of_measurement_stand_in_the_card_and_under_the_title(visits: Visits, tmp_path: Path) -> None:
    stand = stand_example()
    plots = gpd.GeoDataFrame(stand.plots.copy())
    plots["date"] = ["2026-05-14"] * 4 + ["2026-06-02"] * (len(plots) - 4)
    plots.loc[plots.index[3], "date"] = "2026-05-20"
    page = opened(visits, replace(stand, plots=plots), tmp_path).page
    assert page.locator("#subtitle .days").inner_text() == "Measured 2026-05-14 to 2026-06-02"
    page.mouse.click(*place(page, 1))
    assert page.locator(".sheet .days").inner_text() == "Measured 2026-05-14 to 2026-05-20"
    page.keyboard.press("PageDown")
    page.mouse.click(*place(page, 8))
    assert page.locator(".sheet .days").count() == 0


def extra_layers() -> tuple[MapLayer, ...]:
    """Return a road across the middle row of squares and a wood yard with a spring."""
    road = LineString([(WEST - 50, SOUTH + 350), (WEST + 650, SOUTH + 350)])
    yard = box(WEST + 20, SOUTH + 420, WEST + 60, SOUTH + 460)
    return (
        MapLayer(NASTY, np.array([road], dtype=object)),
        MapLayer("Yard", np.array([yard, Point(WEST + 500, SOUTH + 40)], dtype=object)),
    )


def drawn(page: Page) -> int:
    """Return how many lines and points of the user's own layers are on the map: a line with its white edge is two."""
    paths = page.locator(".leaflet-extras-pane path").all()
    return sum(one.get_attribute("d") not in {None, "", "M0 0"} for one in paths)


@SIZES
def test_own_layers_have_a_box_each_and_do_not_catch_clicks(
    visits: Visits, tmp_path: Path, width: int, height: int
) -> None:
    visit = opened(
        visits, replace(stand_example(), map_layers=extra_layers()), tmp_path, width=width, height=height
    )
    page = visit.page
    both = drawn(page)
    x, y = place(page, 4)
    side = place(page, 5)[0] - x
    panel(page)
    assert page.locator("#extras label").all_inner_texts() == [NASTY, "Yard"]
    page.uncheck("#extra-1")
    to_map(page)
    road = drawn(page)
    assert (both, road) == (5, 2)  # a road; a road, a yard and a spring
    panel(page)
    page.uncheck("#extra-0")
    to_map(page)
    assert drawn(page) == 0
    panel(page)
    page.check("#extra-0")
    page.check("#extra-1")
    to_map(page)
    assert drawn(page) == both
    page.mouse.click(x, y - side / 2)  # on the road
    assert page.locator(".sheet h2").inner_text() == "05 Block 05"
    quiet(visit, tmp_path)


def test_without_own_layers_and_background_nothing_of_them_is_shown(visits: Visits, tmp_path: Path) -> None:
    page = opened(visits, stand_example(), tmp_path).page
    assert page.locator("#extras-section").is_hidden()
    assert page.locator("#background-section").is_hidden()
    policy = str(page.get_attribute("meta[http-equiv=Content-Security-Policy]", "content"))
    assert "img-src data:;" in policy
    assert "http" not in policy


@SIZES
def test_a_background_is_asked_for_only_while_its_box_is_ticked(
    visits: Visits, tmp_path: Path, width: int, height: int
) -> None:
    stand = with_map(stand_example(), background=TILES, background_credit=f"© {NASTY}")
    visit = opened(visits, stand, tmp_path, width=width, height=height)
    page = visit.page
    asked: list[str] = []

    page.on("request", lambda request: asked.append(request.url))
    page.click(".leaflet-control-zoom-out")
    settle(page)
    policy = str(page.get_attribute("meta[http-equiv=Content-Security-Policy]", "content"))
    assert "img-src data: https://tiles.example.org;" in policy
    assert policy.count("example.org") == 1
    panel(page)
    box_of_it = page.get_by_label("Background from tiles.example.org (online)")
    assert not box_of_it.is_checked()
    assert "your browser asks tiles.example.org over the network" in page.locator("#background").inner_text()
    assert page.locator("#see-through").is_hidden()
    quiet(visit, tmp_path)
    assert asked == []
    box_of_it.check()
    to_map(page)
    page.wait_for_function("() => document.querySelectorAll('.leaflet-tile-pane img').length > 0")
    page.wait_for_timeout(200)
    assert asked
    assert {address.split("/")[2] for address in asked} == {"tiles.example.org"}
    assert f"© {NASTY}" in page.locator("#credit").inner_text()
    panel(page)
    page.check("#see-through")
    box_of_it.uncheck()
    to_map(page)
    number_asked = len(asked)
    assert page.locator("#map.see-through").count() == 0
    page.click(".leaflet-control-zoom-in")
    page.wait_for_timeout(200)
    assert len(asked) == number_asked
    assert "©" not in page.locator("#credit").inner_text()
    assert page.title() != "hit"


def test_hostile_words_of_any_kind_are_shown_as_text(visits: Visits, tmp_path: Path) -> None:
    stand = stand_example(species=(NASTY, "oak"))
    labels = stand.settings.labels.model_copy(
        update={"own": {"map.numbers_label": NASTY.replace("{{ 7 * 7 }}", "")}}
    )
    stand = replace(stand, settings=stand.settings.model_copy(update={"labels": labels}))
    plots = gpd.GeoDataFrame(stand.plots.copy())
    plots["plot"] = [f"{NASTY}{row}" for row in range(len(plots))]
    compartments = stand.compartments.assign(stratum=[f"{row} {NASTY}" for row in range(9)])
    found = finding("plot-without-stems", "plots.csv", NASTY, plot=f"{NASTY}8", hint=NASTY)
    visit = opened(visits, replace(stand, plots=plots, compartments=compartments, findings=found), tmp_path)
    page = visit.page
    page.select_option("#species", label=NASTY)
    assert NASTY in page.locator("#legend-title").inner_text()
    page.mouse.move(*place(page, 4))
    assert NASTY in page.locator(".hover").inner_text()
    page.mouse.click(*place(page, 4))
    assert page.locator(".sheet .under").inner_text() == f"Stratum 4 {NASTY}"
    page.fill("#find-input", f"{NASTY}8")
    page.press("#find-input", "Enter")
    assert page.locator(".sheet h2").inner_text() == f"Plot {NASTY}8"
    page.check("#findings-toggle")
    page.click(".home")
    assert page.locator("#numbers-toggle + span").inner_text() == NASTY.replace("{{ 7 * 7 }}", "")
    assert page.locator("img").count() == 0
    assert page.title() != "hit"
    assert visit.messages == []


def test_the_page_speaks_the_language_of_the_survey(visits: Visits, tmp_path: Path) -> None:
    stand = stand_example()
    labels = stand.settings.labels.model_copy(update={"language": "de"})
    stand = replace(stand, settings=stand.settings.model_copy(update={"labels": labels}))
    visit = opened(visits, stand, tmp_path)
    page = visit.page
    assert page.get_attribute("html", "lang") == "de"
    assert page.locator("#legend-title span").first.inner_text() == "Grundfläche, m²/ha"
    page.mouse.click(*place(page, 7))
    assert "Eine Probefläche: Kein Fehler angebbar." in page.locator("#card").inner_text()
    page.click("#table-open")
    texts = page.locator("body").inner_text()
    for english in ("Basal area", "Stems", "plots", "compartment", "Sample", "Close", "Legend"):
        assert english not in texts, english
    assert visit.messages == []


def test_every_control_has_a_name_that_is_read_aloud(visits: Visits, tmp_path: Path) -> None:
    page = opened(visits, replace(stand_example(), map_layers=extra_layers()), tmp_path).page
    page.mouse.click(*place(page, 4))
    page.click("#table-open")
    nameless = page.evaluate(
        """() => [...document.querySelectorAll("button, input, select, a, [role=application], [role=img], dialog")]
          .filter((one) => !(one.getAttribute("aria-label") || one.textContent.trim()
            || (one.labels && one.labels.length && one.labels[0].textContent.trim())
            || document.getElementById(one.getAttribute("aria-labelledby"))))
          .map((one) => one.outerHTML)"""
    )
    assert nameless == []
    assert page.get_by_role("application").get_attribute("aria-label")
    assert page.get_by_role("search").count() == 1
    assert page.get_by_role("main").count() == 1
