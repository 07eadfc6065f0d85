"""Shares of the species in the basal area of each compartment, for the map."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from plotmap.model.result_tables import SPECIES_TOTAL_RESULTS
from plotmap.model.settings_map import SPECIES_SHARE
from plotmap.output.webmap.figures import decimals_of, number_cells, numbers, rounded, rows_of

if TYPE_CHECKING:
    from collections.abc import Iterable

    from plotmap.model.survey import Stand

_WITHOUT_NAME = "–"


def species_shares(stand: Stand, edges: Iterable[float]) -> dict[str, Any]:
    """Return the share of each species in the basal area of each compartment that it was found in.

    Parameters
    ----------
    stand : Stand
        ``species_totals``, ``compartments`` and ``settings.map.species`` are read.
    edges : iterable of float
        Where classes of the share begin, in per cent; rounding does not cross them.

    Returns
    -------
    dict
        ``words`` (species, the one with the most basal area first), ``first`` (number of the species shown
        first), and as lists of one entry a row ``compartment``, ``species`` and `SPECIES_SHARE` in per cent
        (None where the compartment has no basal area).
    """
    totals = stand.species_totals
    names = totals["species"].fill_null(_WITHOUT_NAME).to_pandas()
    homes = rows_of(totals["compartment"].to_pandas(), stand.compartments["compartment"])
    words = _by_basal_area(stand, names, np.array(homes, dtype=np.int64))
    shares = numbers(totals[SPECIES_SHARE])
    wanted = stand.settings.map.species
    return {
        "words": words,
        "first": words.index(wanted) if wanted in words else 0,
        "compartment": homes,
        "species": [int(code) for code in pd.Index(words).get_indexer(pd.Index(names))],
        SPECIES_SHARE: number_cells(
            rounded(shares, decimals_of(SPECIES_TOTAL_RESULTS[SPECIES_SHARE]), edges)
        ),
    }


def _by_basal_area(stand: Stand, names: pd.Series, homes: np.ndarray[Any, np.dtype[np.int64]]) -> list[str]:
    """Return the species by falling basal area in m² on all compartments, equal ones by name."""
    if not len(names):
        return []
    area_ha = numbers(stand.compartments["area_ha"])[homes]
    basal_area = numbers(stand.species_totals["basal_area_m2_per_ha"]) * np.nan_to_num(area_ha)
    sums = pd.Series(np.nan_to_num(basal_area)).groupby(names.to_numpy()).sum()
    return [str(name) for name in sums.sort_index().sort_values(ascending=False, kind="stable").index]
