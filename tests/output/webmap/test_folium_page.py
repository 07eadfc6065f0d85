from __future__ import annotations

import branca.element
import folium

from plotmap.model.labels import Labels, labels_of
from plotmap.model.settings import Settings
from plotmap.output.webmap.folium_page import SurveyMap, render

PLOTS = {"design": "circle", "radius_m": 12.62}
LABELS = labels_of(Settings.model_validate({"plots": PLOTS}))


def labels(**section: object) -> Labels:
    """Return the words of a survey with a section [labels]."""
    return labels_of(Settings.model_validate({"plots": PLOTS, "labels": section}))


def test_own_words_are_text_whatever_was_typed() -> None:
    typed = "<img src=x onerror=alert(1)>\"'"
    page = render("one", "", labels(own={"map.about": typed, "map.find_placeholder": typed}))
    assert "<img" not in page
    assert "<summary>&lt;img src=x onerror=alert(1)&gt;&#34;&#39;</summary>" in page
    assert 'placeholder="&lt;img src=x onerror=alert(1)&gt;&#34;&#39;"' in page


def test_the_page_says_its_language() -> None:
    assert '<html lang="en">' in render("one", "", LABELS)
    assert '<html lang="de">' in render("one", "", labels(language="de"))


def test_a_title_is_text_whatever_was_typed() -> None:
    page = render("</title><script>alert(1)</script>{{ 7 * 7 }}{% for %}", "", LABELS)
    assert "<script>alert" not in page
    assert "&lt;/title&gt;&lt;script&gt;alert(1)&lt;/script&gt;{{ 7 * 7 }}{% for %}" in page
    assert "49" not in page.split("</title>", maxsplit=1)[0]


def test_rendering_leaves_folium_as_it_was() -> None:
    identifiers = vars(branca.element.Element)["_generate_id"]
    links = (list(folium.Map.default_js), list(folium.Map.default_css))
    assert render("one", "data", LABELS) == render("one", "data", LABELS)
    assert vars(branca.element.Element)["_generate_id"] is identifiers
    assert (folium.Map.default_js, folium.Map.default_css) == links
    assert SurveyMap.default_js is not folium.Map.default_js
    assert folium.Map(location=[0, 0]).get_name() != folium.Map(location=[0, 0]).get_name()
