"""Everything the page shows, once, as plain lists, texts and numbers."""

from __future__ import annotations

from math import ceil
from typing import TYPE_CHECKING, Any

import pandas as pd
import polars as pl
import shapely

from plotmap.model.class_rule import ClassRule
from plotmap.model.labels import Labels, labels_of
from plotmap.model.result_tables import (
    CLASS_TOTAL_RESULTS,
    COMPARTMENT_RESULTS,
    PLOT_RESULTS,
    SPECIES_TOTAL_RESULTS,
    SURVEY_RESULTS,
)
from plotmap.model.settings_map import SPECIES_SHARE, MapSection
from plotmap.output.webmap.extras import extras
from plotmap.output.webmap.figures import Cell, columns, field, number_cells, rows_of, text_cells
from plotmap.output.webmap.geometry import DEGREE, Outlines, outlines, points
from plotmap.output.webmap.grid import grid
from plotmap.output.webmap.notes import dates, placed_findings
from plotmap.output.webmap.positions import positions
from plotmap.output.webmap.species import species_shares
from plotmap.output.webmap.themes import Theme, hatches, themes

if TYPE_CHECKING:
    import geopandas as gpd
    import numpy as np
    from numpy.typing import NDArray

    from plotmap.model.survey import Stand

_ESTIMATES = ("stems_per_ha", "basal_area_m2_per_ha", "stems_total", "basal_area_m2_total")
_COMPARTMENT = (
    "compartment",
    "name",
    "stratum",
    "area_ha",
    "area_source",
    "n_plots",
    "n_trees",
    *_ESTIMATES,
    "dg_cm",
    "mean_dbh_cm",
    "sampling_error_pct",
    "status",
    "interval",
)
_TOTAL = (
    "area_ha",
    "area_left_out_ha",
    "area_source",
    "n_compartments",
    "n_left_out",
    "n_one_plot",
    "n_plots",
    "n_without_plots",
    *_ESTIMATES,
    "sampling_error_pct",
    "status",
)
_PLOT = (
    "plot",
    "slope_pct",
    "area_m2",
    "share_inside",
    "n_trees",
    "stems_per_ha",
    "basal_area_m2_per_ha",
    "dg_cm",
)
_PLOT_WORDS = ("state", "design", "set_aside", "date")
"""Texts of plots that repeat: sent as a list of words and one number per plot. The crew stays at home."""
_ROUNDED_M = 0.08
"""By which the steps of 1/`DEGREE` degree move a vertex at most: half a step along and half a step up."""


def payload(stand: Stand, labels: Labels | None = None) -> dict[str, Any]:
    """Return what the page is built from.

    Parameters
    ----------
    stand : Stand
        Everything that was computed.
    labels : Labels, optional
        Words that people read; those of the settings where not given.

    Returns
    -------
    dict
        Plain lists, texts and numbers, None where a figure is missing, and arrays of whole numbers for places. For
        `plotmap.output.webmap.packing.packed`. Coordinates are WGS 84.
    """
    compartments = stand.compartments
    settings = stand.settings
    labels = labels or labels_of(settings)
    shown = themes(compartments, settings.map)
    edges = {theme.column: theme.edges for theme in shown}
    return {
        "survey": {
            "title": settings.survey.title,
            "confidence_pct": round(100 * settings.survey.confidence, 6),
            "class_width_cm": settings.class_rule.width_cm,
            "sample_of": settings.estimates.sample_of,
            "class_measure": str(settings.class_rule.on),
            "class_edge": str(settings.class_rule.edge),
            "degree": DEGREE,
            "large_error_pct": settings.map.large_error_pct,
        },
        "words": labels.section("map"),
        "table_words": labels.section("words"),
        "fields": _fields(labels),
        "themes": [_theme(theme) for theme in shown],
        "hatches": hatches(compartments, settings.map.large_error_pct).tolist(),
        "compartments": columns(compartments, COMPARTMENT_RESULTS, _COMPARTMENT, edges),
        "outlines": _outlines(outlines(compartments)),
        "plots": _plots(stand.plots, compartments["compartment"]),
        "size_classes": _size_classes(stand.class_totals, compartments["compartment"], settings.class_rule),
        "species": species_shares(stand, edges[SPECIES_SHARE]),
        "dates": dates(stand),
        "findings": _findings(stand),
        "grid": grid(compartments, stand.plots),
        "extras": extras(stand.map_layers, stand.crs),
        "background": _background(settings.map),
        "total": columns(stand.survey_total.head(1), SURVEY_RESULTS, _TOTAL),
    }


