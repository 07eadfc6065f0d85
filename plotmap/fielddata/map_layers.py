"""Layers of the user's own for the map: roads, streams, any vector file. No figure depends on them."""

from __future__ import annotations

import warnings
from pathlib import Path
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import numpy as np
import polars as pl
import pyogrio
import shapely
from pyproj import CRS
from pyproj.exceptions import CRSError, ProjError

from plotmap.model.findings import Findings, finding
from plotmap.model.survey import MapLayer

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

    from plotmap.model.settings_map import MapLayerSetting

_AROUND = 0.25
"""Part of the extent of the compartments that is kept around it."""
_AROUND_LEAST_M = 300.0
_SOURCE = "survey.toml"


def map_layer_files(folder: Path, wanted: Iterable[MapLayerSetting]) -> list[Path]:
    """Return the files that ``[map] layers`` names, each once, whether they are there or not.

    Parameters
    ----------
    folder : Path
        Survey folder.
    wanted : iterable of MapLayerSetting
        As of the settings.
    """
    return list(dict.fromkeys(folder / entry.file for entry in wanted))


def read_map_layers(
    folder: Path, wanted: Iterable[MapLayerSetting], compartments: gpd.GeoDataFrame
) -> tuple[tuple[MapLayer, ...], Findings]:
    """Read the layers that ``[map] layers`` names; of each that cannot be used a finding tells.

    Parameters
    ----------
    folder : Path
        Survey folder, which paths that are not absolute begin at.
    wanted : iterable of MapLayerSetting
        As of the settings.
    compartments : geopandas.GeoDataFrame
        Polygons in the CRS of the survey; what lies farther away than a quarter of their extent is left out.

    Returns
    -------
    layers : tuple of MapLayer
        In the order of the settings, in the CRS of the survey; attributes are not read.
    findings : Findings
        map-layer-unusable.
    """
    near = _surroundings(compartments)
    layers: list[MapLayer] = []
    findings: list[Findings] = []
    for entry in wanted:
        if near is None:
            continue  # findings on the compartments tell of that
        try:
            layers.append(
                MapLayer(entry.title, _near(folder / entry.file, entry.layer, compartments.crs, near))
            )
        except UnusableLayerError as error:
            said = f"the layer {entry.title!r} of the map is left out: {error}"
            findings.append(finding("map-layer-unusable", _SOURCE, said, column="layers", value=entry.file))
    return tuple(layers), Findings.join(findings)


def check_map_species(species: str, frames: Iterable[pl.DataFrame]) -> Findings:
    """Return map-species-unknown where no table has the species that the map is to begin with.

    Parameters
    ----------
    species : str
        As of ``[map] species``; empty where none is named.
    frames : iterable of polars.DataFrame
        Stems, tallies and species as they were read.
    """
    named = [frame[name] for frame in frames for name in ("species", "group") if name in frame.columns]
    known = set(pl.concat(named).drop_nulls().to_list()) if named else set()
    if not species or species in known or not known:
        return Findings.none()
    message = f"[map] species is {species!r}, but the tables have {', '.join(sorted(known))}"
    return finding("map-species-unknown", _SOURCE, message, column="species", value=species)


class UnusableLayerError(Exception):
    """A layer cannot be used; the text says why."""


def _surroundings(compartments: gpd.GeoDataFrame) -> tuple[float, float, float, float] | None:
    """Return west, south, east, north of what the map shows of other layers; None without compartments or CRS."""
    if not len(compartments) or compartments.crs is None:
        return None
    west, south, east, north = compartments.total_bounds
    if not np.isfinite([west, south, east, north]).all():
        return None
    around = max(_AROUND * (east - west), _AROUND * (north - south), _AROUND_LEAST_M)
    return west - around, south - around, east + around, north + around


def _near(path: Path, layer: str, crs: CRS, near: tuple[float, float, float, float]) -> NDArray[np.object_]:
    """Return the shapes of a layer in another CRS, cut to a box of it.

    Raises
    ------
    UnusableLayerError
        Nothing can be drawn of it.
    """
    if not path.exists():
        raise UnusableLayerError(f"there is no file {path.name} at that place")
    shapes, stated = read_shapes(path, layer)
    if stated is None:
        raise UnusableLayerError(f"{path.name} says no CRS, so nothing tells where it lies")
    there = ~(shapely.is_missing(shapes) | shapely.is_empty(shapes))
    if not there.any():
        raise UnusableLayerError(f"{path.name} has no lines, polygons or points")
    try:
        moved = gpd.GeoSeries(shapely.force_2d(shapes[there]), crs=stated).to_crs(crs).to_numpy()
    except (CRSError, ProjError) as error:
        raise UnusableLayerError(
            f"the CRS of {path.name} cannot be brought to that of the survey: {error}"
        ) from error
    cut = shapely.clip_by_rect(shapely.make_valid(moved), *near)
    kept: NDArray[np.object_] = cut[~(shapely.is_missing(cut) | shapely.is_empty(cut))]
    if not len(kept):
        raise UnusableLayerError(f"nothing of {path.name} lies near the compartments")
    return kept


def read_shapes(path: Path, layer: str) -> tuple[NDArray[np.object_], CRS | None]:
    """Return shapes and CRS of a layer, the first one where none is named; attributes are not read.

    Raises
    ------
    UnusableLayerError
        GDAL cannot read it.
    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # GDAL's own remarks
            meta, _, found, _ = pyogrio.raw.read(path, layer=layer or None, columns=[])
            shapes: NDArray[np.object_] = gpd.GeoSeries.from_wkb(found, on_invalid="ignore").to_numpy()
            stated: Any = meta["crs"]
            return shapes, CRS.from_user_input(stated) if stated else None
    except Exception as error:  # GDAL and its readers raise many kinds
        said = str(error).splitlines()[0] if str(error) else type(error).__name__
        raise UnusableLayerError(f"{path.name} cannot be read: {said}") from error
