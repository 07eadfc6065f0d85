"""How near points lie to the boundary of their polygon, to the next polygon, and to the outer edge of all."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely

from plotmap.spatial.crs import Geometries


def near_boundaries(
    points: gpd.GeoSeries | Geometries,
    own: npt.NDArray[np.integer],
    polygons: gpd.GeoSeries | Geometries,
    limit_m: float,
) -> pd.DataFrame:
    """Return the points that are closer to the boundary of their polygon than a limit. Geometry, needs no source.

    Parameters
    ----------
    points : geopandas.GeoSeries or array_like of shapely points, shape (n,)
        Missing (None) where there is no position.
    own : numpy.ndarray of int, shape (n,)
        Row of the polygon each belongs to; −1 where to none: such points are left out.
    polygons : geopandas.GeoSeries or array_like of shapely geometries, shape (m,)
        In the same plane, in metres.
    limit_m : float
        In metres; a point exactly this far is left out.

    Returns
    -------
    pandas.DataFrame
        A row a point, in their order.

        - ``point`` (int): row of `points`.
        - ``boundary_m`` (float): distance to the boundary of its own polygon, holes' included.
        - ``neighbour`` (int): row of the other polygon that is nearest, if closer than the limit; else −1. Of several
          equally near the first.
        - ``neighbour_m`` (float): distance to it; 0 inside it; NaN where there is none.
        - ``edge_m`` (float): distance to the boundary of all polygons together: the outer edge, also of holes and
          of gaps between them.
    """
    spots, shapes = np.asarray(points, dtype=object), np.asarray(polygons, dtype=object)
    place = np.flatnonzero((own >= 0) & ~shapely.is_missing(spots))
    metres = shapely.distance(spots[place], shapely.boundary(shapes[own[place]]))
    near = metres < limit_m
    place, metres = place[near], metres[near]
    neighbour, neighbour_m = np.full(len(place), -1), np.full(len(place), np.nan)
    edge_m = np.full(len(place), np.nan)
    if len(place):
        pair, other = shapely.STRtree(shapes).query(spots[place], predicate="dwithin", distance=limit_m)
        foreign = other != own[place][pair]
        pair, other = pair[foreign], other[foreign]
        apart = shapely.distance(spots[place][pair], shapes[other])
        order = np.lexsort((other, apart, pair))[::-1]
        order = order[apart[order] < limit_m]
        neighbour[pair[order]], neighbour_m[pair[order]] = other[order], apart[order]
        edge_m = shapely.distance(spots[place], shapely.boundary(shapely.union_all(shapes)))
    return pd.DataFrame(
        {
            "point": place,
            "boundary_m": metres,
            "neighbour": neighbour,
            "neighbour_m": neighbour_m,
            "edge_m": edge_m,
        }
    )
