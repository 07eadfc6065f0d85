"""Stands of any size for measurements of the map: frames as a run leaves them, filled at random from a seed."""

from __future__ import annotations

from dataclasses import replace
from math import ceil
from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pandas as pd
import polars as pl
import shapely

from tests.output.webmap.larger_stand import winding
from tests.stand_example import stand_example

if TYPE_CHECKING:
    from plotmap.model.survey import Stand

SIDE_M = 200.0
"""A compartment is a square of 4 ha whose sides wind."""
STEP_M = 6.0
"""Between the vertices of an outline, as traced from a map."""
SPECIES = ("ash", "beech", "oak", "pine", "spruce")
CLASSES = tuple(f"{low}–<{low + 5}" for low in range(10, 50, 5))


def large_stand(n_compartments: int, n_plots: int, seed: int = 11) -> Stand:
    """Return a stand whose compartments share winding boundaries, with plots at random places in them.

    Of a hundred compartments one has no plots and three have one; of a hundred plots one is unvisited, one is
    empty and one is set aside. Eight size classes and five species in every compartment with plots. Figures are
    random and do not hang together.
    """
    rng = np.random.default_rng(seed)
    example = stand_example()
    status = np.array(["estimated", "one plot", "no plots"])[
        rng.choice(3, n_compartments, p=[0.96, 0.03, 0.01])
    ]
    compartments = _compartments(example.compartments, status, rng)
    homes = np.flatnonzero(status != "no plots")
    names = compartments["compartment"].to_numpy()
    return replace(
        example,
        compartments=compartments,
        plots=_plots(example.plots, compartments, homes, n_plots, rng),
        class_totals=_per_compartment(example.class_totals, names[homes], "class", CLASSES, rng),
        species_totals=_per_compartment(example.species_totals, names[homes], "species", SPECIES, rng),
    )


def _compartments(
    example: gpd.GeoDataFrame, status: np.ndarray, rng: np.random.Generator
) -> gpd.GeoDataFrame:
    """Return squares with winding sides in rows of a square; the last row may be shorter."""
    count = len(status)
    across = ceil(np.sqrt(count))
    row, column = np.divmod(np.arange(count), across)
    x, y = 500_000 + SIDE_M * column, 5_600_000 + SIDE_M * row
    squares = shapely.segmentize(shapely.box(x, y, x + SIDE_M, y + SIDE_M), STEP_M)
    table = _repeated(pd.DataFrame(example.drop(columns="geometry")), count, rng)
    width = len(str(count))
    table["compartment"] = [f"{number + 1:0{width}d}" for number in range(count)]
    table["name"] = [f"Block {number + 1}" for number in range(count)]
    table["stratum"] = np.where(rng.random(count) < 0.5, "valley", "slope & top")
    table["status"] = status
    figures = [name for name in table.columns if table[name].dtype.kind == "f" and name != "area_ha"]
    errors = [name for name in figures if name.endswith(("_se", "_low", "_high", "error_pct"))]
    table.loc[status == "no plots", figures] = np.nan
    table.loc[status == "one plot", errors] = np.nan
    table["n_plots"] = np.select([status == "no plots", status == "one plot"], [0, 1], 10)
    return gpd.GeoDataFrame(table, geometry=shapely.transform(squares, winding), crs=example.crs)


def _repeated(example: pd.DataFrame, count: int, rng: np.random.Generator) -> pd.DataFrame:
    """Return rows of a table drawn at random; estimates scatter but keep their limits on either side."""
    table = example.iloc[rng.integers(0, 1, count)].reset_index(drop=True)
    for name in [name for name in table.columns if table[name].dtype.kind == "f" and name != "area_ha"]:
        stem = name.removesuffix("_low").removesuffix("_high").removesuffix("_se")
        if name == stem:
            table[name] = rng.gamma(4, 8, count)
        elif stem in table:
            share = {"e": 0.1, "w": rng.uniform(0.5, 0.95, count), "h": rng.uniform(1.05, 1.6, count)}[
                name[-1]
            ]
            table[name] = table[stem] * share
    return table


def _plots(
    example: gpd.GeoDataFrame,
    compartments: gpd.GeoDataFrame,
    homes: np.ndarray,
    count: int,
    rng: np.random.Generator,
) -> gpd.GeoDataFrame:
    """Return plots in the circle inside each compartment, as many in each as come out even."""
    home = np.sort(np.resize(homes, count))
    middle = shapely.centroid(compartments.geometry.to_numpy()[home])
    away = rng.uniform(-0.4 * SIDE_M, 0.4 * SIDE_M, (2, count))
    table = _repeated(pd.DataFrame(example.drop(columns="geometry")), count, rng)
    width = len(str(count))
    table["plot"] = [f"P{number + 1:0{width}d}" for number in range(count)]
    table["compartment"] = compartments["compartment"].to_numpy()[home]
    kind = rng.choice(4, count, p=[0.97, 0.01, 0.01, 0.01])
    table["state"] = np.array(["measured", "empty", "unvisited", "measured"])[kind]
    table["set_aside"] = pd.Series(
        np.array([None, None, "unvisited", "outside its compartment"])[kind], dtype=object
    )
    table["share_inside"] = 1.0
    days = pd.Timestamp("2026-04-01") + pd.to_timedelta(rng.integers(0, 90, count), unit="D")
    table["date"] = days.strftime("%Y-%m-%d")
    places = shapely.points(shapely.get_x(middle) + away[0], shapely.get_y(middle) + away[1])
    return gpd.GeoDataFrame(table, geometry=places, crs=example.crs)


def _per_compartment(
    example: pl.DataFrame, names: np.ndarray, key: str, words: tuple[str, ...], rng: np.random.Generator
) -> pl.DataFrame:
    """Return one row for each compartment and word."""
    count = len(names) * len(words)
    numbers = {
        name: rng.gamma(3, 20, count)
        for name, kind in example.schema.items()
        if kind == pl.Float64 and not name.endswith(("_low", "_high"))
    }
    limits = {
        f"{name}{end}": numbers[name] * share
        for name in numbers
        for end, share in (("_low", 0.7), ("_high", 1.4))
    }
    frame = pl.DataFrame(
        {"compartment": np.repeat(names, len(words)), key: list(words) * len(names), **numbers}
    )
    frame = frame.with_columns(**{name: pl.Series(v) for name, v in limits.items() if name in example.schema})
    if key == "class":
        low = np.tile(np.arange(10.0, 50.0, 5.0), len(names))
        frame = frame.with_columns(low_cm=pl.Series(low), high_cm=pl.Series(low + 5))
    missing = [
        pl.lit(None, kind).alias(name) for name, kind in example.schema.items() if name not in frame.columns
    ]
    return frame.with_columns(missing).select(example.columns)
