"""Maps of compartments for the crew, measured on the file: scale, what is on which page, holes, edges, odd names."""

from __future__ import annotations

import io
import tracemalloc
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
import shapely
import shapely.affinity
from pypdf import PdfReader

from plotmap.errors import SettingsError
from plotmap.layout import plan_layout
from plotmap.model.layout import PlotLayout
from plotmap.output.paper.compartment_maps import CompartmentMaps, write_compartment_maps
from plotmap.output.paper.compartment_words import COMPARTMENT_STYLE, EXCLUDED_STYLE, PLANNED_MARKS
from tests.layout_example import TWO, at, ground_example
from tests.output.paper.pdf_pages import (
    Shape,
    filled,
    fonts,
    has_colour,
    n_pages,
    picture,
    size_mm,
    text_boxes_mm,
    words,
)

THREE = {**TWO, "C": at(0, 400, 300, 900)}
KEYS = {"n_plots": 30, "reserve": 4, "plots_per_day": 7, "seed": 5}
KEY_SWATCH_MM = 7.1
"""Swatches of the legend are narrower than this."""


def planned(
    keys: Mapping[str, Any] = KEYS, polygons: Mapping[str, shapely.Geometry] = THREE, **more: Any
) -> PlotLayout:
    return plan_layout(ground_example(keys, polygons, **more))


def maps(folder: Path, layout: PlotLayout) -> tuple[bytes, CompartmentMaps]:
    told = write_compartment_maps(layout, folder / "maps.pdf")
    return (folder / "maps.pdf").read_bytes(), told


def text_of(content: bytes, page: int = 0) -> str:
    """Return the words of a page, with the narrow spaces between thousands as plain ones."""
    return " ".join(words(content, page).replace("\u202f", " ").split())


def compartment(content: bytes, page: int = 0) -> Shape:
    """Return the filled outline of the compartment that a page is about."""
    (found,) = (
        shape
        for shape in filled(content, page)
        if shape.colour == COMPARTMENT_STYLE.fill and shape.width_mm > KEY_SWATCH_MM
    )
    return found


def page_scale(content: bytes, page: int = 0) -> float:
    """Return the scale that a page states."""
    after = words(content, page).split("1 : ")[1].splitlines()[0]
    return float("".join(figure for figure in after if figure.isdigit()))


def figures(plot: Any) -> tuple[str, ...]:
    """Return the coordinates of a plot as they are listed."""
    east, north = (f"{value:,.2f}".replace(",", " ") for value in (plot.easting, plot.northing))
    return east, north, f"{plot.lon:.7f}", f"{plot.lat:.7f}"


def test_each_compartment_is_true_to_the_scale_its_page_states(tmp_path: Path) -> None:
    content, told = maps(tmp_path, planned())  # geometry, needs no source
    assert told.n_pages == n_pages(content) == 3
    for page, (width_m, height_m) in enumerate([(600, 400), (400, 400), (300, 500)]):
        drawn, scale = compartment(content, page), page_scale(content, page)
        assert drawn.width_mm == pytest.approx(width_m * 1000 / scale, abs=0.1)
        assert drawn.height_mm == pytest.approx(height_m * 1000 / scale, abs=0.1)
        assert size_mm(content, page) == pytest.approx((210.0, 297.0), abs=0.01)


def test_the_scale_is_the_largest_round_one_that_fits(tmp_path: Path) -> None:
    """Of the map 121 mm are seen across, and 5 mm stay free on each side: 111 mm are for the compartment."""
    squares = {"A": at(0, 0, 111, 20), "B": at(200, 0, 312, 20), "C": at(0, 100, 221, 120)}
    content, _ = maps(tmp_path, planned({"n_plots": 8, "method": "random", "min_per_stratum": 2}, squares,
                                        strata=["a", "b", "c"]))  # fmt: skip
    assert [page_scale(content, page) for page in range(3)] == [1_000, 1_250, 2_000]


def test_the_scale_bar_has_the_length_it_says(tmp_path: Path) -> None:
    content, _ = maps(tmp_path, planned())
    pieces = [shape for shape in filled(content) if abs(shape.height_mm - 1.6) < 0.01 and shape.width_mm > 2]
    assert len(pieces) == 4
    long_mm = max(piece.right_mm for piece in pieces) - min(piece.left_mm for piece in pieces)
    said_m = float(text_of(content).split(" m 1 : ")[0].split()[-1])
    assert long_mm == pytest.approx(said_m * 1000 / page_scale(content), abs=0.1)


