"""What tests of the map in a browser do again and again: open it, find a compartment on it, read a pixel."""

from __future__ import annotations

import re
from pathlib import Path

from playwright.sync_api import Page

from plotmap.model.survey import Stand
from plotmap.output.webmap import write_map
from tests.end_to_end.conftest import Visit, Visits


def opened(visits: Visits, stand: Stand, folder: Path, *, width: int = 1280, height: int = 800) -> Visit:
    """Write the map, open it and wait until it is drawn."""
    write_map(stand, folder / "map.html")
    visit = visits.open(folder / "map.html", width=width, height=height)
    visit.page.wait_for_selector("html[data-ready=yes]")
    visit.page.wait_for_selector("#map canvas")
    settle(visit.page)
    return visit


def settle(page: Page) -> None:
    """Wait until the map stands still and the canvas has been drawn."""
    page.wait_for_function("() => !document.querySelector('.leaflet-pan-anim')")
    page.evaluate("() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")


def place(page: Page, row: int, side: int = 3) -> tuple[float, float]:
    """Return where on the screen the compartment of a row of `stand_example` lies, off its plots.

    The squares touch, so that the drawn area is found from the pixels of the canvas that are painted.
    """
    left, top, right, bottom = page.evaluate(
        """() => {
          const canvas = document.querySelector("#map canvas");
          const { data, width, height } = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height);
          let [left, top, right, bottom] = [width, height, 0, 0];
          for (let y = 0; y < height; y += 1)
            for (let x = 0; x < width; x += 1)
              if (data[4 * (y * width + x) + 3] > 0) {
                left = Math.min(left, x); right = Math.max(right, x);
                top = Math.min(top, y); bottom = Math.max(bottom, y);
              }
          const box = canvas.getBoundingClientRect();
          const scale = box.width / width;
          return [
            box.left + scale * left, box.top + scale * top, box.left + scale * right, box.top + scale * bottom,
          ];
        }"""
    )
    column, line = row % side, row // side
    return (
        left + (right - left) * (column + 0.25) / side,
        bottom - (bottom - top) * (line + 0.25) / side,
    )


def colour(page: Page, at: tuple[float, float]) -> str:
    """Return the colour of the canvas at a place on the screen as ``#rrggbb``."""
    return str(
        page.evaluate(
            """([x, y]) => {
              const canvas = document.querySelector("#map canvas");
              const box = canvas.getBoundingClientRect();
              const scale = canvas.width / box.width;
              const [left, top] = [(x - box.left) * scale, (y - box.top) * scale];
              const at = canvas.getContext("2d").getImageData(left, top, 1, 1).data;
              return "#" + [at[0], at[1], at[2]].map((part) => part.toString(16).padStart(2, "0")).join("");
            }""",
            list(at),
        )
    )


def shown(page: Page, column: str) -> list[str]:
    """Return the cells of a row of the pop-up."""
    return page.locator(f".sheet tr[data-column={column}] td").all_inner_texts()


def number(text: str) -> float:
    """Return the number a cell shows."""
    return float(re.sub(r"[^0-9.]", "", text))
