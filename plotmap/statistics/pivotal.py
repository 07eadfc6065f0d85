"""Spatially balanced samples by the local pivotal method."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import numpy.typing as npt
from scipy.spatial import cKDTree

from plotmap.statistics.estimates import Floats

_ROUND_OFF = 1e-9
_Indexes = npt.NDArray[np.intp]


def local_pivotal(
    probabilities: npt.ArrayLike, places: npt.ArrayLike, draw: Callable[[int, int], Floats]
) -> npt.NDArray[np.bool_]:
    """Draw a sample whose units keep apart from each other, with the inclusion probabilities given.

    Local pivotal method with pairs of units that are each other's nearest (Grafström, Lundström & Schelin 2012,
    Biometrics 68: 514-520, LPM 1): a pair with the probabilities p and q becomes 0 and p + q, or 1 and p + q − 1, by
    chance, so that both keep their expectations; where one is taken, its neighbour is the less likely to be. Here all
    such pairs of a round, which have no unit in common, are decided at once: which pairs are decided depends on what
    was drawn before only, so that inclusion probabilities are exact all the same. About a third of the units is
    decided in a round.

    Parameters
    ----------
    probabilities : array_like of float, shape (n,)
        0 to 1.
    places : array_like of float, shape (n, 2)
        Finite.
    draw : callable
        From number of the round and how many to numbers even over 0 to 1, new ones in each round.

    Returns
    -------
    numpy.ndarray of bool, shape (n,)
        Whether each unit is in the sample. Where the probabilities add up to a whole number, as many are.

    Raises
    ------
    ValueError
        A probability is none, a place is not finite, or lengths differ.
    """
    left = np.array(probabilities, dtype=float)
    at = np.asarray(places, dtype=float)
    if at.shape != (len(left), 2) or not np.isfinite(at).all():
        raise ValueError(
            f"places have the shape {at.shape}, but must be finite and one for each of {len(left)} units"
        )
    if not ((left >= 0) & (left <= 1)).all():
        raise ValueError("probabilities must be 0 to 1")
    turn = 0
    while len(open_yet := np.flatnonzero((left > _ROUND_OFF) & (left < 1 - _ROUND_OFF))) > 1:
        first, second = _pairs(at[open_yet])
        one, two = open_yet[first], open_yet[second]
        left[one], left[two] = _decided(left[one], left[two], draw(turn, len(one)))
        turn += 1
    left[open_yet] = draw(turn, len(open_yet)) < left[open_yet]
    return np.asarray(left > 1 / 2)


def _pairs(at: Floats) -> tuple[_Indexes, _Indexes]:
    """Return all pairs of units that are each other's nearest; one unit and its nearest where ties leave none."""
    here = np.arange(len(at))
    found = np.asarray(cKDTree(at).query(at, k=2)[1])
    nearest = np.where(found[:, 0] == here, found[:, 1], found[:, 0])
    first = np.flatnonzero((nearest[nearest] == here) & (here < nearest))
    return (first, nearest[first]) if len(first) else (here[:1], nearest[:1])


def _decided(p: Floats, q: Floats, chance: Floats) -> tuple[Floats, Floats]:
    """Return the probabilities of pairs after one of each is decided."""
    both = p + q
    to_none = both < 1
    # the chance that the second keeps what is left where one goes out, or the first where one comes in
    turned = np.where(to_none, q / both, (1 - q) / np.where(to_none, 1.0, 2 - both))
    low, high = np.where(to_none, 0.0, both - 1), np.where(to_none, both, 1.0)
    takes = chance < turned
    first = np.where(to_none == takes, low, high)
    return first, np.where(to_none == takes, high, low)
