"""The chart of size classes: its scale, and that bars and limits are as high as their figures."""

from __future__ import annotations

import pytest

from plotmap.output.paper.sizes import Box
from plotmap.output.report.class_chart import ClassBar, ClassChart, chart_top, draw_chart
from tests.output.paper.map_page import drawn
from tests.output.paper.pdf_pages import filled

BAR = "#7fa3c7"


def chart(*bars: ClassBar) -> ClassChart:
    return ClassChart(bars, "stems, 1/ha", "class", "", "")


def test_bars_are_as_high_as_their_figures() -> None:
    shown = chart(ClassBar("10", 100.0, 50.0, 150.0), ClassBar("15", 25.0, 10.0, 60.0))
    content = drawn(lambda pen: draw_chart(pen, Box(20, 50, 90, 45), shown))
    bars = [shape for shape in filled(content) if shape.colour == BAR]
    assert len(bars) == 2
    assert bars[0].height_mm / bars[1].height_mm == pytest.approx(4.0, rel=0.02)  # geometry: 100 to 25
    assert bars[0].left_mm < bars[1].left_mm


@pytest.mark.parametrize(
    ("bars", "top"),
    [
        ((ClassBar("10", 100.0, 50.0, 150.0),), 160.0),  # lines every 20
        ((ClassBar("10", 100.0, 0.0, 9000.0),), 250.0),  # cut at two and a half times the highest bar
        ((ClassBar("10", 0.0, 0.0, 8.0),), 8.0),
        ((ClassBar("10", 0.0, None, None),), 1.0),
    ],
)
def test_the_scale_reaches_over_bars_and_limits_but_not_far_over_the_bars(
    bars: tuple[ClassBar, ...], top: float
) -> None:
    assert chart_top(bars) == pytest.approx(top)
    assert chart(*bars).is_cut is (bars[0].high == 9000.0)
