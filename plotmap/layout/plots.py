"""The table of planned plots: names, edges, days and order."""

from __future__ import annotations

import math

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd
import polars as pl
from pyproj import CRS

from plotmap.errors import SettingsError
from plotmap.layout.land import Floats, Indexes, Land
from plotmap.layout.numbers import Numbers
from plotmap.layout.positions import Points
from plotmap.model.layout import Ground
from plotmap.model.result_tables_layout import PLANNED_PLOT_RESULTS, WALK_RESULTS
from plotmap.model.settings import EdgeRule
from plotmap.model.settings_layout import LayoutSection
from plotmap.spatial import BallparkTransformError, circle_overlap_m2, transform_points
from plotmap.spatial.walks import compact_groups, visiting_order, walk_length_m

MAIN, RESERVE = "main", "reserve"
ALL_INSIDE, LOOK = "all inside", "look"
TASKS = {
    EdgeRule.WHOLE: "tally all",
    EdgeRule.INSIDE: "tally inside",
    EdgeRule.MIRAGE: "mirage",
    EdgeRule.POSITIONS: "positions",
}
_INSIDE_TOLERANCE = 1e-9
_FAR_M = 100_000.0
_DECIMALS = 7
_M_PER_KM = 1000.0
_MOST_DAYS = 2000


def plots_table(
    ground: Ground, land: Land, numbers: Numbers, main: Points, reserve: Points
) -> tuple[gpd.GeoDataFrame, pl.DataFrame]:
    """Return all planned plots, the main ones first, and the walks of the days.

    Parameters
    ----------
    ground : Ground
        Settings and CRS.
    land : Land
        Compartments.
    numbers : Numbers
        Plots wanted.
    main, reserve : Points
        Where they lie.

    Returns
    -------
    plots : geopandas.GeoDataFrame
        Columns of `PLANNED_PLOT_RESULTS`.
    walks : polars.DataFrame
        Columns of `WALK_RESULTS`; without rows where no plots per day are stated.

    Raises
    ------
    SettingsError
        PROJ knows no way from the CRS to WGS 84, or the start lies far from the compartments.
    """
    rules = ground.settings.layout
    x, y = np.concatenate([main.x, reserve.x]), np.concatenate([main.y, reserve.y])
    home = np.concatenate([main.compartment, reserve.compartment])
    is_main = np.arange(len(x)) < len(main.x)
    stratum = land.stratum[home]
    day, order, walks = _walks(main, rules)
    density = np.where(is_main, (numbers.wanted / land.stratum_ha)[stratum], np.nan)
    lon, lat = _degrees(x, y, ground.crs)
    share = _share_inside(x, y, home, land)
    frame = pd.DataFrame(
        {
            "plot": [*_named("P", len(main.x)), *_named("R", len(reserve.x))],
            "role": np.where(is_main, MAIN, RESERVE),
            "compartment": land.names[home],
            "stratum": np.array(land.strata, dtype=object)[stratum],
            "day": _whole(np.concatenate([day, np.full(len(reserve.x), np.nan)])),
            "order": _whole(np.concatenate([order, _rank(reserve, land)])),
            "easting": x,
            "northing": y,
            "lon": lon,
            "lat": lat,
            "radius_m": land.radius_m,
            "share_inside": share,
            **_edge_columns(share, ground.settings.plots.edge),
            "density_per_ha": density,
        }
    )
    plots = gpd.GeoDataFrame(
        frame[PLANNED_PLOT_RESULTS.names], geometry=gpd.points_from_xy(x, y), crs=ground.crs
    )
    return plots, walks


def _named(letter: str, n: int) -> list[str]:
    """Return names of one width, in order: P01, P02, …."""
    width = max(2, len(str(n)))
    return [f"{letter}{number:0{width}d}" for number in range(1, n + 1)]


def _whole(values: Floats) -> pd.Series:
    """Return whole numbers, missing where NaN."""
    return pd.Series(values).astype("Int64")


