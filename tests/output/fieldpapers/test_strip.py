"""The strip of class bands, measured in the PDF."""

from __future__ import annotations

from itertools import combinations, pairwise
from pathlib import Path

import numpy as np
import pytest

from plotmap.errors import OutputError
from plotmap.model.field_papers import PATTERNS, InstrumentState, MarkedBand
from plotmap.output.fieldpapers import write_bands
from plotmap.output.fieldpapers.patterns import draw_band
from plotmap.output.fieldpapers.strip import OVERLAP_MM, pieces_mm
from plotmap.output.paper.sizes import Box
from plotmap.stems.painted import band_strip, plain_state
from tests.output.paper.map_page import drawn
from tests.output.paper.pdf_pages import Shape, filled, n_pages, picture, words
from tests.survey_example import survey_example

BANDS = [
    {"name": "first", "low_cm": 10, "high_cm": 20, "colour": "#ff0000"},
    {"name": "second", "low_cm": 20, "high_cm": 37.5, "colour": "#0000ff"},
]


def strip(path: Path, state: InstrumentState | None = None, size: str = "A4", **settings: object) -> bytes:
    survey = survey_example(settings={"classes": {"bands": BANDS}, **settings})  # type: ignore[dict-item]
    made = band_strip(survey, state or plain_state(survey.settings, "caliper"), 80.0)
    write_bands(made, path / "bands.pdf", survey.settings, size=size)
    return (path / "bands.pdf").read_bytes()


def of(content: bytes, colour: str, page: int = 1) -> list[Shape]:
    return [shape for shape in filled(content, page) if shape.colour == colour]


def test_a_band_of_100_mm_is_100_mm_on_the_page(tmp_path: Path) -> None:
    (red,) = of(strip(tmp_path), "#ff0000")
    assert red.width_mm == pytest.approx(100.0, abs=0.1)


@pytest.mark.parametrize("size", ["A4", "Letter", "A3"])
def test_the_check_ruler_is_200_mm_long(tmp_path: Path, size: str) -> None:
    content = strip(tmp_path, size=size)
    for page in range(n_pages(content)):
        black = [shape for shape in of(content, "#000000", page) if shape.width_mm > 9]
        assert len(black) == 10  # every second centimetre
        low, high = min(shape.left_mm for shape in black), max(shape.right_mm for shape in black)
        assert high - low == pytest.approx(190.0, abs=0.1)  # the last centimetre is white
        assert all(shape.width_mm == pytest.approx(10.0, abs=0.05) for shape in black)


def test_edges_are_shifted_by_zero_and_gain(tmp_path: Path) -> None:
    state = InstrumentState("K1", "caliper", zero_cm=0.5, gain=0.98)
    content = strip(tmp_path, state)
    (red,) = of(content, "#ff0000")
    scale_0 = min(shape.left_mm for shape in of(strip(tmp_path), "#ff0000")) - 100  # its band begins at 10 cm
    assert red.left_mm - scale_0 == pytest.approx(10 * (10 / 0.98 + 0.5), abs=0.1)  # by hand
    assert red.right_mm - scale_0 == pytest.approx(10 * (20 / 0.98 + 0.5), abs=0.1)
    said = words(content)
    assert "zero +5.00 mm, gain 0.9800" in " ".join(said.split())
    assert "leave the column instrument blank" in " ".join(said.split())


def test_a_tape_is_painted_in_girth(tmp_path: Path) -> None:
    content = strip(tmp_path, InstrumentState("", "tape"))
    reds = of(content, "#ff0000")
    first = next(shape for shape in reds if shape.width_mm < 314)
    assert len(reds) >= 2  # π · 10 cm are longer than what is left of the first piece
    assert first.height_mm == pytest.approx(10.0, abs=0.1)
    assert "31.42 – 62.83" in words(content)  # π · 10 and π · 20 cm


def test_pieces_overlap_and_cover_the_strip() -> None:
    pieces = pieces_mm(612.5, 250.0)
    assert pieces == [(0.0, 250.0), (240.0, 490.0), (480.0, 612.5)]
    assert all(one[1] - other[0] == OVERLAP_MM for one, other in pairwise(pieces))
    assert pieces_mm(250.0, 250.0) == [(0.0, 250.0)]


def test_bands_longer_than_the_page_go_on_in_the_next_piece(tmp_path: Path) -> None:
    content = strip(tmp_path)
    blues = of(content, "#0000ff")
    room = 297 - 2 * 12 - 2 * 8  # A4 landscape less margins: 257 mm
    # by hand: 200 to 257 on the first piece; the second begins 10 mm before, 247 to 375
    assert [round(shape.width_mm, 1) for shape in blues] == [room - 200, 375 - (room - 10)]
    assert "Piece 1 of 2" in words(content, 1)


def test_the_same_strip_gives_the_same_bytes(tmp_path: Path) -> None:
    assert strip(tmp_path) == strip(tmp_path)


def test_ruler_edges_and_cautions_are_said(tmp_path: Path) -> None:
    said = " ".join(words(strip(tmp_path)).split())
    for part in (
        "Print at 100 %",
        "do not use",
        "ventilation",
        "Gloves",
        "Never cover the scale",
        "belongs to the band above",
    ):
        assert part.lower() in said.lower()
    assert "No correction" in said
    said = " ".join(words(strip(tmp_path, stems={"bark": "under"})).split())
    assert "must be sizes under bark" in said


def test_the_rule_of_the_upper_edge_is_said(tmp_path: Path) -> None:
    survey = survey_example(settings={"classes": {"width_cm": 10, "edge": "upper"}})
    write_bands(
        band_strip(survey, plain_state(survey.settings, None), 40.0), tmp_path / "b.pdf", survey.settings
    )
    said = " ".join(words((tmp_path / "b.pdf").read_bytes()).split())
    assert "belongs to the band below it" in said
    assert "not the letter" in said  # classes have letters that no tally knows


def test_a_foreign_pdf_is_not_replaced(tmp_path: Path) -> None:
    (tmp_path / "bands.pdf").write_bytes(b"%PDF-1.4 by hand")
    with pytest.raises(OutputError, match="plotmap did not write it"):
        strip(tmp_path)


def test_every_two_patterns_differ_on_a_grey_copy() -> None:
    """Same colour, no letter: what is left to tell two bands apart is the pattern alone."""
    grey = {}
    for pattern in PATTERNS:
        mark = MarkedBand("x", "", "#909090", pattern, 0, 1)
        content = drawn(lambda pen, mark=mark: draw_band(pen, Box(20, 20, 40, 16), mark, 5.0))
        shown = picture(content).mean(axis=2)
        grey[pattern] = shown[-36 * 4 : -20 * 4, 20 * 4 : 60 * 4]
    for one, other in combinations(PATTERNS, 2):
        assert np.mean(np.abs(grey[one] - grey[other]) > 60) > 0.05, (one, other)
