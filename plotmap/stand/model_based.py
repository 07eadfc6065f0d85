"""Compartments with one plot or none, estimated on request with the help of the others of their stratum."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd
import polars as pl

from plotmap.model.plot_table import QUANTITIES
from plotmap.model.result_tables import FULL_COUNT
from plotmap.model.result_tables_errors import MODEL_BASED, MODEL_BASED_RESULTS, TOO_FEW_COMPARTMENTS
from plotmap.model.settings import Settings
from plotmap.stand.compartments import SAMPLED_HA
from plotmap.statistics import area_model, pooled_variance, t_interval
from plotmap.statistics.small_areas import FEWEST_AREAS

_COMPOSITE, _SYNTHETIC = "composite", "synthetic"
_Floats = npt.NDArray[np.float64]
_Ints = npt.NDArray[np.intp]


def model_based(compartments: pd.DataFrame, settings: Settings) -> pl.DataFrame:
    """Estimate compartments with one plot or none by a model, where the settings ask for it.

    The model is `plotmap.statistics.area_model` over the compartments of the stratum that have plots, or of the whole
    survey where fewer than three have; the variance of a compartment's own mean is the pooled variance between plots
    for one hectare of plot over the area of its plots.

    Parameters
    ----------
    compartments : pandas.DataFrame
        As `plotmap.stand.compartments.estimate_compartments` gives it.
    settings : Settings
        ``[estimates] few_plots`` and the confidence.

    Returns
    -------
    polars.DataFrame
        Columns of `MODEL_BASED_RESULTS`, in the order of the compartments; without rows unless asked for. No other
        table holds any of it.
    """
    counted = (compartments["status"] == FULL_COUNT).to_numpy()
    n_plots = compartments["n_plots"].to_numpy(dtype=float)
    rows = np.flatnonzero((n_plots < 2) & ~counted)  # noqa: PLR2004
    if settings.estimates.few_plots == "missing" or not len(rows):
        return _empty()
    known = (n_plots > 0) & ~counted
    stratum = pd.factorize(compartments["stratum"], sort=True)[0].astype(np.intp)
    likes = np.bincount(stratum[known], minlength=int(stratum.max()) + 1)[stratum] >= FEWEST_AREAS
    one = (n_plots[rows] == 1) & (settings.estimates.few_plots == _COMPOSITE)
    wanted = compartments.iloc[rows]
    columns: dict[str, object] = {
        "compartment": wanted["compartment"].tolist(),
        "stratum": wanted["stratum"].tolist(),
        "n_plots": wanted["n_plots"].tolist(),
        "method": np.where(one, _COMPOSITE, _SYNTHETIC).tolist(),
        "likes": np.where(likes[rows], "stratum", "survey").tolist(),
    }
    for figure in QUANTITIES.values():
        by_stratum = _figure(compartments, figure, stratum, known, rows, one)
        over_all = _figure(compartments, figure, np.zeros_like(stratum), known, rows, one)
        estimate, se, share, n_likes = (
            np.where(likes[rows], near, far) for near, far in zip(by_stratum, over_all, strict=True)
        )
        low, high = t_interval(estimate, se, n_likes - 1.0, settings.survey.confidence)
        columns |= {figure: estimate, f"{figure}_se": se, f"{figure}_low": low, f"{figure}_high": high}
        columns |= {f"{figure}_own_share": share, "n_likes": n_likes}
        columns["status"] = np.where(np.isfinite(se), MODEL_BASED, TOO_FEW_COMPARTMENTS).tolist()
    frame = pl.DataFrame(columns).with_columns(pl.col(pl.Float64).fill_nan(None))
    return frame.select(pl.col(name).cast(kind) for name, kind in _empty().schema.items())


def _figure(
    compartments: pd.DataFrame,
    figure: str,
    group: _Ints,
    known: npt.NDArray[np.bool_],
    rows: _Ints,
    one: npt.NDArray[np.bool_],
) -> tuple[_Floats, _Floats, _Floats, _Floats]:
    """Return estimate, error, share of the own plot and number of likes of the compartments wanted."""
    n_groups = int(group.max()) + 1
    own = compartments[figure].to_numpy(dtype=float)
    sampled = compartments[SAMPLED_HA].to_numpy(dtype=float)
    df = np.where(known, compartments["n_plots"].to_numpy(dtype=float) - 1.0, np.nan)
    per_ha = np.where(df > 0, compartments[f"{figure}_se"].to_numpy(dtype=float) ** 2 * sampled, np.nan)
    pooled, _ = pooled_variance(per_ha, df, group, n_groups)
    variance = pooled[group] / sampled
    usable = known & np.isfinite(variance)
    model = area_model(own[usable], variance[usable], group[usable], n_groups)
    estimate, se = model.synthetic(group[rows])
    mixes = one & (variance[rows] > 0)
    y, v = np.where(mixes, own[rows], 0.0), np.where(mixes, variance[rows], 1.0)
    mixed, mixed_se, share = model.composite(y, v, group[rows])
    return (
        np.where(mixes, mixed, estimate),
        np.where(mixes, mixed_se, se),
        np.where(mixes, share, 0.0),
        model.n_areas[group[rows]].astype(float),
    )


def _empty() -> pl.DataFrame:
    """Return the table without rows."""
    texts = {"compartment", "stratum", "method", "likes", "status"}
    counts = {"n_plots", "n_likes"}
    kinds = {
        name: pl.String if name in texts else pl.Int64 if name in counts else pl.Float64
        for name in MODEL_BASED_RESULTS.names
    }
    return pl.DataFrame(schema=kinds)
