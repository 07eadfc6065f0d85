"""Bands as they are painted: their marks, and where an instrument reads their edges."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import cycle
from typing import TYPE_CHECKING

import polars as pl

from plotmap.errors import SettingsError
from plotmap.model.class_rule import Band
from plotmap.model.field_papers import (
    COLOURS,
    PATTERNS,
    BandStrip,
    InstrumentState,
    MarkedBand,
    PaintedBand,
)
from plotmap.model.field_tables import CALIPER, TAPE, UNDER
from plotmap.model.findings import Findings
from plotmap.model.settings import band_letters
from plotmap.stems.bands import MIN_DISTANCE, VISIONS, band_findings, colour_distance
from plotmap.stems.instrument_checks import MM_PER_CM, read_checks
from plotmap.stems.tally_classes import largest_cm, to_diameter

if TYPE_CHECKING:
    from plotmap.model.settings import Settings
    from plotmap.model.survey import Survey


def instrument_state(survey: Survey, instrument: str) -> tuple[InstrumentState, Findings]:
    """Return what the last check of an instrument says of it.

    Parameters
    ----------
    survey : Survey
        Reads the instruments and the settings of the stems.
    instrument : str
        Its mark, as the instruments table writes it.

    Returns
    -------
    state : InstrumentState
        Zero and gain from the last day of its checks on; what that day lacks is that of the check before.
    findings : Findings
        About the checks of this instrument.

    Raises
    ------
    SettingsError
        The instruments table has no dated check of it.
    """
    source = survey.sources.get("instruments", "instruments")
    checks, found = read_checks(survey.instruments, survey.settings.stems, source)
    own = checks.filter(pl.col("instrument") == instrument).sort("date")
    if own.is_empty():
        known = checks["instrument"].unique(maintain_order=True).to_list()
        those = f"Checked are {', '.join(known)}." if known else f"{source} holds no check."
        raise SettingsError(
            f"instrument {instrument!r}: there is no dated check of it in {source}. {those} Name one of them, or "
            "leave the instrument out for bands without a correction."
        )
    last = own.row(-1, named=True)
    rows = own["source_row"].to_list()
    told = Findings(found.frame.filter(pl.col("row").is_in(rows)))
    state = InstrumentState(
        instrument, str(last["kind"]), float(last["zero_cm"]), float(last["gain"]), last["date"]
    )
    return state, told


def reading_cm(size_cm: float, state: InstrumentState, settings: Settings) -> float:
    """Return what an instrument shows on a stem of a true size.

    Readings become sizes by (reading − zero) · gain (`plotmap.stems.instruments.corrected`); this is the way back:
    reading = size / gain + zero, the size being the diameter for a caliper and the girth for a tape.

    Parameters
    ----------
    size_cm : float
        In cm of the class rule's measure.
    state : InstrumentState
        Zero and gain.
    settings : Settings
        Their class rule says whether sizes are diameters or girths.
    """
    diameter = size_cm * to_diameter(settings.class_rule)
    size = diameter * math.pi if state.kind == TAPE else diameter
    return size / state.gain + state.zero_cm


def band_marks(settings: Settings, up_to_cm: float) -> tuple[MarkedBand, ...]:
    """Return the bands of the settings, or else the size classes, with letter, colour and pattern.

    Bands without a colour of their own get the next of `COLOURS` that is far enough from those the settings give.
    Size classes get the letters A, B, … from the first that holds stems of the smallest diameter on.

    Parameters
    ----------
    settings : Settings
        Bands, class rule and smallest diameter.
    up_to_cm : float
        Diameter that the size classes reach, in cm.

    Returns
    -------
    tuple of MarkedBand
        In the order of their sizes; none where the smallest diameter lies above `up_to_cm`.
    """
    bands = settings.bands or tuple(_classes(settings, up_to_cm))
    given = [band.colour for band in bands if band.colour]
    far = _far_from(given)
    free = cycle(far if len(far) > 1 else COLOURS)
    return tuple(
        MarkedBand(
            band.name,
            band.letter,
            band.colour or next(free),
            PATTERNS[number % len(PATTERNS)],
            band.low_cm,
            band.high_cm,
        )
        for number, band in enumerate(bands)
    )


def colour_findings(marks: tuple[MarkedBand, ...], settings: Settings) -> Findings:
    """Find bands whose colours are hard to tell apart; colours given out twice on purpose are passed over."""
    own = {band.name for band in settings.bands if band.colour}
    shown: list[Band] = []
    for mark in marks:
        if mark.name in own or mark.colour not in {band.colour for band in shown}:
            shown.append(
                Band(mark.name, mark.low_cm, mark.high_cm, letter=mark.letter, colour=mark.colour.lower())
            )
    return band_findings(shown)


def band_strip(survey: Survey, state: InstrumentState, up_to_cm: float) -> BandStrip:
    """Return the bands where an instrument reads their edges.

    Parameters
    ----------
    survey : Survey
        Reads the settings only.
    state : InstrumentState
        Zero and gain.
    up_to_cm : float
        Diameter that size classes and bands open above reach, in cm.

    Returns
    -------
    BandStrip
        Bands in the order of their readings; lower edges below the instrument's 0 are at 0.

    Raises
    ------
    SettingsError
        There is no band, or one lies wholly below the instrument's 0.
    """
    settings = survey.settings
    marks = band_marks(settings, up_to_cm)
    if not marks:
        raise SettingsError(
            f"up-to is {up_to_cm:g} cm, but stems are measured from {settings.stems.min_dbh_cm:g} cm on, so there is "
            "no class in between: give more."
        )
    end = reading_cm(up_to_cm / to_diameter(settings.class_rule), state, settings)
    bands = tuple(_painted(mark, state, settings, end) for mark in marks)
    return BandStrip(
        settings.survey.title.strip(),
        state,
        bands,
        bool(settings.bands),
        settings.class_rule.on.value == "girth",
        settings.class_rule.edge.value == "lower",
        settings.stems.bark == UNDER,
    )


def plain_state(settings: Settings, kind: str | None) -> InstrumentState:
    """Return any instrument, without correction: a tape where classes are of girths and nothing else is asked for."""
    return InstrumentState("", kind or (TAPE if settings.class_rule.on.value == "girth" else CALIPER))


def _painted(mark: MarkedBand, state: InstrumentState, settings: Settings, end_cm: float) -> PaintedBand:
    """Return a band where the instrument reads its edges."""
    low = reading_cm(mark.low_cm, state, settings)
    is_open = math.isinf(mark.high_cm)
    high = max(end_cm, low + 2.0) if is_open else reading_cm(mark.high_cm, state, settings)
    if high <= 0:
        raise SettingsError(
            f"band {mark.name} ends at {mark.high_cm:g} cm, which instrument {state.instrument} reads below its 0 "
            f"(zero {state.zero_cm * MM_PER_CM:g} mm): adjust the instrument, or begin with thicker stems."
        )
    return PaintedBand(mark, max(low, 0.0), high, is_open)


def _far_from(given: list[str]) -> list[str]:
    """Return the default colours that are far enough from all given ones."""
    return [
        colour
        for colour in COLOURS
        if all(
            colour_distance(colour, other, vision) >= MIN_DISTANCE for other in given for vision in VISIONS
        )
    ]


def _classes(settings: Settings, up_to_cm: float) -> Iterator[Band]:
    """Yield the size classes that stems can be tallied in, up to a diameter, with letters."""
    rule = settings.class_rule
    per = to_diameter(rule)
    smallest, largest = settings.stems.min_dbh_cm / per, min(up_to_cm / per, largest_cm(rule))
    letters = band_letters()
    last = len(rule.edges_cm) - 1 if rule.edges_cm else math.ceil(round(largest / (rule.width_cm or 1), 6))
    for index in range(last + (1 if rule.edges_cm else 0)):
        low, high = rule.low_cm(index), rule.high_cm(index)
        if low is None or low >= largest or (high is not None and round(high, 6) <= smallest):
            continue
        if high is None and settings.classes.top_mean_cm is None:
            continue
        yield Band(rule.label(index), low, math.inf if high is None else high, letter=next(letters))
