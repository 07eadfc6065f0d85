"""Longitudes and latitudes with too few decimals: how fine they are written, and whether that is enough."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl
import shapely
from numpy.typing import NDArray

from plotmap.model.findings import Findings, finding

M_PER_DEGREE = 111_320.0
"""Length of a degree along a meridian or the equator, near enough to judge decimals by."""
_FINE_M = 5.0
"""Steps below this are as fine as a position in the forest is known."""
_WHOLE = 1e-6
"""A value is a multiple of a step where it is this near to one, as a share of the step."""
_STEPS = (
    *((10.0**-n, f"have {n or 'no'} decimal{'' if n == 1 else 's'}") for n in range(4)),
    (1 / 60, "are written to whole minutes"),
    (1 / 600, "are written to tenths of minutes"),
    (1 / 3600, "are written to whole seconds"),
    (1e-4, "have 4 decimals"),
    (1 / 6000, "are written to hundredths of minutes"),
)


@dataclass(frozen=True, slots=True)
class Step:
    """The step that longitudes and latitudes are written in.

    Attributes
    ----------
    degrees, metres : float
        One step, along the meridian.
    words : str
        With a verb: ``have 2 decimals``.
    """

    degrees: float
    metres: float
    words: str


def written_step(lon: pl.Series, lat: pl.Series) -> Step | None:
    """Return the coarsest step of which all longitudes and latitudes are multiples; None where they are fine.

    Parameters
    ----------
    lon, lat : polars.Series of float
        Degrees as written; missing ones are passed over.

    Returns
    -------
    Step or None
        None where every one of the steps tried, down to four decimals, is too coarse to hold the values, or where
        there are no values.
    """
    values = np.concatenate([lon.drop_nulls().to_numpy(), lat.drop_nulls().to_numpy()])
    if not len(lon.drop_nulls()) or not len(lat.drop_nulls()):
        return None
    for degrees, words in sorted(_STEPS, reverse=True):
        times = values / degrees
        if (np.abs(times - np.round(times)) < _WHOLE).all():
            return Step(degrees, degrees * M_PER_DEGREE, words)
    return None


def coarse_positions(
    rows: pl.DataFrame, points: NDArray[np.object_], shapes: NDArray[np.object_], source: str
) -> Findings:
    """Return positions-coarse where plots could lie in another compartment within the step they are written in.

    Parameters
    ----------
    rows : polars.DataFrame
        Plots that are located by lon and lat: ``lon``, ``lat`` and ``position`` (row of the compartment, −1 where in
        none), in the order of `points`.
    points, shapes : array of shapely geometries
        Plots, and compartments, in the survey's CRS in metres.
    source : str
        File of the plots.
    """
    step = written_step(rows["lon"], rows["lat"])
    if step is None or step.metres < _FINE_M:
        return Findings.none()
    inside = rows["position"].to_numpy() >= 0
    x, y = shapely.get_x(points[inside]), shapely.get_y(points[inside])
    north = step.metres / 2
    east = north * np.cos(np.radians(rows["lat"].to_numpy().astype(float)[inside]))
    could_be = shapely.box(x - east, y - north, x + east, y + north)
    unsure = int((~shapely.covers(shapes[rows["position"].to_numpy()[inside]], could_be)).sum())
    if not unsure:
        return Findings.none()
    plots = f"{unsure} of {len(rows)} plots" if len(rows) > 1 else "the plot"
    message = (
        f"lon and lat {step.words}, which is {step.metres:,.0f} m on the ground: {plots} could lie outside the "
        "compartment found"
    )
    return finding("positions-coarse", source, message, value=step.words)
