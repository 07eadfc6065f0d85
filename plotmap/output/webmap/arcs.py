"""Boundaries of polygons cut into arcs, so that what several polygons share is one line."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

if TYPE_CHECKING:
    from numpy.typing import NDArray

_FEWEST = 3
"""Vertices of a ring, the closing one left out."""
_EDGES_ON_THE_WAY = 2


@dataclass(frozen=True, slots=True)
class Arcs:
    """Rings of polygons as runs of lines.

    Attributes
    ----------
    lines : numpy.ndarray of shapely.LineString, shape (n_lines,)
        From one vertex where more or fewer than two edges meet to the next, each once.
    line : numpy.ndarray of int64, shape (n_arcs,)
        Line of each arc, ring after ring.
    backwards : numpy.ndarray of bool, shape (n_arcs,)
        Whether the ring runs along its line against its direction.
    ring : numpy.ndarray of int64, shape (n_arcs,)
        Ring of each arc.
    part : numpy.ndarray of int64, shape (n_rings,)
        Part of a polygon that each ring is of, the outer ring first.
    polygon : numpy.ndarray of int64, shape (n_parts,)
        Polygon that each part is of.
    """

    lines: NDArray[np.object_]
    line: NDArray[np.int64]
    backwards: NDArray[np.bool_]
    ring: NDArray[np.int64]
    part: NDArray[np.int64]
    polygon: NDArray[np.int64]

    def polygon_of_arc(self) -> NDArray[np.int64]:
        """Return the polygon that each arc is of, shape (n_arcs,)."""
        return self.polygon[self.part[self.ring]]

    def polygons(
        self, lines: NDArray[np.object_], usual: NDArray[np.object_]
    ) -> tuple[NDArray[np.object_], NDArray[np.bool_]]:
        """Return the polygons with other lines between the same ends.

        Parameters
        ----------
        lines : numpy.ndarray of shapely.LineString, shape (n_lines,)
            In place of `lines`.
        usual : numpy.ndarray of shapely geometries, shape (n_polygons,)
            Polygons for those that cannot be put together.

        Returns
        -------
        polygons : numpy.ndarray of shapely.MultiPolygon, shape (n_polygons,)
        fallen : numpy.ndarray of bool, shape (n_polygons,)
            Whether a ring had fewer than three vertices left, so that the usual polygon was taken.
        """
        run = lines[self.line]
        run = np.where(self.backwards, shapely.reverse(run), run)
        xy, arc = shapely.get_coordinates(run, return_index=True)
        last = np.append(arc[1:] != arc[:-1], True)[: len(arc)]
        xy, ring = xy[~last], self.ring[arc[~last]]
        counts = np.bincount(ring, minlength=len(self.part))
        fallen = np.zeros(len(usual), np.bool_)
        fallen[self.polygon[self.part[counts < _FEWEST]]] = True
        sound = ~fallen[self.polygon[self.part]]
        keep = sound[ring]
        after = usual.copy()
        if keep.any():
            rings = shapely.linearrings(xy[keep], indices=_renumbered(ring[keep]))
            parts = shapely.polygons(rings, indices=_renumbered(self.part[sound]))
            home = self.polygon[np.unique(self.part[sound])]
            after[np.unique(home)] = shapely.multipolygons(parts, indices=_renumbered(home))
        return after, fallen


def arcs_of(polygons: NDArray[np.object_]) -> Arcs:
    """Return the boundaries of polygons as arcs.

    Parameters
    ----------
    polygons : numpy.ndarray of shapely.Polygon or shapely.MultiPolygon, shape (n,)
        None empty or missing.

    Returns
    -------
    Arcs
    """
    parts, polygon = shapely.get_parts(shapely.remove_repeated_points(polygons, 0.0), return_index=True)
    rings, part = shapely.get_rings(parts, return_index=True)
    xy, ring = shapely.get_coordinates(rings, return_index=True)
    vertex = np.unique(xy[:, 0] + 1j * xy[:, 1], return_inverse=True)[1].astype(np.int64)
    nodes = _nodes(vertex, ring)
    turned = _turned(ring, nodes[vertex])
    xy, vertex = xy[turned], vertex[turned]
    closing = _last_of(ring)
    first = np.flatnonzero(nodes[vertex] & ~closing)
    ends = np.flatnonzero(nodes[vertex] & (np.append(False, ring[1:] == ring[:-1])[: len(ring)]))
    line, backwards, shown = _shared(vertex, first, ends)
    spans = (ends - first + 1)[shown]
    place = np.repeat(first[shown] - np.cumsum(spans) + spans, spans) + np.arange(spans.sum())
    lines = shapely.linestrings(xy[place], indices=np.repeat(np.arange(len(shown)), spans))
    lines = np.where(backwards[shown], shapely.reverse(lines), lines)
    return Arcs(np.asarray(lines), line, backwards, ring[first], part, polygon)


def _last_of(ring: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Return which vertices are the last of their ring."""
    return np.append(ring[1:] != ring[:-1], True)[: len(ring)]


def _renumbered(numbers: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return rising numbers without gaps, from zero."""
    return np.unique(numbers, return_inverse=True)[1].astype(np.int64)


def _nodes(vertex: NDArray[np.int64], ring: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Return which vertices end arcs: where not two edges meet, and the lowest of each ring without such a vertex."""
    edges = np.sort(np.column_stack([vertex[:-1], vertex[1:]])[ring[1:] == ring[:-1]], axis=1)
    count = int(vertex.max(initial=0)) + 1
    codes = np.unique(edges[:, 0] * count + edges[:, 1])
    nodes = np.bincount(np.concatenate([codes // count, codes % count]), minlength=count) != _EDGES_ON_THE_WAY
    if len(ring):
        start = np.flatnonzero(np.append(True, ring[1:] != ring[:-1]))
        without = ~np.logical_or.reduceat(nodes[vertex], start)
        nodes[np.minimum.reduceat(vertex, start)[without]] = True
    return np.asarray(nodes)


def _turned(ring: NDArray[np.int64], is_node: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Return the order of vertices in which every ring begins and ends at its first node."""
    if not len(ring):
        return np.empty(0, np.int64)
    start = np.flatnonzero(np.append(True, ring[1:] != ring[:-1]))
    size = np.diff(np.append(start, len(ring))) - 1  # without the closing vertex
    places = np.arange(len(ring))
    first = np.minimum.reduceat(np.where(is_node, places, len(ring)), start) - start
    return np.asarray(start[ring] + (places - start[ring] + first[ring]) % size[ring])


def _shared(
    vertex: NDArray[np.int64], first: NDArray[np.int64], ends: NDArray[np.int64]
) -> tuple[NDArray[np.int64], NDArray[np.bool_], NDArray[np.int64]]:
    """Return the line of each arc, whether it runs against it, and for each line an arc that shows it.

    From a node along an edge there is one way only to the next node: first and second vertex tell a line.
    """
    count = int(vertex.max(initial=0)) + 1
    along = vertex[first] * count + vertex[first + 1]
    against = vertex[ends] * count + vertex[ends - 1]
    _, shown, line = np.unique(np.minimum(along, against), return_index=True, return_inverse=True)
    return line.astype(np.int64), np.asarray(against < along), shown.astype(np.int64)