def test_plots_stand_on_the_map_where_they_lie_on_the_ground(tmp_path: Path) -> None:
    layout = planned({"n_plots": 1, "method": "random", "min_per_stratum": 1}, {"A": at(0, 0, 600, 400)})
    content, _ = maps(tmp_path, layout)
    drawn, scale = compartment(content), page_scale(content)
    (plot,) = layout.planned_plots.itertuples()
    west, south, *_ = layout.outlines[0].bounds
    dots = picture(content, dots_per_mm=8)
    x = drawn.left_mm + (plot.easting - west) * 1000 / scale
    y = drawn.bottom_mm + (plot.northing - south) * 1000 / scale
    around = dots[
        round((297 - y - 0.7) * 8) : round((297 - y + 0.7) * 8), round((x - 0.7) * 8) : round((x + 0.7) * 8)
    ]
    dark = (around.max(axis=2) < 60).mean()
    assert (
        dark > 0.85
    )  # a disc of 0.95 mm radius leaves the corners of a square of 0.7 mm half side just covered


def test_each_plot_is_on_the_page_of_its_compartment_with_its_coordinates_and_on_no_other(
    tmp_path: Path,
) -> None:
    layout = planned()
    content, _ = maps(tmp_path, layout)
    pages = {name: text_of(content, page) for page, name in enumerate(THREE)}
    assert set(layout.planned_plots["role"]) == {"main", "reserve"}
    for plot in layout.planned_plots.itertuples():
        for name, text in pages.items():
            here = name == plot.compartment
            assert text.split().count(plot.plot) == (2 if here else 0), plot  # on the map, and in the list
            assert all((figure in text) is here for figure in figures(plot)), plot


def test_the_list_goes_by_day_and_order_and_the_map_shows_both(tmp_path: Path) -> None:
    layout = planned()
    content, _ = maps(tmp_path, layout)
    plots = layout.planned_plots
    for page, name in enumerate(THREE):
        main = plots[(plots["compartment"] == name) & (plots["role"] == "main")]
        ordered = main.sort_values(["day", "order"])
        text = text_of(content, page)
        lines = [f"{plot.plot} {plot.day} {plot.order} {figures(plot)[0]}" for plot in ordered.itertuples()]
        at_text = [text.index(line) for line in lines]
        assert at_text == sorted(at_text)
        assert all(f"{plot.plot} {plot.day}·{plot.order}" in text for plot in ordered.itertuples())


def test_reserve_plots_have_their_own_mark_and_come_last(tmp_path: Path) -> None:
    layout = planned()
    content, _ = maps(tmp_path, layout)
    plots = layout.planned_plots
    reserves = plots[plots["role"] == "reserve"]
    assert len(reserves) == 4
    for page, name in enumerate(THREE):
        here, text = reserves.loc[reserves["compartment"] == name, "plot"], text_of(content, page)
        rows = [text.index(f"{plot} reserve ") for plot in here]
        main = plots[(plots["compartment"] == name) & (plots["role"] == "main")].itertuples()
        assert all(row > text.index(f"{plot.plot} {plot.day} {plot.order} ") for plot in main for row in rows)
        assert has_colour(content, PLANNED_MARKS["reserve"].colour, page) is bool(rows)
        assert ("Reserve plots are taken in the order" in text) is bool(rows)
    without, _ = maps(tmp_path, planned({"n_plots": 30}))
    assert "reserve" not in text_of(without)
    assert not has_colour(without, PLANNED_MARKS["reserve"].colour)


@pytest.mark.parametrize(
    ("edge", "task"),
    [("whole", "tally all"), ("inside", "tally inside"), ("mirage", "mirage"), ("positions", "positions")],
)
def test_a_plot_at_the_boundary_says_what_to_do_there_by_the_edge_rule(
    tmp_path: Path, edge: str, task: str
) -> None:
    plots = {"design": "circle", "radius_m": 12.62, "edge": edge}
    narrow = planned({"n_plots": 4}, {"A": at(0, 0, 500, 20)}, plots=plots)  # every circle is wider than that
    text = text_of(maps(tmp_path, narrow)[0])
    n = len(narrow.planned_plots)
    assert text.count(f" {task}") >= 2 * n  # below each mark, and in each row
    assert f"{task}: " in text
    assert "plot that touches the boundary" in text
    wide = planned(
        {"n_plots": 1, "method": "random", "min_per_stratum": 1, "seed": 2},
        {"A": at(0, 0, 5000, 5000)},
        plots=plots,
    )
    assert set(wide.planned_plots["touches_boundary"]) == {"no"}
    text = text_of(maps(tmp_path, wide)[0])
    assert f"{task}: " not in text
    assert "touches the boundary" not in text


def test_a_design_without_a_radius_says_to_look(tmp_path: Path) -> None:
    layout = planned(KEYS, plots={"design": "angle-count", "baf_m2_per_ha": 4})
    text = text_of(maps(tmp_path, layout)[0])
    assert "look there: the design has no one radius" in text
    assert "Circles round plots" not in text


