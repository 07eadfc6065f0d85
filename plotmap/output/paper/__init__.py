"""Printed pages: fonts, page furniture, and maps true to scale."""

from plotmap.output.paper.document import About, Document, Furniture
from plotmap.output.paper.fonts import load_fonts
from plotmap.output.paper.sizes import paper

__all__ = ["About", "Document", "Furniture", "load_fonts", "paper"]
