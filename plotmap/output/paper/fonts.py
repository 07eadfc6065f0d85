"""Fonts that are embedded in the pages: those shipped with plotmap, then the user's own for other letters."""

from __future__ import annotations

import io
from dataclasses import dataclass
from importlib import resources
from pathlib import Path

from reportlab.pdfbase.ttfonts import TTFError, TTFont

from plotmap.errors import SettingsError
from plotmap.output.packaged import verified_bytes

_ASSETS = resources.files("plotmap.output.paper") / "assets"
_REGULAR, _BOLD = "DejaVuSans.ttf", "DejaVuSans-Bold.ttf"
_OPEN_TYPE_CFF = b"OTTO"


@dataclass(frozen=True, slots=True)
class Fonts:
    """Fonts of one document, in the order in which they are asked for a letter.

    Attributes
    ----------
    regular, bold : tuple of reportlab.pdfbase.ttfonts.TTFont
        The first that has a letter draws it. They belong to one document: which letters of them are embedded
        is kept in them.
    """

    regular: tuple[TTFont, ...]
    bold: tuple[TTFont, ...]


def load_fonts(own: Path | str | None = None) -> Fonts:
    """Return fonts for one document.

    Parameters
    ----------
    own : Path or str, optional
        A TrueType font (``.ttf``, ``.ttc``) for letters that the shipped fonts lack.

    Returns
    -------
    Fonts
        DejaVu Sans, which has Latin, Greek, Cyrillic, Armenian and Georgian letters among others, and behind it
        `own`.

    Raises
    ------
    SettingsError
        `own` cannot be read, or is no TrueType font.
    OutputError
        A shipped font is not the one that was shipped.
    """
    behind = () if own is None else (_own_font(Path(own)),)
    return Fonts((_shipped(_REGULAR), *behind), (_shipped(_BOLD), *behind))


def fonts_for(font: str, folder: Path | None) -> Fonts:
    """Return fonts for one document of a survey.

    Parameters
    ----------
    font : str
        As ``[paper] font`` says: a path from the survey folder, or nothing.
    folder : Path, optional
        The survey folder; where not given, the working folder.

    Raises
    ------
    SettingsError, OutputError
        As of `load_fonts`.
    """
    own = font.strip()
    return load_fonts((folder or Path()) / own if own else None)


def _shipped(file: str) -> TTFont:
    """Return a font of the package."""
    content = verified_bytes(_ASSETS, file, "printed pages", "docs/maintenance/refresh_fonts.py")
    return TTFont(Path(file).stem, io.BytesIO(content))


def _own_font(path: Path) -> TTFont:
    """Return the user's font."""
    try:
        content = path.read_bytes()
    except OSError as error:
        raise SettingsError(
            f"[paper] font = {str(path)!r}: cannot be read ({error.strerror or error}). Name a TrueType font file "
            "(.ttf) in the survey folder."
        ) from error
    if content.startswith(_OPEN_TYPE_CFF):
        raise SettingsError(
            f"[paper] font = {str(path)!r}: this is an OpenType font with PostScript outlines, which cannot be "
            "embedded here. Take the TrueType version of the font (.ttf)."
        )
    try:
        return TTFont("OwnFont", io.BytesIO(content))
    except (TTFError, ValueError, IndexError, KeyError) as error:
        raise SettingsError(
            f"[paper] font = {str(path)!r}: this is no TrueType font that can be used ({error}). Name another "
            "file (.ttf)."
        ) from error
