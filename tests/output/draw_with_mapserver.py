"""Draw a layer of a GeoPackage by its own SLD with MapServer; run by Debian's Python.

    /usr/bin/python3 draw_with_mapserver.py GEOPACKAGE LAYER PICTURE

Needs python3-mapscript and python3-gdal. Writes the picture and prints, for each feature in the order of the layer,
the colours of the pixels about a point of it, the most frequent first: a square of `HALF` pixels to each side.
"""

from __future__ import annotations

import json
import sqlite3
import sys
from collections import Counter

import mapscript
from osgeo import gdal, ogr

SIZE, HALF, MARGIN = 900, 12, 0.05


def main(path: str, layer: str, picture: str) -> None:
    """Draw the layer, save the picture and print the colours."""
    gdal.UseExceptions()
    with sqlite3.connect(path) as database:
        (style,) = database.execute(
            "SELECT styleSLD FROM layer_styles WHERE f_table_name = ? AND useAsDefault = 1", (layer,)
        ).fetchone()
        west, south, east, north = database.execute(
            "SELECT min_x, min_y, max_x, max_y FROM gpkg_contents WHERE table_name = 'compartments'"
        ).fetchone()
    side = max(east - west, north - south)
    edge = side * MARGIN
    west, south, side = west - edge, south - edge, side + 2 * edge
    canvas = mapscript.mapObj()
    canvas.setSize(SIZE, SIZE)
    canvas.setExtent(west, south, west + side, south + side)
    canvas.units = mapscript.MS_METERS
    canvas.imagecolor.setRGB(255, 255, 255)
    canvas.selectOutputFormat("png")
    drawn = mapscript.layerObj(canvas)
    drawn.name = drawn.data = layer
    drawn.connectiontype, drawn.connection = mapscript.MS_OGR, path
    source = ogr.Open(path)
    shape = source.GetLayerByName(layer)
    flat = ogr.GT_Flatten(shape.GetGeomType())
    drawn.type = mapscript.MS_LAYER_POINT if flat == ogr.wkbPoint else mapscript.MS_LAYER_POLYGON
    drawn.status = mapscript.MS_ON
    if canvas.applySLD(style) != mapscript.MS_SUCCESS:
        raise SystemExit("MapServer refuses the SLD")
    canvas.draw().save(picture)
    image = gdal.Open(picture)
    found = []
    for feature in shape:
        geometry = feature.GetGeometryRef()
        if geometry is None:
            found.append([])
            continue
        point = geometry if flat == ogr.wkbPoint else geometry.PointOnSurface()
        column = int((point.GetX() - west) / side * SIZE) - HALF
        row = int((south + side - point.GetY()) / side * SIZE) - HALF
        bands = [image.GetRasterBand(band).ReadRaster(column, row, 2 * HALF, 2 * HALF) for band in (1, 2, 3)]
        pixels = Counter("#" + bytes(colour).hex() for colour in zip(*bands, strict=True))
        found.append([colour for colour, count in pixels.most_common() if count > 1])
    sys.stdout.write(json.dumps(found))


main(*sys.argv[1:])
