"""The mapped longleaf pines of tests/data as a survey folder, so that the whole way can be checked against them.

584 longleaf pines (Pinus palustris) on 200 m × 200 m, every one with its position and diameter: Platt, Evans and
Rathbun 1988, The American Naturalist 131, 491-525; the file is the ``longleaf`` data of the R package spatstat.data
(GPL-2 or later).
"""

from __future__ import annotations

import csv
import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Literal

import geopandas as gpd
import numpy as np
import pandas as pd
from shapely.geometry import box

LONGLEAF_CSV = Path(__file__).parent / "data" / "longleaf.csv"
SIDE_M = 200.0
RADIUS_M = 17.84124
"""Radius of a circle of 1000 m²."""
CRS = "EPSG:32617"
ORIGIN_M = (499_900.0, 3_400_000.0)
"""Easting and northing put to the stand's corner; it then lies across the central meridian."""
FIVE_CENTRES = ((50.0, 50.0), (150.0, 50.0), (50.0, 150.0), (150.0, 150.0), (100.0, 100.0))
GRID_CENTRES = tuple((x, y) for y in (25.0, 75.0, 125.0, 175.0) for x in (25.0, 75.0, 125.0, 175.0))
"""Four circles in each quarter; none reaches over a boundary."""

EdgeName = Literal["whole", "inside", "mirage"]


def longleaf_trees() -> pd.DataFrame:
    """Return the pines: ``tree`` (1 to 584, the row of the data), ``x_m``, ``y_m`` and ``dbh_cm``."""
    trees = pd.read_csv(LONGLEAF_CSV).rename(columns={"x": "x_m", "y": "y_m", "dbh": "dbh_cm"})
    trees.insert(0, "tree", np.arange(1, len(trees) + 1))
    return trees


def longleaf_survey(
    folder: Path,
    *,
    centres: Sequence[tuple[float, float]] = FIVE_CENTRES,
    radius_m: float = RADIUS_M,
    edge: EdgeName = "whole",
    quarters: bool = True,
    settings: Mapping[str, Mapping[str, object]] | None = None,
) -> Path:
    """Write a survey folder of circles laid over the mapped pines.

    Parameters
    ----------
    folder : Path
        Made if it is not there.
    centres : sequence of (float, float)
        Plot centres in m from the stand's corner, 0 to 200. Plots are called P1, P2, … in this order.
    radius_m : float
        Radius of the circles.
    edge : {'whole', 'inside', 'mirage'}
        ``whole``: every pine in the circle is written. ``inside``: only those in the plot's compartment.
        ``mirage``: those, with ``times``, how often the circle and its mirror images hold them.
    quarters : bool
        Four compartments of 1 ha: A (x < 100 m, y < 100 m), B (x ≥ 100, y < 100), C (x < 100, y ≥ 100) and D.
        Otherwise one compartment, A, of 4 ha.
    settings : mapping of str to mapping, optional
        Keys of survey.toml by section, in place of or besides those written here.

    Returns
    -------
    Path
        `folder`, with ``survey.toml``, ``compartments.gpkg``, ``plots.csv`` and ``trees.csv``.
    """
    folder.mkdir(parents=True, exist_ok=True)
    side = SIDE_M / 2 if quarters else SIDE_M
    _write_settings(folder / "survey.toml", radius_m, edge, settings or {})
    _write_compartments(folder / "compartments.gpkg", side)
    places = pd.DataFrame(centres, columns=["x_m", "y_m"])
    plots = pd.DataFrame(
        {
            "plot": [f"P{number}" for number in range(1, len(places) + 1)],
            "easting": places["x_m"] + ORIGIN_M[0],
            "northing": places["y_m"] + ORIGIN_M[1],
            "compartment": _compartment_of(places, side),
        }
    )
    trees = longleaf_trees()
    found = [
        _tallied(trees, centre, radius_m, edge, side).assign(plot=plot)
        for plot, centre in zip(plots["plot"], centres, strict=True)
    ]
    written = pd.concat(found)[["plot", "tree", "species", "d1_cm", "azimuth_deg", "distance_m", "times"]]
    if edge != "mirage":
        written = written.drop(columns="times")
    empty = ~plots["plot"].isin(written["plot"])
    plots["state"] = np.where(empty, "empty", "measured")
    plots.to_csv(folder / "plots.csv", index=False)
    written.to_csv(folder / "trees.csv", index=False, quoting=csv.QUOTE_MINIMAL)
    return folder


