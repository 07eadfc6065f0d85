"""Points anywhere in polygons, every place as likely as any other."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import numpy.typing as npt
import shapely

from plotmap.spatial.crs import Floats, Geometries

_BLOCK = 1_000_000
_MOST_TURNS = 10_000
_SPARE = 1.2


def random_points(
    polygons: Geometries, n: int, draw: Callable[[int, int], Floats]
) -> tuple[Floats, Floats, npt.NDArray[np.intp]]:
    """Return points even over the area of polygons.

    A box round a part is chosen by its area, then a place in it; places outside the part are dropped (acceptance and
    rejection, any textbook), so that the density is the same everywhere, whatever the shapes are.

    Parameters
    ----------
    polygons : array of shapely geometries, shape (m,)
        Polygons and multi-polygons that do not overlap, in m; missing and empty ones get no point. They are prepared
        in place.
    n : int
        How many, 0 or more.
    draw : callable
        From number of the turn and how many to numbers even over 0 to 1, new ones in each turn.

    Returns
    -------
    x, y : numpy.ndarray of float, shape (n,)
        In the order in which they were drawn.
    polygon : numpy.ndarray of int, shape (n,)
        Row of the polygon each lies in.

    Raises
    ------
    ValueError
        The polygons have no area, or fill so little of their boxes that hardly any place is inside.
    """
    parts, owner = shapely.get_parts(np.asarray(polygons, dtype=object), return_index=True)
    area = shapely.area(parts)
    parts, owner = parts[area > 0], owner[area > 0]
    if not len(parts):
        raise ValueError("the polygons have no area to lay points on")
    shapely.prepare(parts)
    west, south, east, north = shapely.bounds(parts).T
    boxes = np.cumsum((east - west) * (north - south))
    share = float(area.sum() / boxes[-1])
    found: list[tuple[Floats, Floats, npt.NDArray[np.intp]]] = []
    turn = left = 0
    while (left := n - sum(len(block[0]) for block in found)) > 0:
        if turn > _MOST_TURNS:
            raise ValueError("the polygons fill hardly anything of their boxes: points cannot be found")
        tries = min(math.ceil(_SPARE * left / share) + 10, _BLOCK)
        chance = draw(turn, 3 * tries).reshape(tries, 3).T
        box = np.minimum(np.searchsorted(boxes, chance[0] * boxes[-1], side="right"), len(parts) - 1)
        x = west[box] + chance[1] * (east - west)[box]
        y = south[box] + chance[2] * (north - south)[box]
        kept = np.flatnonzero(shapely.contains_xy(parts[box], x, y))[:left]
        found.append((x[kept], y[kept], owner[box[kept]]))
        turn += 1
    empty = (np.empty(0), np.empty(0), np.empty(0, dtype=np.intp))
    x, y, polygon = (np.concatenate([block[at] for block in [empty, *found]]) for at in range(3))
    return x, y, polygon.astype(np.intp)
