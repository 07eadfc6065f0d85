"""Whether numbers are positions that must not be shared."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import permutations

import numpy as np
import numpy.typing as npt

_Floats = npt.NDArray[np.float64]
_Keys = npt.NDArray[np.int64]
_NEAR_M, _NEAR_DEGREES = 0.1, 1e-6
"""Side of the squares that positions are sorted into; a position is met in its own and those round it."""
_SHIFT = 31
_AROUND = (-1, 0, 1)
_SCALES = (1.0, 1e-1, 1e-2, 1e-3, 1e-5, 1e-6, 1e-7)
"""What whole numbers of packed data may be counted in."""
_LARGE = 10_000.0
_SINGLE = 3
_MOST_BY_CHANCE = 0.1
_MOST = 0.5
"""A column most of whose numbers are eastings (or northings) of three places or more is one, also if it is alone."""


@dataclass(frozen=True, slots=True)
class _System:
    """Positions in one kind of coordinates."""

    side: float
    x: _Keys
    y: _Keys
    pairs: _Keys
    bounds: tuple[float, float, float, float]

    @classmethod
    def of(cls, positions: _Floats, side: float) -> _System:
        """Sort positions into squares."""
        squares = np.rint(positions / side).astype(np.int64)
        low, high = positions.min(axis=0), positions.max(axis=0)
        return cls(
            side,
            np.unique(squares[:, 0]),
            np.unique(squares[:, 1]),
            np.unique(_key(squares[:, 0], squares[:, 1])),
            (low[0] - 2 * side, high[0] + 2 * side, low[1] - 2 * side, high[1] + 2 * side),
        )

    def beside(self, values: _Floats, axis: int) -> npt.NDArray[np.bool_]:
        """Say which values are the coordinate of some position on an axis."""
        low, high = self.bounds[2 * axis : 2 * axis + 2]
        found = (values >= low) & (values <= high)
        rows = np.flatnonzero(found)
        squares = np.rint(values[rows] / self.side).astype(np.int64)
        known = self.y if axis else self.x
        found[rows] = np.logical_or.reduce([_among(squares + step, known) for step in _AROUND])
        return found

    def fills(self, values: _Floats, beside: npt.NDArray[np.bool_], axis: int) -> bool:
        """Say whether most numbers of a column are coordinates on an axis, and more than chance would make so."""
        known = self.y if axis else self.x
        low, high = self.bounds[2 * axis : 2 * axis + 2]
        if len(_AROUND) * self.side * len(known) > _MOST_BY_CHANCE * (high - low):
            return False
        told = values[beside & (np.abs(values) >= _LARGE)]
        several = len(np.unique(np.rint(told))) >= _SINGLE
        return several and len(told) > _MOST * np.isfinite(values).sum()

    def met(self, x: _Floats, y: _Floats) -> bool:
        """Say whether any pair is a position."""
        squares = np.rint(np.stack([x, y]) / self.side).astype(np.int64)
        return any(
            bool(_among(_key(squares[0] + across, squares[1] + along), self.pairs).any())
            for across in _AROUND
            for along in _AROUND
        )


class PositionsFound:
    """Finds positions among numbers.

    Parameters
    ----------
    positions : numpy.ndarray of float, shape (n, 2)
        Easting and northing in m.
    lonlat : numpy.ndarray of float, shape (n, 2)
        The same in degrees; without rows where they are not known.
    """

    def __init__(self, positions: _Floats, lonlat: _Floats) -> None:
        given = ((positions, _NEAR_M), (lonlat, _NEAR_DEGREES))
        self._systems = [_System.of(places, side) for places, side in given if len(places)]
        self._metric = self._systems[0] if len(positions) else None

    def in_columns(self, columns: Iterable[_Floats], *, packed: bool = False, alone: bool = False) -> bool:
        """Say whether a row of numbers beside each other holds both coordinates of a position.

        Parameters
        ----------
        columns : iterable of numpy.ndarray of float
            All of one length; NaN where there is no number.
        packed : bool
            Whole numbers may count parts of a unit, or be steps from one to the next.
        alone : bool
            Whether a column that holds only the eastings, or only the northings, of several plots counts too.
        """
        found: dict[int, list[tuple[int, int, _Floats, npt.NDArray[np.bool_]]]] = {}
        for number, column in enumerate(columns):
            for values in _readings(column) if packed else (column,):
                for place, system in enumerate(self._systems):
                    for axis in (0, 1):
                        beside = system.beside(values, axis)
                        if beside.any():
                            found.setdefault(place, []).append((number, axis, values, beside))
                            if alone and system is self._metric and system.fills(values, beside, axis):
                                return True
        return any(
            self._systems[place].met(one[2][both], other[2][both])
            for place, candidates in found.items()
            for one, other in permutations(candidates, 2)
            if one[0] != other[0] and one[1] == 0 and other[1] == 1
            for both in (one[3] & other[3],)
            if both.any()
        )

    def in_bytes(self, raw: bytes) -> bool:
        """Say whether two floating-point numbers of eight bytes, one after the other, are a position."""
        for start in range(8):
            whole = (len(raw) - start) // 8
            if whole < 2:  # noqa: PLR2004 - two coordinates
                return False
            for order in ("<f8", ">f8"):
                values = np.frombuffer(raw, order, whole, start).astype(np.float64)
                for one, other in ((values[:-1], values[1:]), (values[1:], values[:-1])):
                    if any(_pair(system, one, other) for system in self._systems):
                        return True
        return False


def _pair(system: _System, x: _Floats, y: _Floats) -> bool:
    """Say whether any row of two columns is a position."""
    west, east, south, north = system.bounds
    rows = (x >= west) & (x <= east) & (y >= south) & (y <= north)
    return bool(rows.any()) and system.met(x[rows], y[rows])


def _readings(column: _Floats) -> Iterator[_Floats]:
    """Yield what whole numbers of packed data may stand for."""
    yield column
    known = column[np.isfinite(column)]
    if not known.size or (known != np.rint(known)).any():
        return
    sums = np.nancumsum(column)
    for scale in _SCALES:
        yield sums * scale
        if scale != 1:
            yield column * scale


def _key(x: _Keys, y: _Keys) -> _Keys:
    """Return one number for a square."""
    return (x << _SHIFT) + y


def _among(values: _Keys, known: _Keys) -> npt.NDArray[np.bool_]:
    """Say which values are among sorted ones."""
    at = np.minimum(np.searchsorted(known, values), len(known) - 1)
    return np.asarray(known[at] == values)
