"""Maps on paper, measured: true to scale, cut at the frame, holes open, names inside."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely.geometry import MultiPolygon, Polygon, box

from plotmap.output.paper.map_drawing import (
    area_styles,
    draw_compartments,
    draw_locator,
    draw_plots,
    plot_kinds,
    shapes_in,
)
from plotmap.output.paper.map_labels import draw_names
from plotmap.output.paper.pen import Pen, Stroke
from plotmap.output.paper.sizes import Box
from plotmap.output.paper.symbols import HIGHLIGHT_STYLE, MARKS, UNKNOWN_STYLE, AreaStyle
from plotmap.output.paper.view import View
from plotmap.output.webmap.themes import hatches, themes
from tests.output.paper.map_page import drawn, frame
from tests.output.paper.pdf_pages import dots_mm, filled, has_colour, picture, words
from tests.stand_example import stand_example

WEST, SOUTH = 500_000, 5_600_000
VIEW = View(Box(20, 50, 150, 150), WEST, SOUTH, 10_000)
"""1 500 m × 1 500 m at 1 : 10 000."""
RED, GREEN = AreaStyle("#ff0000"), AreaStyle("#00ff00")


def square(east_m: float, north_m: float, side_m: float) -> Polygon:
    """Return a square by its lower left corner, from the corner of the view."""
    return box(WEST + east_m, SOUTH + north_m, WEST + east_m + side_m, SOUTH + north_m + side_m)


def draw(*pairs: tuple[shapely.Geometry, AreaStyle]) -> bytes:
    def compartments(pen: Pen) -> None:
        table = frame(*(shape for shape, _ in pairs))
        draw_compartments(pen, VIEW, shapes_in(VIEW, table), [style for _, style in pairs])

    return drawn(compartments)


def test_a_square_kilometre_is_a_hundred_millimetres_wide_at_ten_thousand() -> None:
    content = draw((square(200, 300, 1000), RED))
    (red,) = [shape for shape in filled(content) if shape.colour == "#ff0000"]  # geometry, needs no source
    assert red.width_mm == pytest.approx(100.0, abs=0.02)
    assert red.height_mm == pytest.approx(100.0, abs=0.02)
    assert (red.left_mm, red.bottom_mm) == pytest.approx((20 + 20, 50 + 30), abs=0.02)


def test_the_picture_of_the_page_says_the_same() -> None:
    left, bottom, right, top = dots_mm(draw((square(200, 300, 1000), RED)), "#ff0000")
    rim = 0.2  # the boundary is drawn half inside
    assert right - left == pytest.approx(100.0 - rim, abs=0.3)
    assert top - bottom == pytest.approx(100.0 - rim, abs=0.3)


def test_nothing_is_drawn_outside_the_frame() -> None:
    content = draw((square(-5_000, -5_000, 20_000), RED))
    assert dots_mm(content, "#ff0000") == pytest.approx((20, 50, 170, 200), abs=0.3)


def test_a_compartment_outside_the_frame_is_not_drawn() -> None:
    assert not has_colour(draw((square(4_000, 0, 500), RED)), "#ff0000")


def test_holes_stay_open_and_hold_their_neighbour() -> None:
    ring = shapely.difference(square(100, 100, 1000), square(400, 400, 400))
    left, bottom, right, top = dots_mm(draw((ring, RED), (square(400, 400, 400), GREEN)), "#00ff00")
    assert (left, bottom, right, top) == pytest.approx((60, 90, 100, 130), abs=0.3)
    alone = picture(draw((ring, RED)), dots_per_mm=4)
    middle = alone[alone.shape[0] - 110 * 4, 80 * 4]
    assert middle.tolist() == [255, 255, 255]


def test_islands_of_one_compartment_are_all_drawn() -> None:
    shape = MultiPolygon([square(0, 0, 200), square(1000, 1000, 200)])
    assert dots_mm(draw((shape, RED)), "#ff0000") == pytest.approx((20, 50, 140, 170), abs=0.3)


def test_a_missing_outline_is_not_drawn() -> None:
    assert shapes_in(VIEW, frame(square(0, 0, 100), None)).rings[1] == []  # type: ignore[arg-type]


def test_vertices_too_fine_to_print_are_left_out() -> None:
    turn = np.linspace(0, 2 * np.pi, 20_000)
    circle = Polygon(np.column_stack([WEST + 500 + 400 * np.cos(turn), SOUTH + 500 + 400 * np.sin(turn)]))
    (ring,) = shapes_in(VIEW, frame(circle)).rings[0]
    assert len(ring) < 500
    off_mm = np.abs(np.hypot(*(ring - [70.0, 100.0]).T) - 40.0)
    assert off_mm.max() < 0.021


@pytest.mark.parametrize("name", ["rising", "falling", "crossed"])
def test_hatching_stays_inside_and_lets_the_colour_show(name: str) -> None:
    content = draw((square(200, 200, 600), AreaStyle("#ff0000", name)))  # type: ignore[arg-type]
    shown = picture(content, dots_per_mm=8)
    red = (np.abs(shown.astype(int) - [255, 0, 0]).max(axis=2) <= 3)[-130 * 8 : -70 * 8, 40 * 8 : 100 * 8]
    assert 0.3 < red.mean() < 0.95
    outside = shown[: -130 * 8 - 4]
    assert (outside == 255).all()


def test_each_hatch_leans_its_own_way() -> None:
    one, other, crossed = (
        picture(draw((square(200, 200, 600), AreaStyle("#ffffff", name))))  # type: ignore[arg-type]
        for name in ("rising", "falling", "crossed")
    )
    assert (one != other).any()
    assert (one != crossed).any()
    inner = one[-120 * 4 : -80 * 4, 50 * 4 : 90 * 4, 0] < 128
    rows = [np.nonzero(row)[0] for row in inner]
    first = [row[0] for row in rows if row.size]
    steps = np.diff(first)
    assert np.median(steps) == -1, "a rising line is farther right in the upper rows of the picture"


def test_compartments_look_as_their_class_says() -> None:
    stand = stand_example()
    theme = themes(stand.compartments)[0]
    styles = area_styles(theme, hatches(stand.compartments))
    assert styles[-1] == UNKNOWN_STYLE
    assert styles[-2].hatch == "rising"
    assert {style.fill for style in styles[:-1]} <= set(theme.colours)


def test_a_locator_shows_one_compartment_among_all() -> None:
    table = frame(square(0, 0, 500), square(500, 0, 500))
    content = drawn(lambda pen: draw_locator(pen, VIEW, shapes_in(VIEW, table), 1))
    left, bottom, right, top = dots_mm(content, HIGHLIGHT_STYLE.fill)
    assert (left, bottom, right, top) == pytest.approx((70, 50, 120, 100), abs=0.5)


def test_marks_of_plots_stand_where_the_plots_are() -> None:
    stand = stand_example()
    view = View(Box(20, 50, 150, 150), 499_000, 5_600_000, 10_000)
    kinds: list[str] = []
    content = drawn(lambda pen: kinds.extend(draw_plots(pen, view, stand.plots.tail(1))))
    point = stand.plots.geometry.iloc[-1]
    left, bottom, right, top = dots_mm(content, MARKS["measured"].fill or "")
    assert kinds == ["measured"]
    assert (left + right) / 2 == pytest.approx(20 + (point.x - 499_000) / 10, abs=0.15)
    assert (bottom + top) / 2 == pytest.approx(50 + (point.y - 5_600_000) / 10, abs=0.15)


def test_kinds_of_marks_are_those_of_the_map() -> None:
    plots = stand_example().plots.head(5).copy()
    plots["state"] = ["measured", "empty", "measured", "unvisited", "lost"]
    plots["set_aside"] = [None, None, "outside all compartments", "unvisited", "lost"]
    assert plot_kinds(plots).tolist() == ["measured", "empty", "aside", "unvisited", "lost"]


def test_names_are_inside_their_compartments_also_round_a_hole() -> None:
    ring = shapely.difference(square(100, 100, 1000), square(300, 300, 600))
    left_out: list[int] = []
    content = drawn(
        lambda pen: left_out.extend(draw_names(pen, VIEW, shapes_in(VIEW, frame(ring)), ["Ωμέγα"]))
    )
    assert left_out == []
    assert "Ωμέγα" in words(content)
    left, bottom, right, top = dots_mm(content, "#1b1b1b")
    name = box(
        (left - 20) * 10 + WEST, (bottom - 50) * 10 + SOUTH, (right - 20) * 10 + WEST, (top - 50) * 10 + SOUTH
    )
    assert ring.covers(name)


def test_a_name_that_fits_nowhere_is_left_out_and_told() -> None:
    left_out: list[int] = []
    table = frame(square(100, 100, 20), square(500, 500, 400))
    content = drawn(
        lambda pen: left_out.extend(draw_names(pen, VIEW, shapes_in(VIEW, table), ["Long name", "Other"]))
    )
    assert left_out == [0]
    assert "Long name" not in words(content)
    assert "Other" in words(content)


def test_a_name_keeps_away_from_plots_where_it_can() -> None:
    centre = np.array([[70.0, 100.0]])
    table = frame(square(0, 0, 1000))

    def named(pen: Pen) -> None:
        draw_names(pen, VIEW, shapes_in(VIEW, table), ["12"], centre)
        pen.line(0, 0, 1, 1, Stroke("#ffffff"))

    left, bottom, right, top = dots_mm(drawn(named), "#1b1b1b")
    assert not (left < 70 < right and bottom < 100 < top)
