"""Write the map of a stand."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from plotmap.errors import OutputError
from plotmap.model.labels import labels_of
from plotmap.output.webmap.embedding import embed
from plotmap.output.webmap.folium_page import render
from plotmap.output.webmap.packing import packed
from plotmap.output.webmap.payload import payload

if TYPE_CHECKING:
    from plotmap.model.survey import Stand


def write_map(stand: Stand, path: Path | str) -> None:
    """Write the interactive map as one HTML file that asks no host for anything.

    Compartments are coloured by basal area (m²/ha), stems (1/ha), quadratic mean diameter (cm), sampling error (%)
    or the share of a species in the basal area (%); compartments without plots and without an error are told apart
    from low values. Only a background named in the settings is asked for over the network, and only once the reader
    ticks its box. The same stand gives the same bytes.

    Parameters
    ----------
    stand : Stand
        Everything that was computed. Compartments need a CRS; plots without a position are counted, not drawn.
    path : pathlib.Path or str
        File to write; its folder exists. A file there is replaced.

    Raises
    ------
    OutputError
        The file cannot be written, or a packaged file of the page is missing or not the one that was packaged.
    """
    labels = labels_of(stand.settings)
    title = stand.settings.survey.title.strip() or labels("map.untitled")
    chosen = stand.settings.map
    page = render(title, packed(payload(stand, labels)), labels, has_background=bool(chosen.background))
    html = embed(page, images_from=chosen.background_host)
    try:
        Path(path).write_bytes(html.encode("utf-8"))
    except OSError as error:
        reason = error.strerror or str(error)
        raise OutputError(
            f"{path}: the map cannot be written ({reason}). Choose a folder you may write to"
        ) from error
