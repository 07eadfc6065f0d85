"""Mistakes of waypoints, of degrees with too few decimals, and what is told of a change of datum."""

from __future__ import annotations

import json

from mistake_tools import HERE, SIDE_M, SOUTH_M, WEST_M, Mistake, circles, squares, write_texts
from pyproj import Transformer
from sample_map import CRS, write_layer

_TO_DEGREES = Transformer.from_crs(CRS, "EPSG:4326", always_xy=True)
_GPX = (
    '<?xml version="1.0" encoding="UTF-8"?>\n<gpx version="1.1" creator="plotmap" xmlns="{}">\n{}\n</gpx>\n'
)
_GPX_SPACE = "http://www.topografix.com/GPX/1/1"
_WITHOUT_PLACES = {
    "plots.csv": """\
plot,easting,northing <-- positions-twice: P01 has a position here and a waypoint
P01,511100,6027100
P02,,
P03,,
P04,, <-- plot-without-waypoint: its waypoint is called p-4
P05,511396,6027100 <-- plot-near-boundary: 4 m from the outer edge, and positions are good to 5 m
""",
    "trees.csv": "plot,tree,species,d1_cm\n" + "".join(f"P0{plot},1,oak,24.1\n" for plot in range(1, 6)),
}
_WAYPOINTS = (
    ("P01", 0.5, 0.5, "", ""),
    ("P02", 0.5, 1.5, "", ""),
    ("P03", 1.5, 0.5, "", ""),
    ("p-4", 1.5, 1.5, "waypoint-without-plot", "P04 may be meant"),
    ("P02", 0.6, 1.5, "waypoint-twice", "which of the two is right?"),
)
"""Name, place in sides of a compartment from the south-western corner, finding and reason."""
_COARSE = {
    "plots.csv": """\
plot,lon,lat <-- positions-coarse: three decimals are 111 m
P01,-2.829,54.391
P02,-2.826,54.391
""",
}


def position_mistakes() -> list[Mistake]:
    """Write the folders about positions."""
    return [*_waypoints(), *_coarse_degrees()]


def _waypoints() -> list[Mistake]:
    """Write plots whose positions are in a GPX file."""
    folder, file = "waypoints", "plots.gpx"
    found = write_texts(folder, circles("waypoints", CRS) + "position_error_m = 5\n", _WITHOUT_PLACES)
    lines = []
    for name, east, north, _, _ in _WAYPOINTS:
        lon, lat = _TO_DEGREES.transform(WEST_M + SIDE_M * east, SOUTH_M + SIDE_M * north)
        lines.append(f'<wpt lat="{lat:.7f}" lon="{lon:.7f}"><name>{name}</name></wpt>')
    text = _GPX.format(_GPX_SPACE, "\n".join(lines))
    (HERE / folder / file).write_text(text, encoding="utf-8", newline="\n")
    write_layer(squares(("1", "2", "3", "4")), HERE / folder / "compartments.gpkg", "compartments")
    marked = enumerate(_WAYPOINTS, start=1)
    return found + [Mistake(folder, file, number, row[3], row[4]) for number, row in marked if row[3]]


def _coarse_degrees() -> list[Mistake]:
    """Write plots in degrees of three decimals, a map in another datum, and stems with a broken outline."""
    folder = "coarse_degrees"
    found = write_texts(folder, circles("coarse degrees", CRS), _COARSE)
    layer = squares(("1", "2")).to_crs("EPSG:27700")
    layer = layer.set_geometry(layer.geometry.set_precision(0.001))
    write_layer(layer, HERE / folder / "compartments.gpkg", "compartments")
    ring = [[-2.829, 54.391], [-2.828, 54.391], [-2.828, 54.392], [-2.829, 54.392]]
    shapes = (None, {"type": "Polygon", "coordinates": [ring]})
    stems = [
        {
            "type": "Feature",
            "properties": {"plot": f"P0{number}", "tree": "1", "species": "oak", "d1_cm": 24.1},
            "geometry": shape,
        }
        for number, shape in enumerate(shapes, start=1)
    ]
    text = json.dumps({"type": "FeatureCollection", "features": stems}, indent=1)
    (HERE / folder / "trees.geojson").write_text(text + "\n", encoding="utf-8", newline="\n")
    return [
        *found,
        Mistake(
            folder, "compartments.gpkg", None, "datum-shift", "EPSG:27700 (OSGB36) to EPSG:32630 (WGS 84)"
        ),
        Mistake(folder, "trees.geojson", 2, "geometry-broken", "the ring of the crown is not closed"),
    ]
