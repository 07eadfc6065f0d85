"""Reports written and read back by other libraries: pypdfium2 for the words of a PDF, html.parser for a page."""

from __future__ import annotations

import re
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pandas as pd
import pypdfium2

from plotmap.model.settings import Settings
from plotmap.model.survey import Stand
from plotmap.output.report import write_report_html, write_report_pdf


def with_settings(stand: Stand, **sections: dict[str, Any]) -> Stand:
    """Return the stand under other settings: keys by section."""
    given = stand.settings.model_dump()
    for name, keys in sections.items():
        given[name] = {**given[name], **keys}
    return replace(stand, settings=Settings.model_validate(given))


def pdf_of(stand: Stand, folder: Path) -> bytes:
    """Return the bytes of the PDF."""
    write_report_pdf(stand, folder / "report.pdf")
    return (folder / "report.pdf").read_bytes()


def html_of(stand: Stand, folder: Path) -> str:
    """Return the HTML page."""
    write_report_html(stand, folder / "report.html")
    return (folder / "report.html").read_text("utf-8")


def pdf_lines(content: bytes) -> list[str]:
    """Return the lines of all pages, with plain blanks in place of thin ones."""
    document = pypdfium2.PdfDocument(content)
    text = "\n".join(page.get_textpage().get_text_range() for page in document)
    return [plain(line) for line in re.split(r"[\r\n]+", text)]


def plain(text: str) -> str:
    """Return a text with one plain blank for each run of blanks of any kind."""
    return re.sub(r"[\s\u202f\u00a0]+", " ", text).strip()


class Page(HTMLParser):
    """The tables, words and elements of a page.

    Attributes
    ----------
    tables : list of list of list of str
        Cells by table and row, the headings first.
    words : list of str
        Texts outside styles.
    tags : list of tuple
        Elements with their attributes.
    """

    def __init__(self, html: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tables: list[list[list[str]]] = []
        self.words: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self._cell: list[str] | None = None
        self._in_style = False
        self.feed(html)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag == "table":
            self.tables.append([])
        elif tag == "tr":
            self.tables[-1].append([])
        elif tag in {"td", "th"}:
            self._cell = []
        self._in_style = tag == "style"

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        if tag in {"td", "th"} and self._cell is not None:
            self.tables[-1][-1].append(plain("".join(self._cell)))
            self._cell = None
        self._in_style = False

    def handle_data(self, data: str) -> None:
        if self._in_style:
            return
        self.words.append(data)
        if self._cell is not None:
            self._cell.append(data)


def number(text: str) -> float:
    """Return a printed number: blanks part its thousands."""
    return float(text.replace(" ", ""))


def assert_rounded(text: str, exact: float, decimals: int) -> None:
    """Assert that a printed number is the exact one, rounded to so many decimals, or to two figures where small."""
    assert abs(number(text) - exact) <= 0.5 * 10**-decimals * (1 + 1e-9) + 1e-9, f"{text} is not {exact}"
    if exact != 0:
        assert number(text) != 0, f"{exact} is printed as zero"


def first_of(frame: pd.DataFrame) -> dict[str, Any]:
    """Return the first row by its columns."""
    return dict(frame.iloc[0])
