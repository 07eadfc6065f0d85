"""Which polygons are neighbours: along an edge, or also at a corner."""

from __future__ import annotations

from enum import StrEnum

import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely

from plotmap.spatial.crs import Geometries


class Contact(StrEnum):
    """What makes two polygons neighbours."""

    EDGE = "edge"
    CORNER = "corner"


def neighbours(
    geometries: Geometries,
    *,
    contact: Contact | str = Contact.EDGE,
    longer_than_m: float = 1.0,
    within_m: float = 0.1,
) -> pd.DataFrame:
    """Find the pairs of polygons that are neighbours. Geometry, needs no source.

    Digitised boundaries are never quite the same, so a piece of boundary is shared where the other polygon is no
    farther than `within_m`. Near a corner that counts a little of both boundaries, about 2 `within_m` at a
    right angle and more at sharp ones: `longer_than_m` should be ten times `within_m` or more.

    Parameters
    ----------
    geometries : array_like of shapely geometries, shape (n,)
        Polygons in a plane, in metres; also a GeoSeries. Missing and empty ones have no neighbours.
    contact : Contact or str
        ``edge``: they share more than `longer_than_m` of boundary. ``corner``: they come as near as `within_m`
        anywhere, at an edge or at a corner.
    longer_than_m : float
        Shared boundary of this length or less, in metres, is a corner, not an edge. 0 or more.
    within_m : float
        How far boundaries may lie apart and still be shared, in metres. 0 or more; at 0 only vertices and edges
        that agree to the last digit are shared.

    Returns
    -------
    pandas.DataFrame
        One row a pair, in the order of its rows: ``first`` and ``second`` (int rows of `geometries`, first below
        second) and ``shared_m`` (float): the shared boundary in metres, measured along the one of the two where it
        is longer.

    Raises
    ------
    ValueError
        `contact` is none of the two words; `longer_than_m` or `within_m` is negative or NaN.
    """
    kind = Contact(contact)
    for name, metres in (("longer_than_m", longer_than_m), ("within_m", within_m)):
        if not metres >= 0:
            raise ValueError(f"{name} is {metres} m, but must be 0 m or more")
    shapes = np.asarray(geometries, dtype=object)
    usable = np.flatnonzero(~shapely.is_missing(shapes) & ~shapely.is_empty(shapes))
    sound = shapes[usable]
    if len(sound) == 0:
        return _table(np.empty((0, 2), dtype=np.intp), np.empty(0))
    one, other = shapely.STRtree(sound).query(sound, predicate="dwithin", distance=within_m)
    below = one < other
    one, other = one[below], other[below]
    edges, wide = shapely.boundary(sound), shapely.buffer(sound, within_m) if within_m > 0 else sound
    shared_m = np.maximum(
        shapely.length(shapely.intersection(edges[one], wide[other])),
        shapely.length(shapely.intersection(edges[other], wide[one])),
    )
    kept = shared_m > longer_than_m if kind is Contact.EDGE else np.ones(len(one), dtype=bool)
    return _table(np.column_stack([usable[one], usable[other]])[kept], shared_m[kept])


def without_neighbours(pairs: pd.DataFrame, n: int) -> npt.NDArray[np.intp]:
    """Return the polygons that are in no pair: islands, or polygons with a gap or a sliver around them.

    Parameters
    ----------
    pairs : pandas.DataFrame
        As `neighbours` returns.
    n : int
        Number of polygons.

    Returns
    -------
    numpy.ndarray of int, shape (k,)
        Their rows, ascending.
    """
    return np.setdiff1d(np.arange(n), pairs[["first", "second"]].to_numpy().ravel())


def _table(pairs: npt.NDArray[np.intp], shared_m: npt.NDArray[np.float64]) -> pd.DataFrame:
    """Return the pairs in the order of their rows."""
    order = np.lexsort((pairs[:, 1], pairs[:, 0]))
    return pd.DataFrame(
        {"first": pairs[order, 0], "second": pairs[order, 1], "shared_m": shared_m[order]},
    )
