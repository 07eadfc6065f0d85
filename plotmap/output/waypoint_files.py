"""Planned plots as GPX and KML: for receivers, telephones and globes. Always longitude and latitude on WGS 84."""

from __future__ import annotations

import re
from importlib.metadata import version
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import polars as pl

from plotmap.model.labels import Labels, labels_of
from plotmap.model.result_words import EDGE_TASKS
from plotmap.model.settings import Settings

GPX_NAMESPACE = "http://www.topografix.com/GPX/1/1"
KML_NAMESPACE = "http://www.opengis.net/kml/2.2"
_GPX_SCHEMA = "http://www.topografix.com/GPX/1/1 http://www.topografix.com/GPX/1/1/gpx.xsd"
_SCHEMA_LOCATION = "{http://www.w3.org/2001/XMLSchema-instance}schemaLocation"
_DECIMALS = 7
_NO_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_Row = dict[str, Any]


def write_gpx(planned: pl.DataFrame, settings: Settings, path: Path) -> None:
    """Write planned plots as GPX 1.1: a waypoint for each, and a route for each day in the order of the walk.

    Parameters
    ----------
    planned : polars.DataFrame
        Columns of `plotmap.model.result_tables_layout.PLANNED_PLOT_RESULTS`.
    settings : Settings
        Title and language.
    path : Path
        File to write. Waypoints are named by their plots.

    Raises
    ------
    OSError
        The file cannot be written; `plotmap.output.publish` words it.
    """
    labels = labels_of(settings)
    creator = {"version": "1.1", "creator": f"plotmap {version('plotmap')}"}
    root = ET.Element("gpx", {"xmlns": GPX_NAMESPACE, **creator})
    root.set(_SCHEMA_LOCATION, _GPX_SCHEMA)
    head = ET.SubElement(root, "metadata")
    _text(head, "name", settings.survey.title)
    _text(head, "desc", labels("layout.caution"))
    rows = list(planned.iter_rows(named=True))
    for row in rows:
        point = _point(root, "wpt", row)
        said = _said(row, labels)
        _text(point, "cmt", said)
        _text(point, "desc", said)
        _text(point, "type", row["role"])
    for day, members in _days(planned):
        route = ET.SubElement(root, "rte")
        _text(route, "name", labels("layout.day", n=day))
        _text(route, "number", str(day))
        for row in members:
            _point(route, "rtept", row)
    _save(root, path)


def write_kml(planned: pl.DataFrame, settings: Settings, path: Path) -> None:
    """Write planned plots as KML 2.2 (OGC 07-147r2), in folders: one for each day by its walk, one for reserves.

    Parameters and errors are those of `write_gpx`.
    """
    labels = labels_of(settings)
    root = ET.Element("kml", {"xmlns": KML_NAMESPACE})
    document = ET.SubElement(root, "Document")
    _text(document, "name", settings.survey.title)
    _text(document, "description", labels("layout.caution"))
    without_day = planned.filter(pl.col("day").is_null())
    folders = [(labels("layout.day", n=day), members) for day, members in _days(planned)]
    for role in ("main", "reserve"):
        members = list(without_day.filter(pl.col("role") == role).iter_rows(named=True))
        folders.append((labels("layout.main") if role == "main" else labels("layout.reserve"), members))
    for name, members in folders:
        if not members:
            continue
        folder = ET.SubElement(document, "Folder")
        _text(folder, "name", name)
        for row in members:
            place = ET.SubElement(folder, "Placemark")
            _text(place, "name", row["plot"])
            _text(place, "description", _said(row, labels))
            point = ET.SubElement(place, "Point")
            _text(point, "coordinates", f"{row['lon']:.{_DECIMALS}f},{row['lat']:.{_DECIMALS}f}")
    _save(root, path)


def _days(planned: pl.DataFrame) -> list[tuple[int, list[_Row]]]:
    """Return the plots of each day in the order of the walk."""
    walked = planned.filter(pl.col("day").is_not_null()).sort("day", "order")
    return [
        (int(day), list(members.iter_rows(named=True)))
        for (day,), members in walked.group_by("day", maintain_order=True)
    ]


def _said(row: _Row, labels: Labels) -> str:
    """Return what the crew is told of a plot, in one line."""
    parts = [labels("layout.compartment", name=row["compartment"])]
    if row["role"] == "reserve":
        parts.append(labels("layout.reserve_order", n=row["order"], stratum=row["stratum"]))
    elif row["day"] is not None:
        parts.append(labels("layout.turn", day=row["day"], n=row["order"]))
    parts.append(f"{row['edge_task']}: {EDGE_TASKS[row['edge_task']]}")
    return " · ".join(parts)


def _point(parent: ET.Element, tag: str, row: _Row) -> ET.Element:
    """Add a point of GPX named by its plot."""
    where = {"lat": f"{row['lat']:.{_DECIMALS}f}", "lon": f"{row['lon']:.{_DECIMALS}f}"}
    point = ET.SubElement(parent, tag, where)
    _text(point, "name", row["plot"])
    return point


def _text(parent: ET.Element, tag: str, text: str) -> None:
    """Add an element with text; letters that XML 1.0 cannot hold become U+FFFD."""
    ET.SubElement(parent, tag).text = _NO_XML.sub("�", text)


def _save(root: ET.Element, path: Path) -> None:
    """Write an XML file with line feeds on every system."""
    ET.indent(root)
    path.write_bytes(ET.tostring(root, encoding="utf-8", xml_declaration=True) + b"\n")
