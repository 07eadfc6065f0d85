"""Where shared plots are shown, and what they are called: drawn from a key, never from where they lie."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt
import shapely

if TYPE_CHECKING:
    import geopandas as gpd

KEEP_OFF_M = 0.5
"""No plot is shown nearer than this to the true place of any plot or stem; more would tell where those are not."""
_DRAWS = 8
"""Places drawn from one digest of 64 bytes."""
_ROUNDS = 16
_WORD = float(2**32)
_PREFIXES = ("s", "t", "v", "shared-", "plotmap-")
_Points = npt.NDArray[np.float64]


def key_of(plots: gpd.GeoDataFrame, phrase: str) -> bytes:
    """Return the key that names and places of shared plots are drawn from.

    Parameters
    ----------
    plots : geopandas.GeoDataFrame
        ``plot`` and points: without a phrase the key is made from them, so that it is the same on every run and
        another one for every other survey.
    phrase : str
        A secret of the house (``[share] phrase``): with it the key stays the same when plots are added.

    Returns
    -------
    bytes
        32 bytes (BLAKE2b, RFC 7693). Who has them can say which plot is which.
    """
    if phrase:
        return hashlib.blake2b(phrase.encode(), digest_size=32, person=b"plotmap phrase").digest()
    digest = hashlib.blake2b(digest_size=32, person=b"plotmap plots")
    names = plots["plot"].astype(object).fillna("").to_numpy()
    points = points_of(plots)
    for place in np.argsort(names.astype(str), kind="stable"):
        digest.update(f"{names[place]}\x00{points[place, 0]:.3f} {points[place, 1]:.3f}\n".encode())
    return digest.digest()


def points_of(layer: gpd.GeoDataFrame) -> _Points:
    """Return easting and northing of each row, shape (n, 2); NaN where there is no position."""
    shapes = layer.geometry.to_numpy()
    placed = ~(shapely.is_missing(shapes) | shapely.is_empty(shapes))
    found = np.full((len(shapes), 2), np.nan)
    found[placed] = shapely.get_coordinates(shapes[placed])
    return found


def new_names(names: Sequence[str], key: bytes) -> list[str]:
    """Return running numbers in the order of a keyed digest, as ``s001``; none of them is an old name.

    Parameters
    ----------
    names : sequence of str
        Identifiers of plots, each once.
    key : bytes
        As of `key_of`.
    """
    ranks = np.argsort(np.argsort(np.array([_digest(name, key, b"name") for name in names], dtype="S16")))
    digits = max(3, len(str(len(names))))
    taken = {name.casefold() for name in names}
    for prefix in _PREFIXES:
        made = [f"{prefix}{rank + 1:0{digits}d}" for rank in ranks.tolist()]
        if taken.isdisjoint(made):
            return made
    return made  # whoever names plots so finds them in the leak test


def new_places(names: Sequence[str], areas: npt.NDArray[Any], key: bytes, keep_off: _Points) -> _Points:
    """Draw a place for each plot, anywhere in its compartment alike, whatever its true place is.

    The place depends on the key, the name and the outline only. A vector of a given length about the true place
    would let a grid of plots be fitted through the places shown, and a least distance would rule out grids that
    come too near; a place that has nothing to do with the true one does neither.

    Parameters
    ----------
    names : sequence of str
        Identifiers of plots.
    areas : numpy.ndarray of shapely geometry, shape (n,)
        Outline of each plot's compartment; None or empty where it has none.
    key : bytes
        As of `key_of`.
    keep_off : numpy.ndarray of float, shape (m, 2)
        True places of plots and stems: a draw within `KEEP_OFF_M` of one is drawn again.

    Returns
    -------
    numpy.ndarray of float, shape (n, 2)
        In the CRS of `areas`; a point on the surface where 128 draws found none, NaN without an outline.
    """
    found = np.full((len(names), 2), np.nan)
    there = ~(shapely.is_missing(areas) | shapely.is_empty(areas))
    open_rows = np.flatnonzero(there)
    bounds = shapely.bounds(areas)
    shapely.prepare(areas[there])
    near = shapely.STRtree(_points(keep_off))
    for turn in range(_ROUNDS):
        if not open_rows.size:
            return found
        words = b"".join(_digest(names[row], key, b"place%d" % turn, 64) for row in open_rows.tolist())
        draws = np.frombuffer(words, dtype="<u4").reshape(len(open_rows), _DRAWS, 2) / _WORD
        low, high = bounds[open_rows, None, :2], bounds[open_rows, None, 2:]
        at = low + draws * (high - low)
        good = shapely.contains_xy(areas[open_rows, None], at[..., 0], at[..., 1])
        rows, draw = np.nonzero(good)
        close = near.query(shapely.points(at[rows, draw]), predicate="dwithin", distance=KEEP_OFF_M)[0]
        good[rows[close], draw[close]] = False
        hit = good.any(axis=1)
        found[open_rows[hit]] = at[hit, good.argmax(axis=1)[hit]]
        open_rows = open_rows[~hit]
    if open_rows.size:
        found[open_rows] = shapely.get_coordinates(shapely.point_on_surface(areas[open_rows]))
    return found


def in_order_of(names: Iterable[str]) -> npt.NDArray[np.intp]:
    """Return the rows in the order of their new names."""
    return np.argsort(np.array(list(names), dtype=object).astype(str), kind="stable")


def _points(places: _Points) -> npt.NDArray[np.object_]:
    """Return places as points, those that are known."""
    known = places[np.isfinite(places).all(axis=1)]
    return np.asarray(shapely.points(known), dtype=object)


def _digest(name: str, key: bytes, use: bytes, size: int = 16) -> bytes:
    """Return a keyed digest of a name for one use."""
    return hashlib.blake2b(name.encode(), digest_size=size, key=key, person=use).digest()
