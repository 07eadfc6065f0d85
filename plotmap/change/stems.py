"""Stems followed from one survey to the next, and the components of growth they add up to."""

from __future__ import annotations

from collections.abc import Sequence

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd
import polars as pl

from plotmap.frames import ordered_sums
from plotmap.model.change import Occasion
from plotmap.model.field_tables import CUT as CUT_DOWN
from plotmap.model.field_tables import DEAD
from plotmap.model.result_tables_change import (
    ANGLE_COUNTS,
    COMPONENT_RESULTS,
    CUT,
    DIED,
    ESTIMATED,
    FOLLOWED,
    INGROWTH,
    NOT_FOUND,
    NOT_NUMBERED,
    ONE_PAIR,
    OTHER_AREA,
    PLOT_PAIRED,
    STEM_CHANGE_RESULTS,
    SURVIVOR,
    TALLIED,
)
from plotmap.model.scopes import COMPARTMENT, STRATUM, SURVEY
from plotmap.model.settings import Design
from plotmap.statistics import combine, ratio_estimate

_FIXED = (Design.CIRCLE, Design.RECTANGLE, Design.STRIP)
_SAME_AREA = 0.01
"""Areas of a pair may differ by this share."""
_PARTS = {
    "survivor_growth": SURVIVOR,
    "ingrowth": INGROWTH,
    "mortality": DIED,
    "cut": CUT,
    "not_found": NOT_FOUND,
}
_FLOWS = (*_PARTS, "net_change")
_KINDS = {"scope": pl.String, "name": pl.String, "n_plots": pl.Int64, "status": pl.String}
_SCHEMA = pl.Schema({name: _KINDS.get(name, pl.Float64) for name in COMPONENT_RESULTS.names})
_Floats = npt.NDArray[np.float64]
_Ints = npt.NDArray[np.intp]


def with_stems_by(pairs: pl.DataFrame, old: Occasion, new: Occasion) -> pl.DataFrame:
    """Add ``stems_by``: whether the stems of each pair can be followed, or why not.

    They can on a plot of one fixed area in one compartment, the same on both occasions, where every stem that
    counts is measured and has a number of its own.
    """
    tallied = [occasion.plot_values.tallied["plot"].unique() for occasion in (old, new)]
    unclear = [_unclear(occasion) for occasion in (old, new)]
    fixed = [pl.col(f"design_{side}").is_in([design.value for design in _FIXED]) for side in ("old", "new")]
    other_area = (pl.col("area_m2_new") / pl.col("area_m2_old") - 1).abs() > _SAME_AREA
    word = (
        pl.when(~fixed[0] | ~fixed[1] | (pl.len().over("plot") > 1))
        .then(pl.lit(ANGLE_COUNTS))
        .when(other_area)
        .then(pl.lit(OTHER_AREA))
        .when(pl.any_horizontal(pl.col("plot").is_in(part.implode()) for part in tallied))
        .then(pl.lit(TALLIED))
        .when(pl.any_horizontal(pl.col("plot").is_in(part.implode()) for part in unclear))
        .then(pl.lit(NOT_NUMBERED))
        .otherwise(pl.lit(FOLLOWED))
    )
    return pairs.with_columns(pl.when(pl.col("pair") == PLOT_PAIRED).then(word).alias("stems_by"))


