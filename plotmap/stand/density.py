"""Mean and top height, and how dense the stand is: compartments, strata and the survey."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd
import polars as pl

from plotmap.frames import ordered_sums
from plotmap.model.plot_table import COUNT_DECIMALS
from plotmap.model.result_tables import ESTIMATED, NO_PLOTS, ONE_PLOT, TOTAL_PARTLY
from plotmap.model.result_tables_heights import (
    ALL_MEASURED,
    FROM_CURVES,
    NO_CURVE,
    NO_HEIGHTS,
    NO_STEMS,
    STAND_DENSITY_RESULTS,
)
from plotmap.model.scopes import COMPARTMENT, STRATUM, SURVEY
from plotmap.model.settings import Settings
from plotmap.model.settings_heights import ANY_SPECIES, DensitySection
from plotmap.stand.heights import CURVE, MEASURED, StemHeights
from plotmap.statistics import Strata, product_of_totals
from plotmap.units import M2_PER_CM2, M2_PER_HA

_Floats = npt.NDArray[np.float64]
TOP_STEMS_PER_HA = 100.0
"""Top height is that of so many thickest stems per hectare."""
_ROUND_OFF = 1e-9
WHOLE = ""
"""Plot of a compartment that was counted whole: its sheets are one count."""
_COUNTS = ("n_plots_short", "n_height_measured", "n_height_curve", "n_height_outside", "n_height_missing")


@dataclass(frozen=True, slots=True)
class _Figure:
    """A figure that is a product of powers of totals, in the unit of its name times `factor`."""

    name: str
    powers: Mapping[str, float]
    factor: float
    blank_where: str = ""
    zero_without: bool = False


def stand_density(
    heights: StemHeights, units: pl.DataFrame, compartments: pd.DataFrame, settings: Settings
) -> pl.DataFrame:
    """Estimate heights and density of the survey, its strata and its compartments.

    Lorey's mean height is Σ g h / Σ g, so that stems weigh by their basal area (Lorey 1878); for an angle count,
    where every stem stands for one basal area, it is the plain mean. Top height is the mean height of the 100
    thickest stems per hectare: on each plot its thickest stems are taken until they stand for 100 per hectare,
    the last one in part, and plots are averaged by their area. Reineke's index is N (dg / D)^k (Reineke 1933,
    Journal of Agricultural Research 46: 627-638) and, summed, Σ (d / D)^k (Stage 1968, from memory); Curtis'
    relative density G / √dg (Curtis 1982, Forest Science 28: 92-94); relative spacing √(10 000 / N) over top
    height (Hart 1928, Becking 1954, from memory). All are products of powers of totals; errors are linearised
    (`plotmap.statistics.product_of_totals`).

    Parameters
    ----------
    heights : StemHeights
        Every stem with its height.
    units : polars.DataFrame
        Columns of `plotmap.model.plot_table.UNIT_SCHEMA`.
    compartments : pandas.DataFrame
        ``compartment``, ``stratum``, ``area_ha``, ``n_plots`` and ``status``.
    settings : Settings
        Constants of Reineke's index and maxima.

    Returns
    -------
    polars.DataFrame
        Columns of `STAND_DENSITY_RESULTS`: the survey, strata by name, compartments in their order.
    """
    parts = unit_parts(heights.stems, units, settings.density)
    homes = pl.DataFrame(
        {
            name: pl.Series(compartments[name].to_list())
            for name in ("compartment", "stratum", "area_ha", "n_plots", "status")
        }
    ).with_row_index("home")
    parts = parts.join(homes.select("compartment", "home"), on="compartment", maintain_order="left")
    stratum, names = pd.factorize(compartments["stratum"], sort=True)
    n = len(compartments)
    scopes: tuple[tuple[str, list[str | None], npt.NDArray[np.intp]], ...] = (
        (SURVEY, [None], np.zeros(n, dtype=np.intp)),
        (STRATUM, list(names), stratum.astype(np.intp)),
        (COMPARTMENT, homes["compartment"].to_list(), np.arange(n, dtype=np.intp)),
    )
    figures = _figures(settings.density)
    tables = [
        _scope(scope, labels, group, parts, homes, figures, heights.any_measured)
        for scope, labels, group in scopes
    ]
    return pl.concat(tables).select(STAND_DENSITY_RESULTS.names)


def _figures(density: DensitySection) -> list[_Figure]:
    """Return what is computed from which totals."""
    k, reference = density.reineke_exponent, density.reineke_dbh_cm
    figures = [
        _Figure("lorey_height_m", {"live_g_h": 1, "live_g": -1}, 1.0, "n_height_missing"),
        _Figure("top_height_m", {"top_h": 1, "top": -1}, 1.0, "n_top_missing"),
        _Figure(
            "reineke_index",
            {"stems": 1 - k / 2, "g": k / 2, "area": -1},
            (M2_PER_CM2 * reference**2) ** (-k / 2),
        ),
        _Figure("reineke_sum", {"powers": 1, "area": -1}, 1.0, zero_without=True),
        _Figure(
            "relative_density_pct", {"of_maximum": 1, "area": -1}, 100.0, "n_no_maximum", zero_without=True
        ),
        _Figure("curtis_density", {"stems": 0.25, "g": 0.75, "area": -1}, M2_PER_CM2**0.25),
        _Figure(
            "relative_spacing_pct",
            {"area": 0.5, "live": -0.5, "top": 1, "top_h": -1},
            100 * M2_PER_HA**0.5,
            "n_top_missing",
        ),
    ]
    return figures if density.maxima else [figure for figure in figures if figure.name != _RELATIVE]


_RELATIVE = "relative_density_pct"


def unit_parts(stems: pl.DataFrame, units: pl.DataFrame, density: DensitySection) -> pl.DataFrame:
    """Return the sums of every unit (a plot, or a compartment counted whole), zeros too.

    Parameters
    ----------
    stems : polars.DataFrame
        As `StemHeights` has them.
    units : polars.DataFrame
        Columns of `plotmap.model.plot_table.UNIT_SCHEMA`.
    density : DensitySection
        Constants of Reineke's index and maxima.

    Returns
    -------
    polars.DataFrame
        ``compartment``, ``plot`` (`WHOLE` where counted whole), ``area`` (ha, or 1), ``n_full``, the sums of the
        stems, ``top`` (the area where stems stand) and ``top_h`` (that area times the mean height of its 100
        thickest stems per hectare, in m).
    """
    whole = units.select("plot", "compartment", "full_count")
    own = pl.when("full_count").then(pl.lit(WHOLE)).otherwise("plot").alias("plot")
    grounds = ordered_sums(
        units.with_columns(own, pl.col("full_count").cast(pl.Float64).alias("n_full")),
        ["compartment", "plot"],
        area=pl.col("weight_ha"),
        n_full=pl.col("n_full"),
    )
    rows = stems.join(whole, on=["plot", "compartment"], maintain_order="left").with_columns(own)
    rows = rows.join(grounds.select("compartment", "plot", "area"), on=["compartment", "plot"])
    rows = _with_top(with_maximum(rows, density))
    live, height = pl.col("live"), pl.col("height_used_m")
    basal = pl.col("stems") * pl.col("square_cm2") * M2_PER_CM2
    power = pl.col("stems") * (pl.col("dbh_cm") / density.reineke_dbh_cm) ** density.reineke_exponent
    sums = ordered_sums(
        rows,
        ["compartment", "plot"],
        n_trees=pl.col("n_trees"),
        stems=pl.col("stems"),
        g=basal,
        live=pl.when(live).then("stems"),
        live_g=pl.when(live).then(basal),
        live_g_h=pl.when(live).then(basal * height),
        powers=power,
        of_maximum=power / pl.col("maximum"),
        top_per_ha=pl.col("top_per_ha"),
        top_sum=pl.col("top_per_ha") * height,
        n_no_maximum=pl.when(pl.col("maximum").is_null()).then("n_trees"),
        n_top_missing=pl.when(height.is_null() & (pl.col("top_per_ha") > 0)).then("n_trees"),
        n_height_measured=pl.when(live & (pl.col("height_by") == MEASURED)).then("n_trees"),
        n_height_curve=pl.when(live & (pl.col("height_by") == CURVE)).then("n_trees"),
        n_height_outside=pl.when(live & pl.col("height_outside")).then("n_trees"),
        n_height_missing=pl.when(live & height.is_null()).then("n_trees"),
    )
    with_stems = pl.col("top_per_ha") > 0
    return (
        grounds.join(sums, on=["compartment", "plot"], how="left", maintain_order="left")
        .fill_null(0.0)
        .with_columns(
            pl.when(with_stems).then("area").otherwise(0.0).alias("top"),
            pl.when(with_stems)
            .then(pl.col("area") * pl.col("top_sum") / pl.col("top_per_ha"))
            .otherwise(0.0)
            .alias("top_h"),
            (with_stems & (pl.col("top_per_ha") < TOP_STEMS_PER_HA * (1 - _ROUND_OFF)))
            .cast(pl.Float64)
            .alias("n_plots_short"),
        )
    )


def _with_top(rows: pl.DataFrame) -> pl.DataFrame:
    """Add ``top_per_ha``: the stems per hectare that each live stem gives to the 100 thickest of its unit."""
    per_ha = pl.when("live").then(pl.col("stems") / pl.col("area")).otherwise(0.0).alias("per_ha")
    ordered = rows.with_columns(per_ha).sort(
        "compartment",
        "plot",
        "dbh_cm",
        "height_used_m",
        descending=[False, False, True, True],
        nulls_last=True,
        maintain_order=True,
    )
    before = (pl.col("per_ha").cum_sum() - pl.col("per_ha")).over("compartment", "plot")
    taken = pl.min_horizontal("per_ha", (TOP_STEMS_PER_HA - before).clip(lower_bound=0.0))
    return ordered.with_columns(taken.alias("top_per_ha"))


def with_maximum(rows: pl.DataFrame, density: DensitySection) -> pl.DataFrame:
    """Add ``maximum``: the largest index of the stem's species; missing where none is given.

    Parameters
    ----------
    rows : polars.DataFrame
        Stems with ``species_written`` and ``species``.
    density : DensitySection
        Maxima.
    """
    given = {entry.species: entry.index for entry in density.maxima}
    other = given.get(ANY_SPECIES)
    maximum = pl.coalesce(
        *(
            pl.col(name).replace_strict(given, default=None, return_dtype=pl.Float64)
            for name in ("species_written", "species")
        ),
        pl.lit(other, pl.Float64),
    )
    return rows.with_columns(maximum.alias("maximum"))


def _scope(
    scope: str,
    labels: list[str | None],
    group: npt.NDArray[np.intp],
    parts: pl.DataFrame,
    homes: pl.DataFrame,
    figures: list[_Figure],
    any_measured: bool,  # noqa: FBT001
) -> pl.DataFrame:
    """Return the rows of one scope."""
    n_groups = len(labels)
    home = parts["home"].to_numpy().astype(np.intp)
    whole = np.bincount(home, parts["n_full"].to_numpy(), len(homes)) > 0
    strata = Strata(home, homes["area_ha"].to_numpy(), whole, group, n_groups)

    def count(values: _Floats) -> _Floats:
        """Sum values of the units over each group."""
        return np.bincount(group[home], values, n_groups).astype(float)

    held = {name: parts[name].to_numpy() for name in parts.columns if name not in {"compartment", "plot"}}
    n_plots = np.bincount(group, homes["n_plots"].to_numpy(), n_groups).astype(np.float64)
    made: dict[str, _Floats] = {name: np.round(count(held[name]), COUNT_DECIMALS) for name in _COUNTS}
    one_plot = np.bincount(group, (homes["status"] == ONE_PLOT).to_numpy(), n_groups) > 0
    for figure in figures:
        theta, se = product_of_totals(held, figure.powers, "area", strata)
        if figure.zero_without:
            bare = (n_plots > 0) & (count(held["stems"]) == 0)
            theta, se = np.where(bare, 0.0, theta), np.where(bare & ~one_plot, 0.0, se)
        if figure.blank_where:
            blank = count(held[figure.blank_where]) > 0
            theta, se = np.where(blank, np.nan, theta), np.where(blank, np.nan, se)
        made[figure.name], made[f"{figure.name}_se"] = theta * figure.factor, se * figure.factor
    for name in (_RELATIVE, f"{_RELATIVE}_se"):
        made.setdefault(name, np.full(n_groups, np.nan))
    words = {
        "heights": _heights_words(made, n_plots, count(held["live"]), any_measured=any_measured),
        "status": _status(scope, homes, n_plots, one_plot),
    }
    own = {"scope": [scope] * n_groups, "name": pl.Series(labels, dtype=pl.String), "n_plots": n_plots}
    table = pl.DataFrame({**own, **made, **words})
    whole_numbers = pl.col("n_plots", "n_plots_short").cast(pl.Int64)
    return table.with_columns(pl.selectors.float().fill_nan(None)).with_columns(whole_numbers)


def _heights_words(
    made: Mapping[str, _Floats], n_plots: _Floats, live: _Floats, *, any_measured: bool
) -> list[str]:
    """Say for each group where its heights come from."""
    return list(
        np.select(
            [n_plots == 0, live == 0, made["n_height_missing"] > 0, made["n_height_curve"] > 0],
            [NO_PLOTS, NO_STEMS, NO_CURVE if any_measured else NO_HEIGHTS, FROM_CURVES],
            ALL_MEASURED,
        )
    )


def _status(scope: str, homes: pl.DataFrame, n_plots: _Floats, one_plot: npt.NDArray[np.bool_]) -> list[str]:
    """Say for each group what its figures rest on."""
    if scope == COMPARTMENT:
        return homes["status"].to_list()
    return list(np.select([n_plots == 0, one_plot], [NO_PLOTS, TOTAL_PARTLY], ESTIMATED))
