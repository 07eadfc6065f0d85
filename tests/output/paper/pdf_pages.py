"""Pages of a PDF as other libraries see them: pypdfium2 for shapes, words and pictures, pypdf for fonts."""

from __future__ import annotations

import io
from dataclasses import dataclass

import numpy as np
import pypdfium2
import pypdfium2.raw
from pypdf import PdfReader

MM_PER_POINT = 25.4 / 72


@dataclass(frozen=True)
class Shape:
    """A filled path: colour and bounds on the page in mm."""

    colour: str
    left_mm: float
    bottom_mm: float
    right_mm: float
    top_mm: float

    @property
    def width_mm(self) -> float:
        return self.right_mm - self.left_mm

    @property
    def height_mm(self) -> float:
        return self.top_mm - self.bottom_mm


def filled(content: bytes, page: int = 0) -> list[Shape]:
    """Return the filled paths of a page, in the order in which they are drawn; those in forms are left out."""
    raw = pypdfium2.raw
    shapes = []
    document = pypdfium2.PdfDocument(content)
    for found in document[page].get_objects(filter=[raw.FPDF_PAGEOBJ_PATH], max_depth=1):
        mode, stroked = raw.c_int(), raw.c_int()
        raw.FPDFPath_GetDrawMode(found, mode, stroked)
        if mode.value:
            parts = [raw.c_uint() for _ in range(4)]
            raw.FPDFPageObj_GetFillColor(found, *parts)
            colour = "#" + "".join(f"{part.value:02x}" for part in parts[:3])
            shapes.append(Shape(colour, *(value * MM_PER_POINT for value in found.get_bounds())))
    return shapes


def size_mm(content: bytes, page: int = 0) -> tuple[float, float]:
    """Return width and height of a page from its media box."""
    box = PdfReader(io.BytesIO(content)).pages[page].mediabox
    return float(box.width) * MM_PER_POINT, float(box.height) * MM_PER_POINT


def words(content: bytes, page: int = 0) -> str:
    """Return the text of a page."""
    return str(pypdfium2.PdfDocument(content)[page].get_textpage().get_text_range())


def n_pages(content: bytes) -> int:
    return len(pypdfium2.PdfDocument(content))


def fonts(content: bytes) -> dict[str, bool]:
    """Return the fonts of all pages and forms by name, and whether their letters are in the file."""
    found: dict[str, bool] = {}
    reader = PdfReader(io.BytesIO(content))
    for page in reader.pages:
        resources = page["/Resources"].get_object()
        for font in resources.get("/Font", {}).values():
            font = font.get_object()  # noqa: PLW2901
            found[str(font["/BaseFont"])] = "/FontFile2" in font.get("/FontDescriptor", {})
    return found


def picture(content: bytes, page: int = 0, dots_per_mm: float = 4.0) -> np.ndarray:
    """Return a page as an array of red, green and blue, the top row first."""
    bitmap = pypdfium2.PdfDocument(content)[page].render(scale=dots_per_mm * MM_PER_POINT)
    return np.asarray(bitmap.to_pil().convert("RGB"))


def has_colour(content: bytes, colour: str, page: int = 0) -> bool:
    """Say whether any dot of a page has a colour, near enough."""
    return bool(_dots(picture(content, page), colour).any())


def dots_mm(content: bytes, colour: str, page: int = 0, dots_per_mm: float = 8.0) -> tuple[float, ...]:
    """Return left, bottom, right and top of all dots of a colour, in mm, to half a dot on each side."""
    shown = picture(content, page, dots_per_mm)
    rows, columns = np.nonzero(_dots(shown, colour))
    high = shown.shape[0]
    edges = (columns.min(), high - rows.max() - 1, columns.max() + 1, high - rows.min())
    return tuple(float(edge) / dots_per_mm for edge in edges)


def _dots(shown: np.ndarray, colour: str) -> np.ndarray:
    """Return which dots have a colour, near enough."""
    wanted = np.array([int(colour[at : at + 2], 16) for at in (1, 3, 5)])
    return np.asarray(np.abs(shown.astype(int) - wanted).max(axis=2) <= 3)


def text_boxes_mm(content: bytes, page: int = 0) -> list[tuple[float, float, float, float]]:
    """Return left, bottom, right and top in mm of every piece of text of a page."""
    text = pypdfium2.PdfDocument(content)[page].get_textpage()
    boxes = (text.get_rect(number) for number in range(text.count_rects()))
    return [tuple(value * MM_PER_POINT for value in box) for box in boxes]  # type: ignore[misc]