def test_holes_are_left_open_and_what_is_excluded_is_hatched(tmp_path: Path) -> None:
    ring = shapely.difference(at(0, 0, 600, 400), at(100, 100, 300, 300))
    layout = planned({"n_plots": 20}, {"A": ring}, excluded=[at(400, 100, 500, 200)])
    content, _ = maps(tmp_path, layout)
    drawn, scale = compartment(content), page_scale(content)
    left = [
        shape
        for shape in filled(content)
        if shape.colour == EXCLUDED_STYLE.fill and shape.width_mm > KEY_SWATCH_MM
    ]
    (hatched,) = left
    assert (hatched.width_mm, hatched.height_mm) == pytest.approx((100_000 / scale,) * 2, abs=0.1)
    assert hatched.left_mm - drawn.left_mm == pytest.approx(400_000 / scale, abs=0.1)
    dots = picture(content, dots_per_mm=4)
    x, y = drawn.left_mm + 250_000 / scale, drawn.bottom_mm + 250_000 / scale  # in the hole, off ticks
    assert (dots[round((297 - y) * 4), round(x * 4)] == 255).all()
    assert "excluded: no plots there" in text_of(content)
    assert "excluded: no plots" not in text_of(maps(tmp_path, planned())[0])


def test_only_the_page_of_a_compartment_with_something_excluded_says_so(tmp_path: Path) -> None:
    turned = {
        name: shapely.affinity.rotate(shape, 17.3, origin=(500_000, 5_600_000)) for name, shape in TWO.items()
    }
    layout = planned({"n_plots": 20}, turned, excluded=[shapely.buffer(turned["A"].centroid, 40)])
    content, _ = maps(tmp_path, layout)
    assert "excluded: no plots there" in text_of(content, 0)
    assert "excluded: no plots there" not in text_of(content, 1)


def test_one_compartment_has_one_page_without_neighbours(tmp_path: Path) -> None:
    content, told = maps(tmp_path, planned({"n_plots": 8}, {"A": at(0, 0, 600, 400)}))
    assert told.n_pages == 1
    assert "neighbours" not in text_of(content)
    assert "page 1 of 1" in text_of(content)


def test_neighbours_are_named_and_compartments_without_plots_have_no_page(tmp_path: Path) -> None:
    layout = planned({"spacing_m": 150}, {**TWO, "Sliver": at(0, -3, 5, -1)})
    assert "Sliver" not in set(layout.planned_plots["compartment"])
    content, told = maps(tmp_path, layout)
    assert told.n_pages == 2
    assert " B " in text_of(content)
    assert "neighbours" in text_of(content)


def test_without_a_planned_plot_there_is_no_file(tmp_path: Path) -> None:
    layout = planned()
    object.__setattr__(layout, "planned_plots", layout.planned_plots.head(0))
    assert write_compartment_maps(layout, tmp_path / "maps.pdf") == CompartmentMaps(0, "")
    assert list(tmp_path.iterdir()) == []


def test_the_page_says_what_a_map_must_say(tmp_path: Path) -> None:
    layout = planned({**KEYS, "method": "balanced"}, survey={"title": "Hollin Fell 2026"})
    text = text_of(maps(tmp_path, layout)[0])
    for part in (
        "Compartment A",
        "24.02 ha net · stratum all · Hollin Fell 2026",  # 24 ha / 0.9996²: the scale of UTM on its meridian
        "EPSG:32630 (WGS 84 / UTM zone 30N)",
        "degrees on WGS 84",
        "Layout: spatially balanced, seed 5",
        "GN",
        "lengths on the grid",
        "500 000",
        "unvisited",
        "never move it",
        "steep or loose ground",
        "dead trees",
        "felling work",
        "right of access",
        "page 1 of 3",
    ):
        assert part in text, part


def test_a_long_list_goes_on_on_further_pages_and_loses_no_plot(tmp_path: Path) -> None:
    layout = planned({"n_plots": 150, "plots_per_day": 9}, {"A": at(0, 0, 900, 700)})
    content, told = maps(tmp_path, layout)
    text = " ".join(text_of(content, page) for page in range(told.n_pages))
    assert told.n_pages > 2
    assert "Compartment A list continued" in text_of(content, told.n_pages - 1)
    rows = [
        f"{plot.plot} {plot.day} {plot.order} {figures(plot)[0]}"
        for plot in layout.planned_plots.itertuples()
    ]
    assert [row for row in rows if text.count(row) != 1] == []


