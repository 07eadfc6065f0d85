"""What PROJ does where positions change their datum: by which operation, and how well that is known."""

from __future__ import annotations

import math
import warnings
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pyproj
from pyproj.aoi import AreaOfInterest
from pyproj.crs import CoordinateOperation  # type: ignore[attr-defined]
from pyproj.exceptions import ProjError
from pyproj.transformer import TransformerGroup

from plotmap.spatial.crs import Floats, exact_transformer, transform_points, without_network

_SAME_M = 0.001
"""Places that move by less than this are where they were."""
_NULL_ACCURACY_M = 1.0
"""A change that moves nothing and is known this well is none that anybody has to hear of."""
_MARGIN_DEG = 0.01


@dataclass(frozen=True, slots=True)
class DatumChange:
    """A change of datum between two reference systems, at certain places.

    Attributes
    ----------
    operations : tuple of str
        Names of the operations PROJ used, as its database has them; more than one where places differ.
    accuracy_m : float or None
        Accuracy that their author stated, in metres; the worst of several; None where none was stated.
    shift_m : float or None
        How far the middle of the places moves by it, in metres; None where prime meridians differ too.
    better : str
        An operation of better accuracy that cannot be used, since a grid file is missing; empty where there is none.
    better_accuracy_m : float or None
        Accuracy of `better`, in metres.
    grids : tuple of str
        The grid files it lacks.
    """

    operations: tuple[str, ...]
    accuracy_m: float | None
    shift_m: float | None
    better: str = ""
    better_accuracy_m: float | None = None
    grids: tuple[str, ...] = ()


def datum_change(
    x: npt.ArrayLike, y: npt.ArrayLike, source: pyproj.CRS, target: pyproj.CRS
) -> DatumChange | None:
    """Return by which operation places change their datum, asked at their middle and at their corners.

    Parameters
    ----------
    x, y : array_like of float, one shape
        Easting and northing, or longitude and latitude, in the units of `source`. NaN where missing.
    source, target : pyproj.CRS
        From and to.

    Returns
    -------
    DatumChange or None
        None where both have one datum, where there are no places, or where the change leaves every place where it
        is (less than 1 mm) and is stated to be good to 1 m, as between realisations of one system.

    Raises
    ------
    BallparkTransformError
        PROJ has only a "ballpark" operation.
    """
    corners = _corners(x, y)
    if corners is None:
        return None
    with without_network():
        used = _used(corners, source, target)
        if not used:
            return None
        shift_m = _shift_m(corners[0], source, target)
        stated = [accuracy_m for _, accuracy_m in used]
        accuracy_m = None if None in stated else max(each for each in stated if each is not None)
        if (
            shift_m is not None
            and shift_m < _SAME_M
            and accuracy_m is not None
            and accuracy_m <= _NULL_ACCURACY_M
        ):
            return None
        better = _better(corners, accuracy_m, source, target)
    return DatumChange(tuple(name for name, _ in used), accuracy_m, shift_m, *better)


def _corners(x: npt.ArrayLike, y: npt.ArrayLike) -> Floats | None:
    """Return the middle and the four corners of some places, a row each; None where there are none."""
    places = np.column_stack((np.ravel(np.asarray(x, dtype=float)), np.ravel(np.asarray(y, dtype=float))))
    places = places[np.isfinite(places).all(axis=1)]
    if not len(places):
        return None
    (west, south), (east, north) = places.min(axis=0), places.max(axis=0)
    middle = ((west + east) / 2, (south + north) / 2)
    return np.array([middle, (west, south), (west, north), (east, south), (east, north)])


def _used(corners: Floats, source: pyproj.CRS, target: pyproj.CRS) -> tuple[tuple[str, float | None], ...]:
    """Return name and stated accuracy of the operations used; none where only projections are."""
    transformer = exact_transformer(source, target)
    found: dict[str, float | None] = {}
    for east, north in corners:
        if not np.isfinite(transformer.transform(east, north)).all():
            continue
        last = _last_used(transformer)
        if name := _of_datum(last.operations):
            found[name] = last.accuracy if last.accuracy >= 0 else None
    return tuple(found.items())


def _last_used(transformer: pyproj.Transformer) -> pyproj.Transformer:
    """Return the operation of the last place; the transformer itself where it leaves coordinates as they are."""
    try:
        return transformer.get_last_used_operation()
    except ProjError:
        return transformer


def _of_datum(steps: Sequence[CoordinateOperation] | None) -> str:
    """Return the names of the steps that change the datum, without projections and orders of axes."""
    return " + ".join(step.name for step in steps or () if step.type_name.endswith("Transformation"))


def _shift_m(place: Floats, source: pyproj.CRS, target: pyproj.CRS) -> float | None:
    """Return how far a place moves, in metres: against taking its degrees for those of the other datum."""
    own, other = source.geodetic_crs, target.geodetic_crs
    if own is None or other is None or own.prime_meridian != other.prime_meridian:
        return None
    lon, lat = transform_points(place[:1], place[1:], source, own)
    moved = transform_points(*transform_points(place[:1], place[1:], source, target), target, other)
    east = (moved[0] - lon) * math.cos(math.radians(lat.item()))
    metres = math.hypot(east.item(), (moved[1] - lat).item()) * math.pi / 180 * _radius_m(other)
    return metres if math.isfinite(metres) else None


def _radius_m(crs: pyproj.CRS) -> float:
    """Return the larger half axis of a system's ellipsoid, near enough for the size of a shift."""
    return 6_378_137.0 if crs.ellipsoid is None else crs.ellipsoid.semi_major_metre


def _better(
    corners: Floats, accuracy_m: float | None, source: pyproj.CRS, target: pyproj.CRS
) -> tuple[str, float | None, tuple[str, ...]]:
    """Return the most accurate operation that lacks a grid and is better than the one used."""
    lon, lat = transform_points(corners[:, 0], corners[:, 1], source, _degrees_of(source))
    if not (np.isfinite(lon).all() and np.isfinite(lat).all()):
        return "", None, ()
    area = AreaOfInterest(
        float(lon.min()) - _MARGIN_DEG,
        float(lat.min()) - _MARGIN_DEG,
        float(lon.max()) + _MARGIN_DEG,
        float(lat.max()) + _MARGIN_DEG,
    )
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # pyproj warns of the very thing that is looked for
        group = TransformerGroup(
            source,
            target,
            always_xy=True,
            area_of_interest=area,  # type: ignore[arg-type]
            allow_ballpark=False,
        )
    known = [each for each in group.unavailable_operations if each.accuracy >= 0]
    best = min(known, key=lambda each: (each.accuracy, each.name), default=None)
    if best is None or (accuracy_m is not None and best.accuracy >= accuracy_m):
        return "", None, ()
    grids = tuple(str(grid.short_name) for grid in best.grids if not grid.available)
    return _of_datum(best.operations) or best.name, best.accuracy, grids


def _degrees_of(crs: pyproj.CRS) -> pyproj.CRS:
    """Return the geographic system of a projected one, itself for others."""
    return crs.geodetic_crs or crs
