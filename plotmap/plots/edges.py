"""Circles and boundaries: the part of a circle, or of each of its rings, that lies in a compartment."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import polars as pl

from plotmap.model.settings import ROUND_DESIGNS, Design, EdgeRule
from plotmap.model.survey import Survey
from plotmap.spatial.circle_overlap import circle_overlap_m2, circle_parts

_Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Circles:
    """The plots of a file as circles, and the compartments they lie among.

    Attributes
    ----------
    x, y : numpy.ndarray of float, shape (n,)
        Centres in m, one a plot; NaN where there is no position.
    polygons : numpy.ndarray of shapely geometries, shape (m,)
        Compartments.
    names : list of str
        Their identifiers.
    home : numpy.ndarray of int, shape (n,)
        Row of the compartment each plot counts for; -1 where it counts for none or is no circle.
    """

    x: _Floats
    y: _Floats
    polygons: npt.NDArray[np.object_]
    names: list[str]
    home: npt.NDArray[np.intp]

    @classmethod
    def of(cls, survey: Survey, plots: pl.DataFrame) -> Circles:
        """Return the circles among the plots of a survey.

        Parameters
        ----------
        survey : Survey
            Positions and polygons.
        plots : polars.DataFrame
            ``design``, ``home``, ``level_m2`` and ``set_aside``, in the order of the file.
        """
        shape = survey.plots.geometry
        x, y = np.asarray(shape.x, dtype=float), np.asarray(shape.y, dtype=float)
        names = [str(name) for name in survey.compartments["compartment"]]
        rows = {name: row for row, name in reversed(list(enumerate(names)))}
        home = np.array([rows.get(name, -1) for name in plots["home"].to_list()], dtype=np.intp)
        counts = (
            plots["design"].is_in([str(design) for design in ROUND_DESIGNS]) & plots["set_aside"].is_null()
        )
        counts &= (plots["level_m2"] > 0).fill_null(value=False)
        home[~(counts.to_numpy() & np.isfinite(x) & np.isfinite(y))] = -1
        return cls(x, y, survey.compartments.geometry.to_numpy(), names, home)


def shares_inside(circles: Circles, plots: pl.DataFrame) -> _Floats:
    """Return the share of each (widest) circle that lies in the compartment it counts for.

    Parameters
    ----------
    circles : Circles
        Centres and compartments.
    plots : polars.DataFrame
        ``level_m2``, in the same order.

    Returns
    -------
    numpy.ndarray of float
        0 to 1; NaN where the plot is no circle, is set aside or has no position.
    """
    share = np.full(plots.height, np.nan)
    known = circles.home >= 0
    area = plots["level_m2"].to_numpy()[known].astype(float)
    share[known] = _inside_m2(circles, np.flatnonzero(known), area) / area
    return np.asarray(np.clip(share, 0, 1), dtype=np.float64)


def with_parts(
    circles: Circles, plots: pl.DataFrame, rings: pl.DataFrame, edge: EdgeRule
) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Return the parts of plots by compartment, and their rings, under an edge rule.

    Parameters
    ----------
    circles : Circles
        Centres and compartments.
    plots : polars.DataFrame
        ``plot``, ``design``, ``home``, ``set_aside`` and ``baf_level_m2_per_ha``, in the order of the file.
    rings : polars.DataFrame
        ``plot``, ``compartment``, ``min_dbh_cm`` and ``ring_m2`` of whole plots that enter.
    edge : EdgeRule
        ``INSIDE`` cuts every ring to the plot's compartment, ``POSITIONS`` shares circles out over all; plots of
        designs that they do not fit stay whole.

    Returns
    -------
    parts : polars.DataFrame
        ``plot``, ``compartment`` and ``part_m2`` (of the widest ring; missing for angle counts).
    rings : polars.DataFrame
        As `rings`, after the edge rule.
    """
    place = {name: row for row, name in reversed(list(enumerate(plots["plot"].to_list())))}
    row_of_ring = np.array([place[name] for name in rings["plot"].to_list()], dtype=np.intp)
    is_circle = circles.home[row_of_ring] >= 0 if len(row_of_ring) else np.zeros(0, dtype=bool)
    area = rings["ring_m2"].to_numpy().astype(float).copy()
    if edge is EdgeRule.INSIDE:
        area[is_circle] = _inside_m2(circles, row_of_ring[is_circle], area[is_circle])
        rings = rings.with_columns(pl.Series("ring_m2", area))
    elif edge is EdgeRule.POSITIONS:
        is_circle &= (plots["design"] == Design.CIRCLE).to_numpy()[row_of_ring]
        rings = _shared_out(circles, rings, row_of_ring, area, is_circle)
    counts = plots.filter(pl.col("set_aside").is_null() & pl.col("plot").is_not_null())
    angle = counts.filter(pl.col("baf_level_m2_per_ha").is_not_null()).unique(
        "plot", keep="first", maintain_order=True
    )
    parts = pl.concat(
        [
            rings.group_by("plot", "compartment", maintain_order=True).agg(
                pl.col("ring_m2").max().alias("part_m2")
            ),
            angle.select(
                "plot", pl.col("home").alias("compartment"), pl.lit(None, pl.Float64).alias("part_m2")
            ),
        ]
    )
    order = pl.DataFrame(
        {"plot": list(place), "_place": list(place.values())}, schema={"plot": pl.String, "_place": pl.Int64}
    )
    return parts.join(order, on="plot", how="left").sort("_place", "compartment").drop("_place"), rings


def _inside_m2(circles: Circles, rows: npt.NDArray[np.intp], area_m2: _Floats) -> _Floats:
    """Return the part of circles of given areas that lies in the compartment each counts for."""
    radius = np.sqrt(area_m2 / math.pi)
    return circle_overlap_m2(circles.x[rows], circles.y[rows], radius, circles.polygons[circles.home[rows]])


def _shared_out(
    circles: Circles,
    rings: pl.DataFrame,
    row_of_ring: npt.NDArray[np.intp],
    area_m2: _Floats,
    is_circle: npt.NDArray[np.bool_],
) -> pl.DataFrame:
    """Return one ring for each compartment a circle reaches into, with the area inside it."""
    rows = np.flatnonzero(is_circle)
    places = row_of_ring[rows]
    radius = np.sqrt(area_m2[rows] / math.pi)
    circle, polygon, part_m2 = circle_parts(circles.x[places], circles.y[places], radius, circles.polygons)
    shared = rings[rows[circle]].with_columns(
        pl.Series("compartment", [circles.names[row] for row in polygon], dtype=pl.String),
        pl.Series("ring_m2", part_m2),
    )
    return pl.concat([rings.filter(pl.Series(~is_circle)), shared])
