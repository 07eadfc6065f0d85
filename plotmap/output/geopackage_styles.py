"""Styles carried by the GeoPackage: one list of rules, written as OGC SLD and as the desktop-GIS style."""

from __future__ import annotations

import math
import sqlite3
from dataclasses import dataclass
from itertools import pairwise
from xml.sax.saxutils import escape, quoteattr

import polars as pl

from plotmap.model.field_tables import EMPTY, LOST, MEASURED, UNVISITED
from plotmap.model.finding_rules import Severity
from plotmap.model.result_tables import COMPARTMENT_RESULTS, NO_PLOTS, ONE_PLOT
from plotmap.output.geopackage_metadata import CONSTANT_TIME
from plotmap.output.style_symbols import Fill, Marker, qml_symbol, sld_symbol

MAPPED = COMPARTMENT_RESULTS["basal_area_m2_per_ha"]
"""Column of the compartments that their colour shows."""
MAX_CLASSES = 5
_STEPS = (1.0, 2.0, 2.5, 5.0, 10.0, 20.0)
_FINEST = 0.1  # m²/ha; figures are printed to one decimal
_LAYER_STYLES_SQL = """
CREATE TABLE layer_styles (
  id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, f_table_catalog TEXT(256), f_table_schema TEXT(256),
  f_table_name TEXT(256), f_geometry_column TEXT(256), styleName TEXT(30), styleQML TEXT, styleSLD TEXT,
  useAsDefault BOOLEAN, description TEXT, owner TEXT(30), ui TEXT(30),
  update_time DATETIME DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')))
"""


@dataclass(frozen=True, slots=True)
class Filter:
    """Which rows a rule draws, in both languages: OGC filter encoding 1.0, and an expression."""

    xml: str
    expression: str


@dataclass(frozen=True, slots=True)
class Rule:
    """One entry of a legend; without a filter it draws every row."""

    label: str
    where: Filter | None
    symbol: Fill | Marker


@dataclass(frozen=True, slots=True)
class Style:
    """The style of one layer: what its legend is called, and the rules in the order in which they are drawn."""

    title: str
    rules: list[Rule]


def stand_styles(frames: dict[str, pl.DataFrame], large_error_pct: float) -> dict[str, Style]:
    """Return the styles of ``stand.gpkg`` by layer.

    Compartments: basal area per hectare in YlGnBu classes of round width that reach from the smallest to
    the largest value; hatched where the sampling error is large; grey and cross-hatched without plots. Plots by
    state, findings by severity, stems as dots.

    Parameters
    ----------
    frames : dict of str to polars.DataFrame
        Result tables by name; ``basal_area_m2_per_ha`` (m²/ha) of the compartments sets the classes.
    large_error_pct : float
        Sampling error in per cent from which on a compartment is hatched.
    """
    values = frames["compartments"][MAPPED.name].drop_nulls().to_list()
    return {
        "compartments": Style(MAPPED.heading, compartment_rules(values, large_error_pct)),
        "plots": Style("State of the plot", plot_rules()),
        "trees": Style("Stems measured", [Rule("stem", None, Marker("circle", "#5d625d", size_px=3.0))]),
        "findings": Style("Severity of the finding", finding_rules()),
    }


def write_styles(database: sqlite3.Connection, styles: dict[str, Style]) -> None:
    """Write a default style for each layer with geometry into ``layer_styles`` of an open GeoPackage.

    Every row carries SLD 1.0 and the style language of the desktop GIS that reads this table. Layers that have
    no geometry in this file are left out.

    Parameters
    ----------
    database : sqlite3.Connection
        The GeoPackage.
    styles : dict of str to Style
        By layer.
    """
    database.execute(_LAYER_STYLES_SQL)
    database.execute(
        "INSERT INTO gpkg_contents (table_name, data_type, identifier, description, srs_id) "
        "VALUES ('layer_styles', 'attributes', 'layer_styles', 'Styles of the layers.', 0)"
    )
    drawn = {name for (name,) in database.execute("SELECT table_name FROM gpkg_geometry_columns")}
    database.executemany(
        "INSERT INTO layer_styles (f_table_catalog, f_table_schema, f_table_name, f_geometry_column, styleName, "
        "styleQML, styleSLD, useAsDefault, description, owner, ui, update_time) "
        "VALUES ('', '', ?, 'geom', ?, ?, ?, 1, ?, '', NULL, ?)",
        [
            (
                layer,
                layer,
                qml(style.rules),
                sld(layer, style.title, style.rules),
                style.title,
                CONSTANT_TIME,
            )
            for layer, style in styles.items()
            if layer in drawn
        ],
    )


