"""Sizes of paper, and boxes on it. All lengths are millimetres from the lower left corner of the page."""

from __future__ import annotations

from dataclasses import dataclass

from plotmap.errors import SettingsError
from plotmap.model.paper import ORIENTATIONS, SIZES_MM

POINTS_PER_MM = 72 / 25.4
"""A point of PDF is 1/72 inch (ISO 32000-1, 8.3.2.3)."""


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle on the page, in mm."""

    left_mm: float
    bottom_mm: float
    width_mm: float
    height_mm: float

    @property
    def right_mm(self) -> float:
        """Right edge."""
        return self.left_mm + self.width_mm

    @property
    def top_mm(self) -> float:
        """Upper edge."""
        return self.bottom_mm + self.height_mm

    @property
    def centre_mm(self) -> tuple[float, float]:
        """Middle, from the left and from the bottom."""
        return self.left_mm + self.width_mm / 2, self.bottom_mm + self.height_mm / 2

    def inset(self, by_mm: float) -> Box:
        """Return the box that is smaller by so much on each side."""
        return Box(
            self.left_mm + by_mm,
            self.bottom_mm + by_mm,
            self.width_mm - 2 * by_mm,
            self.height_mm - 2 * by_mm,
        )

    def split_top(self, height_mm: float) -> tuple[Box, Box]:
        """Return the upper part, so high, and the rest below it."""
        rest = self.height_mm - height_mm
        return (
            Box(self.left_mm, self.bottom_mm + rest, self.width_mm, height_mm),
            Box(self.left_mm, self.bottom_mm, self.width_mm, rest),
        )

    def split_bottom(self, height_mm: float) -> tuple[Box, Box]:
        """Return the lower part, so high, and the rest above it."""
        rest, lower = self.split_top(self.height_mm - height_mm)
        return lower, rest

    def split_left(self, width_mm: float) -> tuple[Box, Box]:
        """Return the left part, so wide, and the rest beside it."""
        return (
            Box(self.left_mm, self.bottom_mm, width_mm, self.height_mm),
            Box(self.left_mm + width_mm, self.bottom_mm, self.width_mm - width_mm, self.height_mm),
        )

    def split_right(self, width_mm: float) -> tuple[Box, Box]:
        """Return the right part, so wide, and the rest beside it."""
        rest, right = self.split_left(self.width_mm - width_mm)
        return right, rest


@dataclass(frozen=True, slots=True)
class Paper:
    """A sheet of paper as it is held.

    Attributes
    ----------
    name : str
        ``A3``.
    width_mm, height_mm : float
        As it is held: a landscape sheet is wider than high.
    """

    name: str
    width_mm: float
    height_mm: float

    @property
    def box(self) -> Box:
        """The whole page."""
        return Box(0.0, 0.0, self.width_mm, self.height_mm)


def paper(size: str, orientation: str = "portrait") -> Paper:
    """Return a sheet of paper by its name.

    Parameters
    ----------
    size : str
        Name of `SIZES_MM`, in any case of letters.
    orientation : str
        ``portrait`` or ``landscape``.

    Raises
    ------
    SettingsError
        There is no such size or orientation.
    """
    names = {name.lower(): name for name in SIZES_MM}
    name = names.get(size.strip().lower())
    if name is None:
        raise SettingsError(f"paper size {size!r}: not known. Give one of {', '.join(SIZES_MM)}.")
    if orientation not in ORIENTATIONS:
        raise SettingsError(f"orientation {orientation!r}: not known. Give one of {', '.join(ORIENTATIONS)}.")
    short, long = SIZES_MM[name]
    return Paper(name, short, long) if orientation == "portrait" else Paper(name, long, short)
