from __future__ import annotations

import branca.element
import folium

from plotmap.output.webmap.folium_page import SurveyMap, render


def test_a_title_is_text_whatever_was_typed() -> None:
    page = render("</title><script>alert(1)</script>{{ 7 * 7 }}{% for %}", "")
    assert "<script>alert" not in page
    assert "&lt;/title&gt;&lt;script&gt;alert(1)&lt;/script&gt;{{ 7 * 7 }}{% for %}" in page
    assert "49" not in page.split("</title>", maxsplit=1)[0]


def test_rendering_leaves_folium_as_it_was() -> None:
    identifiers = vars(branca.element.Element)["_generate_id"]
    links = (list(folium.Map.default_js), list(folium.Map.default_css))
    assert render("one", "data") == render("one", "data")
    assert vars(branca.element.Element)["_generate_id"] is identifiers
    assert (folium.Map.default_js, folium.Map.default_css) == links
    assert SurveyMap.default_js is not folium.Map.default_js
    assert folium.Map(location=[0, 0]).get_name() != folium.Map(location=[0, 0]).get_name()
