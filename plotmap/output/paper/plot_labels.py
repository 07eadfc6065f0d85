"""Names beside the marks of plots, placed so that none covers another or a mark."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from plotmap.output.paper.pen import Pen, Type
from plotmap.output.paper.view import View

Floats = NDArray[np.float64]
_NAME = Type(size_pt=7.5, bold=True, halo_mm=0.4)
_TURN = Type(size_pt=6.5, halo_mm=0.4)
_BELOW = Type(size_pt=6.0, colour="#9a3412", halo_mm=0.4)
_MARK_MM, _GAP_MM, _BETWEEN_MM = 1.4, 0.4, 0.8
_WAYS = np.array([[1, 0], [1, 1], [1, -1], [-1, 0], [-1, 1], [-1, -1], [0, 1], [0, -1]], dtype=float)
"""Where a name may stand from its mark, in the order in which they are tried."""


@dataclass(frozen=True, slots=True)
class PlotLabel:
    """What is written beside a plot: its name, its turn, and below them what is to be done; both may be empty."""

    name: str
    turn: str = ""
    below: str = ""


@dataclass(frozen=True, slots=True)
class Placed:
    """A label and its box: left, bottom, right and top in mm."""

    label: PlotLabel
    box: tuple[float, float, float, float]


def placed_labels(pen: Pen, view: View, at: Floats, labels: Sequence[PlotLabel]) -> list[Placed]:
    """Return where labels stand, without those that find no room.

    Parameters
    ----------
    pen : Pen
        Measures the words.
    view : View
        Its frame holds every label.
    at : numpy.ndarray of float, shape (n, 2)
        Marks, in mm.
    labels : sequence of PlotLabel
        One for each mark. Where the whole of it has no room, the name alone is tried.
    """
    n = len(labels)
    taken = np.empty((2 * n, 4))
    taken[:n] = np.column_stack([at - _MARK_MM, at + _MARK_MM])
    placed: list[Placed] = []
    for centre, label in zip(at, labels, strict=True):
        for tried in (label, replace(label, turn="", below="")):
            boxes = _boxes(centre, *_size(pen, tried))
            free = boxes[_is_free(boxes, taken[: n + len(placed)], view)]
            if len(free):
                taken[n + len(placed)] = free[0]
                left, bottom, right, top = free[0].tolist()
                placed.append(Placed(tried, (left, bottom, right, top)))
                break
    return placed


def draw_labels(pen: Pen, placed: Sequence[Placed]) -> None:
    """Write labels where they were placed."""
    for one in placed:
        left, bottom, _, top = one.box
        line = top - _NAME.size_mm * 0.82
        pen.write(one.label.name, left, line, _NAME)
        if one.label.turn:
            pen.write(one.label.turn, left + pen.width_mm(one.label.name, _NAME) + _BETWEEN_MM, line, _TURN)
        if one.label.below:
            pen.write(one.label.below, left, bottom + _BELOW.size_mm * 0.25, _BELOW)


def corners_of(placed: Sequence[Placed]) -> Floats:
    """Return points of the boxes of labels, for names that keep away from them; shape (n, 2)."""
    boxes = np.array([one.box for one in placed]).reshape(-1, 4)
    across = np.linspace(boxes[:, 0], boxes[:, 2], 5).ravel()
    return np.column_stack([across, np.tile((boxes[:, 1] + boxes[:, 3]) / 2, 5)])


def _size(pen: Pen, label: PlotLabel) -> tuple[float, float]:
    """Return width and height of a label in mm."""
    wide, high = pen.width_mm(label.name, _NAME), _NAME.size_mm
    if label.turn:
        wide += _BETWEEN_MM + pen.width_mm(label.turn, _TURN)
    if label.below:
        wide, high = max(wide, pen.width_mm(label.below, _BELOW)), high + _BELOW.size_mm
    return wide, high


def _boxes(centre: Floats, width_mm: float, height_mm: float) -> Floats:
    """Return the boxes that a label may have round a mark, shape (8, 4)."""
    half = np.array([width_mm, height_mm]) / 2
    middle = centre + _WAYS * (half + _MARK_MM + _GAP_MM)
    return np.column_stack([middle - half, middle + half])


def _is_free(boxes: Floats, taken: Floats, view: View) -> NDArray[np.bool_]:
    """Return which boxes lie in the frame and on nothing that is taken."""
    frame = view.box
    inside = (boxes[:, 0] > frame.left_mm + 0.5) & (boxes[:, 2] < frame.right_mm - 0.5)
    inside &= (boxes[:, 1] > frame.bottom_mm + 0.5) & (boxes[:, 3] < frame.top_mm - 0.5)
    apart = (boxes[:, None, 0] >= taken[:, 2]) | (boxes[:, None, 2] <= taken[:, 0])
    apart |= (boxes[:, None, 1] >= taken[:, 3]) | (boxes[:, None, 3] <= taken[:, 1])
    return np.asarray(inside & apart.all(axis=1))
