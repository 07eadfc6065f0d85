"""A PDF, page by page: the same input gives the same bytes, and finished pages are kept packed."""

from __future__ import annotations

import io
import zlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from importlib.metadata import version
from pathlib import Path

from reportlab.pdfbase import pdfdoc
from reportlab.pdfgen.canvas import Canvas

from plotmap.files import whole_file
from plotmap.output.paper.fonts import Fonts
from plotmap.output.paper.letters import plain
from plotmap.output.paper.pen import Pen, Stroke, Type
from plotmap.output.paper.sizes import POINTS_PER_MM, Box, Paper

HEADER_MM, FOOTER_MM = 7.0, 9.0
"""Heights of the lines at the head and the foot of a page, their distance from the body included."""
_SMALL = Type(size_pt=7.5, colour="#4a4f4a")
_FOOTER_PT, _FOOTER_LINES = (7.5, 7.0, 6.5, 6.0, 5.5, 5.0), 2
"""Sizes tried for the words at the foot, and the lines they have room for."""
_RULE = Stroke("#9aa09a", 0.15)


@dataclass(frozen=True, slots=True)
class About:
    """What a PDF says of itself; nothing of the machine it was made on.

    Attributes
    ----------
    title, author, subject : str
        Author and subject may be empty.
    language : str
        Language of the words (BCP 47), for screen readers.
    """

    title: str
    author: str = ""
    subject: str = ""
    language: str = "en"


@dataclass(frozen=True, slots=True)
class Furniture:
    """What stands on every page.

    Attributes
    ----------
    header_left, header_right : str
        At the head of the page; no head where both are empty.
    footer : str
        At the foot on the left: a caution, the version.
    page_words : callable
        From number of the page and number of pages to words: ``page 2 of 9``.
    margin_mm : float
        Free on each side.
    """

    header_left: str
    header_right: str
    footer: str
    page_words: Callable[[int, int], str]
    margin_mm: float = 15.0


class _CanvasInMm(Canvas):  # type: ignore[misc]
    """A canvas whose pages begin with mm as their unit, in place of points and a font that is not embedded."""

    def _make_preamble(self) -> None:
        """Set what every page begins with."""
        self._preamble = f"{POINTS_PER_MM:.9f} 0 0 {POINTS_PER_MM:.9f} 0 0 cm"


