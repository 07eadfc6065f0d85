"""Pages: sizes, furniture, fonts, bytes."""

from __future__ import annotations

import io
import tracemalloc
from pathlib import Path

import pytest
from pypdf import PdfReader

from plotmap.errors import OutputError, SettingsError
from plotmap.output.paper import About, Document, Furniture, load_fonts, paper
from plotmap.output.paper.document import FOOTER_MM, HEADER_MM
from plotmap.output.paper.pen import Stroke, Type
from plotmap.output.paper.sizes import Box
from tests.output.paper.pdf_pages import dots_mm, filled, fonts, has_colour, n_pages, size_mm, words

GREEK, CYRILLIC, ACCENTED = "Πεύκη η μαύρη", "Сосна обыкновенная", "Žltá Łąka, Ærø, Şahin"


def document(size: str = "A4", orientation: str = "portrait", **about: str) -> Document:
    furniture = Furniture("Survey", "today", "Estimates from samples.", lambda n, of: f"page {n} of {of}")
    return Document(
        paper(size, orientation), load_fonts(), About(about.pop("title", "T"), **about), furniture
    )


def written(*texts: str, **about: str) -> bytes:
    made = document(**about)
    for text in texts:
        with made.page() as pen:
            pen.write(text, 30, 100)
    return made.to_bytes()


@pytest.mark.parametrize(
    ("size", "orientation", "expected"),
    [
        ("A4", "portrait", (210, 297)),  # ISO 216
        ("A3", "landscape", (420, 297)),
        ("a0", "portrait", (841, 1189)),
        ("letter", "portrait", (215.9, 279.4)),  # 8.5 in × 11 in
    ],
)
def test_a_page_has_the_size_of_its_paper(size: str, orientation: str, expected: tuple[float, float]) -> None:
    made = document(size, orientation)
    with made.page() as pen:
        pen.write("x", 10, 10)
    assert size_mm(made.to_bytes()) == pytest.approx(expected, abs=0.01)


def test_a_page_may_have_a_size_of_its_own() -> None:
    made = document("A4")
    with made.page() as pen:
        pen.write("x", 10, 10)
    with made.page(paper("A3", "landscape")) as pen:
        pen.write("x", 10, 10)
    content = made.to_bytes()
    assert size_mm(content, 0) == pytest.approx((210, 297), abs=0.01)
    assert size_mm(content, 1) == pytest.approx((420, 297), abs=0.01)


@pytest.mark.parametrize(
    ("size", "orientation", "match"),
    [
        ("A9", "portrait", r"paper size 'A9': not known. Give one of A0, A1"),
        ("A4", "upright", "orientation 'upright'"),
    ],
)
def test_unknown_paper_is_refused_with_what_there_is(size: str, orientation: str, match: str) -> None:
    with pytest.raises(SettingsError, match=match):
        paper(size, orientation)


def test_a_millimetre_is_a_millimetre() -> None:
    made = document()
    with made.page() as pen:
        pen.rectangle(Box(20, 50, 100, 30), "#ff0000")
    (red,) = [shape for shape in filled(made.to_bytes()) if shape.colour == "#ff0000"]
    assert (red.left_mm, red.bottom_mm) == pytest.approx((20, 50), abs=0.01)
    assert (red.width_mm, red.height_mm) == pytest.approx((100, 30), abs=0.01)


def test_every_page_has_its_number_of_all_pages_and_head_and_foot() -> None:
    content = written("one", "two", "three")
    for number in range(3):
        text = words(content, number)
        assert f"page {number + 1} of 3" in text
        assert "Survey" in text
        assert "Estimates from samples." in text


def test_the_body_leaves_room_for_head_and_foot() -> None:
    body = document().body()
    assert (body.left_mm, body.width_mm) == (15, 180)
    assert body.bottom_mm == 15 + FOOTER_MM
    assert body.top_mm == 297 - 15 - HEADER_MM


def test_names_in_greek_cyrillic_and_with_accents_are_shown_by_embedded_fonts() -> None:
    content = written(GREEK, CYRILLIC, ACCENTED)
    for page, name in enumerate([GREEK, CYRILLIC, ACCENTED]):
        assert name in words(content, page)
    assert fonts(content)
    assert all(fonts(content).values()), fonts(content)
    assert all("DejaVuSans" in name for name in fonts(content))


def test_only_the_letters_used_are_embedded() -> None:
    assert len(written("abc")) < 60_000  # the whole font has 757 076 bytes


