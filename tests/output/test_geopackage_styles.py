"""The styles of the GeoPackage: every row is drawn by the rule it belongs to.

Structure: OGC 02-070 (SLD 1.0.0). Colours: ColorBrewer 2.0, YlGnBu in five classes.
"""

from __future__ import annotations

import math
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plotmap.output.geopackage import write_geopackage
from plotmap.output.geopackage_styles import (
    MAX_CLASSES,
    class_edges,
    compartment_rules,
    finding_rules,
    plot_rules,
    qml,
    sld,
)
from tests.stand_example import stand_example

SLD = {"s": "http://www.opengis.net/sld", "o": "http://www.opengis.net/ogc"}
# ColorBrewer 2.0, YlGnBu, 5 classes.
YLGNBU = ["#ffffcc", "#a1dab4", "#41b6c4", "#2c7fb8", "#253494"]


@pytest.fixture(scope="module")
def database(tmp_path_factory) -> Iterator[sqlite3.Connection]:
    path = tmp_path_factory.mktemp("styles") / "stand.gpkg"
    write_geopackage(stand_example(), path)
    with closing(sqlite3.connect(path)) as opened:
        yield opened


def test_each_layer_with_geometry_has_one_default_style(database) -> None:
    rows = database.execute(
        "SELECT s.f_table_name, s.f_geometry_column = g.column_name, s.useAsDefault FROM layer_styles s "
        "JOIN gpkg_geometry_columns g ON g.table_name = s.f_table_name"
    ).fetchall()
    assert sorted(rows) == [(name, 1, 1) for name in ("compartments", "findings", "plots", "trees")]


def test_both_languages_are_well_formed_and_have_the_same_legend(database) -> None:
    for layer, text, native in database.execute("SELECT f_table_name, styleSLD, styleQML FROM layer_styles"):
        root = ET.fromstring(text)  # noqa: S314 - our own text
        assert root.attrib["version"] == "1.0.0"
        assert root.findtext(".//s:NamedLayer/s:Name", namespaces=SLD) == layer
        titles = [title.text for title in root.findall(".//s:Rule/s:Title", SLD)]
        rules = ET.fromstring(native).findall(".//rule")  # noqa: S314
        assert titles == [rule.attrib["label"] for rule in rules]
        symbols = ET.fromstring(native).findall(".//symbol")  # noqa: S314
        assert [rule.attrib["symbol"] for rule in rules] == [symbol.attrib["name"] for symbol in symbols]


def test_every_row_is_drawn_and_only_one_colour_class_draws_it(database) -> None:
    for layer, native in database.execute("SELECT f_table_name, styleQML FROM layer_styles").fetchall():
        filters = [rule.attrib["filter"] for rule in ET.fromstring(native).findall(".//rule")]  # noqa: S314
        filled = [text or "1" for text in filters if "one plot" not in text and "error_pct" not in text]
        for (hits,) in database.execute(
            f"SELECT {' + '.join(f'coalesce(({text}), 0)' for text in filled)} FROM {layer}"  # noqa: S608
        ):
            assert hits == 1


def test_compartments_without_plots_are_hatched_grey_and_the_others_filled_in_ylgnbu() -> None:
    root = ET.fromstring(sld("compartments", "t", compartment_rules([0.0, 45.0], 50.0)))  # noqa: S314
    fills = [
        rule.findtext("s:PolygonSymbolizer/s:Fill/s:CssParameter", namespaces=SLD)
        for rule in root.findall(".//s:Rule", SLD)
    ]
    assert fills == [*YLGNBU, None, None, "#e7e7e2"]
    last = root.findall(".//s:Rule", SLD)[-1]
    assert last.find(".//s:GraphicFill", SLD) is not None
    assert "no plots" in [literal.text for literal in last.findall(".//o:Literal", SLD)]
    assert 'name="style" value="cross"' in qml(compartment_rules([0.0, 45.0], 50.0))


def test_a_survey_without_any_figure_has_a_legend_without_classes() -> None:
    assert [rule.label for rule in compartment_rules([], 40.0)] == [
        "sampling error 40 % or more",
        "one plot: no error known",
        "no plots: no figures",
    ]


def test_plots_and_findings_have_one_rule_a_word() -> None:
    assert [rule.label for rule in plot_rules()] == ["measured", "empty", "unvisited", "lost"]
    assert [rule.label for rule in finding_rules()] == ["warning", "note"]


@pytest.mark.parametrize(
    ("values", "edges"),
    [
        ([3.0, 47.0], [0, 10, 20, 30, 40, 50]),
        ([21.2, 23.9], [21, 22, 23, 24]),
        ([10.0, 20.0], [10, 12, 14, 16, 18, 20]),
        ([20.0], [20, 21]),
        ([2.9, 52.1], [0, 20, 40, 60]),  # ten would make six classes
        ([9.99, 10.0], [9.9, 10.0]),
        ([0.0, 0.0], [0, 1]),
        ([], []),
    ],
)
def test_class_edges_are_round(values, edges) -> None:  # common practice, no source
    assert class_edges(values) == edges


@given(st.lists(st.floats(0, 1000, allow_subnormal=False), min_size=1, max_size=30))
def test_class_edges_hold_every_value_in_at_most_five_classes(values) -> None:
    edges = class_edges(values)
    assert 2 <= len(edges) <= MAX_CLASSES + 1
    assert edges == sorted(set(edges))
    slack = 1e-9 * max(1.0, *values)
    assert edges[0] <= min(values) + slack
    assert edges[-1] >= max(values) - slack
    assert all(math.isfinite(edge) for edge in edges)
