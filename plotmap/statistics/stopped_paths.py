"""Parts that are taken along one path: each begins somewhere, grows in a straight line and stops."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from plotmap.statistics.estimates import Floats

_ROUND_OFF = 1e-12


@dataclass(frozen=True, slots=True)
class Paths:
    """Shares that grow with s ≥ 0: clip(rate · (s − start), 0, most). Columns are draws.

    Attributes
    ----------
    start : numpy.ndarray of float, shape (n, draws) or (n, 1)
        Where along the path a part begins to be taken, 0 or more.
    rate : numpy.ndarray of float, shape (n, draws) or (n, 1)
        Share taken for each unit of s, 0 or more.
    most : numpy.ndarray of float, shape (n, draws)
        Largest share, 0 to 1.
    """

    start: Floats
    rate: Floats
    most: Floats

    def at(self, s: Floats) -> Floats:
        """Return the shares at `s`, shape (draws,), infinity allowed; shape (n, draws)."""
        grows = (self.rate > 0) & (self.most > 0)
        begun = np.where(grows, s - self.start, 0.0)
        return np.where(grows, np.clip(self.rate * begun, 0.0, self.most), 0.0)


def first_reach(paths: Paths, weights: Floats, goal: npt.ArrayLike) -> Floats:
    """Return the smallest s at which Σ weight · share is the goal.

    The sum is a broken line that never falls; its corner before the goal is found by adding up the slopes, and
    the rest is one division, so that the goal is met to rounding.

    Parameters
    ----------
    paths : Paths
        Of n parts.
    weights : numpy.ndarray of float, shape (n, draws)
        What one whole part weighs, 0 or more.
    goal : array_like of float, shape (draws,)
        Sum to be met.

    Returns
    -------
    numpy.ndarray of float, shape (draws,)
        0 where the goal is 0 or less; infinity where everything together is less than the goal.
    """
    goals = np.broadcast_to(np.asarray(goal, dtype=float), weights.shape[1:])
    if not len(weights):
        return np.where(goals > 0, np.inf, 0.0)
    start, rate, most = np.broadcast_arrays(paths.start, paths.rate, paths.most)
    grows = (rate > 0) & (most > 0)
    end = np.where(grows, start + most / np.where(grows, rate, 1.0), start)
    slope = np.where(grows, weights * rate, 0.0)
    corners = np.concatenate([start, end])
    order = np.argsort(corners, axis=0, kind="stable")
    corners = np.take_along_axis(corners, order, axis=0)
    slopes = np.cumsum(np.take_along_axis(np.concatenate([slope, -slope]), order, axis=0), axis=0)
    sums = np.cumsum(slopes[:-1] * np.diff(corners, axis=0), axis=0)
    before = np.concatenate([np.zeros((1, sums.shape[1])), sums])
    # the last corner that lies below the goal; adding up again from the parts there leaves no error behind
    place = np.maximum((before < goals).sum(axis=0) - 1, 0)
    columns = np.arange(corners.shape[1])
    at = corners[place, columns]
    beyond = corners[np.minimum(place + 1, len(corners) - 1), columns]
    held = (weights * paths.at(at)).sum(axis=0)
    active = np.where((start <= at) & (end > at), slope, 0.0).sum(axis=0)
    with np.errstate(divide="ignore", invalid="ignore"):
        step = np.where(active > 0, (goals - held) / active, 0.0)
    s = np.clip(at + step, 0.0, np.maximum(beyond, at))
    everything = (weights * np.where(grows, most, 0.0)).sum(axis=0)
    s = np.where(goals > everything * (1 + _ROUND_OFF), np.inf, s)
    return np.where(goals > 0, s, 0.0)