def follow_stems(pairs: pl.DataFrame, old: Occasion, new: Occasion) -> pl.DataFrame:
    """Find what became of every stem of the plots whose stems can be followed.

    Parameters
    ----------
    pairs : polars.DataFrame
        As `with_stems_by` gives it.
    old, new : Occasion
        The two surveys.

    Returns
    -------
    polars.DataFrame
        Columns of `STEM_CHANGE_RESULTS`, ``basal_area_m2_per_ha_old`` and ``_new`` (what the stem stands for per
        hectare; 0 where it does not count) and ``years``, sorted by plot and tree. A stem of the old survey that
        is dead or cut in the new one has died or was cut; one that is not in the new one at all was not found again.
    """
    plots = pairs.filter(pl.col("stems_by") == FOLLOWED).select("plot", "years")
    before, after = (_counted(occasion, side) for occasion, side in ((old, "old"), (new, "new")))
    fates = new.survey.trees.select("plot", "tree", "condition", pl.col("source_row").alias("row"))
    fates = fates.filter(pl.col("condition").is_in([DEAD, CUT_DOWN])).unique(["plot", "tree"], keep="first")
    stems = (
        before.join(after, on=["plot", "tree"], how="full", coalesce=True)
        .join(plots, on="plot", how="inner")
        .join(fates, on=["plot", "tree"], how="left")
    )
    there = [pl.col(f"source_row_{side}").is_not_null() for side in ("old", "new")]
    fate = (
        pl.when(there[0] & there[1])
        .then(pl.lit(SURVIVOR))
        .when(there[1])
        .then(pl.lit(INGROWTH))
        .when(pl.col("condition") == DEAD)
        .then(pl.lit(DIED))
        .when(pl.col("condition") == CUT_DOWN)
        .then(pl.lit(CUT))
        .otherwise(pl.lit(NOT_FOUND))
    )
    growth = (pl.col("dbh_cm_new") - pl.col("dbh_cm_old")) / pl.when(pl.col("years") > 0).then("years")
    return (
        stems.with_columns(
            fate.alias("fate"),
            growth.alias("growth_cm_per_year"),
            pl.coalesce("source_row_new", "row").alias("source_row_new"),
            *(pl.col(f"basal_area_m2_per_ha_{side}").fill_null(0.0) for side in ("old", "new")),
        )
        .select(*STEM_CHANGE_RESULTS.names, "basal_area_m2_per_ha_old", "basal_area_m2_per_ha_new", "years")
        .sort("plot", "tree")
    )


def components_of_growth(
    stems: pl.DataFrame, pairs: pl.DataFrame, compartments: gpd.GeoDataFrame
) -> pl.DataFrame:
    """Estimate the components of the change of basal area.

    Growth of survivors, ingrowth, mortality, cut and not found again are taken per hectare on each plot whose stems
    can be followed (Beers 1962, Components of forest growth, Journal of Forestry 60: 245-248: net change = growth of
    survivors + ingrowth - mortality - cut; from memory), then estimated like any other figure by the ratio of means;
    the survey and strata are the means of compartments, weighted by area.

    Parameters
    ----------
    stems, pairs : polars.DataFrame
        As `follow_stems` and `with_stems_by` give them.
    compartments : geopandas.GeoDataFrame
        As `plotmap.change.compartments.change_of_compartments` gives it: areas and strata.

    Returns
    -------
    polars.DataFrame
        Columns of `COMPONENT_RESULTS`: the survey, strata, compartments, each only where plots are followed.
    """
    plots = _flows(stems, pairs)
    if not plots.height:
        return pl.DataFrame(schema=_SCHEMA)
    index = pd.Index(compartments["compartment"])
    where, own = np.unique(index.get_indexer(plots["compartment"].to_list()), return_inverse=True)
    home = compartments.iloc[where]
    rows = _estimates(plots, own, len(where))
    alone: list[str | None] = [None]
    parts = [_scope(COMPARTMENT, home["compartment"].tolist(), rows)]
    stratum, names = pd.factorize(home["stratum"], sort=True)
    area = home["area_ha"].to_numpy(dtype=float)
    for scope, labels, group in (
        (STRATUM, names.tolist(), stratum),
        (SURVEY, alone, np.zeros_like(stratum)),
    ):
        parts.insert(0, _scope(scope, labels, _sums(rows, area, group, len(labels))))
    return pl.concat(parts).with_columns(pl.col(pl.Float64).fill_nan(None)).select(COMPONENT_RESULTS.names)