def test_names_without_room_on_the_map_are_counted(tmp_path: Path) -> None:
    layout = planned({"n_plots": 60, "method": "random"}, {"A": at(0, 0, 40, 2000)})
    text = text_of(maps(tmp_path, layout)[0])
    names = layout.planned_plots["plot"]
    on_map = sum(text.split("Plot Day")[0].split().count(name) for name in names)
    left_out = len(names) - on_map
    assert left_out > 0
    assert f"{left_out} plots have no room for their names on the map" in text


@pytest.mark.parametrize("name", ["Λόφος", "Дубрава", "A (1) \\ )Tj <&>", "a\x00b\x0b\n\tc", "W" * 300])
def test_names_of_any_letters_show_in_embedded_fonts_and_stay_on_the_page(tmp_path: Path, name: str) -> None:
    layout = planned(KEYS, {name: TWO["A"], "B": TWO["B"]}, survey={"title": f"{name} 2026"})
    content, told = maps(tmp_path, layout)
    plain = " ".join("".join(letter if letter.isprintable() else " " for letter in name).split())
    assert plain[:8].split()[0] in text_of(content)
    assert all(fonts(content).values())
    assert told.missing_letters in {"", "\ufffd"}
    assert max(right for _, _, right, _ in text_boxes_mm(content)) < 201
    assert PdfReader(io.BytesIO(content)).outline[0].title


def test_letters_that_no_font_has_are_told(tmp_path: Path) -> None:
    assert maps(tmp_path, planned(KEYS, {"森": TWO["A"]}))[1].missing_letters == "森"


def test_a_font_of_the_settings_is_looked_for_in_the_survey_folder(tmp_path: Path) -> None:
    layout = planned(paper={"font": "own.ttf"})
    with pytest.raises(SettingsError, match=r"own.ttf'?: cannot be read"):
        write_compartment_maps(layout, tmp_path / "maps.pdf", tmp_path)


def test_words_come_in_the_language_of_the_survey(tmp_path: Path) -> None:
    layout = planned(labels={"language": "de", "own": {"layout.map_caution": "Gefahr: Steilhang"}})
    content, told = maps(tmp_path, layout)
    text = " ".join(text_of(content, page) for page in range(told.n_pages))
    assert "Abteilung A" in text
    assert "Reservefläche" in text
    assert "Gefahr: Steilhang" in text


def test_the_same_layout_gives_the_same_bytes(tmp_path: Path) -> None:
    assert maps(tmp_path, planned())[0] == maps(tmp_path, planned())[0]


@pytest.mark.parametrize("edge", ["mirage", "inside"])
def test_words_stay_on_the_page_and_apart(tmp_path: Path, edge: str) -> None:
    plots = {"design": "circle", "radius_m": 12.62, "edge": edge}
    title = "A title that is far too long for one line of any paper that a desk printer takes in, and longer still"
    layout = planned({**KEYS, "n_plots": 90, "reserve": 9}, excluded=[at(100, 100, 200, 200)], plots=plots,
                     survey={"title": title})  # fmt: skip
    content, told = maps(tmp_path, layout)
    for page in range(told.n_pages):
        boxes = text_boxes_mm(content, page)
        assert all(
            left > 9.5 and right < 200.5 and bottom > 9 and top < 288 for left, bottom, right, top in boxes
        )
        for number, (left, bottom, right, top) in enumerate(boxes):
            for other in boxes[number + 1 :]:
                across = min(right, other[2]) - max(left, other[0])
                up = min(top, other[3]) - max(bottom, other[1])
                assert across < 0.3 or up < 0.3, (page, boxes[number], other)


@pytest.mark.slow
def test_many_compartments_take_little_more_memory_than_few(tmp_path: Path) -> None:
    def peak_mb(side: int) -> tuple[float, int]:
        squares = {
            f"N{i}-{j}": at(200 * i, 200 * j, 200 * i + 200, 200 * j + 200)
            for i in range(side)
            for j in range(side)
        }
        layout = planned({"spacing_m": 100}, squares)
        tracemalloc.start()
        content, told = maps(tmp_path, layout)
        peak = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        assert len(content) < 100_000 + 20_000 * told.n_pages
        return peak / 1e6, told.n_pages

    (few, few_pages), (many, many_pages) = peak_mb(3), peak_mb(10)
    assert (few_pages, many_pages) == (9, 100)
    assert (many - few) / (many_pages - few_pages) < 0.1  # MB a page: its packed content, no more


def test_the_list_shows_what_is_missing_as_a_dash(tmp_path: Path) -> None:
    layout = planned({"n_plots": 6})  # no plots per day are stated
    assert pd.isna(layout.planned_plots["day"]).all()
    text = text_of(maps(tmp_path, layout)[0])
    assert "P01 – – " in text
    assert "·1" not in text.replace("· 1", "")
