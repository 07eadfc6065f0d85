"""How a table is declared: every column once, with its unit, its range and what it means.

Reading, checks, headings of the results, GeoPackage descriptions and the documents all use these
declarations; nothing about a column is written down a second time.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from plotmap.units import Dimension


class Kind(StrEnum):
    """What the cells of a column hold."""

    IDENTIFIER = "identifier"  # text that names something: "001", "10E2" and "NA" stay as they are
    TEXT = "text"
    NUMBER = "number"
    COUNT = "count"  # whole number
    DATE = "date"  # ISO 8601
    CHOICE = "choice"
    GEOMETRY = "geometry"


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a table.

    Attributes
    ----------
    name : str
        Spelling in files, code and results; ends in its unit where it has one.
    kind : Kind
        What the cells hold.
    title : str
        Heading for people, without the unit.
    meaning : str
        One sentence: what the value is, and what a missing one means.
    unit : str
        As printed (``cm``, ``m²/ha``), empty where there is none.
    dimension : Dimension or None
        Where set, a file may give the column in any unit of this dimension, by the heading's suffix.
    required : bool
        The heading must be there and no cell may be blank.
    low, high : float or None
        Smallest and largest value allowed, both allowed themselves, in `unit`.
    choices : tuple of str
        The words allowed, for ``CHOICE``.
    explained : tuple of str
        What each of `choices` means; empty where they need no words.
    numbered : bool
        The column may come several times with a number: ``d1_cm``, ``d2_cm``, …; `name` is written
        with ``d`` + ``_cm``.
    """

    name: str
    kind: Kind
    title: str
    meaning: str
    unit: str = ""
    dimension: Dimension | None = None
    required: bool = False
    low: float | None = None
    high: float | None = None
    choices: tuple[str, ...] = ()
    explained: tuple[str, ...] = ()
    numbered: bool = False

    @property
    def heading(self) -> str:
        """Title with its unit, as results print it: ``Basal area (m²/ha)``."""
        return f"{self.title} ({self.unit})" if self.unit else self.title

    @property
    def base(self) -> str:
        """Name without the unit suffix: ``girth`` for ``girth_cm``."""
        return self.name.rpartition("_")[0] if self.dimension else self.name

    @property
    def suffix(self) -> str:
        """Unit suffix of the name: ``cm`` for ``girth_cm``, empty where there is no dimension."""
        return self.name.rpartition("_")[2] if self.dimension else ""

    @property
    def allowed(self) -> str:
        """What is allowed, in words for messages: ``3 to 600 cm``."""
        if self.choices:
            return ", ".join(self.choices)
        unit = f" {self.unit}" if self.unit else ""
        if self.low is not None and self.high is not None:
            return f"{self.low:g} to {self.high:g}{unit}"
        if self.low is not None:
            return f"{self.low:g}{unit} or more"
        return f"at most {self.high:g}{unit}" if self.high is not None else f"any {self.kind}"


@dataclass(frozen=True, slots=True)
class Table:
    """One table: its name, what a row is, and its columns in the order they are written.

    Attributes
    ----------
    name : str
        File, sheet or layer name.
    title : str
        For people.
    row_is : str
        What one row stands for.
    columns : tuple of Column
        Every column, in order.
    key : tuple of str
        Names of the columns that together name one row.
    """

    name: str
    title: str
    row_is: str
    columns: tuple[Column, ...]
    key: tuple[str, ...] = field(default=())

    def __getitem__(self, name: str) -> Column:
        """Return the column called `name`.

        Raises
        ------
        KeyError
            The table declares no such column.
        """
        for column in self.columns:
            if column.name == name:
                return column
        raise KeyError(f"table {self.name} declares no column {name}")

    @property
    def names(self) -> list[str]:
        """Names of the columns, in order."""
        return [column.name for column in self.columns]


def number(name: str, title: str, unit: str, meaning: str) -> Column:
    """Declare a number of a result table; `unit` may be empty."""
    return Column(name, Kind.NUMBER, title, meaning, unit=unit)


def count(name: str, title: str, meaning: str) -> Column:
    """Declare a whole number of a result table."""
    return Column(name, Kind.COUNT, title, meaning)


def text(name: str, title: str, meaning: str, words: Mapping[str, str] | None = None) -> Column:
    """Declare a text of a result table; a choice where `words` say what it can be, each with its meaning."""
    if words is None:
        return Column(name, Kind.TEXT, title, meaning)
    return Column(name, Kind.CHOICE, title, meaning, choices=tuple(words), explained=tuple(words.values()))
