"""Take the picture of the map that README.md shows.

    python docs/maintenance/take_map_picture.py [COMPARTMENT]

Runs ``plotmap run`` on sample_plots, opens map.html in headless Chromium (found on the path) through Playwright,
without a network, finds a compartment by its number so that its card opens, and writes docs/images/map.png,
1280 × 800. Look at the picture before committing it.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

from plotmap.workflow import run

ROOT = Path(__file__).parents[2]
PICTURE = ROOT / "docs" / "images" / "map.png"
WIDTH, HEIGHT = 1280, 800
COMPARTMENT = "30"
LARGEST_BYTES = 300_000


def open_card(page: Page, compartment: str) -> None:
    """Open the card of a compartment by its number in the search box, then show the whole survey beside it."""
    page.fill("#find-input", compartment)
    page.press("#find-input", "Enter")
    page.wait_for_selector("#card article.sheet")
    page.click("button.home")
    page.mouse.move(WIDTH - 2, 2)
    page.evaluate("() => document.activeElement.blur()")
    page.wait_for_timeout(500)  # the map is drawn


def take(html: Path, compartment: str) -> None:
    """Photograph a map with one card open."""
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    if chromium is None:
        raise SystemExit("there is no chromium on the path: install it (Debian: apt-get install chromium)")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        page = browser.new_page(viewport={"width": WIDTH, "height": HEIGHT}, reduced_motion="reduce")
        page.context.set_offline(True)
        page.goto(html.as_uri())
        open_card(page, compartment)
        PICTURE.parent.mkdir(exist_ok=True)
        page.screenshot(path=PICTURE)
        browser.close()


def main() -> None:
    """Compute the sample survey, take the picture, and say how large it is."""
    compartment = sys.argv[1] if len(sys.argv) > 1 else COMPARTMENT
    with tempfile.TemporaryDirectory() as folder:
        results = Path(folder) / "results"
        if run(ROOT / "sample_plots", results).stand is None:
            raise SystemExit("sample_plots has errors: plotmap check sample_plots lists them")
        take(results / "map.html", compartment)
    size = PICTURE.stat().st_size
    print(f"{PICTURE.relative_to(ROOT)}: {size} bytes")
    if size > LARGEST_BYTES:
        raise SystemExit(
            f"the picture is larger than {LARGEST_BYTES} bytes: choose a compartment with less on it"
        )


if __name__ == "__main__":
    main()
