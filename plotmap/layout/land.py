"""The land that plots are laid on: net polygons, strata, and the plot to be laid out there."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from pyproj import CRS

from plotmap.errors import SettingsError
from plotmap.model.layout import Ground
from plotmap.model.settings import Design, PlotsSection
from plotmap.spatial import geodesic_area_ha

Floats = npt.NDArray[np.float64]
Indexes = npt.NDArray[np.intp]
_LEAST_M2 = 1.0
"""What exclusions leave of a compartment below this is nothing."""


@dataclass(frozen=True, slots=True)
class Land:
    """Compartments less what is excluded.

    Attributes
    ----------
    names, labels : numpy.ndarray of str, shape (n,)
        Identifier and name of each compartment.
    shapes, net : numpy.ndarray of shapely geometry, shape (n,)
        Polygons as they are, and less what is excluded; None where nothing is left.
    area_ha, excluded_ha, net_m2 : numpy.ndarray of float, shape (n,)
        Net and excluded hectares on the ellipsoid, net square metres in the plane; 0 where nothing is left.
    stratum : numpy.ndarray of int, shape (n,)
        Row of the stratum each belongs to; −1 where nothing is left.
    strata : tuple of str
        Strata with net area, in the order of the layer.
    radius_m, plot_m2 : float
        Of the widest circle, and of the plot; NaN where the design has none.
    """

    names: npt.NDArray[np.object_]
    labels: npt.NDArray[np.object_]
    shapes: npt.NDArray[np.object_]
    net: npt.NDArray[np.object_]
    area_ha: Floats
    excluded_ha: Floats
    net_m2: Floats
    stratum: Indexes
    strata: tuple[str, ...]
    radius_m: float
    plot_m2: float

    def by_stratum(self, values: Floats) -> Floats:
        """Return the sums of a value of each compartment over the strata."""
        there = self.stratum >= 0
        return np.bincount(self.stratum[there], values[there], len(self.strata)).astype(float)

    @property
    def stratum_ha(self) -> Floats:
        """Net area of each stratum in ha."""
        return self.by_stratum(self.area_ha)

    @property
    def fitting(self) -> Floats:
        """Plots that would cover each stratum, not rounded; infinity where a plot has no area."""
        if math.isnan(self.plot_m2):
            return np.full(len(self.strata), np.inf)
        return self.by_stratum(self.net_m2) / self.plot_m2

    @property
    def fitting_whole(self) -> Floats:
        """Whole plots that fit into each stratum by area, at least one."""
        return np.maximum(np.floor(self.fitting), 1.0)


def land_of(ground: Ground) -> Land:
    """Return the net land of a survey.

    Parameters
    ----------
    ground : Ground
        Without errors in its compartments.

    Raises
    ------
    SettingsError
        Exclusions leave nothing, or the design has no plots.
    """
    frame = ground.compartments
    rules = ground.settings.plots
    if rules.design is Design.FULL:
        raise SettingsError(
            "survey.toml, [plots] design is 'full', but plots are laid out for samples only. Give the design of the "
            "sample plots."
        )
    shapes = np.asarray(frame.geometry.to_numpy(), dtype=object)
    net = shapes
    if len(ground.excluded):
        net = np.asarray(shapely.difference(shapes, shapely.union_all(ground.excluded)), dtype=object)
    net_m2 = shapely.area(net)
    left = net_m2 >= _LEAST_M2
    if not left.any():
        raise SettingsError(
            "survey.toml, [layout] exclude leaves nothing of any compartment. Name layers that hold only what no "
            "plot may lie on."
        )
    net = net.copy()
    net[~left] = None
    crs = CRS.from_user_input(ground.crs)
    area, whole = np.nan_to_num(geodesic_area_ha(net, crs)), geodesic_area_ha(shapes, crs)
    written = frame["stratum"].astype(str).to_numpy(dtype=object)
    strata = tuple(dict.fromkeys(written[left].tolist()))
    place = {name: row for row, name in enumerate(strata)}
    radius, plot_m2 = _plot(rules)
    return Land(
        names=frame["compartment"].astype(str).to_numpy(dtype=object),
        labels=frame["name"].astype(str).to_numpy(dtype=object),
        shapes=shapes,
        net=net,
        area_ha=area,
        excluded_ha=np.where(left, np.maximum(whole - area, 0.0), whole),
        net_m2=np.where(left, net_m2, 0.0),
        stratum=np.where(left, [place.get(name, -1) for name in written], -1).astype(np.intp),
        strata=strata,
        radius_m=radius,
        plot_m2=plot_m2,
    )


def _plot(rules: PlotsSection) -> tuple[float, float]:
    """Return radius (m) and area (m²) of a plot as laid out on the level; NaN where there is none."""
    if rules.design is Design.NESTED:
        radius = rules.nests[-1].radius_m
        return radius, math.pi * radius**2
    if rules.design is Design.CIRCLE and rules.radius_m is not None:
        return rules.radius_m, math.pi * rules.radius_m**2
    area = math.nan if rules.area_m2 is None or rules.design is Design.ANGLE_COUNT else rules.area_m2
    return (math.sqrt(area / math.pi) if rules.design is Design.CIRCLE else math.nan), area
