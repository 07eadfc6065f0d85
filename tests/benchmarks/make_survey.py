"""Make a survey folder of any size for measurements of speed; everything in it is drawn at random from a seed.

``python -m tests.benchmarks.make_survey FOLDER --compartments 2000 --plots 20000 --stems 500000``
"""

from __future__ import annotations

import argparse
import datetime as dt
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Literal

import geopandas as gpd
import numpy as np
import polars as pl
import shapely

CRS = "EPSG:32630"
ORIGIN_M = (500_000.0, 6_000_000.0)
SPACING_M = 100.0
"""Between plots: one plot a hectare."""
FIRST_DAY = dt.date(2026, 4, 1)
N_DAYS = 90
DAYS_BETWEEN_CHECKS = 14
SPECIES = (
    ("oak", "Quercus petraea"),
    ("ash", "Fraxinus excelsior"),
    ("alder", "Alnus glutinosa"),
    ("birch", "Betula pendula"),
    ("rowan", "Sorbus aucuparia"),
    ("pine", "Pinus sylvestris"),
    ("larch", "Larix decidua"),
    ("spruce", "Picea abies"),
)
SETTINGS = f"""\
[survey]
title = "Generated for measurements of speed"
crs = "{CRS}"

[plots]
design = "circle"
radius_m = 12.62

[estimates]
one_plot_variance = "pooled"
"""

TableFormat = Literal["csv", "parquet"]


@dataclass(frozen=True)
class SurveySize:
    """How much to make: numbers of compartments, plots and stems, all exact."""

    compartments: int
    plots: int
    stems: int


def make_survey(folder: Path, size: SurveySize, table_format: TableFormat = "csv", seed: int = 1) -> Path:
    """Write a survey folder.

    Parameters
    ----------
    folder : Path
        Made if it is not there; tables of that name are replaced.
    size : SurveySize
        Numbers of compartments, plots and stems.
    table_format : {'csv', 'parquet'}
        Of every table but the compartments, which are a GeoPackage.
    seed : int
        The same seed gives the same tables.

    Returns
    -------
    Path
        `folder`.
    """
    folder.mkdir(parents=True, exist_ok=True)
    rng = np.random.default_rng(seed)
    width_m, height_m = _extent(size.plots)
    richness = rng.gamma(4.0, 1.0, size.plots)  # gamma shares of a fixed sum: negative binomial counts
    counts = rng.multinomial(size.stems, richness / richness.sum())
    tables = {
        "plots": _plots(counts, width_m, rng),
        "trees": _trees(counts, rng),
        "instruments": _instruments(rng),
        "species": pl.DataFrame(SPECIES, schema=["species", "name"], orient="row"),
    }
    for name, frame in tables.items():
        if table_format == "csv":
            frame.write_csv(folder / f"{name}.csv")
        else:
            frame.write_parquet(folder / f"{name}.parquet")
    layer = _compartments(size.compartments, width_m, height_m, rng)
    path = folder / "compartments.gpkg"
    path.unlink(missing_ok=True)
    layer.to_file(path, layer="compartments", driver="GPKG")
    (folder / "survey.toml").write_text(SETTINGS, encoding="utf-8")
    return folder


def _extent(n_plots: int) -> tuple[float, float]:
    """Return width and height in m of a rectangle that holds the grid of plots."""
    columns = int(np.ceil(np.sqrt(n_plots)))
    rows = int(np.ceil(n_plots / columns))
    return columns * SPACING_M, rows * SPACING_M


def _compartments(count: int, width_m: float, height_m: float, rng: np.random.Generator) -> gpd.GeoDataFrame:
    """Return quadrangles that fill the rectangle; the last row has fewer and wider ones."""
    columns = int(np.ceil(np.sqrt(count * width_m / height_m)))
    rows = int(np.ceil(count / columns))
    in_last = count - columns * (rows - 1)
    step = np.array([width_m / columns, height_m / rows])
    nodes = np.stack(np.meshgrid(np.arange(columns + 1.0), np.arange(rows + 1.0)), axis=-1)
    swing = rng.uniform(-0.25, 0.25, nodes.shape)
    swing[[0, -1], :, :] = swing[:, [0, -1], :] = 0.0  # the edge of the survey stays a rectangle
    nodes = np.round((nodes + swing) * step + ORIGIN_M, 2)
    below, left = np.divmod(np.arange(columns * (rows - 1)), columns)
    corners = [(below, left), (below, left + 1), (below + 1, left + 1), (below + 1, left)]
    shapes = list(shapely.polygons(np.stack([nodes[at] for at in corners], axis=1)))
    shapes += _last_row(nodes[-2], nodes[-1], in_last)
    frame = gpd.GeoDataFrame(
        {
            "compartment": [f"C{number:05d}" for number in range(1, count + 1)],
            "stratum": rng.choice(["valley", "slope", "top"], count),
        },
        geometry=shapes,
        crs=CRS,
    )
    frame["area_ha"] = np.round(frame.area / 10_000 * rng.normal(1.0, 0.005, count), 3)
    return frame


