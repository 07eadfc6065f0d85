"""Stands for the tests of the map: larger ones with winding boundaries, and what a written page holds."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from plotmap.output.webmap.packing import unpacked
from tests.stand_example import stand_example

if TYPE_CHECKING:
    from pathlib import Path

    from plotmap.model.settings import Settings
    from plotmap.model.survey import Stand


def larger_stand(n_side: int, plots_each: int) -> Stand:
    """Return a stand of n_side² compartments with winding shared boundaries and plots at random places."""
    stand = stand_example(n_side, species=("ash", "beech", "oak", "pine", "spruce"))
    rng = np.random.default_rng(11)
    number = len(stand.compartments) * plots_each
    rows = pd.DataFrame(stand.plots.drop(columns="geometry")).sample(number, replace=True, random_state=3)
    rows = rows.reset_index(drop=True)
    rows["plot"] = [f"P{row:05d}" for row in range(number)]
    for column in ("stems_per_ha", "basal_area_m2_per_ha", "dg_cm"):
        rows[column] = rng.uniform(5, 900, number)
    west, south, east, north = stand.compartments.total_bounds
    places = gpd.points_from_xy(rng.uniform(west, east, number), rng.uniform(south, north, number))
    compartments = stand.compartments.copy()
    shapes = shapely.segmentize(compartments.geometry.to_numpy(), 6.0)
    compartments["geometry"] = shapely.transform(shapes, winding)
    return replace(
        stand, compartments=compartments, plots=gpd.GeoDataFrame(rows, geometry=places, crs=stand.crs)
    )


def winding(xy: np.ndarray) -> np.ndarray:
    """Move every place by a few metres, the same place always alike, so that neighbours keep one boundary."""
    x, y = np.round(xy, 3).T
    return np.column_stack([x + 6 * np.sin(y / 23) + np.sin(y), y + 6 * np.sin(x / 19) + np.sin(x)])


def titled(stand: Stand, title: str) -> Stand:
    """Return the stand under another title."""
    settings: Settings = stand.settings
    survey = settings.survey.model_copy(update={"title": title})
    return replace(stand, settings=settings.model_copy(update={"survey": survey}))


def content_of(path: Path) -> dict[str, Any]:
    """Return the unpacked content of a written map."""
    (packed,) = re.findall(r'id="survey-data">([^<]*)</script>', path.read_text("utf-8"))
    return unpacked(packed)