def _findings(stand: Stand) -> dict[str, Any]:
    """Return the findings that have a place on the map."""
    plots = stand.plots["plot"][_placed(stand.plots)]
    compartments = stand.compartments["compartment"].where(_placed(stand.compartments), None)
    return placed_findings(stand, plots, compartments)


def _placed(layer: gpd.GeoDataFrame) -> pd.Series:
    """Return which rows have a geometry that is not empty."""
    shapes = layer.geometry.to_numpy()
    return pd.Series(~(shapely.is_missing(shapes) | shapely.is_empty(shapes)), index=layer.index)


def _background(chosen: MapSection) -> dict[str, str] | None:
    """Return the background that may be asked for, None where the settings name none."""
    if not chosen.background:
        return None
    host = chosen.background_host.partition("://")[2]
    return {"address": chosen.background, "host": host, "credit": chosen.background_credit}


def _fields(labels: Labels) -> dict[str, dict[str, dict[str, str | int]]]:
    """Return title, unit and decimals of the columns the page shows, by table."""
    shown = (
        ("compartments", COMPARTMENT_RESULTS, _COMPARTMENT),
        ("plots", PLOT_RESULTS, (*_PLOT, *_PLOT_WORDS)),
        ("total", SURVEY_RESULTS, _TOTAL),
        ("species", SPECIES_TOTAL_RESULTS, (SPECIES_SHARE,)),
    )
    return {key: {name: field(table[name], table, labels) for name in names} for key, table, names in shown}


def _theme(theme: Theme) -> dict[str, Any]:
    """Return a theme for the page."""
    return {
        "column": theme.column,
        "labels": theme.labels,
        "colours": theme.colours,
        "counts": theme.counts,
        "classes": theme.classes.tolist(),
        "edges": theme.edges if theme.column == SPECIES_SHARE else (),
    }


def _outlines(found: Outlines) -> dict[str, NDArray[np.int64] | list[Cell] | float]:
    """Return outlines for the page; anchor and room are None where there is no outline."""
    return {
        "lon": found.lon,
        "lat": found.lat,
        "vertices": found.vertices,
        "rings": found.rings,
        "polygons": found.polygons,
        "anchor_lon": number_cells(found.anchor_lon),
        "anchor_lat": number_cells(found.anchor_lat),
        "room": number_cells(found.room),
        "moved_m": ceil(10 * (found.moved_m + _ROUNDED_M)) / 10 if found.moved_m else 0,
    }


def _plots(plots: gpd.GeoDataFrame, compartments: pd.Series) -> dict[str, Any]:
    """Return plots that have a position, and how many have none."""
    lon, lat, placed = points(plots)
    rows = plots[placed]
    words: dict[str, Any] = {}
    for name in _PLOT_WORDS:
        codes, labels = pd.factorize(pd.Series(text_cells(rows[name]), dtype=object), sort=False)
        words[name] = {"words": [str(label) for label in labels], "rows": codes.tolist()}
    return {
        "lon": lon,
        "lat": lat,
        "position": positions(rows),
        "without_position": int((~placed).sum()),
        "compartment": rows_of(rows["compartment"], compartments),
        **columns(rows, PLOT_RESULTS, _PLOT),
        **words,
    }


def _size_classes(totals: pl.DataFrame, compartments: pd.Series, rule: ClassRule) -> dict[str, Any]:
    """Return stems per class and compartment; labels run without gaps from the lowest class to the highest."""
    indexes = rule.span(totals["low_cm"].unique().to_list())
    labels = [rule.label(index) for index in indexes]
    where = {label: number for number, label in enumerate(labels)}
    return {
        "labels": labels,
        "short_labels": [rule.short_label(index) for index in indexes],
        "compartment": rows_of(totals["compartment"].to_pandas(), compartments),
        "class": totals["class"].replace_strict(where, return_dtype=pl.Int64).to_list(),
        **columns(totals, CLASS_TOTAL_RESULTS, ("stems_per_ha",), sides=False),
    }
