"""A browser without a network, for pages that plotmap writes."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, Route, sync_playwright

ARGUMENTS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)

_READING = "willReadFrequently"
"""What Chromium says when a test reads the pixels of a canvas."""


@dataclass(frozen=True)
class Visit:
    """A page opened from a file, and everything it asked for or complained of."""

    page: Page
    requests: list[str] = field(default_factory=list)
    messages: list[str] = field(default_factory=list)


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """Headless Chromium; skipped only where there is none and this is not CI."""
    executable = shutil.which("chromium")
    if executable is None and not os.environ.get("CI"):
        pytest.skip("no chromium on this machine")
    assert executable is not None, "CI needs the package chromium"
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=executable, args=list(ARGUMENTS))
        yield browser
        browser.close()


class Visits:
    """Opens files in contexts that have no network."""

    def __init__(self, browser: Browser) -> None:
        self.browser = browser

    def open(self, file: Path, *, width: int = 1280, height: int = 800) -> Visit:
        """Open a file; every request but for the file itself is refused and noted."""
        context = self.browser.new_context(viewport={"width": width, "height": height})
        context.set_offline(True)
        visit = Visit(context.new_page())
        address = file.resolve().as_uri()

        def refuse(route: Route) -> None:
            if route.request.url == address:
                route.continue_()
            else:
                route.abort()

        visit.page.route("**/*", refuse)
        visit.page.on(
            "request", lambda request: visit.requests.append(request.url)
        )  # offline ones are not routed
        visit.page.on(
            "console", lambda message: _READING in message.text or visit.messages.append(message.text)
        )
        visit.page.on("pageerror", lambda error: visit.messages.append(str(error)))
        visit.page.goto(address)
        return visit


@pytest.fixture
def visits(chromium: Browser) -> Iterator[Visits]:
    """Open pages without a network; close their contexts after the test."""
    yield Visits(chromium)
    for context in chromium.contexts:
        context.close()
