"""The folium part: a map that loads Leaflet and the page's own scripts only, and the page round it.

folium renders what its macros return a second time as a template. Nothing a user typed is therefore handed to
a macro: title and words go to the page template, which escapes them, everything else is in the packed data.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import folium
from branca.element import Figure
from folium.template import Template

from plotmap.output.webmap.embedding import POLICY_MARK, packaged_text

if TYPE_CHECKING:
    from plotmap.model.labels import Labels

_SCRIPTS = (
    "elements",
    "words",
    "data",
    "hatching",
    "canvas",
    "legend",
    "themes",
    "chart",
    "limits",
    "popups",
    "layers",
    "plots",
    "numbers",
    "card",
    "find",
    "table",
    "controls",
    "place",
    "findings",
    "extras",
    "walk",
    "print",
    "start",
)
"""The page's own scripts in the order in which they are read."""


class SurveyMap(folium.Map):
    """A Leaflet map without tiles and without a fixed place: the page fits it to the compartments."""

    default_js = [  # noqa: RUF012 (as folium declares it)
        ("leaflet", "assets/leaflet.js"),
        *((f"plotmap_{name}", f"page/{name}.js") for name in _SCRIPTS),
    ]
    default_css = [  # noqa: RUF012
        ("leaflet_css", "assets/leaflet.css"),
        ("plotmap_page", "page/page.css"),
        ("plotmap_map", "page/map.css"),
    ]
    _template = Template(packaged_text("page/map.html"))

    def __init__(self) -> None:
        super().__init__(
            tiles=None,
            zoom_control=True,
            attribution_control=False,
            zoom_snap=0.25,
            zoom_delta=0.5,
            wheel_px_per_zoom_level=120,
            max_zoom=22,
            zoom_animation=False,
            fade_animation=False,
            box_zoom=False,
        )
        self._id = "survey"  # instead of a random one, so that the same stand gives the same file


class Page(Figure):
    """The HTML page round the map.

    Parameters
    ----------
    title : str
        Title of the survey, as typed.
    data : str
        Packed content of `plotmap.output.webmap.payload`.
    labels : Labels
        Words that people read.
    has_background : bool
        Whether the page offers a background of a host on the network.
    """

    _template = Template(packaged_text("page/page.html"))

    def __init__(self, title: str, data: str, labels: Labels, *, has_background: bool) -> None:
        super().__init__(title=title)
        self.words = labels.section("map")
        self.language = labels.language
        self.has_background = has_background
        self.policy = POLICY_MARK
        self.data = data
        self.licence = packaged_text("assets/leaflet-LICENSE.txt")
        self.add_child(SurveyMap(), name="map")


def render(title: str, data: str, labels: Labels, *, has_background: bool = False) -> str:
    """Return the page with references to packaged files still in it.

    Parameters
    ----------
    title : str
        Title of the survey, as typed; it is escaped here.
    data : str
        Packed content, base64.
    labels : Labels
        Words that people read; escaped here, as own ones are typed too.
    has_background : bool
        Whether the page offers a background of a host on the network.

    Returns
    -------
    str
        HTML, the same for the same arguments.
    """
    return str(Page(title, data, labels, has_background=has_background).render())
