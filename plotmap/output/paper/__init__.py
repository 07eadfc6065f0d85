"""Printed pages: fonts, page furniture, and maps true to scale."""

from plotmap.output.paper.document import About, Document, Furniture
from plotmap.output.paper.fonts import load_fonts
from plotmap.output.paper.sheet import check_sheet_file, check_wish, write_sheet
from plotmap.output.paper.sizes import paper

__all__ = [
    "About",
    "Document",
    "Furniture",
    "check_sheet_file",
    "check_wish",
    "load_fonts",
    "paper",
    "write_sheet",
]