class Document:
    """Pages of one PDF.

    Parameters
    ----------
    paper : Paper
        Size of the pages, unless a page has its own.
    fonts : Fonts
        As `plotmap.output.paper.fonts.load_fonts` gives them, for this document only.
    about : About
        What the file says of itself.
    furniture : Furniture
        What stands on every page.

    Attributes
    ----------
    pen : Pen
        Draws on the page that is open.
    n_pages : int
        Pages finished.
    """

    def __init__(self, paper: Paper, fonts: Fonts, about: About, furniture: Furniture) -> None:
        self._file = io.BytesIO()
        self._paper = paper
        self._furniture = furniture
        self.n_pages = 0
        self._n_bookmarks = 0
        self._canvas = _CanvasInMm(
            self._file,
            pagesize=_points(paper),
            invariant=1,
            pageCompression=1,
            lang=about.language,
        )
        self._canvas.setTitle(about.title)
        self._canvas.setAuthor(about.author)
        self._canvas.setSubject(about.subject)
        self._canvas.setCreator(f"plotmap {version('plotmap')}")
        self._canvas.setProducer(f"plotmap {version('plotmap')}")
        self.pen = Pen(self._canvas, fonts)

    @property
    def missing_letters(self) -> str:
        """Letters that no font had, sorted; a box stands for each of them on the pages."""
        return "".join(sorted(self.pen.missing))

    def body(self, paper: Paper | None = None) -> Box:
        """Return where a page has room for its content."""
        inner = (paper or self._paper).box.inset(self._furniture.margin_mm)
        if self._furniture.header_left or self._furniture.header_right:
            inner = inner.split_top(HEADER_MM)[1]
        return inner.split_bottom(FOOTER_MM)[1]

    @contextmanager
    def page(self, paper: Paper | None = None) -> Iterator[Pen]:
        """Open a page, hand out the pen, and finish the page with its head and foot.

        Parameters
        ----------
        paper : Paper, optional
            Its size; that of the document where not given.
        """
        held = paper or self._paper
        self._canvas.setPageSize(_points(held))
        yield self.pen
        self.n_pages += 1
        self._furnish(held)
        self._canvas.showPage()
        self._pack_last()

    def bookmark(self, title: str, top_mm: float, level: int = 0) -> None:
        """Put a place of the page that is open into the contents beside the pages.

        Parameters
        ----------
        title : str
            As readers show it.
        top_mm : float
            Height on the page that is scrolled to.
        level : int
            0, or one more than the entry before at most.
        """
        self._n_bookmarks += 1
        key = f"place{self._n_bookmarks}"
        self._canvas.bookmarkPage(key, fit="XYZ", left=0, top=top_mm * POINTS_PER_MM, zoom=0)
        self._canvas.addOutlineEntry(plain(title), key, level)

    def to_bytes(self) -> bytes:
        """Finish the document and return the file; nothing can be added afterwards."""
        for number in range(1, self.n_pages + 1):
            self._number_page(number)
        self._canvas.save()
        return self._file.getvalue()

    def save(self, path: Path | str) -> None:
        """Finish the document and write it, whole or not at all.

        Raises
        ------
        OutputError
            The file cannot be written.
        """
        path = Path(path)
        content = self.to_bytes()
        with whole_file(path, "the PDF") as beside:
            beside.write_bytes(content)

    def _furnish(self, paper: Paper) -> None:
        """Draw head and foot of the page that is open; its number is drawn when all pages are known."""
        inner, words = paper.box.inset(self._furniture.margin_mm), self._furniture
        half = inner.width_mm / 2 - 2
        if words.header_left or words.header_right:
            y = inner.top_mm - _SMALL.size_mm
            left = self.pen.shortened(words.header_left, half * 1.3, _SMALL)
            self.pen.write(left, inner.left_mm, y, _SMALL)
            right = self.pen.shortened(words.header_right, half * 0.7, _SMALL)
            self.pen.write(
                right, inner.right_mm, y, Type(_SMALL.size_pt, colour=_SMALL.colour, align="right")
            )
            self.pen.line(inner.left_mm, y - 1.4, inner.right_mm, y - 1.4, _RULE)
        top = inner.bottom_mm + 2 * _SMALL.line_mm
        self.pen.line(inner.left_mm, top + 0.6, inner.right_mm, top + 0.6, _RULE)
        room = Box(inner.left_mm, inner.bottom_mm, inner.width_mm - 30, 2 * _SMALL.line_mm)
        looks = [replace(_SMALL, size_pt=size_pt) for size_pt in _FOOTER_PT]
        fits = (
            look
            for look in looks
            if len(self.pen.lines_of(words.footer, room.width_mm, look)) <= _FOOTER_LINES
        )
        self.pen.paragraph(words.footer, room, next(fits, looks[-1]))
        self.pen.show(_form_name(self.n_pages), inner.right_mm, top - _SMALL.size_mm)

    def _number_page(self, number: int) -> None:
        """Draw the number of a page into its place."""
        with self.pen.form(_form_name(number), Box(-200.0, -3.0, 201.0, 8.0)):
            words = self._furniture.page_words(number, self.n_pages)
            self.pen.write(words, 0, 0, Type(_SMALL.size_pt, colour=_SMALL.colour, align="right"))

    def _pack_last(self) -> None:
        """Compress the page just finished, so that memory grows with the packed pages only."""
        page = self._canvas._doc.Pages.pages[-1]  # noqa: SLF001
        content = zlib.compress(page.stream.encode("utf-8"))
        filters = pdfdoc.PDFArray([pdfdoc.PDFName("FlateDecode")])
        page.Contents = pdfdoc.PDFStream(pdfdoc.PDFDictionary({"Filter": filters}), content, filters=[])
        page.stream = None


def _points(paper: Paper) -> tuple[float, float]:
    """Return the size of a page in points."""
    return paper.width_mm * POINTS_PER_MM, paper.height_mm * POINTS_PER_MM


def _form_name(number: int) -> str:
    """Return the name of the form that holds the number of a page."""
    return f"page{number}"
