"""What a report is made of, without a thought of paper or screen."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

TextKind = Literal["plain", "note", "bullet", "heading"]


@dataclass(frozen=True, slots=True)
class Text:
    """Words: a paragraph, a note in small letters, one item of a list, or a heading within a section."""

    words: str
    kind: TextKind = "plain"


@dataclass(frozen=True, slots=True)
class Facts:
    """Pairs of a term and what is said of it."""

    pairs: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Head:
    """Heading of a column.

    Attributes
    ----------
    words : str
        With the unit.
    share : float
        Part of the width of the table; the shares of a table need not add up to 1.
    numeric : bool
        Figures, set to the right.
    """

    words: str
    share: float
    numeric: bool = False


@dataclass(frozen=True, slots=True)
class TableBlock:
    """A table; the first cell of a row says what the row is of.

    Attributes
    ----------
    title : str
        What the table holds.
    heads : tuple of Head
        Its columns.
    rows : tuple of tuple of str
        As many cells as heads.
    n_bold : int
        Rows at the top that stand out: totals.
    note : str
        Below the table; may be empty.
    is_quiet : bool
        The title is only for those who do not see the table.
    """

    title: str
    heads: tuple[Head, ...]
    rows: tuple[tuple[str, ...], ...]
    n_bold: int = 0
    note: str = ""
    is_quiet: bool = False

    @property
    def shown_title(self) -> str:
        """The title, empty where it is not shown or only repeats the first heading."""
        return "" if self.is_quiet or self.title == self.heads[0].words else self.title


Block = Text | Facts | TableBlock


@dataclass(frozen=True, slots=True)
class Section:
    """A part of the report with a heading; `key` names the place that links lead to."""

    key: str
    title: str
    blocks: tuple[Block, ...]
