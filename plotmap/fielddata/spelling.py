"""The known word that a slip of the pen may have been meant for. Nothing is corrected: it is only proposed."""

from __future__ import annotations

import difflib
import re
from collections.abc import Sequence

_CUTOFF = 0.8
"""Share of letters in common, from which two words are one with a slip (`difflib`)."""
_LEAST_LETTERS = 3
"""Shorter words are codes, which differ by a letter on purpose."""


def nearest(word: str, known: Sequence[str]) -> str | None:
    """Return the known word nearest to one that is not known.

    Parameters
    ----------
    word : str
        As written.
    known : sequence of str
        Words it may be meant for; of equally near ones the first by `difflib` is taken.

    Returns
    -------
    str or None
        A word that differs only in capitals and blanks, by two neighbouring letters that changed places, or
        little; None where there is none, where the word has fewer than three letters, and for words that differ
        in a digit, since numbers are no slips of spelling.
    """
    plain = _plain(word)
    if len(plain) < _LEAST_LETTERS:
        return None
    by_plain = {_plain(other): other for other in reversed(known) if _digits(other) == _digits(word)}
    if plain in by_plain:
        return by_plain[plain]
    swapped = (plain[:at] + plain[at + 1] + plain[at] + plain[at + 2 :] for at in range(len(plain) - 1))
    found = next((letters for letters in swapped if letters in by_plain), None)
    close = [found] if found else difflib.get_close_matches(plain, list(by_plain), n=1, cutoff=_CUTOFF)
    return by_plain[close[0]] if close else None


def _plain(word: str) -> str:
    """Return a word in small letters without blanks."""
    return re.sub(r"\s+", "", word).casefold()


def _digits(word: str) -> str:
    """Return the digits of a word."""
    return re.sub(r"\D", "", word)
