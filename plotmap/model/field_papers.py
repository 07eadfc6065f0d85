"""What papers for the crew hold: bands as they are painted, and the instrument they are painted for."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Literal

Pattern = Literal["plain", "rising", "dots", "level", "falling", "upright", "crossed", "grid"]
PATTERNS: tuple[Pattern, ...] = (
    "plain",
    "rising",
    "dots",
    "level",
    "falling",
    "upright",
    "crossed",
    "grid",
)
"""Patterns of bands in their order. One more than there are colours, so that both together come again late."""
COLOURS = ("#f4e000", "#30246c", "#e05a00", "#80e0ff", "#6c1400", "#6c8c8c", "#c040ff")
"""Colours of bands without one of their own, in their order: every two are 26 or more apart in CAM02-UCS, whatever
the vision (own choice; computed, see `plotmap.stems.bands`)."""
UP_TO_CM = 80.0
"""Diameter that bands and boxes reach where nothing says otherwise."""


@dataclass(frozen=True, slots=True)
class InstrumentState:
    """A caliper or tape, and what its last check says of it.

    Attributes
    ----------
    instrument : str
        Its mark; empty for any instrument, without correction.
    kind : str
        ``caliper`` or ``tape``.
    zero_cm : float
        Reading with the jaws closed, in cm of the instrument (of a tape: of girth).
    gain : float
        True size over reading less the zero.
    checked_on : datetime.date or None
        Day of the check; None without one.
    """

    instrument: str
    kind: str
    zero_cm: float = 0.0
    gain: float = 1.0
    checked_on: dt.date | None = None


@dataclass(frozen=True, slots=True)
class MarkedBand:
    """A painted band or a size class with its letter, colour and pattern.

    Attributes
    ----------
    name : str
        As the tallies write it.
    letter : str
        Names it without its colour.
    colour : str
        ``#rrggbb``.
    pattern : str
        Of `PATTERNS`.
    low_cm, high_cm : float
        Edges in cm of the class rule's measure; `high_cm` infinite where open above.
    """

    name: str
    letter: str
    colour: str
    pattern: Pattern
    low_cm: float
    high_cm: float


@dataclass(frozen=True, slots=True)
class PaintedBand:
    """A band where the instrument reads its edges.

    Attributes
    ----------
    mark : MarkedBand
        What is painted.
    low_reading_cm, high_reading_cm : float
        What the instrument shows at the edges, in cm of its own scale; where the band is open above, the end of the
        strip.
    is_open : bool
        Whether the band goes on beyond the strip.
    """

    mark: MarkedBand
    low_reading_cm: float
    high_reading_cm: float
    is_open: bool


@dataclass(frozen=True, slots=True)
class BandStrip:
    """A strip of bands for one instrument.

    Attributes
    ----------
    title : str
        Of the survey; may be empty.
    state : InstrumentState
        What the edges are shifted by.
    bands : tuple of PaintedBand
        In the order of their sizes.
    of_settings : bool
        True for ``[classes] bands``; False for size classes, whose letters no tally knows.
    on_girth : bool
        Whether the classes are of girths.
    lower_belongs : bool
        Whether a stem exactly at an edge is in the band above it.
    under_bark : bool
        Whether results are under bark.
    """

    title: str
    state: InstrumentState
    bands: tuple[PaintedBand, ...]
    of_settings: bool
    on_girth: bool
    lower_belongs: bool
    under_bark: bool
