"""Change of the compartments, strata and the survey, with the covariance of plots visited twice."""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd
import polars as pl
import shapely
from pyproj import CRS

from plotmap.model.change import Occasion
from plotmap.model.plot_table import QUANTITIES
from plotmap.model.result_tables_change import (
    BOUNDARY_CHANGED,
    COMPARTMENT_CHANGE_RESULTS,
    COUNTED,
    ESTIMATED,
    NO_PLOTS,
    NOT_PAIRED,
    ONE_PAIR,
    ONLY_NEW,
    ONLY_OLD,
    PAIRED,
    PARTLY,
    PARTLY_PAIRED,
    PLOT_PAIRED,
    TOTAL_CHANGE_RESULTS,
)
from plotmap.model.scopes import STRATUM, SURVEY
from plotmap.spatial import transform_geometries
from plotmap.statistics import change_error, combine, t_interval

_Floats = npt.NDArray[np.float64]
_Ints = npt.NDArray[np.intp]
_WITHOUT_CHANGE = (ONLY_OLD, ONLY_NEW, BOUNDARY_CHANGED, NO_PLOTS)
MOVED_SHARE = "moved_share"
"""Extra column: share of the land of both outlines together that lies in one of them only."""
_DF = "_df"


def change_of_compartments(
    old: Occasion, new: Occasion, pairs: pl.DataFrame, boundary_share: float
) -> gpd.GeoDataFrame:
    """Estimate the change per hectare of every compartment of either survey.

    Parameters
    ----------
    old, new : Occasion
        The two surveys.
    pairs : polars.DataFrame
        As `plotmap.change.pairs.pair_plots` gives it.
    boundary_share : float
        Share of the land (0 to 1) up to which two outlines count as one.

    Returns
    -------
    geopandas.GeoDataFrame
        Columns of `COMPARTMENT_CHANGE_RESULTS`, `MOVED_SHARE` and for each figure its degrees of freedom, polygons
        of the new survey (of the old one where only there) in its CRS: new compartments in their order, then those
        only in the old survey.
    """
    table = _both(old, new)
    group = pd.Index(table["compartment"])
    visits = _visits(pairs, group)
    table = table.join(visits)
    known = _status(table, boundary_share)
    confidence = new.survey.settings.survey.confidence
    for figure in QUANTITIES.values():
        change = table[f"{figure}_new"].to_numpy(dtype=float) - table[f"{figure}_old"].to_numpy(dtype=float)
        error = change_error(*_residuals(pairs, table, group, figure), len(table))
        counted = (table["status"] == COUNTED).to_numpy()
        se, df = np.where(counted, 0.0, error.se), np.where(counted, np.inf, error.df)
        _fill(table, figure, np.where(known, change, np.nan), np.where(known, se, np.nan), df, confidence)
    table["basal_area_m2_per_ha_change_per_year"] = table["basal_area_m2_per_ha_change"] / table["years"]
    wanted = [
        *COMPARTMENT_CHANGE_RESULTS.names,
        MOVED_SHARE,
        *(figure + _DF for figure in QUANTITIES.values()),
    ]
    return gpd.GeoDataFrame(table[wanted], geometry=table["outline"].to_numpy(), crs=new.compartments.crs)


def change_in_total(compartments: gpd.GeoDataFrame, confidence: float) -> pl.DataFrame:
    """Add up the changes of compartments to strata and the survey.

    Parameters
    ----------
    compartments : geopandas.GeoDataFrame
        As `change_of_compartments` gives it.
    confidence : float
        Of the limits, above 0, below 1.

    Returns
    -------
    polars.DataFrame
        Columns of `TOTAL_CHANGE_RESULTS`: the survey, then strata by name. Figures are means per hectare of the
        compartments whose change is known, weighted by area; the error is missing where one of them has none.
    """
    known = (~compartments["status"].isin(_WITHOUT_CHANGE)).to_numpy()
    group, names = pd.factorize(compartments["stratum"], sort=True)
    one = np.zeros(len(compartments), dtype=np.intp)
    survey = _total(compartments, known, one, [SURVEY], [None], confidence)
    strata = _total(compartments, known, group, [STRATUM] * len(names), list(names), confidence)
    return pl.concat([survey, strata])


