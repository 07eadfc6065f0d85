"""Mean sizes from sums."""

from __future__ import annotations

import polars as pl

from plotmap.units import M2_PER_CM2


def quadratic_mean_cm(basal_area_m2: str, stems: str) -> pl.Expr:
    """Return the diameter of the stem of mean basal area, sqrt(40 000 G / (π N)).

    Parameters
    ----------
    basal_area_m2, stems : str
        Columns over the same area; m² and a number.

    Returns
    -------
    polars.Expr
        In cm; missing where there are no stems. Definition: Curtis & Marshall 2000, Western Journal of
        Applied Forestry 15(3): 137-139.
    """
    mean = pl.col(basal_area_m2) / pl.col(stems)
    return pl.when(pl.col(stems) > 0).then((mean / M2_PER_CM2).sqrt())