def _compartment_of(places: pd.DataFrame, side: float) -> list[str]:
    """Return the compartment each place belongs to; a place on a boundary belongs to the higher one."""
    across = (places["x_m"] >= side) & (side < SIDE_M)
    up = (places["y_m"] >= side) & (side < SIDE_M)
    return ["ABCD"[right + 2 * top] for right, top in zip(across, up, strict=True)]


def _tallied(
    trees: pd.DataFrame, centre: tuple[float, float], radius_m: float, edge: EdgeName, side: float
) -> pd.DataFrame:
    """Return the pines a crew would write for one circle."""
    x, y = centre
    east, north = trees["x_m"] - x, trees["y_m"] - y
    rows = pd.DataFrame(
        {
            "tree": trees["tree"],
            "species": "longleaf pine",
            "d1_cm": trees["dbh_cm"],
            "azimuth_deg": (np.degrees(np.arctan2(east, north)) % 360).round(6),
            "distance_m": np.hypot(east, north).round(6),
        }
    )
    home = _compartment_of(pd.DataFrame({"x_m": [x], "y_m": [y]}), side)[0]
    inside = np.array([name == home for name in _compartment_of(trees, side)])
    within = np.hypot(east, north) <= radius_m
    rows["times"] = _images_holding(trees, centre, radius_m, side)
    return rows[within if edge == "whole" else within & inside]


def _images_holding(
    trees: pd.DataFrame, centre: tuple[float, float], radius_m: float, side: float
) -> np.ndarray:
    """Count the circles that hold each pine: the circle, and its image across each of the four edges.

    Near a corner the image of an image is left out, as a crew that walks past each line once leaves it out.
    """
    x, y = centre
    west, south = (side * np.floor(min(value, SIDE_M - 1e-9) / side) for value in centre)
    across = [(2 * west - x, y), (2 * (west + side) - x, y)]
    up = [(x, 2 * south - y), (x, 2 * (south + side) - y)]
    images = [centre, *across, *up]
    held = [
        np.hypot(trees["x_m"] - image_x, trees["y_m"] - image_y) <= radius_m for image_x, image_y in images
    ]
    return np.sum(held, axis=0)


def _write_compartments(path: Path, side: float) -> None:
    """Write the squares of the stand as a GeoPackage."""
    steps = range(round(SIDE_M / side))
    corners = [(ORIGIN_M[0] + side * column, ORIGIN_M[1] + side * row) for row in steps for column in steps]
    shapes = [box(west, south, west + side, south + side) for west, south in corners]
    frame = gpd.GeoDataFrame({"compartment": list("ABCD"[: len(shapes)])}, geometry=shapes, crs=CRS)
    frame.to_file(path, layer="compartments", driver="GPKG")


def _write_settings(
    path: Path, radius_m: float, edge: EdgeName, settings: Mapping[str, Mapping[str, object]]
) -> None:
    """Write survey.toml; strings, numbers, booleans and lists of them are the same in TOML as in JSON."""
    sections: dict[str, dict[str, object]] = {
        "survey": {"title": "Longleaf pines", "crs": CRS},
        "plots": {"design": "circle", "radius_m": radius_m, "edge": edge},
    }
    for name, keys in settings.items():
        sections[name] = {**sections.get(name, {}), **keys}
    lines = []
    for name, keys in sections.items():
        lines += [f"[{name}]", *(f"{key} = {json.dumps(value)}" for key, value in keys.items()), ""]
    path.write_text("\n".join(lines), encoding="utf-8")