def _both(old: Occasion, new: Occasion) -> pd.DataFrame:
    """Return one row a compartment of either survey with both figures, areas and how far the outline moved."""
    crs = [CRS.from_user_input(occasion.survey.crs) for occasion in (old, new)]
    sides = []
    for occasion, side in ((old, "old"), (new, "new")):
        columns = ["compartment", "name", "stratum", "area_ha", "n_plots", "status", *QUANTITIES.values()]
        frame = pd.DataFrame(occasion.compartments[columns]).set_index("compartment")
        frame["outline"] = occasion.compartments.geometry.to_numpy()
        sides.append(frame.add_suffix(f"_{side}"))
    sides[0]["outline_old"] = transform_geometries(sides[0]["outline_old"].to_numpy(), *crs)
    index = sides[1].index.append(sides[0].index.difference(sides[1].index, sort=True))
    table = sides[1].reindex(index).join(sides[0].reindex(index))
    for name in ("name", "stratum", "outline"):
        table[name] = table[f"{name}_new"].where(table[f"{name}_new"].notna(), table[f"{name}_old"])
    table["area_ha"] = table["area_ha_new"].fillna(table["area_ha_old"])
    table[MOVED_SHARE] = _moved_share(table["outline_old"], table["outline_new"])
    return table.rename_axis("compartment").reset_index()


def _moved_share(old: pd.Series[Any], new: pd.Series[Any]) -> _Floats:
    """Return the share of the land of two outlines together that lies in one of them only; NaN with one."""
    there = (old.notna() & new.notna()).to_numpy()
    share = np.full(len(old), np.nan)
    before, after = (side.to_numpy(dtype=object)[there] for side in (old, new))
    both = shapely.area(shapely.intersection(before, after))
    together = shapely.area(before) + shapely.area(after) - both
    share[there] = 1.0 - np.divide(both, together, out=np.zeros_like(both), where=together > 0)
    return share


def _visits(pairs: pl.DataFrame, group: pd.Index[Any]) -> pd.DataFrame:
    """Return plots on both occasions, pairs and mean years between visits of each compartment."""
    where = group.get_indexer(pd.Index(pairs["compartment"].to_list()))
    paired = (pairs["pair"] == PLOT_PAIRED).to_numpy()
    years = pairs["years"].to_numpy().astype(float)
    dated = paired & np.isfinite(years)
    n_dated = np.bincount(where[dated], minlength=len(group))
    total = np.bincount(where[dated], years[dated], len(group))
    return pd.DataFrame(
        {
            "n_paired": np.bincount(where[paired], minlength=len(group)),
            "years": np.divide(total, n_dated, out=np.full(len(group), np.nan), where=n_dated > 0),
        }
    )


def _status(table: pd.DataFrame, boundary_share: float) -> npt.NDArray[np.bool_]:
    """Add plots and the word for how each compartment was compared; return where its change is known."""
    old, new = (table[f"n_plots_{side}"].fillna(0).to_numpy(dtype=int) for side in ("old", "new"))
    table["n_plots_old"], table["n_plots_new"] = old, new
    pairs = table["n_paired"].to_numpy()
    counted = (table["status_old"] == COUNTED) & (table["status_new"] == COUNTED)
    table["status"] = np.select(
        [
            table["area_ha_new"].isna(),
            table["area_ha_old"].isna(),
            table[MOVED_SHARE] > boundary_share,
            (old == 0) | (new == 0),
            counted,
            (old == 1) | (new == 1),
            (pairs == old) & (pairs == new),
            pairs > 0,
        ],
        [ONLY_OLD, ONLY_NEW, BOUNDARY_CHANGED, NO_PLOTS, COUNTED, ONE_PAIR, PAIRED, PARTLY_PAIRED],
        NOT_PAIRED,
    )
    return ~table["status"].isin(_WITHOUT_CHANGE).to_numpy()


