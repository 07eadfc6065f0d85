"""Whether texts hold names that must not be shared."""

from __future__ import annotations

import re
from collections.abc import Iterable

import polars as pl

from plotmap.sharing.species import folded

_SHORT = 2
"""Names up to this length are looked for as whole cells only: within a sentence they could be any word."""
_IN_BYTES = 6
_LEAST = 4
_WORD = r"[\p{L}\p{N}](?:[\p{L}\p{N}_./-]*[\p{L}\p{N}])?"
_EDGE = r"[^\p{L}\p{N}]"


class WordsFound:
    """Finds names in texts, whatever their capitals and accents.

    Parameters
    ----------
    names : iterable of str
        What to look for.
    allowed : iterable of str
        Texts that may stand as a whole, and parts of texts that are passed over.
    familiar : iterable of str
        Texts of plotmap's own: they may stand as a whole, and names of one word that is among their words are
        looked for as whole cells only.

    Attributes
    ----------
    untold : int
        Names that cannot be looked for, since they are also words of plotmap's own or allowed.
    """

    def __init__(self, names: Iterable[str], allowed: Iterable[str], familiar: Iterable[str]) -> None:
        own = {folded(text) for text in familiar}
        words = {word for text in own for word in re.findall(r"\w+", text)}
        self._free = own | {folded(text) for text in allowed}
        every = {folded(name) for name in names} - {""}
        cells = every - self._free
        self.untold = len(every) - len(cells)
        self._cells = pl.Series(sorted(cells), dtype=pl.String)
        phrases = sorted(
            name
            for name in every
            if len(name) > _SHORT and not set(re.findall(r"\w+", name)) <= words and name not in self._free
        )
        self._phrases = _pattern(phrases)
        self._long = _pattern([name for name in phrases if len(name) >= _IN_BYTES])
        over = pl.Series(sorted({folded(text) for text in allowed} - {""}), dtype=pl.String)
        over = over.filter(over.str.contains(self._phrases)) if self._phrases else over.clear()
        self._allowed = sorted(over.to_list(), key=len, reverse=True)

    def in_texts(self, texts: pl.Series, *, of_bytes: bool = False) -> bool:
        """Say whether any text is a name, or holds one between word boundaries."""
        plain = plain_texts(texts)
        if not of_bytes and plain.is_in(self._cells.implode()).any():
            return True
        pattern = self._long if of_bytes else self._phrases
        if not pattern:
            return False
        held = plain.filter(plain.str.contains(pattern))
        held = held.filter(~held.is_in(pl.Series(sorted(self._free), dtype=pl.String).implode()))
        for text in self._allowed if held.len() else []:
            held = held.str.replace_all(rf"(^|{_EDGE}){re.escape(text)}($|{_EDGE})", "$1 $2")
        return bool(held.str.contains(pattern).any())


class IdentifiersFound:
    """Finds identifiers of plots.

    Parameters
    ----------
    names : iterable of str
        Identifiers. One of digits without a leading zero is looked for only in columns headed as plots, since it
        may be any number elsewhere; one with letters and digits also within texts; all others as whole cells.
    allowed : iterable of str
        Texts that may stand as a whole.
    headings : iterable of str
        What columns of plots are called.
    """

    def __init__(self, names: Iterable[str], allowed: Iterable[str], headings: Iterable[str]) -> None:
        free = {folded(text) for text in allowed}
        every = {folded(name) for name in names} - {""}
        told = sorted(every - free)
        self.untold = len(every) - len(told)
        self._headings = {folded(heading) for heading in headings}
        self._any = pl.Series(told, dtype=pl.String)
        self._cells = pl.Series([name for name in told if not _is_plain_number(name)], dtype=pl.String)
        self._words = pl.Series([name for name in told if _is_distinctive(name)], dtype=pl.String)

    def in_texts(self, texts: pl.Series, heading: str = "", *, of_bytes: bool = False) -> bool:
        """Say whether any text is an identifier of a plot, or holds a distinctive one."""
        plain = plain_texts(texts)
        wanted = self._any if folded(heading) in self._headings else self._cells
        if not of_bytes and plain.is_in(wanted.implode()).any():
            return True
        if not self._words.len():
            return False
        words = plain.str.extract_all(_WORD).explode().drop_nulls().unique()
        return bool(words.is_in(self._words.implode()).any())


def plain_texts(texts: pl.Series) -> pl.Series:
    """Return texts without accents, capitals and blanks at their ends, as `folded` does for one."""
    lower = texts.str.to_lowercase().str.replace_all("ß", "ss", literal=True).str.normalize("NFKD")
    return lower.str.replace_all(r"\p{M}", "").str.replace_all(r"\s+", " ").str.strip_chars()


def _pattern(phrases: list[str]) -> str:
    """Return what finds any phrase between word boundaries; empty where there is none."""
    joined = "|".join(re.escape(phrase) for phrase in phrases)
    return f"(?:^|{_EDGE})(?:{joined})(?:$|{_EDGE})" if joined else ""


def _is_plain_number(name: str) -> bool:
    """Say whether an identifier looks like any number."""
    return re.fullmatch(r"[1-9][0-9]*([.,][0-9]+)?|0", name) is not None


def _is_distinctive(name: str) -> bool:
    """Say whether an identifier is one wherever it stands."""
    has_both = re.search(r"[^\W\d_]", name) and re.search(r"\d", name)
    return bool(has_both) and len(name) >= _LEAST and re.fullmatch(r"[\w./-]+", name) is not None
