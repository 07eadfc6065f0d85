"""Measure the map of large surveys: time and memory to write it, size, and how fast Chromium opens and moves it.

``python -m tests.benchmarks.measure_map`` writes and opens maps of 60 compartments with 400 plots, 2 000 with 20 000,
and 50 000 with 500 000, and prints a table; ``--sizes 2000:20000`` measures others. Needs Debian's chromium on the
path. Each map is written by a process of its own, so that its peak memory is its own; the stand is made before the
clock is started. *Usable* is from the start of loading to the second frame after everything is on the page, *moved*
the whole of dragging the map by 200 px and drawing what came into view, *longest frame* the longest wait between two
frames meanwhile. The figures belong to the machine they were measured on; say which when quoting them.
"""

from __future__ import annotations

import argparse
import json
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

from plotmap.output.webmap import write_map
from tests.benchmarks.large_stand import large_stand
from tests.benchmarks.measure import BYTES_PER_MAXRSS
from tests.end_to_end.conftest import ARGUMENTS

SIZES = ("60:400", "2000:20000", "50000:500000")
PATIENCE_MS = 300_000
FRAMES = "() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))"
WATCH = """() => {
  const watch = { longest: 0, last: performance.now(), on: true };
  const next = () => {
    const now = performance.now();
    watch.longest = Math.max(watch.longest, now - watch.last);
    watch.last = now;
    if (watch.on) requestAnimationFrame(next);
  };
  requestAnimationFrame(next);
  window.watch = watch;
}"""


def write(compartments: int, plots: int, path: Path) -> dict[str, float]:
    """Write a map; return seconds, peak memory with the stand and before it in MB."""
    stand = large_stand(compartments, plots)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    start = time.perf_counter()
    write_map(stand, path)
    write_s = time.perf_counter() - start
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return {
        "write s": write_s,
        "peak MB": peak * BYTES_PER_MAXRSS / 1e6,
        "of it stand MB": before * BYTES_PER_MAXRSS / 1e6,
    }


def visit(path: Path) -> dict[str, float]:
    """Open a map in headless Chromium; return what it took."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=list(ARGUMENTS))
        page = browser.new_page(viewport={"width": 1280, "height": 800})
        page.set_default_timeout(PATIENCE_MS)
        page.goto(path.resolve().as_uri(), timeout=PATIENCE_MS)
        page.wait_for_selector("html[data-ready=yes]")
        page.evaluate(FRAMES)
        found = {"usable s": page.evaluate("() => performance.now()") / 1000}
        session = page.context.new_cdp_session(page)
        session.send("HeapProfiler.collectGarbage")
        memory = session.send("Runtime.getHeapUsage")  # of scripts and of their arrays
        found["page MB"] = (memory["usedSize"] + memory["backingStorageSize"]) / 1e6
        session.send("Performance.enable")
        found |= moved(page, "whole")
        for _ in range(4):
            page.click(".leaflet-control-zoom-in")
        page.check("#plots-toggle")
        page.evaluate(FRAMES)
        found |= moved(page, "near")
        browser.close()
    return found


def moved(page: Page, name: str) -> dict[str, float]:
    """Drag the map by 200 px; return how long it took until it was drawn again, and the longest frame, in ms."""
    page.mouse.move(800, 400)
    page.mouse.down()
    page.evaluate(WATCH)
    start = time.perf_counter()
    for step in range(1, 21):
        page.mouse.move(800 - 10 * step, 400)
    page.mouse.up()
    page.wait_for_function("() => !document.querySelector('.leaflet-pan-anim')")
    page.evaluate(FRAMES)
    taken = 1000 * (time.perf_counter() - start)
    longest = page.evaluate("() => { window.watch.on = false; return window.watch.longest; }")
    return {f"{name}: moved ms": taken, f"{name}: longest frame ms": longest}


def measure_map(size: str, folder: Path) -> dict[str, float]:
    """Write and open the map of a size ``compartments:plots``."""
    path = folder / f"map_{size.replace(':', '_')}.html"
    command = [sys.executable, "-m", "tests.benchmarks.measure_map", "--write", size, str(path)]
    done = subprocess.run(command, stdout=subprocess.PIPE, text=True, check=True)
    return {**json.loads(done.stdout), "file MB": path.stat().st_size / 1e6, **visit(path)}


def table(measured: dict[str, dict[str, float]]) -> str:
    """Return the measurements as text, a column for each size."""
    names = list(next(iter(measured.values())))
    lines = [f"{'compartments:plots':<24}" + "".join(f"{size:>16}" for size in measured)]
    lines += [
        f"{name:<24}" + "".join(f"{found[name]:>16.2f}" for found in measured.values()) for name in names
    ]
    return "\n".join(lines)


def main(arguments: list[str] | None = None) -> int:
    """Measure maps, or, with ``--write``, write one and print what it took as JSON."""
    parser = argparse.ArgumentParser(description="Measure the map of large surveys.")
    parser.add_argument("--sizes", nargs="+", default=list(SIZES), metavar="COMPARTMENTS:PLOTS")
    parser.add_argument("--write", nargs=2, metavar=("SIZE", "FILE"), help=argparse.SUPPRESS)
    given = parser.parse_args(arguments)
    if given.write:
        compartments, plots = (int(part) for part in given.write[0].split(":"))
        sys.stdout.write(json.dumps(write(compartments, plots, Path(given.write[1]))) + "\n")
        return 0
    with tempfile.TemporaryDirectory() as spare:
        measured = {size: measure_map(size, Path(spare)) for size in given.sizes}
    sys.stdout.write(table(measured) + "\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