def _residuals(
    pairs: pl.DataFrame, table: pd.DataFrame, group: pd.Index[Any], figure: str
) -> tuple[_Floats, _Floats, _Ints]:
    """Return residuals of both occasions and their compartment; a plot that moved counts as two."""
    where = group.get_indexer(pd.Index(pairs["compartment"].to_list()))
    name = next(name for name, other in QUANTITIES.items() if other == figure)
    sides = []
    for side in ("old", "new"):
        weight = pairs[f"weight_ha_{side}"].to_numpy().astype(float)
        value = pairs[f"{name}_{side}"].to_numpy().astype(float)
        mean = table[f"{figure}_{side}"].to_numpy(dtype=float)[where]
        sampled = np.bincount(where, np.nan_to_num(weight), len(group))[where]
        counted = pairs[f"full_count_{side}"].fill_null(value=False).to_numpy()
        residual = np.divide(
            value - mean * weight, sampled, out=np.full(len(value), np.nan), where=sampled > 0
        )
        sides.append(np.where(counted & np.isfinite(weight), 0.0, residual))
    paired = (pairs["pair"] == PLOT_PAIRED).to_numpy()
    alone = np.full(int((~paired).sum()), np.nan)
    return (
        np.concatenate([np.where(paired, sides[0], np.nan)[paired], sides[0][~paired], alone]),
        np.concatenate([np.where(paired, sides[1], np.nan)[paired], alone, sides[1][~paired]]),
        np.concatenate([where[paired], where[~paired], where[~paired]]),
    )


def _fill(
    table: pd.DataFrame, figure: str, change: _Floats, se: _Floats, df: _Floats, confidence: float
) -> None:
    """Add change, error, limits and degrees of freedom of one figure."""
    low, high = t_interval(change, se, df, confidence, floor=-np.inf)
    for suffix, column in (("", change), ("_se", se), ("_low", low), ("_high", high)):
        table[f"{figure}_change{suffix}"] = column
    table[figure + _DF] = df


def _total(
    table: gpd.GeoDataFrame,
    known: npt.NDArray[np.bool_],
    group: _Ints,
    scopes: list[str],
    names: list[str | None],
    confidence: float,
) -> pl.DataFrame:
    """Return the rows of one kind of total."""
    n, area = len(scopes), table["area_ha"].to_numpy(dtype=float)

    def add(values: _Floats, where: npt.NDArray[np.bool_]) -> _Floats:
        """Sum values over the compartments of each group that fulfil a condition."""
        return np.bincount(group[where], values[where], n).astype(float)

    ones, hectares = np.ones(len(table)), add(area, known)
    rows = pd.DataFrame({"scope": scopes, "name": names, "area_ha": hectares})
    rows["area_left_out_ha"] = add(area, ~known)
    rows["n_compartments"], rows["n_left_out"] = add(ones, known).astype(int), add(ones, ~known).astype(int)
    for name in ("n_plots_old", "n_plots_new", "n_paired"):
        rows[name] = add(table[name].to_numpy(dtype=float), known).astype(int)
    pairs, years = table["n_paired"].to_numpy(dtype=float), table["years"].to_numpy(dtype=float)
    dated = known & np.isfinite(years) & (pairs > 0)
    with np.errstate(invalid="ignore"):
        rows["years"] = add(pairs * np.nan_to_num(years), dated) / np.where(
            add(pairs, dated) > 0, add(pairs, dated), np.nan
        )
        share = np.where(hectares > 0, hectares, np.nan)
        for figure in QUANTITIES.values():
            for side in ("old", "new"):
                rows[f"{figure}_{side}"] = (
                    add(area * table[f"{figure}_{side}"].to_numpy(dtype=float), known) / share
                )
            change, error, freedom = (
                table[figure + part].to_numpy(dtype=float)[known] for part in ("_change", "_change_se", _DF)
            )
            total, se, df = combine(area[known], change, error, freedom, group[known], n)
            _fill(rows, figure, total / share, se / share, df, confidence)
        rows["basal_area_m2_per_ha_change_per_year"] = rows["basal_area_m2_per_ha_change"] / rows["years"]
    partly = rows["basal_area_m2_per_ha_change_se"].isna()
    rows["status"] = np.select([rows["n_compartments"] == 0, partly], [NO_PLOTS, PARTLY], ESTIMATED)
    frame = pl.from_pandas(rows[TOTAL_CHANGE_RESULTS.names], schema_overrides={"name": pl.String})
    return frame.with_columns(pl.col(pl.Float64).fill_nan(None))
