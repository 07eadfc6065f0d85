"""Names of compartments, placed inside them where they fit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from plotmap.output.paper.map_drawing import Shapes
from plotmap.output.paper.pen import Pen, Type
from plotmap.output.paper.view import View

Floats = NDArray[np.float64]
LOOK = Type(size_pt=9.0, bold=True, align="centre", halo_mm=0.45)
SIZES_PT = (9.0, 8.0, 7.0, 6.0, 5.0)
"""Sizes tried, the largest first."""
_CAP_HEIGHT = 0.73
"""Height of capital letters and figures in parts of the size of the letters."""
_COARSE = 0.5
"""Steps, in mm, to which the place of a name is looked for."""
_TRIED_PLACES = 12
"""Places along a name's row and column that are tried beside the best one."""


def draw_names(
    pen: Pen,
    view: View,
    shapes: Shapes,
    names: Sequence[str],
    taken: Floats | None = None,
    look: Type = LOOK,
) -> tuple[int, ...]:
    """Write each compartment's name inside it, in the largest size that fits.

    Parameters
    ----------
    pen : Pen
        Draws.
    view : View
        The frame; only what lies in it counts as inside.
    shapes : Shapes
        Of `plotmap.output.paper.map_drawing.shapes_in`.
    names : sequence of str
        One for each compartment.
    taken : numpy.ndarray of float, shape (n, 2), optional
        Places in mm, of plots, that names keep away from where they can.
    look : Type
        Colour and weight of the letters; their size is one of `SIZES_PT`.

    Returns
    -------
    tuple of int
        Rows whose name fits nowhere at the smallest size and is not written, though they lie in the view.
    """
    frame = shapely.box(view.box.left_mm, view.box.bottom_mm, view.box.right_mm, view.box.top_mm)
    points: Any = shapely.points(np.empty((0, 2)) if taken is None else taken)
    marks = shapely.STRtree(points)
    left_out = []
    for row, (polygon, name) in enumerate(zip(shapes.polygons, names, strict=True)):
        part = _largest_part(polygon, frame) if polygon is not None else None
        if part is None:
            continue
        found = _place(pen, part, name, marks, look)
        if found is None:
            left_out.append(row)
            continue
        (x, y), sized = found
        pen.write(name, x, y - sized.size_mm * _CAP_HEIGHT / 2, sized)
    return tuple(left_out)


def _largest_part(polygon: shapely.Geometry, frame: shapely.Polygon) -> shapely.Polygon | None:
    """Return the largest part of a compartment that lies in the frame; None where nothing does."""
    parts = shapely.get_parts(shapely.intersection(shapely.make_valid(polygon), frame))
    parts = parts[shapely.area(parts) > 0]
    return parts[int(np.argmax(shapely.area(parts)))] if len(parts) else None


def _place(
    pen: Pen, part: shapely.Polygon, name: str, marks: shapely.STRtree, as_look: Type
) -> tuple[tuple[float, float], Type] | None:
    """Return where and how large a name fits into a part; None where it does not."""
    best = shapely.get_point(shapely.maximum_inscribed_circle(part, tolerance=_COARSE), 0)
    places = _places(part, best)
    shapely.prepare(part)
    for size_pt in SIZES_PT:
        look = replace(as_look, size_pt=size_pt)
        half = np.array([pen.width_mm(name, look) / 2 + 0.3, look.size_mm * _CAP_HEIGHT / 2 + 0.3])
        low, high = places - half, places + half
        boxes = shapely.box(low[:, 0], low[:, 1], high[:, 0], high[:, 1])
        fits = shapely.covers(part, boxes)
        if fits.any():
            reach = boxes[fits]
            hit = np.bincount(
                marks.query(shapely.buffer(reach, 1.0), predicate="intersects")[0], minlength=len(reach)
            )
            x, y = places[fits][int(np.argmin(hit))].tolist()
            return (x, y), look
    return None


def _places(part: shapely.Polygon, best: shapely.Point) -> Floats:
    """Return places inside a part, the roomiest first, then by their distance from it."""
    west, south, east, north = shapely.bounds(part).tolist()
    steps = (np.arange(_TRIED_PLACES) + 0.5) / _TRIED_PLACES
    x, y = np.meshgrid(west + (east - west) * steps, south + (north - south) * steps)
    grid = np.column_stack([x.ravel(), y.ravel()])
    centre = shapely.get_coordinates(best)
    order = np.argsort(((grid - centre) ** 2).sum(axis=1), kind="stable")
    return np.vstack([centre, grid[order]])
