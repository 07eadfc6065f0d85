"""Draw the compartments of the invented forest: shared wavy boundaries, one hole, one part across the beck."""

from __future__ import annotations

import os
from pathlib import Path

import geopandas as gpd
import numpy as np
import shapely
from pyproj import Geod
from shapely.geometry import LineString, MultiPoint, MultiPolygon, Polygon

CRS = "EPSG:32630"
"""WGS 84 / UTM zone 30N, central meridian 3° west."""
LAST_CHANGE = "2026-06-30T12:00:00.000Z"
"""Time of change written into every GeoPackage, so that making it again changes no byte."""
ORIGIN_M = (511_000.0, 6_027_000.0)
"""South-west corner of the drawing: easting and northing in m."""
OUTLINE_M = (
    (120, 310), (420, 90), (830, 160), (1240, 30), (1690, 180), (2080, 120), (2390, 420), (2480, 810),
    (2330, 1150), (2420, 1480), (2110, 1760), (1700, 1700), (1330, 1880), (900, 1790), (610, 1840),
    (260, 1600), (180, 1240), (20, 960), (90, 620),
)  # fmt: skip
"""Corners of the forest's edge, in m from the origin."""
CENTRES_M = (
    (300, 380), (700, 330), (1090, 260), (1480, 330), (1880, 300), (2200, 480), (250, 760), (560, 690),
    (900, 620), (1200, 590), (1290, 640), (1600, 680), (1960, 720), (2330, 830), (240, 1110), (590, 1040),
    (960, 1010), (1380, 1040), (1750, 1080), (2120, 1060), (380, 1450), (720, 1390), (1080, 1380),
    (1480, 1400), (1830, 1440), (2220, 1440), (640, 1690), (1080, 1690), (1510, 1650), (1990, 1650),
    (60, 940), (1340, 1840),
)  # fmt: skip
"""Points the compartments are nearest to, in m from the origin; one compartment each."""
TARN_M = (1770, 1090, 75, 48)
"""The tarn, a hole in a compartment: centre and half axes in m."""
INTAKE_M = ((2600, 700), (2780, 740), (2810, 960), (2640, 1000), (2560, 860))
"""Corners of the part across the beck, in m from the origin; it belongs to the nearest compartment."""
_STEP_M = 24.0
_SWING = 0.26


def _wavy(line: LineString, rng: np.random.Generator) -> LineString:
    """Return the line with points every 24 m or so, swung aside by a smooth random amount, ends kept."""
    steps = max(2, round(line.length / _STEP_M))
    along = np.linspace(0.0, line.length, steps + 1)
    points = shapely.get_coordinates(shapely.line_interpolate_point(line, along))
    headings = np.gradient(points, axis=0)
    sideways = np.column_stack((-headings[:, 1], headings[:, 0]))
    share = along / line.length
    phases = rng.uniform(0.0, 2 * np.pi, 3)
    weights = rng.normal(0.0, 1.0, 3) / (1.0, 1.6, 2.4)
    swing = sum(
        w * np.sin(2 * np.pi * k * share + p) for k, w, p in zip((1, 2, 4), weights, phases, strict=True)
    )
    taper = np.sin(np.pi * share)
    moved = points + sideways * (_SWING * 2.0 * swing * taper)[:, None]
    moved[0], moved[-1] = points[0], points[-1]
    return LineString(np.round(moved, 2))


def _faces(rng: np.random.Generator) -> list[Polygon]:
    """Return the faces of the forest: every boundary is one line that both neighbours share."""
    outline = Polygon(OUTLINE_M)
    cells = shapely.voronoi_polygons(MultiPoint(CENTRES_M), extend_to=outline.buffer(500))
    clipped = [cell.intersection(outline) for cell in cells.geoms]
    lines = shapely.line_merge(shapely.unary_union([cell.boundary for cell in clipped]))
    ordered = sorted(lines.geoms, key=lambda line: line.coords[0] + line.coords[-1])
    faces = shapely.polygonize([_wavy(line, rng) for line in ordered])
    if len(faces.geoms) != len(CENTRES_M):
        raise RuntimeError(f"{len(faces.geoms)} faces were drawn, but {len(CENTRES_M)} are wanted")
    return list(faces.geoms)


def _with_tarn_and_intake(faces: list[Polygon]) -> list[Polygon | MultiPolygon]:
    """Cut the tarn out of its compartment and add the part across the beck to the nearest one."""
    east, north, half_east, half_north = TARN_M
    turn = np.linspace(0.0, 2 * np.pi, 25)[:-1]
    reach = 1 + 0.12 * np.sin(3 * turn)
    tarn = Polygon(
        np.round(
            np.column_stack(
                (east + half_east * reach * np.cos(turn), north + half_north * reach * np.sin(turn))
            ),
            2,
        )
    )
    intake = Polygon(INTAKE_M)
    nearest = int(np.argmin([face.distance(intake) for face in faces]))
    made: list[Polygon | MultiPolygon] = []
    for number, face in enumerate(faces):
        whole = face.difference(tarn) if face.contains(tarn) else face
        made.append(MultiPolygon([whole, intake]) if number == nearest else whole)
    return made


def draw_compartments(rng: np.random.Generator) -> gpd.GeoDataFrame:
    """Draw the compartments, numbered from the north-west in bands of 350 m.

    Parameters
    ----------
    rng : numpy.random.Generator
        Swings the boundaries.

    Returns
    -------
    geopandas.GeoDataFrame
        ``compartment`` (two digits) and polygons in EPSG:32630; one has a hole, one has two parts.
    """
    shapes = _with_tarn_and_intake(_faces(rng))
    moved = shapely.transform(np.array(shapes, dtype=object), lambda xy: np.round(xy + ORIGIN_M, 2))
    centres = shapely.get_coordinates(shapely.centroid(moved))
    order = np.lexsort((centres[:, 0], -np.round((centres[:, 1] - ORIGIN_M[1]) / 350.0)))
    names = [f"{number:02d}" for number in range(1, len(moved) + 1)]
    return gpd.GeoDataFrame({"compartment": names}, geometry=moved[order], crs=CRS)


def geodesic_ha(frame: gpd.GeoDataFrame) -> np.ndarray:
    """Return the areas of the polygons on the ellipsoid, in hectares."""
    geod = Geod(ellps="WGS84")
    geographic = shapely.orient_polygons(np.asarray(frame.to_crs("EPSG:4326").geometry))
    return np.array([geod.geometry_area_perimeter(shape)[0] / 10_000 for shape in geographic])


def write_layer(frame: gpd.GeoDataFrame, path: Path, layer: str) -> None:
    """Write a GeoPackage that comes out the same, byte for byte, every time.

    Parameters
    ----------
    frame : geopandas.GeoDataFrame
        The layer.
    path : Path
        File to replace.
    layer : str
        Name of the layer.
    """
    import pyogrio  # noqa: PLC0415 - after the folder is known to be writable

    path.unlink(missing_ok=True)
    pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": LAST_CHANGE})
    try:
        frame.to_file(path, layer=layer, driver="GPKG", engine="pyogrio")
    finally:
        pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": None})
    for beside in (f"{path}-wal", f"{path}-shm"):
        if Path(beside).exists():
            os.remove(beside)  # noqa: PTH107
