"""Which polygon each point lies in, by one stated rule."""

from __future__ import annotations

from collections.abc import Sequence

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely

from plotmap.spatial.crs import Floats, Geometries

Indexes = npt.NDArray[np.intp]
Flags = npt.NDArray[np.bool_]
Names = Sequence[str] | npt.NDArray[np.object_] | pd.Series


def locate(
    points: gpd.GeoSeries | Geometries,
    polygons: gpd.GeoSeries | Geometries,
    names: Names,
    preferred: Names | None = None,
) -> pd.DataFrame:
    """Give each point the one polygon it belongs to.

    A point inside one polygon belongs to it, also where it lies on the boundary of another. A point on
    an outer boundary belongs to that polygon. Where several polygons lay claim, inside overlapping ones or
    on a shared boundary, the point belongs to the one called as `preferred` says, if it is among them, else to
    the first by name in plain text order (and, under one name, the first row).

    Parameters
    ----------
    points : geopandas.GeoSeries or array_like of shapely points, shape (n,)
        Missing (None) or empty where there is no position.
    polygons : geopandas.GeoSeries or array_like of shapely geometries, shape (m,)
        In the same plane, in metres. Missing and empty ones hold nothing. They are prepared in place.
    names : sequence of str, shape (m,)
        Name of each polygon; None where it has none, which comes last in order.
    preferred : sequence of str, shape (n,), optional
        Name of the polygon each point is said to lie in; None where nothing is said.

    Returns
    -------
    pandas.DataFrame
        Index of `points`.

        - ``position`` (int): row of the polygon, -1 where in none.
        - ``on_boundary`` (bool): inside none and on the boundary of one or more.
        - ``several`` (bool): inside two or more, which overlap.
        - ``nearest`` (int): row of the nearest polygon where in none, else -1. Ties go by the same rule.
        - ``distance_m`` (float): to the nearest polygon, in metres; NaN where in one or without position.

    Raises
    ------
    ValueError
        `names` or `preferred` have another length than what they name, or `points` hold other geometries.
    """
    spots, shapes = np.asarray(points, dtype=object), np.asarray(polygons, dtype=object)
    index = points.index if isinstance(points, gpd.GeoSeries) else pd.RangeIndex(len(spots))
    _check(spots, shapes, names, preferred)
    placed = ~(shapely.is_missing(spots) | shapely.is_empty(spots))
    call, wish, wishes = _codes(names, preferred, len(spots))

    def order_of(point: Indexes, polygon: Indexes) -> tuple[Indexes, Flags]:
        """Return what orders the polygons that lay claim to a point: by name, but the preferred one first."""
        return call[polygon], ~(wishes[point] & (call[polygon] == wish[point]))

    point, polygon, inside = _pairs(spots, shapes)
    chosen = _choose(point, polygon, (*order_of(point, polygon), ~inside))
    position = np.full(len(spots), -1)
    position[point[chosen]] = polygon[chosen]
    times_inside = np.bincount(point[inside], minlength=len(spots))
    on_boundary = (position >= 0) & (times_inside == 0)

    nearest, distance_m = np.full(len(spots), -1), np.full(len(spots), np.nan)
    stray = np.flatnonzero(placed & (position < 0))
    near_point, near_polygon, metres = _nearest(spots[stray], shapes)
    near_point = stray[near_point]
    chosen = _choose(near_point, near_polygon, order_of(near_point, near_polygon))
    nearest[near_point[chosen]] = near_polygon[chosen]
    distance_m[near_point[chosen]] = metres[chosen]
    return pd.DataFrame(
        {
            "position": position,
            "on_boundary": on_boundary,
            "several": times_inside > 1,
            "nearest": nearest,
            "distance_m": distance_m,
        },
        index=index,
    )


def _check(spots: Geometries, shapes: Geometries, names: Names, preferred: Names | None) -> None:
    """Raise ValueError where lengths or kinds of geometries do not fit."""
    if len(names) != len(shapes):
        raise ValueError(f"names has {len(names)} entries, but there are {len(shapes)} polygons")
    if preferred is not None and len(preferred) != len(spots):
        raise ValueError(f"preferred has {len(preferred)} entries, but there are {len(spots)} points")
    kinds = shapely.get_type_id(spots[~shapely.is_missing(spots)])
    if not (kinds == int(shapely.GeometryType.POINT)).all():
        raise ValueError("points must hold points only")


def _codes(names: Names, wishes: Names | None, n_points: int) -> tuple[Indexes, Indexes, Flags]:
    """Return numbers in plain text order for the names of polygons and of wishes, and where a wish is one."""
    wanted = np.full(n_points, None, object) if wishes is None else np.asarray(wishes, dtype=object)
    codes, text = pd.factorize(np.concatenate((np.asarray(names, dtype=object), wanted)))
    place = np.append(
        np.argsort(np.argsort(np.asarray(text, dtype=str))), len(text)
    )  # missing is -1: the last
    ordered = place[codes]
    return ordered[: len(names)], ordered[len(names) :], codes[len(names) :] >= 0


def _pairs(spots: Geometries, shapes: Geometries) -> tuple[Indexes, Indexes, Flags]:
    """Return every point with every polygon that it lies in or on, and whether it is inside."""
    polygon, point = shapely.STRtree(spots).query(shapes, predicate="intersects")
    shapely.prepare(shapes)
    inside = shapely.contains_properly(shapes[polygon], spots[point])
    return point, polygon, inside


def _choose(point: Indexes, polygon: Indexes, keys: tuple[npt.NDArray[np.generic], ...]) -> Indexes:
    """Return the pair of each point that comes first by the keys, the last key counting most."""
    order = np.lexsort((polygon, *keys, point))
    first = np.diff(point[order], prepend=-1) > 0
    return order[first]


def _nearest(spots: Geometries, shapes: Geometries) -> tuple[Indexes, Indexes, Floats]:
    """Return every point with the polygon or polygons nearest to it, and how far they are."""
    (point, polygon), metres = shapely.STRtree(shapes).query_nearest(
        spots, return_distance=True, all_matches=True
    )
    return point, polygon, metres