def test_a_letter_that_no_font_has_is_a_box_and_is_told() -> None:
    made = document()
    with made.page() as pen:
        pen.write("松 a", 30, 100, Type(30, colour="#00aa00"))
    content = made.to_bytes()
    assert made.missing_letters == "松"
    assert has_colour(content, "#00aa00")


def test_nothing_is_told_where_all_letters_are_there() -> None:
    made = document()
    with made.page() as pen:
        pen.write(f"{GREEK}{CYRILLIC}{ACCENTED} 10–<20 m²/ha ≥ 1\u202f000 ±", 30, 100)
    assert made.missing_letters == ""


def test_letters_in_two_parts_are_shown_as_one() -> None:
    assert "Žltá" in words(written("Z\u030clta\u0301"))  # Unicode NFC, UAX 15


def test_line_ends_and_controls_in_a_name_are_spaces() -> None:
    made = document()
    with made.page() as pen:
        pen.write("two\nlines\tand\x07bell", 30, 100)
    assert "two lines and bell" in words(made.to_bytes())
    assert made.missing_letters == ""


def test_the_same_pages_give_the_same_bytes() -> None:
    assert written(GREEK, "two") == written(GREEK, "two")
    assert written(GREEK) != written("other")


def test_two_documents_made_at_once_do_not_mix_their_letters() -> None:
    alone = written(GREEK)
    first, second = document(), document()
    with first.page() as pen, second.page() as other:
        other.write(CYRILLIC, 30, 100)
        pen.write(GREEK, 30, 100)
    assert first.to_bytes() == alone
    assert CYRILLIC in words(second.to_bytes())


def test_the_file_says_title_author_and_language_and_nothing_of_the_machine() -> None:
    content = written("x", title="Kozí hřbet Ω", author="Ž. Example", language="de")
    reader = PdfReader(io.BytesIO(content))
    assert reader.metadata is not None
    assert (reader.metadata.title, reader.metadata.author) == ("Kozí hřbet Ω", "Ž. Example")
    assert str(reader.metadata.creator).startswith("plotmap ")
    assert reader.root_object["/Lang"] == "de"
    assert str(Path.home()).encode() not in content


def test_words_are_broken_into_lines_that_fit() -> None:
    made = document()
    with made.page() as pen:
        lines = pen.lines_of(
            "some words that do not fit in one line and Donaudampfschifffahrtsgesellschaft", 30
        )
        assert " ".join(lines).replace(" ", "").startswith("somewordsthatdonotfit")
        assert all(0 < pen.width_mm(line) <= 30 for line in lines)
        assert "".join(lines).replace(" ", "").endswith("gesellschaft")


def test_a_word_cut_to_a_width_ends_in_an_ellipsis() -> None:
    made = document()
    with made.page() as pen:
        short = pen.shortened("a long title of a survey that goes on", 30)
        assert short.endswith("…")
        assert pen.width_mm(short) <= 30
        assert pen.shortened("short", 30) == "short"


def test_a_form_drawn_once_is_shown_on_every_page() -> None:
    made = document()
    for number in range(2):
        with made.page() as pen:
            if not number:
                with pen.form("square", Box(0, 0, 50, 50)):
                    pen.rectangle(Box(10, 10, 20, 20), "#0000ff")
            pen.show("square", 30, 40)
    content = made.to_bytes()
    for number in range(2):
        assert dots_mm(content, "#0000ff", number) == pytest.approx((40, 50, 60, 70), abs=0.13)


def test_memory_grows_with_packed_pages_only() -> None:
    def peak(pages: int) -> int:
        made = document()
        tracemalloc.start()
        for _ in range(pages):
            with made.page() as pen:
                for row in range(400):
                    pen.line(20, 20 + row / 2, 100, 20 + row / 2, Stroke())
        used = tracemalloc.get_traced_memory()[0]
        tracemalloc.stop()
        assert n_pages(made.to_bytes()) == pages
        return used

    page_bytes = 400 * 60  # unpacked operators of one page, at least
    assert peak(60) - peak(10) < 50 * page_bytes / 4


def test_a_file_that_cannot_be_written_is_said_and_nothing_is_left(tmp_path: Path) -> None:
    made = document()
    with made.page() as pen:
        pen.write("x", 10, 10)
    with pytest.raises(OutputError, match="the PDF cannot be written: No such file"):
        made.save(tmp_path / "nowhere" / "x.pdf")
    assert list(tmp_path.iterdir()) == []
