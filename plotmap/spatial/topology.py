"""What is wrong with polygons, and which of them overlap."""

from __future__ import annotations

import numpy as np
import pandas as pd
import shapely

from plotmap.spatial.crs import Geometries


def invalid_reasons(geometries: Geometries) -> Geometries:
    """Say why geometries are invalid, and where.

    Parameters
    ----------
    geometries : array_like of shapely geometries, shape (n,)
        Also a GeoSeries; None where missing.

    Returns
    -------
    numpy.ndarray of str or None, shape (n,)
        For instance ``Self-intersection[1 1]`` with the place in the geometries' own coordinates; None
        where valid, missing or empty.
    """
    shapes = np.asarray(geometries, dtype=object)
    reasons = np.full(shapes.shape, None, dtype=object)
    wrong = ~(shapely.is_valid(shapes) | shapely.is_missing(shapes))
    reasons[wrong] = shapely.is_valid_reason(shapes[wrong])
    return reasons


def overlaps(geometries: Geometries, *, more_than_m2: float = 1.0) -> pd.DataFrame:
    """Find pairs of polygons that cover the same ground.

    Parameters
    ----------
    geometries : array_like of shapely geometries, shape (n,)
        Polygons in a plane, in metres; also a GeoSeries. Missing, empty and invalid ones are passed over.
    more_than_m2 : float
        Pairs that share this area or less, in m², are left out: digitised boundaries are never quite the
        same. 0 or more.

    Returns
    -------
    pandas.DataFrame
        One row a pair, in the order of its rows: ``first`` and ``second`` (int rows of `geometries`, first
        below second) and ``area_m2`` (float, in m²).

    Raises
    ------
    ValueError
        `more_than_m2` is negative or NaN.
    """
    if not more_than_m2 >= 0:
        raise ValueError(f"more_than_m2 is {more_than_m2} m², but must be 0 m² or more")
    shapes = np.asarray(geometries, dtype=object)
    usable = np.flatnonzero(shapely.is_valid(shapes) & ~shapely.is_empty(shapes))
    sound = shapes[usable]
    one, other = shapely.STRtree(sound).query(sound, predicate="intersects")
    one, other = one[one < other], other[one < other]
    area_m2 = shapely.area(shapely.intersection(sound[one], sound[other]))
    first, second = usable[one], usable[other]
    order = np.lexsort((second, first))
    order = order[area_m2[order] > more_than_m2]
    return pd.DataFrame({"first": first[order], "second": second[order], "area_m2": area_m2[order]})
