"""Class tables and rules for tests of thinning, from plain arrays: no survey is needed."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from plotmap.model.thinning import Rule, rule_of
from plotmap.thinning.cells import Cells

MIDDLE_CM = np.arange(12.5, 43.0, 5.0)
STEMS = np.array([120, 210, 260, 190, 95, 35, 10], dtype=float)
"""The class table of the worked examples: middles and stems per hectare, invented."""


def section_m2(dbh_cm: npt.ArrayLike) -> npt.NDArray[np.float64]:
    """Return cross-sections: geometry."""
    return np.pi * np.asarray(dbh_cm, dtype=float) ** 2 / 40_000


def cells_example(
    dbh_cm: npt.ArrayLike = MIDDLE_CM,
    stems: npt.ArrayLike = STEMS,
    *,
    species: list[str] | None = None,
    width_cm: float = 5.0,
    stays: list[bool] | None = None,
    maximum: float = 1100.0,
    basal_area: npt.ArrayLike | None = None,
) -> Cells:
    """Return cells whose stems all have the diameter of their class.

    Parameters
    ----------
    dbh_cm : array_like, shape (n,)
        Diameters; classes of `width_cm` begin at multiples of it.
    stems : array_like, shape (n,) or (n, draws)
        Stems per hectare.
    species : list of str, optional
        One species where not given.
    width_cm, maximum : float
        Class width, and largest Reineke index.
    stays : list of bool, optional
        Cells that are not cut.
    basal_area : array_like, shape (n, draws), optional
        In place of that of the diameters.
    """
    d = np.asarray(dbh_cm, dtype=float)
    n = np.asarray(stems, dtype=float).reshape(len(d), -1)
    basal = n * section_m2(d)[:, None] if basal_area is None else np.asarray(basal_area).reshape(len(d), -1)
    return Cells(
        species=np.array(species or ["oak"] * len(d)),
        class_index=np.floor(d / width_cm).astype(np.intp),
        size_cm=d,
        middle_cm=d,
        width_cm=np.full(len(d), width_cm),
        stays=np.array(stays or [False] * len(d)),
        sums={
            "stems": n,
            "live": n,
            "basal_area_m2": basal,
            "dbh_sum_cm": n * d[:, None],
            "density": n * ((d / 25.4) ** 1.605)[:, None] / maximum,
            "volume_m3": np.full_like(n, np.nan),
        },
    )


def rule_example(**columns: object) -> Rule:
    """Return a rule: basal area, trigger 35, residual 30 m²/ha, from below, unless `columns` say otherwise."""
    row: dict[str, object] = {
        "rule": "example",
        "compartment": "A",
        "criterion": "basal area",
        "kind": "from below",
        "min_plots": 2,
        "trigger_basal_area_m2_per_ha": 35.0,
        "trigger_stems_per_ha": 800.0,
        "trigger_density_pct": 60.0,
        "trigger_spacing_pct": 20.0,
        "residual_basal_area_m2_per_ha": 30.0,
    }
    if any(name.startswith("residual_") for name in columns):
        row.pop("residual_basal_area_m2_per_ha")
    return rule_of(row | columns)
