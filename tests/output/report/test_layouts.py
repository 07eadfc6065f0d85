"""Both layouts: texts as typed, languages, policy, bookmarks, fonts, bytes; and surveys that lack something."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from pathlib import Path

import polars as pl
import pypdfium2
import pytest
from pypdf import PdfReader

import plotmap
from plotmap.errors import OutputError, SettingsError
from plotmap.model.findings import Findings
from plotmap.model.survey import Stand
from plotmap.output.report import write_report_html, write_report_pdf
from tests.output.paper.pdf_pages import fonts
from tests.output.report.reports import Page, html_of, pdf_lines, pdf_of, plain, with_settings
from tests.stand_example import stand_example
from tests.survey_example import survey_example

HOSTILE = ("<img src=x onerror=alert(1)>", "&amp; <b>bold</b>", "Сосна & Πεύκη", '"quoted" </table>')


def hostile_stand() -> Stand:
    """Return a stand whose species, compartments and title are markup."""
    stand = stand_example(species=HOSTILE)
    compartments = stand.compartments.copy()
    compartments.loc[0, "name"] = HOSTILE[0]
    compartments.loc[1, "name"] = HOSTILE[1]
    stand = replace(stand, compartments=compartments)
    return with_settings(stand, survey={"title": "<script>alert(1)</script> &lt;"})


def counted(design: dict[str, object], **trees: list[object]) -> Stand:
    """Return a computed survey of two compartments with this design."""
    survey = survey_example(
        trees={
            "plot": ["P1", "P1", "P2", "P3"],
            "d1_cm": [30.0, 20.0, 25.0, 40.0],
            "species": ["oak", "ash", "oak", "oak"],
            **trees,
        },
        settings={"plots": design},
    )
    return plotmap.compile_survey(survey)


def test_markup_in_names_is_shown_as_typed_on_the_page(tmp_path: Path) -> None:
    page = Page(html_of(hostile_stand(), tmp_path))
    text = plain(" ".join(page.words))
    for words in (*HOSTILE, "<script>alert(1)</script> &lt;"):
        assert words in text
    names = {tag for tag, _ in page.tags}
    assert not names & {"script", "img", "b script", "iframe", "object", "link"}
    assert not [name for _, attrs in page.tags for name in attrs if name.startswith("on") or name == "style"]


def test_markup_in_names_is_shown_as_typed_in_the_pdf(tmp_path: Path) -> None:
    content = pdf_of(hostile_stand(), tmp_path)
    text = re.sub(r"\s", "", "".join(pdf_lines(content)))
    for words in (*HOSTILE, "<script>alert(1)</script> &lt;"):
        assert re.sub(r"\s", "", words) in text
    assert fonts(content)
    assert all(fonts(content).values()), "a font is not in the file"


def test_the_policy_of_the_page_allows_its_own_style_and_nothing_else(tmp_path: Path) -> None:
    page = Page(html_of(stand_example(), tmp_path))
    (policy,) = [attrs["content"] for tag, attrs in page.tags if attrs.get("http-equiv")]
    assert policy is not None
    assert re.fullmatch(
        r"default-src 'none'; style-src 'sha256-[\w+/=]+'; base-uri 'none'; form-action 'none'", policy
    )
    addresses = [value for _, attrs in page.tags for name, value in attrs.items() if name in {"src", "href"}]
    assert addresses
    assert all(str(value).startswith("#") for value in addresses)


def test_every_link_and_shared_shape_of_the_page_leads_somewhere(tmp_path: Path) -> None:
    page = Page(html_of(stand_example(), tmp_path))
    ids = [str(attrs["id"]) for _, attrs in page.tags if "id" in attrs]
    assert len(ids) == len(set(ids))
    wanted = {str(attrs["href"])[1:] for _, attrs in page.tags if "href" in attrs}
    wanted |= {str(attrs["clip-path"])[5:-1] for _, attrs in page.tags if "clip-path" in attrs}
    assert wanted <= set(ids)


def test_tables_have_headings_with_a_scope_and_figures_words_for_who_does_not_see_them(
    tmp_path: Path,
) -> None:
    page = Page(html_of(stand_example(), tmp_path))
    assert all(attrs.get("scope") in {"col", "row"} for tag, attrs in page.tags if tag == "th")
    shown = [attrs for tag, attrs in page.tags if tag == "svg" and "aria-hidden" not in attrs]
    assert all(attrs.get("role") == "img" and "aria-label" in attrs for attrs in shown)


@pytest.mark.parametrize("write", [write_report_html, write_report_pdf])
def test_the_same_stand_gives_the_same_bytes(write: object, tmp_path: Path) -> None:
    for name in ("one", "two"):
        write(hostile_stand(), tmp_path / name)  # type: ignore[operator]
    assert (tmp_path / "one").read_bytes() == (tmp_path / "two").read_bytes()


def test_the_pdf_has_a_bookmark_for_each_part_and_card_and_says_its_language(tmp_path: Path) -> None:
    stand = stand_example()
    content = pdf_of(stand, tmp_path)
    titles = [entry.get_title() for entry in pypdfium2.PdfDocument(content).get_toc()]
    assert titles[:4] == ["What was found", "Compartments", "How sure this is", "Compartments one by one"]
    assert [title for title in titles if " · " in title] == [
        f"{name} · Block {name}" for name in stand.compartments["compartment"]
    ]
    reader = PdfReader(io.BytesIO(content))
    assert reader.trailer["/Root"]["/Lang"] == "en"
    assert reader.metadata is not None
    assert reader.metadata.title == "Made-up stand"
    lines = pdf_lines(content)
    assert f"page {len(reader.pages)} of {len(reader.pages)}" in " ".join(lines)


def test_german_and_own_labels_are_in_both(tmp_path: Path) -> None:
    own = {"report.sure": "Was man glauben darf"}
    stand = with_settings(stand_example(), labels={"language": "de", "own": own})
    page = html_of(stand, tmp_path)
    text = " ".join(pdf_lines(pdf_of(stand, tmp_path)))
    assert '<html lang="de">' in page
    for words in ("Was man glauben darf", "Gesamte Aufnahme", "Bevor Sie diese Werte verwenden"):
        assert words in text
        assert words in page


def test_a_compartment_without_plots_has_no_figures_but_the_word_why(tmp_path: Path) -> None:
    page = html_of(stand_example(), tmp_path)
    card = page[page.index('id="card-9"') :].partition("</article>")[0]
    assert "No plot was measured here, so there are no figures. They are missing, not zero." in card
    assert "<table" not in card
    one = page[page.index('id="card-8"') :].partition("</article>")[0]
    assert "One plot only: the figures have no error and may be far off." in one


def test_a_survey_without_findings_species_and_stems_is_written(tmp_path: Path) -> None:
    stand = plotmap.compile_survey(
        survey_example(plots={"plot": ["P1", "P2", "P3", "P4"], "state": ["empty"] * 4})
    )
    stand = replace(stand, findings=Findings.none())
    text = " ".join(pdf_lines(pdf_of(stand, tmp_path)))
    assert "Nothing was found wrong or odd." in text
    assert "No stem was found, so there are no size classes." in text
    assert "No stem was found, so there are no size classes." in html_of(stand, tmp_path)


def test_an_angle_count_says_its_factor(tmp_path: Path) -> None:
    stand = counted({"design": "angle-count", "baf_m2_per_ha": 2})
    said = "Angle counts: each stem that is in stands for 2 m²/ha."
    assert said in html_of(stand, tmp_path)
    assert said in " ".join(pdf_lines(pdf_of(stand, tmp_path)))


def test_a_full_count_has_no_sampling_error_and_says_so(tmp_path: Path) -> None:
    survey = survey_example(
        trees={"plot": ["P1", "P2"], "d1_cm": [30.0, 20.0]}, settings={"plots": {"design": "full"}}
    )
    stand = plotmap.compile_survey(survey)
    assert set(stand.compartments["status"]) == {"full count"}
    for text in (html_of(stand, tmp_path), " ".join(pdf_lines(pdf_of(stand, tmp_path)))):
        assert "Every stem was counted: there is no sampling error." in text
        assert "counted: no sampling error" in text
        assert "Every stem was counted, so there is no sampling error. Errors of measuring remain." in text


def test_no_crew_is_named(tmp_path: Path) -> None:
    stand = stand_example()
    plots = stand.plots.copy()
    plots["crew"] = "Quillfeather"
    found = stand.findings.frame.with_columns(message=pl.lit("Quillfeather forgot a stem"))
    stand = replace(stand, plots=plots, findings=Findings(found))
    assert "Quillfeather" not in html_of(stand, tmp_path)
    assert "Quillfeather" not in " ".join(pdf_lines(pdf_of(stand, tmp_path)))


@pytest.mark.parametrize("write", [write_report_html, write_report_pdf])
def test_a_file_that_cannot_be_written_is_said(write: object, tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="cannot be written"):
        write(stand_example(), tmp_path / "nowhere" / "report")  # type: ignore[operator]


def test_a_font_that_is_not_there_is_said(tmp_path: Path) -> None:
    stand = with_settings(stand_example(), paper={"font": "none.ttf"})
    with pytest.raises(SettingsError, match=r"none\.ttf"):
        write_report_pdf(stand, tmp_path / "report.pdf", tmp_path)
