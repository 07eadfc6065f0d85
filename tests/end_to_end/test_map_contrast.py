"""Contrast of all text of the page: WCAG 2.2, success criterion 1.4.3, by the formula of its glossary."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Page

from tests.end_to_end.conftest import Visits
from tests.end_to_end.map_page import opened, place, settle
from tests.end_to_end.test_map_controls import SIZES, panel, to_map, with_findings
from tests.stand_example import stand_example

pytestmark = pytest.mark.browser
LEAST, LEAST_LARGE = 4.5, 3.0  # level AA; large is 24 px, or 18.66 px in bold
_TEXTS = """() => {
  const parts = (text) => {
    const found = text.match(/[\\d.]+/g).map(Number);
    return found.length < 4 ? [...found.slice(0, 3), 1] : found;
  };
  const over = (top, below) => [0, 1, 2].map((at) => top[at] * top[3] + below[at] * (1 - top[3]));
  const ground = (element) => {
    const layers = [];
    for (let one = element; one; one = one.parentElement) {
      const colour = parts(getComputedStyle(one).backgroundColor);
      if (colour[3] > 0) layers.push(colour);
      if (colour[3] === 1) break;
    }
    return layers.reverse().reduce((below, top) => over(top, below), [255, 255, 255]);
  };
  const found = [];
  for (const element of document.querySelectorAll("body *")) {
    const own = [...element.childNodes].some((node) => node.nodeType === 3 && node.textContent.trim());
    const hint = element.matches("input") && element.placeholder;
    if (!(own || hint) || !element.checkVisibility({ checkVisibilityCSS: true })) continue;
    const style = getComputedStyle(element, hint ? "::placeholder" : null);
    const colour = parts(element instanceof SVGElement ? style.fill : style.color);
    const below = ground(element);
    found.push({
      text: element.textContent.trim().slice(0, 40) || element.placeholder, size: parseFloat(style.fontSize),
      bold: Number(style.fontWeight) >= 700, ink: over(colour, below), ground: below,
    });
  }
  return found;
}"""


def luminance(colour: list[float]) -> float:
    """Return the relative luminance of WCAG 2.2 of a colour in sRGB, 0 to 255 each."""
    parts = [part / 255 for part in colour]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: list[float], other: list[float]) -> float:
    """Return the contrast ratio of WCAG 2.2: (L1 + 0.05) / (L2 + 0.05), the lighter first."""
    darker, lighter = sorted((luminance(one), luminance(other)))
    return (lighter + 0.05) / (darker + 0.05)


def too_faint(page: Page) -> list[str]:
    """Return all visible texts whose contrast is below that of level AA."""
    found = page.evaluate(_TEXTS)
    assert len(found) > 20
    return [
        f"{one['text']}: {contrast(one['ink'], one['ground']):.2f}"
        for one in found
        if contrast(one["ink"], one["ground"])
        < (LEAST_LARGE if one["size"] >= 24 or (one["bold"] and one["size"] >= 18.66) else LEAST)
    ]


def test_the_formula_gives_the_ratios_that_are_known() -> None:
    # black on white is 21 by the definition; #767676 on white is 4.54, the lightest grey of AA (WebAIM, from memory)
    assert contrast([0, 0, 0], [255, 255, 255]) == pytest.approx(21)
    assert contrast([0x76] * 3, [255] * 3) == pytest.approx(4.54, abs=0.005)
    assert contrast([0x77] * 3, [255] * 3) < 4.5


@SIZES
def test_all_texts_stand_out_from_their_ground(
    visits: Visits, tmp_path: Path, width: int, height: int
) -> None:
    page = opened(visits, with_findings(stand_example()), tmp_path, width=width, height=height).page
    assert too_faint(page) == []
    panel(page)
    page.click(".about summary")
    page.check("#findings-toggle")
    page.fill("#find-input", "block")
    assert too_faint(page) == []
    page.keyboard.press("Escape")
    to_map(page)
    for row in (4, 7, 8):
        page.click(".home")
        settle(page)
        page.mouse.click(*place(page, row))
        assert too_faint(page) == []
        page.keyboard.press("Escape")
    panel(page)
    page.click("#table-open")
    assert too_faint(page) == []


def test_a_faint_text_would_be_found(visits: Visits, tmp_path: Path) -> None:
    page = opened(visits, stand_example(), tmp_path).page
    page.evaluate("() => { document.getElementById('legend-note').style.color = '#777777'; }")
    assert [text.rpartition(": ")[2] for text in too_faint(page)] == ["4.48"]
