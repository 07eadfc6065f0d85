"""Check measurements of the sample survey: what crew E wrote on six plots that others had measured."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np

SEED = 20260506
"""Chosen so that a few stems near the edge of a painted band are seen in the next one."""
DAY = dt.date(2026, 5, 20)
INSTRUMENT = "K3"
CHECK = (INSTRUMENT, "caliper", dt.date(2026, 5, 18), -1.0, 300.0, 299.5)
"""Row of instruments.csv: reads 1 mm too little, and shows 300.5 mm less its zero on the bar of 300 mm."""
PLOTS_CHECKED = {"crew A": 2, "crew B": 1, "crew C": 1, "crew D": 2}
HEADING = (
    "plot", "tree", "species", "condition", "d1_cm", "d2_cm", "instrument", "azimuth_deg", "distance_m", "crew",
    "date", "remark",
)  # fmt: skip
Row = tuple[object, ...]


def measure_again(plots: Iterable[Any], grown: Mapping[str, Any], thinnest_cm: float) -> list[Row]:
    """Return the rows of check_trees.csv, by a generator of their own.

    Parameters
    ----------
    plots : iterable of PlannedPlot
        Plots in the order of the grid.
    grown : mapping of str to Stems
        True stems of every plot that was measured.
    thinnest_cm : float
        Smallest true diameter that crews write down, in cm.
    """
    rng = np.random.default_rng(SEED)
    rows: list[Row] = []
    measured = [plot for plot in plots if plot.name in grown]
    for crew, count in PLOTS_CHECKED.items():
        theirs = [plot for plot in measured if plot.crew == crew]
        for number in sorted(rng.choice(len(theirs), count, replace=False)):
            rows += rows_of(theirs[number], grown[theirs[number].name], thinnest_cm, rng)
    first = rows[0]
    missed = (first[0], None, first[2], "live", "16.8", "16.2", INSTRUMENT, None, None, "crew E", DAY,
              "behind the stacked timber")  # fmt: skip
    return [*rows, missed]


def rows_of(plot: Any, stems: Any, thinnest_cm: float, rng: np.random.Generator) -> list[Row]:
    """Return the stems of one plot: with the crew's numbers, or by position (crew B), or neither (crew D)."""
    rows: list[Row] = []
    for tree, number in enumerate(np.flatnonzero(stems.dbh_cm >= thinnest_cm), start=1):
        azimuth = distance = None
        if plot.crew == "crew B":
            azimuth = f"{(stems.azimuth_deg[number] + rng.normal(0.0, 0.7)) % 360:.1f}"
            distance = f"{stems.distance_m[number] + rng.normal(0.0, 0.05):.2f}"
        numbered = plot.crew in {"crew A", "crew C"}
        rows.append(
            (plot.name, tree if numbered else None, stems.species[number],
             "dead" if stems.dead[number] else "live", *readings(float(stems.dbh_cm[number]), rng), INSTRUMENT,
             azimuth, distance, "crew E", DAY, None)
        )  # fmt: skip
    return rows


def readings(dbh_cm: float, rng: np.random.Generator) -> list[str]:
    """Return two readings crosswise, with the caliper's own zero and gain in them."""
    _, _, _, zero, bar, shown = CHECK
    gain = bar / (shown - zero)
    stretch = 1 + abs(rng.normal(0.0, 0.02))
    axes = np.array([dbh_cm * stretch, dbh_cm * (2 - stretch)])
    return [f"{value:.1f}" for value in axes / gain + zero / 10 + rng.normal(0.0, 0.08, 2)]
