"""What the plots are one sample of: compartments, or strata over the boundaries of their compartments."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
import pandas as pd
import polars as pl

from plotmap.frames import ordered_sums
from plotmap.model.plot_table import QUANTITIES, PlotValues
from plotmap.model.result_tables import ESTIMATED, FULL_COUNT, NO_PLOTS, ONE_PLOT
from plotmap.model.settings import Design, Settings
from plotmap.stand.compartments import DBH_SUM, SAMPLED_HA, TOTAL_OF, figures_of
from plotmap.stand.domains import SAMPLING_FRACTION
from plotmap.stand.limits import NOT_FOUND, limits_of

_SUMS = (*QUANTITIES, "dbh_sum_cm")
_FIGURES = [
    *(figure + suffix for figure in TOTAL_OF for suffix in ("", "_se")),
    DBH_SUM,
    SAMPLED_HA,
    SAMPLING_FRACTION,
    NOT_FOUND,
]
_Ints = npt.NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class Samples:
    """The samples of a survey, and the plots in them.

    Attributes
    ----------
    table : pandas.DataFrame
        One row a sample, also one without plots and each compartment that was counted whole: ``sample`` (name of the
        compartment or stratum), ``stratum``, ``area_ha``, ``register``, ``geodesic`` (whether areas of that source
        are in it), ``n_compartments``, ``n_without_plots``, ``n_plots``, ``n_trees``, ``status``, figures per hectare
        with errors, `DBH_SUM`, `SAMPLED_HA`, `SAMPLING_FRACTION`.
    units : polars.DataFrame
        One row a plot and sample, but for counted compartments: ``sample`` (row of `table`), ``weight_ha`` and the
        sums of `QUANTITIES` on it.
    plot_values : PlotValues
        Plot values with the row of `table`, as text, in place of the compartment; where samples are compartments,
        the plot values as they are.
    wider : bool
        Whether samples are wider than compartments.
    """

    table: pd.DataFrame
    units: pl.DataFrame
    plot_values: PlotValues
    wider: bool

    @property
    def frame(self) -> pd.DataFrame:
        """The samples, with their row as text for compartment, as in `plot_values` where they are wider."""
        return self.table.assign(compartment=self.table.index.astype(str))


def samples_of(compartments: pd.DataFrame, values: PlotValues, settings: Settings) -> Samples:
    """Put the compartments together to what the plots are samples of.

    Parameters
    ----------
    compartments : pandas.DataFrame
        As `plotmap.stand.compartments.estimate_compartments` gives it.
    values : PlotValues
        Plots that enter, and what stands on them.
    settings : Settings
        ``[estimates] sample_of`` and ``finite_population``.

    Returns
    -------
    Samples
        With ``sample_of = "compartment"`` a row for each compartment. Otherwise one for each stratum, over the
        area of all its compartments that were not counted whole, those without plots too, and one for each counted
        compartment. A plot whose circle is shared out among compartments of a stratum is one plot there. Where a
        stratum has plots of several designs they weigh alike.
    """
    own = settings.estimates.sample_of == "compartment"
    of = _membership(compartments, own=own)
    table = _sums(compartments, of, own=own)
    kept = ["n_plots", "n_trees", "status", *_FIGURES]
    if own:
        table = table.assign(**{name: compartments[name].to_numpy() for name in kept})
        return Samples(table, _units(_renamed(values, _names(compartments, of))), values, wider=False)
    parts = _as_one_plot(values, _names(compartments, of))
    if settings.estimates.finite_population:
        parts = with_fractions(
            parts,
            pl.DataFrame(
                {"compartment": table.index.astype(str).to_list(), "area_ha": table["area_ha"].to_numpy()}
            ),
        )
    figures = figures_of(parts, limits_of(settings)).to_pandas().set_index("compartment")
    figures = figures.reindex(table.index.astype(str)).set_index(table.index)
    whole = figures["full_count"].fillna(value=False).astype(bool)
    n_plots = figures["n_plots"].fillna(0).astype(int)
    status = np.select([n_plots == 0, whole, n_plots == 1], [NO_PLOTS, FULL_COUNT, ONE_PLOT], ESTIMATED)
    figures = figures.assign(n_plots=n_plots, n_trees=figures["n_trees"].fillna(0.0), status=status)
    table = table.assign(**{name: figures[name] for name in kept})
    return Samples(table, _units(parts), parts, wider=True)


def with_fractions(values: PlotValues, areas: pl.DataFrame) -> PlotValues:
    """Add to the units the share of their compartment's area that its plots cover.

    Parameters
    ----------
    values : PlotValues
        Plots that enter.
    areas : polars.DataFrame
        ``compartment`` and ``area_ha``.

    Returns
    -------
    PlotValues
        `SAMPLING_FRACTION` is missing where plots have no area (angle counts) or weigh alike (several designs).
    """
    land = areas.select(pl.col("compartment").cast(pl.String), "area_ha")
    units = values.units.join(
        designs_of(values),
        on="plot",
        how="left",
        maintain_order="left",
    ).join(land, on="compartment", how="left", maintain_order="left")
    one = pl.col("design").n_unique().over("compartment") == 1
    known = one & (pl.col("design") != Design.ANGLE_COUNT)
    share = pl.col("weight_ha").sum().over("compartment") / pl.col("area_ha")
    marked = units.with_columns(pl.when(known).then(share).alias(SAMPLING_FRACTION))
    return replace(values, units=marked.drop("design", "area_ha"))


def designs_of(values: PlotValues) -> pl.DataFrame:
    """Return the design of each plot.

    Parameters
    ----------
    values : PlotValues
        Plots of the file.

    Returns
    -------
    polars.DataFrame
        ``plot`` and ``design``, once each plot; missing where the file has none.
    """
    plots = values.plots[["plot", "design"]].drop_duplicates("plot")
    return pl.DataFrame(
        {
            name: pl.Series(plots[name].to_numpy(dtype=object, na_value=None), dtype=pl.String)
            for name in plots
        }
    )


def _membership(compartments: pd.DataFrame, *, own: bool) -> _Ints:
    """Return the row of the sample that each compartment belongs to."""
    if own:
        return np.arange(len(compartments))
    counted = (compartments["status"] == FULL_COUNT).to_numpy()
    pairs = [
        (stratum, name if whole else "")
        for stratum, name, whole in zip(
            compartments["stratum"], compartments["compartment"], counted, strict=True
        )
    ]
    return pd.factorize(pd.MultiIndex.from_tuples(pairs), sort=True)[0]


def _sums(compartments: pd.DataFrame, of: _Ints, *, own: bool) -> pd.DataFrame:
    """Return names, areas and counts of the samples."""
    counted = compartments["status"] == FULL_COUNT
    rows = pd.DataFrame(
        {
            "sample": compartments["compartment"].where(counted | own, compartments["stratum"]),
            "stratum": compartments["stratum"],
            "area_ha": compartments["area_ha"],
            "register": compartments["area_source"] == "register",
            "geodesic": compartments["area_source"] == "geodesic",
            "n_compartments": 1,
            "n_without_plots": (compartments["n_plots"] == 0).astype(int),
        }
    )
    how: dict[object, str] = {"sample": "first", "stratum": "first", "register": "any", "geodesic": "any"}
    return rows.groupby(of).agg({name: how.get(name, "sum") for name in rows})


def _renamed(values: PlotValues, names: pl.DataFrame) -> PlotValues:
    """Return the plot values with other names of their compartments."""

    def other(frame: pl.DataFrame) -> pl.DataFrame:
        """Rename in one table."""
        joined = frame.join(names, on="compartment", how="left", maintain_order="left")
        return joined.with_columns(pl.col("to").alias("compartment")).select(frame.columns)

    return replace(values, units=other(values.units), cells=other(values.cells))


def _names(compartments: pd.DataFrame, of: _Ints) -> pl.DataFrame:
    """Return the compartments beside their samples as text."""
    return pl.DataFrame(
        {"compartment": compartments["compartment"].to_numpy(dtype=object), "to": of.astype(str)},
        schema_overrides={"compartment": pl.String, "to": pl.String},
    )


def _as_one_plot(values: PlotValues, names: pl.DataFrame) -> PlotValues:
    """Return the plot values by sample: parts of one plot in one sample joined, alike where designs are mixed."""
    renamed = _renamed(values, names)
    key = ["plot", "compartment"]
    units = (
        ordered_sums(
            renamed.units,
            key,
            weight_ha=pl.col("weight_ha"),
            searched=pl.col("searched_ha").fill_null(0.0),
            n_full=pl.col("full_count").cast(pl.Float64),
        )
        .join(designs_of(values), on="plot", how="left", maintain_order="left")
        .with_columns(
            (pl.col("n_full") > 0).alias("full_count"),
            pl.when(pl.col("searched") > 0).then("searched").alias("searched_ha"),
            (pl.col("design").n_unique().over("compartment") > 1).alias("alike"),
        )
    )
    scale = units.select(*key, pl.when("alike").then(1.0 / pl.col("weight_ha")).otherwise(1.0).alias("scale"))
    cells = renamed.cells.join(scale, on=key, how="left", maintain_order="left")
    return replace(
        values,
        units=units.with_columns(pl.when("alike").then(1.0).otherwise("weight_ha").alias("weight_ha")).select(
            "plot", "compartment", "weight_ha", "searched_ha", "full_count"
        ),
        cells=cells.with_columns(pl.col(name) * pl.col("scale") for name in _SUMS).select(
            values.cells.columns
        ),
    )


def _units(values: PlotValues) -> pl.DataFrame:
    """Return the plots that are samples with their sums; zeros where nothing stands."""
    key = ["plot", "compartment"]
    sums = ordered_sums(values.cells, key, **{name: pl.col(name) for name in QUANTITIES})
    return (
        values.units.filter(~pl.col("full_count"))
        .join(sums, on=key, how="left", maintain_order="left")
        .select(
            pl.col("compartment").cast(pl.Int64).alias("sample"),
            "weight_ha",
            pl.col(*QUANTITIES).fill_null(0.0),
        )
    )
