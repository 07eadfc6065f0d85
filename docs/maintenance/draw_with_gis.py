"""Draw layers of a GeoPackage in the desktop GIS QGIS, in the style that it loads by itself from ``layer_styles``.

    QT_QPA_PLATFORM=offscreen /usr/bin/python3 docs/maintenance/draw_with_gis.py GEOPACKAGE LAYER[,LAYER...] PICTURE

Needs Debian's python3-qgis, and Debian's own Python. The first layer is on top; the extent of the compartments is
drawn. Prints the colours of the pixels about each feature of the first layer, the most frequent first, for
tests/output/test_geopackage_drawn.py. docs/images/gis.png is drawn with plots,compartments of the stand.gpkg of
sample_plots.
"""

from __future__ import annotations

import json
import sys
from collections import Counter

from qgis.core import (
    QgsApplication,
    QgsMapRendererParallelJob,
    QgsMapSettings,
    QgsRectangle,
    QgsVectorLayer,
    QgsWkbTypes,
)
from qgis.PyQt.QtCore import QSize
from qgis.PyQt.QtGui import QColor

SIZE, HALF, MARGIN = 900, 12, 0.05


def main(path: str, names: str, picture: str) -> None:
    """Load the layers, draw them, save the picture and print the colours."""
    layers = [QgsVectorLayer(f"{path}|layername={name}", name, "ogr") for name in names.split(",")]
    for layer in layers:
        if not layer.isValid():
            raise SystemExit(f"{layer.name()} cannot be opened")
        _message, loaded = layer.loadDefaultStyle()
        if not loaded or layer.renderer().type() != "RuleRenderer":
            raise SystemExit(f"{layer.name()} did not take the style of the file")
    top = layers[0]
    bounds = QgsVectorLayer(f"{path}|layername=compartments", "bounds", "ogr").extent()
    side = max(bounds.width(), bounds.height()) * (1 + 2 * MARGIN)
    middle = bounds.center()
    west, north = middle.x() - side / 2, middle.y() + side / 2
    settings = QgsMapSettings()
    settings.setLayers(layers)
    settings.setDestinationCrs(top.crs())
    settings.setOutputSize(QSize(SIZE, SIZE))
    settings.setOutputDpi(96)
    settings.setBackgroundColor(QColor("white"))
    settings.setExtent(QgsRectangle(west, north - side, west + side, north))
    job = QgsMapRendererParallelJob(settings)
    job.start()
    job.waitForFinished()
    image = job.renderedImage()
    if not image.save(picture):
        raise SystemExit(f"{picture} cannot be written")
    found = []
    for feature in top.getFeatures():
        if feature.geometry().isNull():
            found.append([])
            continue
        shape = feature.geometry()
        flat = QgsWkbTypes.geometryType(shape.wkbType()) == QgsWkbTypes.PointGeometry
        point = (shape if flat else shape.pointOnSurface()).asPoint()
        column, row = int((point.x() - west) / side * SIZE), int((north - point.y()) / side * SIZE)
        pixels = Counter(
            image.pixelColor(column + x, row + y).name()
            for x in range(-HALF, HALF)
            for y in range(-HALF, HALF)
        )
        found.append([colour for colour, count in pixels.most_common() if count > 1])
    print(json.dumps(found))


application = QgsApplication([], False)  # noqa: FBT003 - Qt's own signature
application.initQgis()
main(*sys.argv[1:])
application.exitQgis()
