"""The one rule that says which size class a stem is in; printed as ``10–<20``."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise
from typing import Literal

import polars as pl

_DECIMALS = 6
"""Sizes are compared after rounding to a hundred-millionth of a metre: 29.999 999 999 9 is 30."""
_OPEN_LABEL = re.compile(r"^(?:(?:≥|>=?)\s*(\d+(?:[.,]\d+)?)|(\d+(?:[.,]\d+)?)\s*(?:cm\s*)?\+)(?:\s*cm)?$")
_LABEL = re.compile(r"^[<>≥≤]?\s*(\d+(?:[.,]\d+)?)\s*(?:–|—|-|to)\s*[<>≥≤]?\s*(\d+(?:[.,]\d+)?)(?:\s*cm)?$")


class ClassMeasure(StrEnum):
    """What the classes are edges of."""

    DIAMETER = "diameter"
    GIRTH = "girth"


class ClassEdge(StrEnum):
    """Which edge belongs to the class."""

    LOWER = "lower"
    UPPER = "upper"


@dataclass(frozen=True, slots=True)
class ClassRule:
    """Size classes of equal width from zero, or between stated edges.

    Attributes
    ----------
    width_cm : float or None
        Width of every class, in cm; None where `edges_cm` are given.
    edges_cm : tuple of float
        Rising edges in cm; sizes outside fall in an open class below or above. Empty with `width_cm`.
    on : ClassMeasure
        Whether the edges are of diameters or of girths.
    edge : ClassEdge
        ``LOWER``: 10 is in 10–<20. ``UPPER``: 20 is in >10–20.
    """

    width_cm: float | None = 5.0
    edges_cm: tuple[float, ...] = ()
    on: ClassMeasure = ClassMeasure.DIAMETER
    edge: ClassEdge = ClassEdge.LOWER

    @property
    def diameter_per_size(self) -> float:
        """What a size in the rule's measure is multiplied by to be a diameter: 1, or 1/π for girths."""
        return 1.0 / math.pi if self.on is ClassMeasure.GIRTH else 1.0

    def index(self, dbh_cm: pl.Expr) -> pl.Expr:
        """Return the whole number that orders the classes, from diameters in cm.

        With `width_cm` it counts widths from zero; with `edges_cm` it is 0 between the first two edges,
        −1 below them all. Missing where the diameter is.
        """
        size = (dbh_cm * math.pi if self.on is ClassMeasure.GIRTH else dbh_cm).round(_DECIMALS)
        lower = self.edge is ClassEdge.LOWER
        if self.width_cm is not None:
            steps = (size / self.width_cm).round(_DECIMALS)
            return (steps.floor() if lower else steps.ceil() - 1).cast(pl.Int32)
        edges = pl.Series(self.edges_cm, dtype=pl.Float64)
        side: Literal["left", "right"] = "right" if lower else "left"
        found = size.map_batches(
            lambda sizes: pl.Series(edges.search_sorted(sizes, side=side)).cast(pl.Int32) - 1,
            return_dtype=pl.Int32,
            is_elementwise=True,
        )
        return pl.when(size.is_not_null()).then(found)

    def low_cm(self, index: int) -> float | None:
        """Return the lower edge of a class in cm of the rule's measure, None where it is open below."""
        if self.width_cm is not None:
            return index * self.width_cm
        return self.edges_cm[index] if index >= 0 else None

    def high_cm(self, index: int) -> float | None:
        """Return the upper edge of a class in cm of the rule's measure, None where it is open above."""
        if self.width_cm is not None:
            return (index + 1) * self.width_cm
        return self.edges_cm[index + 1] if index + 1 < len(self.edges_cm) else None

    def label(self, index: int) -> str:
        """Return the class as it is printed: ``10–<20`` or ``>10–20``; ``≥45`` where open above."""
        low, high = self.low_cm(index), self.high_cm(index)
        lower = self.edge is ClassEdge.LOWER
        if low is None:
            return f"<{high:g}" if lower else f"≤{high:g}"
        if high is None:
            return f"≥{low:g}" if lower else f">{low:g}"
        return f"{low:g}–<{high:g}" if lower else f">{low:g}–{high:g}"

    def short_label(self, index: int) -> str:
        """Return the edge that belongs to a class, in cm; the whole label where the class is open at that end."""
        edge = self.low_cm(index) if self.edge is ClassEdge.LOWER else self.high_cm(index)
        return self.label(index) if edge is None else f"{edge:g}"

    def span(self, lows_cm: Iterable[float | None]) -> range:
        """Return every class from the lowest to the highest of those with these lower edges, also between them.

        Parameters
        ----------
        lows_cm : iterable of float or None
            Lower edges in cm of the rule's measure, None of a class that is open below.
        """
        if self.width_cm is not None:
            width = self.width_cm
            found = [round(low / width) for low in lows_cm if low is not None]
        else:
            found = [-1 if low is None else self.edges_cm.index(low) for low in lows_cm]
        return range(min(found), max(found) + 1) if found else range(0)

    def describe(self) -> str:
        """Return the rule in one line for legends and reports."""
        what = "girth" if self.on is ClassMeasure.GIRTH else "diameter"
        belongs = "lower" if self.edge is ClassEdge.LOWER else "upper"
        size = (
            f"{self.width_cm:g} cm wide"
            if self.width_cm is not None
            else "with edges at " + ", ".join(f"{edge:g}" for edge in self.edges_cm) + " cm"
        )
        return f"{what} classes {size}; the {belongs} edge belongs to the class"

    def frame(self, indexes: pl.Series) -> pl.DataFrame:
        """Return one row for each of the class indexes given.

        Parameters
        ----------
        indexes : polars.Series of int
            Class indexes, each once.

        Returns
        -------
        polars.DataFrame
            ``class_index``, ``class`` (label), ``low_cm`` and ``high_cm`` (missing where open).
        """
        numbers: list[int] = indexes.to_list()
        return pl.DataFrame(
            {
                "class_index": numbers,
                "class": [self.label(number) for number in numbers],
                "low_cm": [self.low_cm(number) for number in numbers],
                "high_cm": [self.high_cm(number) for number in numbers],
            },
            schema={"class_index": pl.Int32, "class": pl.String, "low_cm": pl.Float64, "high_cm": pl.Float64},
        )

    def edges_of_label(self, label: str) -> tuple[float, float] | None:
        """Return the edges in cm that a written class names, or None where it is no class of this rule.

        ``10–<20``, ``10-20``, ``10 to 20`` and ``>10–20`` all name the class from 10 to 20; ``≥45``, ``>45``,
        ``>=45`` and ``45+`` the class above a last edge of 45, whose upper edge is infinite.
        """
        if opened := _OPEN_LABEL.match(label.strip()):
            low = float((opened[1] or opened[2]).replace(",", "."))
            return (low, math.inf) if self.edges_cm and low == self.edges_cm[-1] else None
        found = _LABEL.match(label.strip())
        if found is None:
            return None
        low, high = (float(part.replace(",", ".")) for part in found.groups())
        return (low, high) if self._is_class(low, high) else None

    def _is_class(self, low: float, high: float) -> bool:
        """Say whether low to high is exactly one class of the rule."""
        if self.width_cm is not None:
            steps = low / self.width_cm
            return math.isclose(high - low, self.width_cm) and math.isclose(
                steps, round(steps), abs_tol=10**-_DECIMALS
            )
        return (low, high) in set(pairwise(self.edges_cm))


@dataclass(frozen=True, slots=True)
class Band:
    """A painted colour band: stems from `low_cm` to `high_cm` in the class rule's measure.

    Attributes
    ----------
    name : str
        As the tallies write it.
    low_cm, high_cm : float
        Edges in cm of the class rule's measure; `high_cm` is infinite where the band is open above.
    mean_cm : float or None
        Stated mean of the sizes in a band that is open above, in cm; None for all others.
    letter : str
        One or two characters that name the band without its colour; empty where none was given out.
    colour : str or None
        Paint as ``#rrggbb``; None where not stated.
    """

    name: str
    low_cm: float
    high_cm: float
    mean_cm: float | None = None
    letter: str = ""
    colour: str | None = None
