"""Reports of large surveys: what is left out and said, and that memory does not grow with the pages."""

from __future__ import annotations

import tracemalloc
from pathlib import Path

import pypdfium2
import pytest

from plotmap.model.settings_report import CARDS_MOST, ReportSection
from plotmap.output.report import write_report_pdf
from tests.output.report.reports import html_of, pdf_lines, pdf_of, with_settings
from tests.output.webmap.larger_stand import larger_stand
from tests.stand_example import stand_example


@pytest.mark.parametrize(
    ("cards", "n", "expected"),
    [
        ("auto", CARDS_MOST, True),
        ("auto", CARDS_MOST + 1, False),
        ("all", CARDS_MOST + 1, True),
        ("none", 1, False),
    ],
)
def test_cards_are_written_up_to_the_stated_number_unless_asked(
    cards: str, n: int, *, expected: bool
) -> None:
    assert ReportSection.model_validate({"cards": cards}).has_cards(n) is expected


def test_both_reports_say_why_the_cards_are_left_out(tmp_path: Path) -> None:
    stand = with_settings(stand_example(), report={"cards": "none"})
    said = 'The cards of the compartments are left out, as the settings say ([report] cards = "none").'
    assert said in " ".join(pdf_lines(pdf_of(stand, tmp_path)))
    page = html_of(stand, tmp_path)
    assert "The cards of the compartments are left out" in page
    assert "<article" not in page


def test_a_survey_of_many_compartments_has_all_of_them_in_its_table_and_no_cards(tmp_path: Path) -> None:
    stand = stand_example(23)
    content = pdf_of(stand, tmp_path)
    lines = pdf_lines(content)
    assert "more than 500: their cards are left out" in " ".join(lines)
    for name in stand.compartments["compartment"]:
        assert any(line.startswith(f"{name} Block {name}") for line in lines), name
    heads = [line for line in lines if line.startswith("Compartments")]
    assert len(heads) > 5, "headings of the table come again on each page"


@pytest.mark.slow
def test_more_cards_hold_little_more_memory_than_their_packed_pages(tmp_path: Path) -> None:
    """A card takes about 4 kB of packed page and 10 kB of texts; as it is drawn it takes about 200 kB."""
    peaks = {}
    for n_side in (6, 15):
        stand = with_settings(larger_stand(n_side, 5), report={"cards": "all"})
        tracemalloc.start()
        write_report_pdf(stand, tmp_path / "report.pdf")
        peaks[n_side**2] = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
    grown = (peaks[225] - peaks[36]) / (225 - 36)
    assert grown < 60_000, f"{grown:,.0f} bytes a compartment"


@pytest.mark.slow
def test_two_thousand_compartments_have_their_cards(tmp_path: Path) -> None:
    stand = with_settings(larger_stand(45, 5), report={"cards": "all"})
    told: list[int] = []
    write_report_pdf(stand, tmp_path / "report.pdf", progress=lambda card, _of: told.append(card))
    document = pypdfium2.PdfDocument(tmp_path / "report.pdf")
    assert len(document) > 600
    assert len(list(document.get_toc())) > 2025
    assert told == list(range(1, 2026))
