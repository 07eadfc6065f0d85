"""One page with a map, and surveys made of given polygons, for tests of drawing."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import geopandas as gpd
import numpy as np
from shapely.geometry import Point
from shapely.geometry.base import BaseGeometry

from plotmap.model.survey import Stand
from plotmap.output.paper import About, Document, Furniture, load_fonts, paper
from plotmap.output.paper.pen import Pen
from tests.stand_example import stand_example

CRS = "EPSG:32630"


def page(size: str = "A4", orientation: str = "portrait") -> Document:
    """Return a document without head, whose page has words only where a test writes them."""
    furniture = Furniture("", "", "", lambda n, of: f"{n}/{of}")
    return Document(paper(size, orientation), load_fonts(), About("T"), furniture)


def drawn(draw: Any, size: str = "A4", orientation: str = "portrait") -> bytes:
    """Return a PDF of one page that `draw`, called with the pen, has drawn on."""
    made = page(size, orientation)
    with made.page() as pen:
        assert isinstance(pen, Pen)
        draw(pen)
    return made.to_bytes()


def frame(*shapes: BaseGeometry) -> gpd.GeoDataFrame:
    """Return compartments of these shapes, named by their number from 1."""
    names = [f"{number + 1}" for number in range(len(shapes))]
    return gpd.GeoDataFrame({"compartment": names, "name": names}, geometry=list(shapes), crs=CRS)


def stand_of(
    *shapes: BaseGeometry, names: list[str] | None = None, plots: list[Point] | None = None
) -> Stand:
    """Return a stand whose compartments have these shapes and two plots each in the tables; figures are random."""
    side = int(np.ceil(np.sqrt(max(len(shapes), 2))))
    made = stand_example(side)
    compartments = made.compartments.head(len(shapes)).copy()
    compartments["status"] = "estimated"
    compartments = compartments.set_geometry(gpd.GeoSeries(list(shapes), index=compartments.index, crs=CRS))
    if names:
        compartments["compartment"] = names
        compartments["name"] = names
    places = plots or []
    rows = made.plots.head(1).loc[[made.plots.index[0]] * len(places)].reset_index(drop=True)
    rows = rows.set_geometry(gpd.GeoSeries(places, index=rows.index, crs=CRS))
    rows["state"], rows["set_aside"] = "measured", None
    return replace(made, compartments=compartments, plots=rows)
