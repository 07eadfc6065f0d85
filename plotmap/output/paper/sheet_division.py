"""How a survey is shared out over sheets of one scale."""

from __future__ import annotations

import math

import numpy as np
import shapely
from numpy.typing import NDArray

from plotmap.errors import SettingsError
from plotmap.output.paper.marginalia import thousands
from plotmap.output.paper.sizes import Box
from plotmap.output.paper.view import Extent, View, fitted, round_scale, tightest_scale

OVERLAP_MM = 15.0
"""Neighbouring sheets show so much of the same ground."""
MOST_SHEETS = 200
_ROUND_OFF = 1e-9


def divided(
    extent: Extent, box: Box, scale_denominator: float | None, polygons: NDArray[np.object_]
) -> tuple[View, ...]:
    """Return the views of all sheets, row by row from the north-west.

    Parameters
    ----------
    extent : Extent
        What is to be seen, in m.
    box : Box
        The map on each sheet.
    scale_denominator : float, optional
        Scale; the largest round one at which `extent` fits one sheet where not given.
    polygons : numpy.ndarray of shapely geometries
        Compartments, in the reference system of `extent`. A sheet on which none of them lies is left out.

    Raises
    ------
    SettingsError
        It would take more than `MOST_SHEETS` sheets; the message says how many, and at which scale one does.
    """
    one = round_scale(tightest_scale(extent, box))
    if scale_denominator is None or scale_denominator >= tightest_scale(extent, box, free_mm=0) * (
        1 - _ROUND_OFF
    ):
        return (fitted(extent, box, scale_denominator or one),)
    first = fitted(extent, box, scale_denominator)
    overlap_m = first.length_m(OVERLAP_MM)
    seen = first.extent
    columns, rows = (
        max(1, math.ceil((whole - overlap_m) / (part - overlap_m) - _ROUND_OFF))
        for whole, part in ((extent.width_m, seen.width_m), (extent.height_m, seen.height_m))
    )
    if columns * rows > MOST_SHEETS:
        raise SettingsError(
            f"scale 1 : {thousands(scale_denominator)}: the survey is {extent.width_m / 1000:,.1f} km × "
            f"{extent.height_m / 1000:,.1f} km and would take {thousands(columns * rows)} sheets of this size, but "
            f"at most {MOST_SHEETS} are drawn. One sheet holds it at 1 : {thousands(one)}; take a scale between, or "
            "larger paper."
        )
    east, north = extent.centre_m
    step_east, step_north = seen.width_m - overlap_m, seen.height_m - overlap_m
    tree = shapely.STRtree(polygons)
    views = []
    for row in range(rows):
        for column in range(columns):
            west_m = east + (column - columns / 2) * step_east - overlap_m / 2
            south_m = north + (rows / 2 - 1 - row) * step_north - overlap_m / 2
            view = View(box, west_m, south_m, scale_denominator)
            here = view.extent
            frame = shapely.box(here.west_m, here.south_m, here.east_m, here.north_m)
            if tree.query(frame, predicate="intersects").size:
                views.append(view)
    return tuple(views)
