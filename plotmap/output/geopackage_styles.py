"""Styles carried by the GeoPackage: one list of rules, written as OGC SLD and as the desktop-GIS style."""

from __future__ import annotations

import math
import sqlite3
from dataclasses import dataclass
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
    """One entry of a legend."""

    label: str
    where: Filter
    symbol: Fill | Marker


def write_styles(database: sqlite3.Connection, frames: dict[str, pl.DataFrame]) -> None:
    """Write a default style for each layer with geometry into ``layer_styles`` of an open GeoPackage.

    Compartments: basal area per hectare in YlGnBu classes of round width that reach from the smallest to
    the largest value; without plots hatched grey. Plots by state, findings by severity. Every row carries
    SLD 1.0 and the style language of the desktop GIS that reads this table.

    Parameters
    ----------
    database : sqlite3.Connection
        The GeoPackage.
    frames : dict of str to polars.DataFrame
        Result tables by name; ``basal_area_m2_per_ha`` (m²/ha) of the compartments sets the classes.
    """
    database.execute(_LAYER_STYLES_SQL)
    database.execute(
        "INSERT INTO gpkg_contents (table_name, data_type, identifier, description, srs_id) "
        "VALUES ('layer_styles', 'attributes', 'layer_styles', 'Styles of the layers.', 0)"
    )
    values = frames["compartments"][MAPPED.name].drop_nulls().to_list()
    styles = {
        "compartments": (MAPPED.heading, compartment_rules(values)),
        "plots": ("State of the plot", plot_rules()),
        "findings": ("Severity of the finding", finding_rules()),
    }
    database.executemany(
        "INSERT INTO layer_styles (f_table_catalog, f_table_schema, f_table_name, f_geometry_column, styleName, "
        "styleQML, styleSLD, useAsDefault, description, owner, ui, update_time) "
        "VALUES ('', '', ?, 'geom', ?, ?, ?, 1, ?, '', NULL, ?)",
        [
            (layer, layer, qml(rules), sld(layer, title, rules), title, CONSTANT_TIME)
            for layer, (title, rules) in styles.items()
        ],
    )


def compartment_rules(values: list[float]) -> list[Rule]:
    """Return the legend of the compartments from their basal areas in m²/ha."""
    edges = class_edges(values)
    colours = _colours(len(edges) - 1)
    rules = [
        Rule(
            f"{low:g}–{'' if last else '<'}{high:g} {MAPPED.unit}",
            _between(MAPPED.name, low, high, closed=last),
            Fill(colour),
        )
        for low, high, colour, last in zip(
            edges[:-1], edges[1:], colours, [high == edges[-1] for high in edges[1:]], strict=True
        )
    ]
    rules.append(
        Rule("one plot: no error known", _equals("status", ONE_PLOT), Fill(None, "#4d4d4d", dashed=True))
    )
    no_figures = _either(_equals("status", NO_PLOTS), _is_missing(MAPPED.name))
    rules.append(Rule("no plots: no figures", no_figures, Fill("#8c8c8c", hatched=True)))
    return rules


def plot_rules() -> list[Rule]:
    """Return the legend of the plots by state."""
    markers = {
        MEASURED: Marker("circle", "#08306b"),
        EMPTY: Marker("circle", "#ffffff", "#08306b"),
        UNVISITED: Marker("square", "#bdbdbd", "#636363"),
        LOST: Marker("x", "#636363", "#636363"),
    }
    return [Rule(state, _equals("state", state), marker) for state, marker in markers.items()]


def finding_rules() -> list[Rule]:
    """Return the legend of the findings by severity; errors stop a run and are never in a stand."""
    markers = {
        Severity.WARNING: Marker("triangle", "#d95f0e", "#4d4d4d"),
        Severity.NOTE: Marker("triangle", "#ffffff", "#4d4d4d"),
    }
    return [
        Rule(severity.value, _equals("severity", severity.value), marker)
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
        f"<ogc:Filter>{rule.where.xml}</ogc:Filter>{sld_symbol(rule.symbol)}</Rule>"
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
        f"filter={quoteattr(rule.where.expression)}/>"
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


def _equals(column: str, value: str) -> Filter:
    """Rows where a text column has one value."""
    return Filter(_comparison("PropertyIsEqualTo", column, value), f"\"{column}\" = '{value}'")


def _between(column: str, low: float, high: float, *, closed: bool) -> Filter:
    """Rows where a number is from `low` to below `high`, or to `high` where closed."""
    upper = "PropertyIsLessThanOrEqualTo" if closed else "PropertyIsLessThan"
    return Filter(
        f"<ogc:And>{_comparison('PropertyIsGreaterThanOrEqualTo', column, f'{low:.10g}')}"
        f"{_comparison(upper, column, f'{high:.10g}')}</ogc:And>",
        f'"{column}" >= {low:.10g} AND "{column}" {"<=" if closed else "<"} {high:.10g}',
    )


def _is_missing(column: str) -> Filter:
    """Rows where a column is missing."""
    return Filter(
        f"<ogc:PropertyIsNull><ogc:PropertyName>{column}</ogc:PropertyName></ogc:PropertyIsNull>",
        f'"{column}" IS NULL',
    )


def _either(one: Filter, other: Filter) -> Filter:
    """Rows that pass one or both filters."""
    return Filter(f"<ogc:Or>{one.xml}{other.xml}</ogc:Or>", f"{one.expression} OR {other.expression}")


def _comparison(operator: str, column: str, value: str) -> str:
    """Return one comparison of a column with a literal in OGC filter encoding."""
    return (
        f"<ogc:{operator}><ogc:PropertyName>{column}</ogc:PropertyName>"
        f"<ogc:Literal>{escape(value)}</ogc:Literal></ogc:{operator}>"
    )
