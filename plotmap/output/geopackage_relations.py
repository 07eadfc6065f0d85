"""Relations between the layers and tables of a GeoPackage: the Related Tables Extension (OGC 18-000)."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass

from plotmap.output.geopackage_metadata import register

EXTENSION = "gpkg_related_tables"
"""Name of the extension since GeoPackage 1.2.1."""
DEFINITION = "http://www.geopackage.org/18-000.html"
PRIMARY_KEY = "fid"
# OGC 18-000, annex: gpkgext_relations.
_RELATIONS_SQL = """
CREATE TABLE gpkgext_relations (
  id INTEGER PRIMARY KEY AUTOINCREMENT, base_table_name TEXT NOT NULL,
  base_primary_column TEXT NOT NULL DEFAULT 'id', related_table_name TEXT NOT NULL,
  related_primary_column TEXT NOT NULL DEFAULT 'id', relation_name TEXT NOT NULL,
  mapping_table_name TEXT NOT NULL UNIQUE)
"""


@dataclass(frozen=True, slots=True)
class Relation:
    """One row of the base table belongs to any number of rows of the related one.

    Attributes
    ----------
    base, related : str
        Names of the tables.
    key : str
        Column that both have; in `base` no value of it comes twice.
    """

    base: str
    related: str
    key: str

    @property
    def mapping(self) -> str:
        """Name of the mapping view."""
        return f"{self.base}_{self.related}"


STAND_RELATIONS = (
    Relation("compartments", "plots", "compartment"),
    Relation("compartments", "classes", "compartment"),
    Relation("compartments", "class_totals", "compartment"),
    Relation("compartments", "species_totals", "compartment"),
    Relation("compartments", "model_based", "compartment"),
    Relation("compartments", "findings", "compartment"),
    Relation("plots", "trees", "plot"),
    Relation("plots", "tallied", "plot"),
    Relation("plots", "check_differences", "plot"),
    Relation("plots", "findings", "plot"),
    Relation("strata", "compartments", "stratum"),
)
"""Relations of ``stand.gpkg``."""
LAYOUT_RELATIONS = (Relation("planned_compartments", "planned_plots", "compartment"),)
"""Relations of ``planned.gpkg``."""
CHANGE_RELATIONS = (
    Relation("compartment_change", "plot_change", "compartment"),
    Relation("compartment_change", "findings", "compartment"),
)
"""Relations of ``change.gpkg``."""


def write_relations(database: sqlite3.Connection, relations: Sequence[Relation]) -> None:
    """Write relations into an open GeoPackage whose tables are there.

    The user-defined mapping of each is a view over the key that both tables have, so that it takes no room,
    whatever the number of stems, and stays true when rows are edited. It has ``base_id`` and ``related_id``,
    the primary keys of both rows, after an ``id`` of its own (that of the related row), and is in
    ``gpkg_contents`` as attributes: otherwise GDAL cannot read it (OGC 12-128r18, requirement 151). The name of
    a relation is the requirements class of the standard that it meets: ``features`` where the related table has
    shapes, ``attributes`` where it has none.

    Parameters
    ----------
    database : sqlite3.Connection
        The GeoPackage, with the rows of its tables in ``gpkg_contents``.
    relations : sequence of Relation
        What belongs to what.
    """
    database.execute(_RELATIONS_SQL)
    for relation in relations:
        base, related, key = f'"{relation.base}"', f'"{relation.related}"', f'"{relation.key}"'
        database.execute(
            f'CREATE VIEW "{relation.mapping}" AS SELECT {related}.{PRIMARY_KEY} AS id, '  # noqa: S608 - declared
            f"{base}.{PRIMARY_KEY} AS base_id, {related}.{PRIMARY_KEY} AS related_id "
            f"FROM {related} JOIN {base} ON {base}.{key} = {related}.{key}"
        )
        database.execute(
            "INSERT INTO gpkgext_relations (base_table_name, base_primary_column, related_table_name, "
            "related_primary_column, relation_name, mapping_table_name) "
            "SELECT ?, ?, table_name, ?, data_type, ? FROM gpkg_contents WHERE table_name = ?",
            (relation.base, PRIMARY_KEY, PRIMARY_KEY, relation.mapping, relation.related),
        )
        database.execute(
            "INSERT INTO gpkg_contents (table_name, data_type, identifier, description, srs_id) "
            "VALUES (?, 'attributes', ?, ?, 0)",
            (
                relation.mapping,
                relation.mapping,
                f"Which {relation.related} belong to which {relation.base}.",
            ),
        )
    mappings = [relation.mapping for relation in relations]
    register(database, EXTENSION, ("gpkgext_relations", *mappings), DEFINITION)
