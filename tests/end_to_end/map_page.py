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


def area(page: Page, *, outlined: bool = False) -> tuple[float, float, float, float]:
    """Return left, top, right and bottom on the screen of what is painted on the canvas of the map.

    With `outlined` only pixels of the colour of the outline of the compartment whose card is open count.
    """
    left, top, right, bottom = page.evaluate(
        """(outlined) => {
          const isOutline = (data, at) => [17, 21, 17, 255].every((part, place) => data[at + place] === part);
          const counts = (data, at) => (outlined ? isOutline(data, at) : data[at + 3] > 0);
          const canvas = document.querySelector("#map canvas");
          const { data, width, height } = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height);
          let [left, top, right, bottom] = [width, height, 0, 0];
          for (let y = 0; y < height; y += 1)
            for (let x = 0; x < width; x += 1)
              if (counts(data, 4 * (y * width + x))) {
                left = Math.min(left, x); right = Math.max(right, x);
                top = Math.min(top, y); bottom = Math.max(bottom, y);
              }
          const box = canvas.getBoundingClientRect();
          const scale = box.width / width;
          return [
            box.left + scale * left, box.top + scale * top, box.left + scale * right, box.top + scale * bottom,
          ];
        }""",
        outlined,
    )
    return left, top, right, bottom


def place(page: Page, row: int, side: int = 3) -> tuple[float, float]:
    """Return where on the screen the compartment of a row of `stand_example` lies, off its plots.

    The squares touch, so that all of them together are found from what is painted.
    """
    left, top, right, bottom = area(page)
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
    """Return the cells of a row of the card."""
    return page.locator(f".sheet tr[data-column={column}] td").all_inner_texts()


def written_numbers(page: Page, act: str) -> list[str]:
    """Return the texts that the canvas of numbers is given while a script runs."""
    return list(
        page.evaluate(
            """async (act) => {
              const drawn = [];
              const usual = CanvasRenderingContext2D.prototype.fillText;
              CanvasRenderingContext2D.prototype.fillText = function (text, ...rest) {
                drawn.push(text);
                return usual.call(this, text, ...rest);
              };
              document.querySelector(act).click();
              await new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));
              CanvasRenderingContext2D.prototype.fillText = usual;
              return drawn;
            }""",
            act,
        )
    )


def painted(page: Page, canvas: str) -> int:
    """Return how many pixels of a canvas are not clear."""
    return int(
        page.evaluate(
            """(name) => {
              const canvas = document.querySelector(name);
              const { data } = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height);
              return data.filter((part, place) => place % 4 === 3 && part > 0).length;
            }""",
            canvas,
        )
    )


def box(page: Page, name: str) -> tuple[float, float, float, float]:
    """Return left, top, right and bottom of an element that is shown."""
    found = page.locator(name).bounding_box()
    assert found is not None, name
    return found["x"], found["y"], found["x"] + found["width"], found["y"] + found["height"]


def number(text: str) -> float:
    """Return the number a cell shows."""
    return float(re.sub(r"[^0-9.]", "", text))