def compartment_rules(values: list[float], large_error_pct: float) -> list[Rule]:
    """Return the legend of the compartments from their basal areas in m²/ha and the limit of a large error in %."""
    edges = class_edges(values)
    with_figures = differs("status", NO_PLOTS)
    rules = [
        Rule(class_label(low, high, MAPPED.unit, last=last), both(with_figures, where), Fill(colour))
        for (low, high, last, where), colour in zip(
            class_filters(MAPPED.name, edges), _colours(len(edges) - 1), strict=True
        )
    ]
    error = both(with_figures, at_least("sampling_error_pct", large_error_pct))
    return [
        *rules,
        Rule(f"sampling error {large_error_pct:g} % or more", error, Fill(None, hatch="x")),
        Rule("one plot: no error known", equals("status", ONE_PLOT), Fill(None, "#4d4d4d", dashed=True)),
        Rule(
            "no plots: no figures",
            equals("status", NO_PLOTS),
            Fill("#e7e7e2", "#5d625d", hatch="cross", dashed=True),
        ),
    ]


def class_label(low: float, high: float, unit: str, *, last: bool) -> str:
    """Return the label of a class; the last one holds its upper edge."""
    return f"{low:g}–{'' if last else '<'}{high:g} {unit}"


def class_filters(column: str, edges: list[float]) -> list[tuple[float, float, bool, Filter]]:
    """Return lower edge, upper edge, whether it is the last, and the filter of each class of a number."""
    classes = []
    for low, high in pairwise(edges):
        last = high == edges[-1]
        classes.append((low, high, last, _between(column, low, high, closed=last)))
    return classes


def plot_rules() -> list[Rule]:
    """Return the legend of the plots by state."""
    markers = {
        MEASURED: Marker("circle", "#08306b"),
        EMPTY: Marker("circle", "#ffffff", "#08306b"),
        UNVISITED: Marker("square", "#bdbdbd", "#636363"),
        LOST: Marker("x", "#636363", "#636363"),
    }
    return [Rule(state, equals("state", state), marker) for state, marker in markers.items()]


def finding_rules() -> list[Rule]:
    """Return the legend of the findings by severity; errors stop a run and are never in a stand."""
    markers = {
        Severity.WARNING: Marker("triangle", "#d95f0e", "#4d4d4d"),
        Severity.NOTE: Marker("triangle", "#ffffff", "#4d4d4d"),
    }
    return [
        Rule(severity.value, equals("severity", severity.value), marker)
        for severity, marker in markers.items()
    ]


def class_edges(values: list[float]) -> list[float]:
    """Return rising class edges of round, equal width that hold all values, in their unit.

    At most `MAX_CLASSES` classes; the width is 1, 2, 2.5 or 5 times a power of ten, at least 0.1. Empty without
    values.
    """
    if not values:
        return []
    low, high = min(values), max(values)
    power = 10.0 ** math.floor(math.log10(max((high - low) / MAX_CLASSES, _FINEST))) if high > low else 1.0
    for step in (power * factor for factor in _STEPS):
        first, last = math.floor(low / step), max(math.ceil(high / step), math.floor(low / step) + 1)
        if last - first <= MAX_CLASSES:
            break
    return [round(number * step, 9) for number in range(first, last + 1)]


