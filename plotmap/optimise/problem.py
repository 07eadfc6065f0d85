"""What is to be planned: units with areas and values by period, neighbours, limits, openings and blocks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np
import numpy.typing as npt

from plotmap.errors import SettingsError

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.intp]
Bools = npt.NDArray[np.bool_]


class BandAbout(StrEnum):
    """What an even-flow band is about."""

    PREVIOUS = "previous"
    MEAN = "mean"


@dataclass(frozen=True, slots=True, eq=False)
class Quantity:
    """A quantity that is cut, with what is allowed of it by period.

    Attributes
    ----------
    name : str
        For instance ``basal_area_m2``; messages and reasons use it.
    amount : numpy.ndarray of float, shape (n, periods)
        Of each unit if it is cut in a period, 0 or more; shape (n,) where it is the same in all periods.
    least, most : float or numpy.ndarray of float, shape (periods,)
        Limits of the sum over the units cut in a period; 0 and infinity where there is none.
    band : float or None
        Even flow: each period's sum differs by no more than this share (above 0, below 1) from the sum of the period
        before, or from the mean of all periods.
    band_about : BandAbout
        ``previous`` lets the flow drift: ±10 % over five periods allows a factor of 1.46. ``mean`` does not.
    """

    name: str
    amount: Floats
    least: Floats | float = 0.0
    most: Floats | float = np.inf
    band: float | None = None
    band_about: BandAbout = BandAbout.PREVIOUS


@dataclass(frozen=True, slots=True)
class Openings:
    """How large an opening may get: units that touch and are cut within the green-up time are one opening.

    Attributes
    ----------
    largest_ha : float or None
        Largest area of an opening, in hectares, above 0. None: no two neighbours within the green-up time, whatever
        their areas.
    """

    largest_ha: float | None = None


@dataclass(frozen=True, slots=True)
class Blocks:
    """Cut in contiguous blocks: units cut in the same period that touch are one block, of limited area.

    Attributes
    ----------
    smallest_ha, largest_ha : float
        Area of a block, in hectares; 0 or more and above 0, smallest not above largest.
    entry_cost : float
        Taken from the value for each block, in units of the value; 0 or more.
    most_columns : int
        At most this many possible blocks are considered, times periods. If there are more, the largest are left
        out, the plan says so, and the bound is one of a looser problem.
    """

    smallest_ha: float
    largest_ha: float
    entry_cost: float = 0.0
    most_columns: int = 100_000


@dataclass(frozen=True, slots=True, eq=False)
class Problem:
    """What is to be planned. Made and checked by `problem_of`; arrays are by unit, in the order given there.

    Attributes
    ----------
    area_ha : numpy.ndarray of float, shape (n,)
    value : numpy.ndarray of float, shape (n, periods)
    pairs : numpy.ndarray of int, shape (m, 2)
        Neighbours, each pair once, first below second, ascending.
    quantities : tuple of Quantity
        With all arrays of full shape.
    openings : Openings or None
    blocks : Blocks or None
    green_up_periods : int
        Periods after a cut in which the unit is still open: 0 is the period of the cut alone.
    allowed : numpy.ndarray of bool, shape (n, periods)
    required : numpy.ndarray of bool, shape (n,)
        Units that must be cut in one of their allowed periods.
    names : tuple of str
        Of the units.
    """

    area_ha: Floats
    value: Floats
    pairs: Ints
    quantities: tuple[Quantity, ...]
    openings: Openings | None
    blocks: Blocks | None
    green_up_periods: int
    allowed: Bools
    required: Bools
    names: tuple[str, ...] = field(repr=False)

    @property
    def n_units(self) -> int:
        """Number of units."""
        return len(self.area_ha)

    @property
    def n_periods(self) -> int:
        """Number of periods."""
        return int(self.value.shape[1])


def problem_of(  # noqa: PLR0913 - each is a part of the problem
    area_ha: npt.ArrayLike,
    value: npt.ArrayLike,
    pairs: npt.ArrayLike = (),
    quantities: Sequence[Quantity] = (),
    *,
    openings: Openings | None = None,
    blocks: Blocks | None = None,
    green_up_periods: int = 0,
    allowed: npt.ArrayLike | None = None,
    required: npt.ArrayLike | None = None,
    names: Sequence[str] | None = None,
) -> Problem:
    """Check the parts of a problem and put them into one shape.

    Parameters
    ----------
    area_ha : array_like of float, shape (n,)
        Net area of each unit in hectares, above 0.
    value : array_like of float, shape (n, periods)
        What is gained where a unit is cut in a period, in one unit of the caller's choice; finite, may be negative.
    pairs : array_like of int, shape (m, 2)
        Neighbours, by row of the units; in any order, a pair given twice counts once.
    quantities : sequence of Quantity
        With limits and even-flow bands.
    openings : Openings, optional
        Not together with `blocks`, which says itself how large a block gets.
    blocks : Blocks, optional
        Cut in contiguous blocks. Neighbouring blocks are never open at the same time.
    green_up_periods : int
        0 or more, below the number of periods.
    allowed : array_like of bool, shape (n, periods), optional
        False where the user forbids a unit in a period; all True if left away.
    required : array_like of bool, shape (n,), optional
        True where the user wants the unit cut; a fixed period is one that alone is allowed. All False if left away.
    names : sequence of str, optional
        Of the units; their row numbers if left away.

    Returns
    -------
    Problem

    Raises
    ------
    SettingsError
        Something is missing, of the wrong shape, out of range, or at odds with another part; all faults in one text.
    """
    areas = np.asarray(area_ha, dtype=float)
    values = np.asarray(value, dtype=float)
    faults = _shape_faults(areas, values)
    if faults:
        raise SettingsError("\n".join(faults))
    n, periods = values.shape
    joined = np.asarray(pairs, dtype=np.intp).reshape(-1, 2)
    may = np.ones((n, periods), dtype=bool) if allowed is None else np.asarray(allowed, dtype=bool)
    must = np.zeros(n, dtype=bool) if required is None else np.asarray(required, dtype=bool)
    known = tuple(str(row) for row in range(n)) if names is None else tuple(names)
    faults += _pair_faults(joined, n)
    for what, shape, wanted in (
        ("allowed", may.shape, (n, periods)),
        ("required", must.shape, (n,)),
        ("names", (len(known),), (n,)),
    ):
        if shape != wanted:
            faults.append(f"{what} has the shape {shape}, but must have {wanted}")
    if not 0 <= green_up_periods < periods:
        faults.append(f"green_up_periods is {green_up_periods}, but must be 0 to {periods - 1} (periods − 1)")
    if openings is not None and blocks is not None:
        faults.append(
            "openings and blocks are both given: blocks say themselves how large they get, leave one away"
        )
    faults += _opening_faults(openings) + _block_faults(blocks)
    full: list[Quantity] = []
    for quantity in quantities:
        wrong, made = _full(quantity, n, periods)
        faults += wrong
        full += [made] if made is not None else []
    if len({quantity.name for quantity in quantities}) < len(quantities):
        faults.append("two quantities have the same name")
    if faults:
        raise SettingsError("\n".join(faults))
    ordered = np.unique(np.sort(joined, axis=1), axis=0)
    return Problem(
        areas, values, ordered, tuple(full), openings, blocks, int(green_up_periods), may, must, known
    )


def _shape_faults(areas: Floats, values: Floats) -> list[str]:
    """Return what is wrong with areas and values."""
    if areas.ndim != 1 or values.ndim != 2 or len(values) != len(areas):  # noqa: PLR2004 - two dimensions
        return [
            f"value has the shape {values.shape}, but must have ({areas.size}, periods), a row for each area_ha"
        ]
    if len(areas) == 0:
        return ["there are no units: nothing to plan"]
    if values.shape[1] == 0:
        return ["there are 0 periods: a plan needs 1 or more"]
    faults = []
    if not np.all((areas > 0) & np.isfinite(areas)):
        row = int(np.flatnonzero(~((areas > 0) & np.isfinite(areas)))[0])
        faults.append(f"area_ha of unit {row} is {areas[row]} ha, but must be above 0 ha")
    if not np.all(np.isfinite(values)):
        row = int(np.flatnonzero(~np.isfinite(values).all(axis=1))[0])
        faults.append(
            f"value of unit {row} is {values[row].tolist()}, but must be finite: leave the unit out"
        )
    return faults


def _pair_faults(pairs: Ints, n: int) -> list[str]:
    """Return what is wrong with the neighbours."""
    faults = []
    if pairs.size and (pairs.min() < 0 or pairs.max() >= n):
        faults.append(
            f"pairs name the unit {pairs.max() if pairs.min() >= 0 else pairs.min()}, of 0 to {n - 1}"
        )
    if np.any(pairs[:, 0] == pairs[:, 1]):
        row = int(pairs[pairs[:, 0] == pairs[:, 1]][0, 0])
        faults.append(f"pairs make unit {row} a neighbour of itself")
    return faults


def _opening_faults(openings: Openings | None) -> list[str]:
    """Return what is wrong with the rule of openings."""
    if openings is None or openings.largest_ha is None or openings.largest_ha > 0:
        return []
    return [f"openings.largest_ha is {openings.largest_ha} ha, but must be above 0 ha"]


def _block_faults(blocks: Blocks | None) -> list[str]:
    """Return what is wrong with the rule of blocks."""
    if blocks is None:
        return []
    faults = []
    if not 0 <= blocks.smallest_ha <= blocks.largest_ha or not 0 < blocks.largest_ha < np.inf:
        faults.append(
            f"blocks are {blocks.smallest_ha} to {blocks.largest_ha} ha, but must be 0 ha or more to a larger, "
            "finite area"
        )
    if not 0 <= blocks.entry_cost < np.inf:
        faults.append(f"blocks.entry_cost is {blocks.entry_cost}, but must be 0 or more")
    if blocks.most_columns < 1:
        faults.append(f"blocks.most_columns is {blocks.most_columns}, but must be 1 or more")
    return faults


def _full(quantity: Quantity, n: int, periods: int) -> tuple[list[str], Quantity | None]:
    """Return what is wrong with a quantity, and the quantity with arrays of full shape."""
    amount = np.asarray(quantity.amount, dtype=float)
    amount = np.repeat(amount[:, None], periods, axis=1) if amount.ndim == 1 else amount
    least, most = (np.asarray(limit, dtype=float) for limit in (quantity.least, quantity.most))
    if amount.shape != (n, periods) or any(limit.shape not in ((), (periods,)) for limit in (least, most)):
        return [f"{quantity.name}: amount must have the shape ({n}, {periods}), limits ({periods},)"], None
    least, most = np.broadcast_to(least, periods).copy(), np.broadcast_to(most, periods).copy()
    faults = []
    if not np.all((amount >= 0) & np.isfinite(amount)):
        faults.append(f"{quantity.name}: every amount must be 0 or more, and finite")
    wrong = ~((least >= 0) & np.isfinite(least) & (least <= most))
    if np.any(wrong):
        t = int(np.flatnonzero(wrong)[0])
        faults.append(
            f"{quantity.name}: limits of period {t + 1} are {least[t]:g} to {most[t]:g}, but must be 0 or more, "
            "least not above most"
        )
    if quantity.band is not None and not 0 < quantity.band < 1:
        faults.append(
            f"{quantity.name}: the even-flow band is {quantity.band}, but must be above 0 and below 1"
        )
    about = BandAbout(quantity.band_about)
    return faults, Quantity(quantity.name, amount, least, most, quantity.band, about)