def _last_row(below: np.ndarray, above: np.ndarray, count: int) -> list[shapely.Polygon]:
    """Return the polygons of the last row: the first ones of one width, the last one takes what is left."""
    ends = [*range(count), len(below) - 1]
    return [
        shapely.Polygon(np.vstack((below[start : end + 1], above[start : end + 1][::-1])))
        for start, end in pairwise(ends)
    ]


def _plot_names(numbers: np.ndarray) -> pl.Series:
    """Return P000001 and so on."""
    names = pl.DataFrame({"number": numbers + 1}).select(
        plot=pl.format("P{}", pl.col("number").cast(pl.String).str.zfill(6))
    )
    return names["plot"]


def _plots(counts: np.ndarray, width_m: float, rng: np.random.Generator) -> pl.DataFrame:
    """Return the plots of the grid with a random start, measured row by row over the season."""
    count = len(counts)
    numbers = np.arange(count)
    row, column = np.divmod(numbers, round(width_m / SPACING_M))
    start = rng.uniform(0.2, 0.8, 2) * SPACING_M
    days = np.datetime64(FIRST_DAY) + (numbers * N_DAYS // count).astype("timedelta64[D]")
    return pl.DataFrame(
        {
            "plot": _plot_names(numbers),
            "easting": np.round(ORIGIN_M[0] + start[0] + column * SPACING_M, 1),
            "northing": np.round(ORIGIN_M[1] + start[1] + row * SPACING_M, 1),
            "state": np.where(counts > 0, "measured", "empty"),
            "date": days,
            "crew": rng.choice(["crew A", "crew B", "crew C"], count),
            "slope_pct": np.round(rng.gamma(2.0, 8.0, count), 0),
        }
    )


def _trees(counts: np.ndarray, rng: np.random.Generator) -> pl.DataFrame:
    """Return the stems, so many a plot: Weibull diameters read twice crosswise, 2 mm of zero error in them."""
    n_plots, n_stems = len(counts), int(counts.sum())
    plot = np.repeat(np.arange(n_plots), counts)
    first = np.cumsum(counts) - counts
    dbh_cm = 7.0 + rng.uniform(10.0, 25.0, n_plots)[plot] * rng.weibull(2.2, n_stems)
    oval = rng.normal(0.0, 0.02, n_stems)
    return pl.DataFrame(
        {
            "plot": _plot_names(np.arange(n_plots)).gather(plot),
            "tree": np.arange(n_stems) - first[plot] + 1,
            "species": pl.Series([name for name, _ in SPECIES]).gather(
                rng.integers(0, len(SPECIES), n_stems)
            ),
            "d1_cm": np.round(dbh_cm * (1 + oval) + 0.2, 1),
            "d2_cm": np.round(dbh_cm * (1 - oval) + 0.2, 1),
            "instrument": "K1",
        }
    )


def _instruments(rng: np.random.Generator) -> pl.DataFrame:
    """Return checks of the one caliper, every two weeks."""
    n_checks = N_DAYS // DAYS_BETWEEN_CHECKS + 1
    return pl.DataFrame(
        {
            "instrument": "K1",
            "kind": "caliper",
            "date": [FIRST_DAY + dt.timedelta(days=DAYS_BETWEEN_CHECKS * turn) for turn in range(n_checks)],
            "zero_mm": np.round(rng.normal(2.0, 0.5, n_checks), 1),
        }
    )


def main(arguments: list[str] | None = None) -> None:
    """Read the command line and write the survey."""
    parser = argparse.ArgumentParser(description="Write a generated survey folder.")
    parser.add_argument("folder", type=Path)
    parser.add_argument("--compartments", type=int, default=2000)
    parser.add_argument("--plots", type=int, default=20_000)
    parser.add_argument("--stems", type=int, default=500_000)
    parser.add_argument("--format", choices=("csv", "parquet"), default="csv", dest="table_format")
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args(arguments)
    if min(given.compartments, given.plots, given.stems) < 1 or given.plots < given.compartments:
        parser.error("give at least one compartment and stem, and at least as many plots as compartments")
    size = SurveySize(given.compartments, given.plots, given.stems)
    make_survey(given.folder, size, given.table_format, given.seed)


if __name__ == "__main__":
    main()
