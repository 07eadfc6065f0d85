"""The note on a change of datum: by which operation places were moved, and how well it is known."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from pyproj import CRS

from plotmap.model.findings import Findings, finding
from plotmap.spatial.crs import name_of
from plotmap.spatial.datums import DatumChange, datum_change

Floats = npt.NDArray[np.float64]


def datum_note(what: str, places: tuple[Floats, Floats], own: CRS, crs: CRS, source: str) -> Findings:
    """Return datum-shift where places change their datum on the way into the survey's CRS.

    Parameters
    ----------
    what : str
        What is moved, in the plural: ``lon and lat``.
    places : tuple of array of float
        Where, in `own`. NaN where missing.
    own, crs : pyproj.CRS
        Of the places, and of the survey.
    source : str
        File, for the finding.

    Raises
    ------
    BallparkTransformError
        PROJ has only a "ballpark" operation.
    """
    change = datum_change(*places, own, crs)
    if change is None:
        return Findings.none()
    operation = " or ".join(change.operations)
    shift = "" if change.shift_m is None else f"; it moves them by {_metres(change.shift_m, decimals=1)}"
    message = (
        f"{what} go from {name_of(own)} to {name_of(crs)} by the operation {operation}, "
        f"{_accuracy(change.accuracy_m)}{shift}{_better(change)}"
    )
    return finding("datum-shift", source, message, value=operation)


def _better(change: DatumChange) -> str:
    """Return what is said of a better operation that lacks its grid."""
    if not change.better:
        return ""
    grids = " and ".join(change.grids)
    where = f"the grid {grids}, which is" if len(change.grids) == 1 else f"the grids {grids}, which are"
    lacks = f", but needs {where} not on this computer" if grids else ", but cannot be used on this computer"
    return f"; {change.better} ({_accuracy(change.better_accuracy_m)}) would be better{lacks}"


def _accuracy(accuracy_m: float | None) -> str:
    """Return a stated accuracy in words."""
    return "of unknown accuracy" if accuracy_m is None else f"stated to be good to {_metres(accuracy_m)}"


def _metres(value: float, decimals: int = 2) -> str:
    """Return metres without needless decimals."""
    return f"{round(value, decimals):g} m"