def sld(layer: str, title: str, rules: list[Rule]) -> str:
    """Return rules as a Styled Layer Descriptor 1.0.0 (OGC 02-070)."""
    body = "".join(
        f"<Rule><Name>{escape(rule.label)}</Name><Title>{escape(rule.label)}</Title>"
        f"{f'<ogc:Filter>{rule.where.xml}</ogc:Filter>' if rule.where else ''}{sld_symbol(rule.symbol)}</Rule>"
        for rule in rules
    )
    return (
        '<?xml version="1.0" encoding="UTF-8"?>'
        '<StyledLayerDescriptor version="1.0.0" xmlns="http://www.opengis.net/sld" '
        'xmlns:ogc="http://www.opengis.net/ogc" xmlns:xlink="http://www.w3.org/1999/xlink" '
        'xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance" '
        'xsi:schemaLocation="http://www.opengis.net/sld '
        'http://schemas.opengis.net/sld/1.0.0/StyledLayerDescriptor.xsd">'
        f"<NamedLayer><Name>{escape(layer)}</Name><UserStyle><Title>{escape(title)}</Title>"
        f"<FeatureTypeStyle>{body}</FeatureTypeStyle></UserStyle></NamedLayer></StyledLayerDescriptor>"
    )


def qml(rules: list[Rule]) -> str:
    """Return rules in the style language of the desktop GIS that reads ``layer_styles``."""
    entries = "".join(
        f'<rule key="{number}" symbol="{number}" label={quoteattr(rule.label)} '
        f"filter={quoteattr(rule.where.expression if rule.where else '')}/>"
        for number, rule in enumerate(rules)
    )
    symbols = "".join(qml_symbol(rule.symbol, str(number)) for number, rule in enumerate(rules))
    return (
        "<!DOCTYPE qgis PUBLIC 'http://mrcc.com/qgis.dtd' 'SYSTEM'>"
        '<qgis version="3.22.0" styleCategories="Symbology">'
        f'<renderer-v2 type="RuleRenderer" symbollevels="0"><rules key="root">{entries}</rules>'
        f"<symbols>{symbols}</symbols></renderer-v2></qgis>"
    )


def _colours(count: int) -> list[str]:
    """Return `count` colours of ColorBrewer's YlGnBu, light to dark, as #rrggbb."""
    from branca.colormap import linear  # noqa: PLC0415 - slow to import

    if count < 1:
        return []
    scheme = getattr(linear, f"YlGnBu_{max(count, 3):02d}")
    return ["#" + "".join(f"{round(255 * part):02x}" for part in colour[:3]) for colour in scheme.colors][
        :count
    ]


def equals(column: str, value: str) -> Filter:
    """Rows where a text column has one value."""
    return Filter(_comparison("PropertyIsEqualTo", column, value), f"\"{column}\" = '{value}'")


def differs(column: str, value: str) -> Filter:
    """Rows where a text column has another value: some renderers take a missing number for 0, but no word."""
    return Filter(_comparison("PropertyIsNotEqualTo", column, value), f"\"{column}\" <> '{value}'")


def at_least(column: str, low: float) -> Filter:
    """Rows where a number is `low` or more."""
    return Filter(
        _comparison("PropertyIsGreaterThanOrEqualTo", column, f"{low:.10g}"), f'"{column}" >= {low:.10g}'
    )


def _between(column: str, low: float, high: float, *, closed: bool) -> Filter:
    """Rows where a number is from `low` to below `high`, or to `high` where closed."""
    upper = "PropertyIsLessThanOrEqualTo" if closed else "PropertyIsLessThan"
    return Filter(
        f"<ogc:And>{_comparison('PropertyIsGreaterThanOrEqualTo', column, f'{low:.10g}')}"
        f"{_comparison(upper, column, f'{high:.10g}')}</ogc:And>",
        f'"{column}" >= {low:.10g} AND "{column}" {"<=" if closed else "<"} {high:.10g}',
    )


def both(one: Filter, other: Filter) -> Filter:
    """Rows that pass two filters."""
    return Filter(f"<ogc:And>{one.xml}{other.xml}</ogc:And>", f"({one.expression}) AND ({other.expression})")


def _comparison(operator: str, column: str, value: str) -> str:
    """Return one comparison of a column with a literal in OGC filter encoding."""
    return (
        f"<ogc:{operator}><ogc:PropertyName>{column}</ogc:PropertyName>"
        f"<ogc:Literal>{escape(value)}</ogc:Literal></ogc:{operator}>"
    )