def _rank(reserve: Points, land: Land) -> Floats:
    """Return which of its stratum each reserve plot is, from 1 on."""
    stratum = pd.Series(land.stratum[reserve.compartment])
    return np.asarray(stratum.groupby(stratum).cumcount() + 1, dtype=np.float64)


def _degrees(x: Floats, y: Floats, crs: str) -> tuple[Floats, Floats]:
    """Return longitudes and latitudes on WGS 84, to a centimetre."""
    try:
        lon, lat = transform_points(x, y, CRS.from_user_input(crs), CRS.from_epsg(4326))
    except BallparkTransformError as error:
        raise SettingsError(f"survey.toml, [survey] crs: {error}") from error
    return np.round(lon, _DECIMALS), np.round(lat, _DECIMALS)


def _share_inside(x: Floats, y: Floats, home: Indexes, land: Land) -> Floats:
    """Return the share of each circle in its compartment; NaN without a radius."""
    if math.isnan(land.radius_m) or not len(x):
        return np.full(len(x), np.nan)
    inside = circle_overlap_m2(x, y, land.radius_m, land.shapes[home])
    share: Floats = inside / (math.pi * land.radius_m**2)
    return np.where(share > 1 - _INSIDE_TOLERANCE, 1.0, share)


def _edge_columns(share: Floats, edge: EdgeRule) -> dict[str, npt.NDArray[np.object_]]:
    """Return whether circles touch a boundary, and what the crew does there."""
    told, touches = np.isfinite(share), share < 1
    word = np.where(touches, "yes", "no").astype(object)
    word[~told] = None
    task = np.where(touches, TASKS[edge], ALL_INSIDE).astype(object)
    task[~told] = LOOK
    return {"touches_boundary": word, "edge_task": task}


def _walks(main: Points, rules: LayoutSection) -> tuple[Floats, Floats, pl.DataFrame]:
    """Return day and order of each main plot, and the walks; NaN and none where no plots per day are stated."""
    n = len(main.x)
    day, order = np.full(n, np.nan), np.full(n, np.nan)
    rows: list[dict[str, float]] = []
    if rules.plots_per_day is not None and n:
        at = np.column_stack([main.x, main.y])
        start = _start(rules, at)
        group = compact_groups(main.x, main.y, rules.plots_per_day)
        for number, which in enumerate(_days_in_turn(at, group, start), start=1):
            members = np.flatnonzero(group == which)
            way = members[visiting_order(at[members], start)]
            day[way], order[way] = number, np.arange(1, len(way) + 1)
            rows.append(
                {
                    "day": number,
                    "n_plots": len(way),
                    "walk_km_by_name": walk_length_m(at[members], start) / _M_PER_KM,
                    "walk_km": walk_length_m(at[way], start) / _M_PER_KM,
                }
            )
    schema = {"day": pl.Int64, "n_plots": pl.Int64, "walk_km_by_name": pl.Float64, "walk_km": pl.Float64}
    return day, order, pl.DataFrame(rows, schema=schema).select(WALK_RESULTS.names)


def _start(rules: LayoutSection, at: Floats) -> tuple[float, float] | None:
    """Return where the days begin; refuse a place that is far from all plots."""
    if rules.start is None:
        return None
    east, north = rules.start
    far = float(np.hypot(at[:, 0] - east, at[:, 1] - north).min())
    if far > _FAR_M:
        raise SettingsError(
            f"survey.toml, [layout] start is [{east:g}, {north:g}], {far / _M_PER_KM:,.0f} km from the nearest plot. "
            "Give easting and northing in the CRS of the survey, in m."
        )
    return east, north


def _days_in_turn(at: Floats, group: Indexes, start: tuple[float, float] | None) -> Indexes:
    """Return the groups in an order in which neighbours follow each other."""
    number = np.bincount(group)
    middle = np.column_stack([np.bincount(group, at[:, axis]) / number for axis in (0, 1)])
    return visiting_order(middle, start) if len(middle) <= _MOST_DAYS else np.arange(len(middle))