def _unclear(occasion: Occasion) -> pl.Series:
    """Return plots with a stem that counts without a number, or a number twice."""
    trees = occasion.plot_values.trees.select("plot", "tree")
    counted = trees.join(occasion.survey.trees.select("plot", "tree"), on=["plot", "tree"], how="semi")
    twice = (
        occasion.survey.trees.filter(pl.col("tree").is_not_null())
        .group_by("plot", "tree")
        .len()
        .filter(pl.col("len") > 1)
    )
    return pl.concat(
        [trees.filter(pl.col("tree").is_null())["plot"], twice.join(counted, on="plot", how="semi")["plot"]]
    )


def _counted(occasion: Occasion, side: str) -> pl.DataFrame:
    """Return the stems that count with the columns of one side."""
    stems = occasion.plot_values.trees.select(
        "plot",
        "tree",
        "species",
        "dbh_cm",
        "source_row",
        (pl.col("basal_area_m2") * pl.col("stems_per_ha")).alias("basal_area_m2_per_ha"),
    )
    return stems.rename(lambda name: name if name in {"plot", "tree"} else f"{name}_{side}")


def _flows(stems: pl.DataFrame, pairs: pl.DataFrame) -> pl.DataFrame:
    """Return the components on each plot, in m²/ha, bare plots too, with compartment and weight."""
    before, after = pl.col("basal_area_m2_per_ha_old"), pl.col("basal_area_m2_per_ha_new")
    amount = dict.fromkeys(_PARTS, before) | {"survivor_growth": after - before, "ingrowth": after}
    sums = ordered_sums(
        stems,
        ["plot"],
        **{
            name: pl.when(pl.col("fate") == fate).then(amount[name]).otherwise(0.0)
            for name, fate in _PARTS.items()
        },
        net_change=after - before,
    )
    plots = pairs.filter(pl.col("stems_by") == FOLLOWED).select(
        "plot", "compartment", pl.col("weight_ha_new").alias("weight_ha")
    )
    return plots.join(sums, on="plot", how="left", maintain_order="left").with_columns(
        pl.col(name).fill_null(0.0) for name in _FLOWS
    )


def _estimates(plots: pl.DataFrame, own: _Ints, n: int) -> dict[str, _Floats]:
    """Return estimate, error and degrees of freedom of each component in each compartment."""
    weight = plots["weight_ha"].to_numpy()
    count, total_x = np.bincount(own, minlength=n), np.bincount(own, weight, n)
    made: dict[str, _Floats] = {"n_plots": count.astype(float)}
    for name in _FLOWS:
        value = plots[name].to_numpy() * weight
        total_y = np.bincount(own, value, n)
        residual = value - (total_y / total_x)[own] * weight
        estimate = ratio_estimate(count, total_y, total_x, np.bincount(own, residual**2, n))
        made |= {name: estimate.mean, f"{name}_se": estimate.se, f"{name}_df": estimate.df}
    return made


def _sums(rows: dict[str, _Floats], area: _Floats, group: _Ints, n: int) -> dict[str, _Floats]:
    """Return means over compartments weighted by area."""
    hectares = np.bincount(group, area, n)
    made: dict[str, _Floats] = {"n_plots": np.bincount(group, rows["n_plots"], n).astype(float)}
    for name in _FLOWS:
        total, se, _df = combine(area, rows[name], rows[f"{name}_se"], rows[f"{name}_df"], group, n)
        made |= {name: total / hectares, f"{name}_se": se / hectares}
    return made


def _scope(scope: str, names: Sequence[str | None], rows: dict[str, _Floats]) -> pl.DataFrame:
    """Return the rows of one kind of scope under their declared names."""
    figures = {f"{name}_m2_per_ha{part}": rows[f"{name}{part}"] for name in _FLOWS for part in ("", "_se")}
    frame = pl.DataFrame({"n_plots": rows["n_plots"].astype(np.int64), **figures})
    status = (
        pl.when(pl.col("net_change_m2_per_ha_se").is_nan())
        .then(pl.lit(ONE_PAIR))
        .otherwise(pl.lit(ESTIMATED))
    )
    return frame.select(
        pl.lit(scope).alias("scope"),
        pl.Series("name", names, dtype=pl.String),
        pl.all(),
        status.alias("status"),
    )
