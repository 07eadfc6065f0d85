"""Reading a survey folder before the field: settings and compartments, whether or not there are plots and stems."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import shapely
from numpy.typing import NDArray
from pyproj import CRS

from plotmap.errors import SettingsError
from plotmap.fielddata.map_layers import UnusableLayerError, read_shapes
from plotmap.fielddata.reading import crs_name, input_file, read_compartments_only
from plotmap.model.layout import Ground
from plotmap.spatial import BallparkTransformError, transform_geometries

_POLYGONAL = 2


def read_ground(folder: Path | str) -> Ground:
    """Read the settings and compartments of a survey folder, and what no plot may lie on.

    Parameters
    ----------
    folder : Path or str
        Folder with ``survey.toml`` and the compartment layer; nothing else in it is read.

    Returns
    -------
    Ground
        With the findings of the compartments.

    Raises
    ------
    SettingsError
        As `plotmap.fielddata.read_survey`; or a file of ``[layout] exclude`` cannot be used: then plots could fall on
        what it should have kept free.
    """
    folder = Path(folder)
    settings, compartments, crs, findings, files = read_compartments_only(folder)
    excluded: list[NDArray[np.object_]] = []
    if crs is not None and not findings.has_errors:
        excluded = [_polygons(folder / name, name, crs) for name in settings.layout.exclude]
        files += [folder / name for name in settings.layout.exclude]
    return Ground(
        folder=folder,
        settings=settings,
        crs=crs_name(crs),
        compartments=compartments,
        excluded=np.concatenate([np.empty(0, dtype=object), *excluded]),
        inputs=tuple(input_file(path) for path in dict.fromkeys(files)),
        findings=findings,
    )


def _polygons(path: Path, name: str, crs: CRS) -> NDArray[np.object_]:
    """Return the polygons of a file, valid, in the CRS of the survey."""
    refused = f"survey.toml, [layout] exclude names {name!r}, but"
    if not path.is_file():
        raise SettingsError(
            f"{refused} there is no such file in the survey folder. Put it there, or leave it out."
        )
    try:
        moved = _in_crs(path, crs)
    except (UnusableLayerError, BallparkTransformError) as error:
        raise SettingsError(f"{refused} it cannot be used: {error}. Mend it, or leave it out.") from error
    return np.asarray(shapely.make_valid(moved), dtype=object)


def _in_crs(path: Path, crs: CRS) -> NDArray[np.object_]:
    """Return the polygons of a file in another CRS; refuse what has none, or something else too."""
    shapes, stated = read_shapes(path, "")
    if stated is None:
        raise UnusableLayerError(f"{path.name} says no CRS, so nothing tells where it lies")
    there = shapes[~(shapely.is_missing(shapes) | shapely.is_empty(shapes))]
    if (shapely.get_dimensions(there) != _POLYGONAL).any() or not len(there):
        raise UnusableLayerError(f"{path.name} must hold polygons, and nothing else: buffer lines and points")
    return transform_geometries(shapely.force_2d(there), stated, crs)
