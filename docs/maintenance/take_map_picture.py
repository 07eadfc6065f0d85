"""Take the pictures of the map that README.md shows: on a desk and on a phone.

    python docs/maintenance/take_map_picture.py [COMPARTMENT]

Runs ``plotmap run`` on sample_plots, opens map.html in headless Chromium (found on the path) through Playwright,
without a network, finds a compartment by its number so that its card opens, and writes docs/images/map.png,
1280 × 800, and docs/images/map_phone.png, 390 × 844. Look at the pictures before committing them.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

from plotmap.workflow import run

ROOT = Path(__file__).parents[2]
PICTURES = {"map.png": (1280, 800), "map_phone.png": (390, 844)}
FOLDER = ROOT / "docs" / "images"
COMPARTMENT = "30"
LARGEST_BYTES = 300_000


def open_card(page: Page, compartment: str) -> None:
    """Open the card of a compartment by its number in the search box, then show the whole survey beside it."""
    if page.locator("#panel").is_hidden():
        page.click("#panel-toggle")
    page.fill("#find-input", compartment)
    page.press("#find-input", "Enter")
    page.wait_for_selector("#card article.sheet")
    page.click("button.home")
    page.mouse.move(2, 2)
    page.evaluate("() => document.activeElement.blur()")
    page.wait_for_timeout(500)  # the map is drawn


def take(html: Path, compartment: str) -> None:
    """Photograph a map with one card open, in all sizes."""
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    if chromium is None:
        raise SystemExit("there is no chromium on the path: install it (Debian: apt-get install chromium)")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        FOLDER.mkdir(exist_ok=True)
        for name, (width, height) in PICTURES.items():
            page = browser.new_page(viewport={"width": width, "height": height}, reduced_motion="reduce")
            page.context.set_offline(True)
            page.goto(html.as_uri())
            page.wait_for_selector("html[data-ready=yes]")
            open_card(page, compartment)
            page.screenshot(path=FOLDER / name)
        browser.close()


def main() -> None:
    """Compute the sample survey, take the pictures, and say how large they are."""
    compartment = sys.argv[1] if len(sys.argv) > 1 else COMPARTMENT
    with tempfile.TemporaryDirectory() as folder:
        results = Path(folder) / "results"
        if run(ROOT / "sample_plots", results).stand is None:
            raise SystemExit("sample_plots has errors: plotmap check sample_plots lists them")
        take(results / "map.html", compartment)
    for name in PICTURES:
        size = (FOLDER / name).stat().st_size
        print(f"docs/images/{name}: {size} bytes")
        if size > LARGEST_BYTES:
            raise SystemExit(
                f"{name} is larger than {LARGEST_BYTES} bytes: choose a compartment with less on it"
            )


if __name__ == "__main__":
    main()
