"""Words as runs of letters of one font each; what no font has is told, never dropped."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby

from reportlab.pdfbase.ttfonts import TTFont

_BOX_WIDTH = 0.6
"""Width of the box that stands for a letter no font has, in parts of the size of the letters."""
_NOT_SHOWN = frozenset({"Cc", "Cf", "Zl", "Zp"})
"""Classes of Unicode that have no shape of their own."""


@dataclass(frozen=True, slots=True)
class Run:
    """Letters that follow each other in one font.

    Attributes
    ----------
    letters : str
        In the order in which they are drawn.
    font : reportlab.pdfbase.ttfonts.TTFont or None
        None where no font has them: a box stands for each.
    """

    letters: str
    font: TTFont | None

    def width(self, size: float) -> float:
        """Return the width in the unit of `size`, the size of the letters."""
        if self.font is None:
            return _BOX_WIDTH * size * len(self.letters)
        return float(self.font.stringWidth(self.letters, size))


def plain(words: str) -> str:
    """Return words in composed letters (Unicode NFC), with one space for every run of blanks and controls."""
    if words.isascii() and words.isprintable():
        return " ".join(words.split())
    composed = unicodedata.normalize("NFC", words)
    blank = "".join(" " if _is_blank(letter) else letter for letter in composed)
    return " ".join(part for part in blank.split(" ") if part)


def runs(words: str, fonts: tuple[TTFont, ...]) -> tuple[Run, ...]:
    """Part words into runs of one font each.

    Parameters
    ----------
    words : str
        As `plain` gives them.
    fonts : tuple of TTFont
        In the order in which they are asked for a letter.
    """
    if all(ord(letter) in fonts[0].face.charToGlyph for letter in words):
        return (Run(words, fonts[0]),) if words else ()
    return tuple(_runs(words, fonts))


def _runs(words: str, fonts: tuple[TTFont, ...]) -> Iterator[Run]:
    """Yield the runs; a mark over a letter stays with that letter where its font has it."""
    chosen: list[int] = []
    for letter in words:
        having = [number for number, font in enumerate(fonts) if ord(letter) in font.face.charToGlyph]
        if unicodedata.combining(letter) and chosen and chosen[-1] in having:
            chosen.append(chosen[-1])
        else:
            chosen.append(having[0] if having else -1)
    for number, pairs in groupby(zip(chosen, words, strict=True), key=lambda pair: pair[0]):
        letters = "".join(letter for _, letter in pairs)
        yield Run(letters, None if number < 0 else fonts[number])


def _is_blank(letter: str) -> bool:
    """Say whether a letter is a control, a line end or a plain space; the narrow spaces of numbers stay."""
    return letter == " " or unicodedata.category(letter) in _NOT_SHOWN
