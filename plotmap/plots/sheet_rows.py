"""What the field sheet of each plot says: where it is, how large, and how near a boundary lies."""

from __future__ import annotations

import math
from collections.abc import Sequence
from difflib import get_close_matches
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
import shapely
from pyproj import CRS

from plotmap.errors import SettingsError
from plotmap.model.field_papers import UP_TO_CM
from plotmap.model.settings import Design, PlotsSection
from plotmap.plots.stem_places import LIMIT_M_PER_CM
from plotmap.spatial import near_boundaries, transform_points

if TYPE_CHECKING:
    from plotmap.model.survey import Survey

_KEPT = ["plot", "compartment", "located_in", "state", "design", "radius_m", "area_m2", "length_m", "width_m",
         "baf_m2_per_ha", "slope_pct"]  # fmt: skip
_WGS84 = CRS.from_epsg(4326)


def sheet_rows(survey: Survey, plots: Sequence[str] = ()) -> pd.DataFrame:
    """Return a row for each plot that a sheet is made for.

    Parameters
    ----------
    survey : Survey
        Reads plots, compartments and settings. No stem need have been measured.
    plots : sequence of str
        Plots wanted, in any order; all where none is named.

    Returns
    -------
    pandas.DataFrame
        In the order of the plots table: its columns ``plot``, ``compartment`` (of the crew), ``located_in``,
        ``state``, ``slope_pct`` and sizes, ``design`` filled; ``easting`` and ``northing`` (CRS of the survey),
        ``lon`` and ``lat`` (degrees, WGS 84), NaN without a position; ``reach_m``, how far from the centre the plot
        reaches at most (of an angle count: for a stem of 80 cm), NaN where not known; ``boundary_m``, distance to the
        boundary of the compartment the centre lies in, NaN where it lies in none; ``beyond``, the compartment next to
        it within reach, missing where there is none.

    Raises
    ------
    SettingsError
        A plot is named that is not in the plots table, or there is no plot at all.
    BallparkTransformError
        The shift from the datum of the survey to WGS 84 is not known.
    """
    _refuse_unknown(survey, plots)
    rules = survey.settings.plots
    rows = survey.plots[survey.plots["plot"].notna()]
    if plots:
        rows = rows[rows["plot"].isin(list(plots))]
    if not len(rows):
        raise SettingsError("there is no plot to make a sheet for. List the plots in plots.csv.")
    made = pd.DataFrame(rows[_KEPT]).reset_index(drop=True)
    made["design"] = made["design"].astype(object).where(made["design"].notna(), str(rules.design))
    points = np.asarray(rows.geometry, dtype=object)
    known = ~shapely.is_missing(points)
    xy = np.full((len(points), 2), np.nan)
    xy[known] = shapely.get_coordinates(points[known])
    made["easting"], made["northing"] = xy[:, 0], xy[:, 1]
    made["lon"], made["lat"] = _degrees(xy, survey.crs)
    made["reach_m"] = _reach_m(made, rules)
    near = _near(made, points, survey)
    made["boundary_m"], made["beyond"] = near["boundary_m"], near["beyond"]
    return made


def _refuse_unknown(survey: Survey, plots: Sequence[str]) -> None:
    """Raise where a plot is named that the plots table does not have."""
    known = set(survey.plots["plot"].dropna())
    for plot in plots:
        if plot not in known:
            near = get_close_matches(plot, sorted(known), n=3)
            like = f" Like it: {', '.join(near)}." if near else ""
            raise SettingsError(
                f"plot {plot!r}: the plots table has no such plot.{like} Name plots as it writes them."
            )


def _degrees(xy: np.ndarray, crs: str) -> tuple[np.ndarray, np.ndarray]:
    """Return longitudes and latitudes on WGS 84."""
    if not crs:
        return np.full(len(xy), np.nan), np.full(len(xy), np.nan)
    return transform_points(xy[:, 0], xy[:, 1], CRS.from_user_input(crs), _WGS84)


def _reach_m(rows: pd.DataFrame, rules: PlotsSection) -> pd.Series:
    """Return how far each plot reaches from its centre at most."""
    design = rows["design"]
    stated = rules.radius_m if rules.radius_m is not None else _radius(rules.area_m2)
    circle = rows["radius_m"].fillna(np.sqrt(rows["area_m2"] / math.pi)).fillna(stated)
    width = rows["width_m"].fillna(_number(rules.width_m))
    half = (rows["length_m"] ** 2 + width**2) ** 0.5 / 2
    factor = rows["baf_m2_per_ha"].fillna(_number(rules.baf_m2_per_ha))
    reach = pd.Series(np.nan, index=rows.index)
    reach = reach.mask(design == Design.CIRCLE, circle)
    reach = reach.mask(design.isin([Design.RECTANGLE, Design.STRIP]), half)
    reach = reach.mask(design == Design.NESTED, _number(rules.nests[-1].radius_m if rules.nests else None))
    return reach.mask(design == Design.ANGLE_COUNT, LIMIT_M_PER_CM * UP_TO_CM / factor**0.5)


def _radius(area_m2: float | None) -> float:
    """Return the radius of a circle of an area, NaN where there is none."""
    return math.nan if area_m2 is None else math.sqrt(area_m2 / math.pi)


def _number(value: float | None) -> float:
    """Return a setting, NaN where there is none."""
    return math.nan if value is None else value


def _near(rows: pd.DataFrame, points: np.ndarray, survey: Survey) -> pd.DataFrame:
    """Return the distance to the boundary of the own compartment, and the compartment beyond within reach."""
    made = pd.DataFrame({"boundary_m": np.nan, "beyond": None}, index=rows.index).astype({"beyond": object})
    names = survey.compartments["compartment"].astype(object).to_numpy()
    if not len(names):
        return made
    order = {name: number for number, name in reversed(list(enumerate(names)))}
    own = np.array([order.get(name, -1) for name in rows["located_in"]], dtype=int)
    shapes = np.asarray(shapely.make_valid(survey.compartments.geometry.to_numpy()), dtype=object)
    inside = (own >= 0) & ~shapely.is_missing(points)
    made.loc[inside, "boundary_m"] = shapely.distance(points[inside], shapely.boundary(shapes[own[inside]]))
    limit = float(rows["reach_m"].max())
    if math.isnan(limit):
        return made
    found = near_boundaries(points, own, shapes, limit)
    place = found["point"].to_numpy()
    within = (found["neighbour"] >= 0) & (found["neighbour_m"] < rows["reach_m"].to_numpy()[place])
    made.loc[place[within], "beyond"] = names[found["neighbour"][within]]
    return made
