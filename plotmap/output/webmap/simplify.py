"""Outlines with fewer vertices: shared boundaries stay shared, and no outline moves farther than is said."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from plotmap.output.webmap.arcs import Arcs, arcs_of

if TYPE_CHECKING:
    import geopandas as gpd
    from numpy.typing import NDArray

TOLERANCES_M = (0.5, 1.0, 2.0, 4.0, 8.0)
"""Tried one after the other until no more than `MOST_VERTICES` are left."""
MOST_VERTICES = 2_000_000
"""Vertices up to which a coarser tolerance is not tried."""
_ROUNDS = 8
_ROUNDING = 1e-9
"""Part of a distance that rounding may add."""
_POLYGON, _MULTIPOLYGON = 3, 6


@dataclass(frozen=True, slots=True)
class Simplified:
    """A layer with fewer vertices.

    Attributes
    ----------
    layer : geopandas.GeoDataFrame
        As many rows as before, as many polygons in each.
    moved_m : float
        Largest distance in m between an outline before and after (Hausdorff distance), 0 where none was moved.
    """

    layer: gpd.GeoDataFrame
    moved_m: float


def simplified(layer: gpd.GeoDataFrame) -> Simplified:
    """Return the layer with fewer vertices where that is safe, else the layer itself.

    The boundaries are cut into arcs where not exactly two of their edges meet, and each arc is simplified once for
    all polygons that share it (Douglas & Peucker 1973, as `shapely.simplify` does it), so that no vertex left out
    lies farther from the new boundary than the tolerance. Where a polygon would lose a part, become invalid or, in
    a coverage without overlaps (`shapely.coverage_is_valid`), get an overlap or a gap, its arcs keep their vertices.
    The tolerance is the smallest of `TOLERANCES_M` that leaves at most `MOST_VERTICES`, or else the largest.

    Parameters
    ----------
    layer : geopandas.GeoDataFrame
        Polygons in a CRS, missing or empty ones too. A layer in degrees is returned as it is.

    Returns
    -------
    Simplified
    """
    if layer.crs is None or not layer.crs.is_projected:
        return Simplified(layer, 0.0)
    metres = float(layer.crs.axis_info[0].unit_conversion_factor)
    shapes = layer.geometry.to_numpy()
    there = ~(shapely.is_missing(shapes) | shapely.is_empty(shapes))
    before = shapes[there]
    if not np.isin(shapely.get_type_id(before), (_POLYGON, _MULTIPOLYGON)).all():
        return Simplified(layer, 0.0)
    is_coverage = bool(shapely.coverage_is_valid(before))
    cut = arcs_of(before)
    found = before
    for tolerance_m in TOLERANCES_M:
        found = _fewer(before, cut, tolerance_m / metres, is_coverage=is_coverage)
        if shapely.get_num_coordinates(found).sum() <= MOST_VERTICES:
            break
    moved = float(shapely.hausdorff_distance(before, found).max(initial=0.0)) * metres
    if not moved:
        return Simplified(layer, 0.0)
    shapes = shapes.copy()
    shapes[there] = found
    return Simplified(layer.set_geometry(shapes, crs=layer.crs), moved)


def _fewer(
    before: NDArray[np.object_], cut: Arcs, tolerance: float, *, is_coverage: bool
) -> NDArray[np.object_]:
    """Return the polygons with their arcs simplified; arcs of polygons that would be spoilt keep their vertices."""
    home = cut.polygon_of_arc()
    kept = np.zeros(len(cut.lines), np.bool_)
    lines = shapely.simplify(cut.lines, tolerance, preserve_topology=False)
    for _ in range(_ROUNDS):
        after, fallen = cut.polygons(np.where(kept, cut.lines, lines), before)
        wrong = fallen | _spoilt(before, after, tolerance)
        if is_coverage and not wrong.any():
            wrong = ~shapely.is_empty(shapely.coverage_invalid_edges(after))
        if not wrong.any():
            return after
        kept[cut.line[np.isin(home, np.flatnonzero(wrong))]] = True
    return before


def _spoilt(before: NDArray[np.object_], after: NDArray[np.object_], tolerance: float) -> NDArray[np.bool_]:
    """Return which polygons lost a part, became invalid or were moved too far."""
    whole = (shapely.is_valid(after) | ~shapely.is_valid(before)) & ~shapely.is_empty(after)
    same = shapely.get_num_geometries(after) == shapely.get_num_geometries(before)
    near = shapely.hausdorff_distance(before, after) <= tolerance * (1 + _ROUNDING)
    return np.asarray(~(whole & same & near))
