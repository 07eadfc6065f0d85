"""The GeoPackages meet the requirements of the standards, and GDAL's own validator finds no fault.

Numbers of requirements: OGC 12-128r18 (GeoPackage 1.3.1). Each entry below lists what breaks the requirement, so that
the answer must be empty. RTE: OGC 18-000 (Related Tables Extension), by what is required, from memory.
"""

from __future__ import annotations

import json
import re
import sqlite3
import subprocess
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from plotmap.fielddata import read_survey
from plotmap.output import write_change
from plotmap.output.geopackage import write_geopackage
from plotmap.output.geopackage_relations import CHANGE_RELATIONS, STAND_RELATIONS, Relation
from plotmap.workflow import compare_surveys
from tests.outside_tools import SYSTEM_PYTHON, VALIDATOR, needs_module, plain_environment
from tests.stand_example import stand_example

TWO_SURVEYS = Path(__file__).parents[2] / "sample_plots" / "with_mistakes" / "two_surveys"
BREAKS: dict[str, str] = {
    "6: integrity_check says ok": "SELECT * FROM pragma_integrity_check WHERE integrity_check <> 'ok'",
    "7: foreign_key_check is empty": "SELECT * FROM pragma_foreign_key_check",
    "11: the three reference systems that are always there": "SELECT column1 FROM (VALUES (4326), (-1), (0)) "
    "WHERE column1 NOT IN (SELECT srs_id FROM gpkg_spatial_ref_sys)",
    "12: every reference system used is described": "SELECT srs_id FROM gpkg_geometry_columns "
    "WHERE srs_id NOT IN (SELECT srs_id FROM gpkg_spatial_ref_sys)",
    "14: contents name a table or view": "SELECT table_name FROM gpkg_contents WHERE table_name NOT IN "
    "(SELECT name FROM sqlite_master)",
    "15: last_change is a time in UTC": "SELECT last_change FROM gpkg_contents WHERE last_change NOT GLOB "
    "'[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]T[0-9][0-9]:[0-9][0-9]:[0-9][0-9].[0-9][0-9][0-9]Z'",
    "16: contents name a reference system": "SELECT table_name FROM gpkg_contents WHERE srs_id IS NULL "
    "OR srs_id NOT IN (SELECT srs_id FROM gpkg_spatial_ref_sys)",
    "18: there is a features table": "SELECT 1 WHERE NOT EXISTS "
    "(SELECT 1 FROM gpkg_contents WHERE data_type = 'features')",
    "22: every features table has a geometry column": "SELECT table_name FROM gpkg_contents "
    "WHERE data_type = 'features' AND table_name NOT IN (SELECT table_name FROM gpkg_geometry_columns)",
    "23: geometry columns are of features tables": "SELECT table_name FROM gpkg_geometry_columns "
    "WHERE table_name NOT IN (SELECT table_name FROM gpkg_contents WHERE data_type = 'features')",
    "24, 31: the column is there and declared of its type": "SELECT g.table_name FROM gpkg_geometry_columns g WHERE "
    "NOT EXISTS (SELECT 1 FROM pragma_table_info(g.table_name) c WHERE c.name = g.column_name "
    "AND c.type = g.geometry_type_name)",
    "25: geometry types are known": "SELECT * FROM gpkg_geometry_columns "
    "WHERE geometry_type_name NOT IN ('POINT', 'MULTIPOLYGON')",
    "26, 146: layer and contents agree on the reference system": "SELECT g.table_name FROM gpkg_geometry_columns g "
    "JOIN gpkg_contents c USING (table_name) WHERE g.srs_id <> c.srs_id",
    "27, 28: no heights and no measures": "SELECT * FROM gpkg_geometry_columns WHERE z <> 0 OR m <> 0",
    "29, 119: every table has a whole-number primary key": "SELECT c.table_name FROM gpkg_contents c "
    "JOIN sqlite_master m ON m.name = c.table_name AND m.type = 'table' WHERE (SELECT count(*) "
    "FROM pragma_table_info(c.table_name) i WHERE i.pk = 1 AND i.type = 'INTEGER') <> 1",
    "60: extensions name a table": "SELECT * FROM gpkg_extensions WHERE table_name NOT IN "
    "(SELECT name FROM sqlite_master)",
    "61: extensions name a column": "SELECT * FROM gpkg_extensions e WHERE e.column_name IS NOT NULL AND NOT EXISTS "
    "(SELECT 1 FROM pragma_table_info(e.table_name) c WHERE c.name = e.column_name)",
    "62: only registered extensions": "SELECT * FROM gpkg_extensions WHERE extension_name NOT IN "
    "('gpkg_rtree_index', 'gpkg_schema', 'gpkg_metadata', 'gpkg_related_tables')",
    "63: extensions say where they are defined": "SELECT * FROM gpkg_extensions WHERE definition NOT LIKE 'http%'",
    "64: scope": "SELECT * FROM gpkg_extensions WHERE scope NOT IN ('read-write', 'write-only')",
    "75: an index of a layer is a registered extension": "SELECT g.table_name FROM gpkg_geometry_columns g WHERE "
    "NOT EXISTS (SELECT 1 FROM gpkg_extensions e WHERE e.table_name = g.table_name AND "
    "e.column_name = g.column_name AND e.extension_name = 'gpkg_rtree_index' AND e.scope = 'write-only')",
    "77: every layer has its index": "SELECT table_name FROM gpkg_geometry_columns WHERE "
    "'rtree_' || table_name || '_' || column_name NOT IN (SELECT name FROM sqlite_master)",
    "94: scope of metadata": "SELECT * FROM gpkg_metadata WHERE md_scope <> 'dataset'",
    "96, 97: metadata is of the whole file": "SELECT * FROM gpkg_metadata_reference "
    "WHERE reference_scope <> 'geopackage' OR table_name IS NOT NULL OR column_name IS NOT NULL",
    "101: metadata referred to is there": "SELECT * FROM gpkg_metadata_reference "
    "WHERE md_file_id NOT IN (SELECT id FROM gpkg_metadata)",
    "104: described tables are contents": "SELECT table_name FROM gpkg_data_columns "
    "WHERE table_name NOT IN (SELECT table_name FROM gpkg_contents)",
    "105: described columns are there": "SELECT d.* FROM gpkg_data_columns d WHERE NOT EXISTS "
    "(SELECT 1 FROM pragma_table_info(d.table_name) c WHERE c.name = d.column_name)",
    "106: code lists named are there": "SELECT * FROM gpkg_data_columns WHERE constraint_name IS NOT NULL "
    "AND constraint_name NOT IN (SELECT constraint_name FROM gpkg_data_column_constraints)",
    "108, 113, 114: code lists are lists of values": "SELECT * FROM gpkg_data_column_constraints "
    "WHERE constraint_type <> 'enum' OR value IS NULL OR coalesce(min, max, min_is_inclusive, max_is_inclusive) "
    "IS NOT NULL",
    "140, 141: both tables of metadata and schema are registered": "SELECT column1 FROM (VALUES "
    "('gpkg_metadata', 'gpkg_metadata'), ('gpkg_metadata_reference', 'gpkg_metadata'), "
    "('gpkg_data_columns', 'gpkg_schema'), ('gpkg_data_column_constraints', 'gpkg_schema')) v WHERE NOT EXISTS "
    "(SELECT 1 FROM gpkg_extensions e WHERE (e.table_name, e.extension_name, e.scope) "
    "= (v.column1, v.column2, 'read-write'))",
    "RTE: the table of relations and every mapping is registered": "SELECT mapping_table_name FROM "
    "(SELECT mapping_table_name FROM gpkgext_relations UNION SELECT 'gpkgext_relations') WHERE NOT EXISTS "
    "(SELECT 1 FROM gpkg_extensions WHERE table_name = mapping_table_name AND "
    "extension_name = 'gpkg_related_tables' AND scope = 'read-write' AND column_name IS NULL)",
    "RTE: both tables of a relation are contents": "SELECT * FROM gpkgext_relations WHERE "
    "base_table_name NOT IN (SELECT table_name FROM gpkg_contents) OR "
    "related_table_name NOT IN (SELECT table_name FROM gpkg_contents)",
    "RTE: both primary columns are primary keys": "SELECT r.* FROM gpkgext_relations r WHERE NOT EXISTS "
    "(SELECT 1 FROM pragma_table_info(r.base_table_name) WHERE name = base_primary_column AND pk = 1) OR NOT EXISTS "
    "(SELECT 1 FROM pragma_table_info(r.related_table_name) WHERE name = related_primary_column AND pk = 1)",
    "RTE: a mapping has base_id and related_id": "SELECT r.* FROM gpkgext_relations r WHERE (SELECT count(*) "
    "FROM pragma_table_info(r.mapping_table_name) WHERE name IN ('base_id', 'related_id') AND type = 'INTEGER') <> 2",
    "RTE: a relation is called as its related table is": "SELECT r.* FROM gpkgext_relations r JOIN gpkg_contents c "
    "ON c.table_name = r.related_table_name WHERE r.relation_name <> c.data_type",
}
COLUMNS = {
    "10, gpkg_spatial_ref_sys": "srs_name srs_id organization organization_coordsys_id definition description",
    "13, gpkg_contents": "table_name data_type identifier description last_change min_x min_y max_x max_y srs_id",
    "21, gpkg_geometry_columns": "table_name column_name geometry_type_name srs_id z m",
    "58, gpkg_extensions": "table_name column_name extension_name definition scope",
    "93, gpkg_metadata": "id md_scope md_standard_uri mime_type metadata",
    "95, gpkg_metadata_reference": "reference_scope table_name column_name row_id_value timestamp md_file_id "
    "md_parent_id",
    "103, gpkg_data_columns": "table_name column_name name title description mime_type constraint_name",
    "107, gpkg_data_column_constraints": "constraint_name constraint_type value min min_is_inclusive max "
    "max_is_inclusive description",
    "RTE, gpkgext_relations": "id base_table_name base_primary_column related_table_name related_primary_column "
    "relation_name mapping_table_name",
}


@pytest.fixture(scope="module")
def stand_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("stand") / "stand.gpkg"
    write_geopackage(stand_example(), path)
    return path


@pytest.fixture(scope="module")
def change_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("change")
    write_change(compare_surveys(read_survey(TWO_SURVEYS / "old"), read_survey(TWO_SURVEYS / "new")), folder)
    return folder / "change.gpkg"


@pytest.fixture(scope="module", params=["stand_file", "change_file"])
def path(request: pytest.FixtureRequest) -> Path:
    return Path(request.getfixturevalue(request.param))


@pytest.fixture(scope="module")
def database(path: Path) -> Iterator[sqlite3.Connection]:
    with closing(sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True)) as opened:
        yield opened


def test_requirements_1_to_3_the_file_is_sqlite_with_the_mark_and_version_of_geopackage(
    path, database
) -> None:
    assert path.read_bytes()[:16] == b"SQLite format 3\0"
    assert database.execute("PRAGMA application_id").fetchone() == (int.from_bytes(b"GPKG"),)
    assert database.execute("PRAGMA user_version").fetchone() == (10300,)
    assert path.suffix == ".gpkg"


@pytest.mark.parametrize("requirement", COLUMNS)
def test_required_tables_have_the_required_columns(database, requirement) -> None:
    table = requirement.rpartition(" ")[2]
    found = [name for (name,) in database.execute("SELECT name FROM pragma_table_info(?)", (table,))]
    assert found == COLUMNS[requirement].split()


@pytest.mark.parametrize("requirement", BREAKS)
def test_no_row_breaks_the_requirement(database, requirement) -> None:
    assert database.execute(BREAKS[requirement]).fetchall() == []


def test_requirement_5_columns_have_the_types_of_the_standard(database) -> None:
    allowed = re.compile(r"INTEGER|REAL|DATE|BOOLEAN|DATETIME|TEXT(\(\d+\))?|POINT|MULTIPOLYGON")
    types = database.execute(
        "SELECT DISTINCT i.type FROM gpkg_contents c, pragma_table_info(c.table_name) i"
    ).fetchall()
    assert [kind for (kind,) in types if not allowed.fullmatch(kind)] == []


def test_requirements_19_and_33_geometries_are_geopackage_binaries_of_the_layers_reference_system(
    database,
) -> None:
    layers = database.execute("SELECT table_name, column_name, srs_id FROM gpkg_geometry_columns").fetchall()
    assert layers
    for table, column, srs_id in layers:
        heads = database.execute(
            f"SELECT substr({column}, 1, 8) FROM {table} WHERE {column} IS NOT NULL"  # noqa: S608
        ).fetchall()
        for (head,) in heads:
            order = "little" if head[3] & 1 else "big"
            assert (head[:3], int.from_bytes(head[4:8], order)) == (b"GP\0", srs_id)


def test_contents_have_the_bounds_and_the_index_the_rows_of_the_layer(database) -> None:
    # Requirement 77 and the bounds of clause 1.1.3.1.1, which are informative.
    layers = database.execute(
        "SELECT table_name, column_name, min_x, max_x, min_y, max_y FROM gpkg_geometry_columns "
        "JOIN gpkg_contents USING (table_name)"
    ).fetchall()
    for table, column, *bounds in layers:
        (rows,) = database.execute(f"SELECT count({column}) FROM {table}").fetchone()  # noqa: S608
        count, *extent = database.execute(
            f"SELECT count(*), min(minx), max(maxx), min(miny), max(maxy) FROM rtree_{table}_{column}"  # noqa: S608
        ).fetchone()
        assert count == rows
        assert extent == pytest.approx(bounds, abs=1.0)  # the index holds single precision


def test_the_requirement_list_finds_faults(stand_file, tmp_path) -> None:
    broken = tmp_path / "broken.gpkg"
    broken.write_bytes(stand_file.read_bytes())
    with closing(sqlite3.connect(broken)) as database:
        database.execute("DELETE FROM gpkg_extensions WHERE table_name IN ('plots', 'compartments_plots')")
        database.execute("DELETE FROM gpkg_data_column_constraints WHERE constraint_name = 'plots_state'")
        database.execute(
            "UPDATE gpkg_contents SET last_change = 'today', srs_id = 9 WHERE table_name = 'plots'"
        )
        found = {name.partition(":")[0] for name, sql in BREAKS.items() if database.execute(sql).fetchall()}
    assert found == {"7", "15", "16", "26, 146", "75", "106", "RTE"}


@pytest.mark.parametrize(
    ("file", "relations"), [("stand_file", STAND_RELATIONS), ("change_file", CHANGE_RELATIONS)]
)
def test_a_mapping_holds_exactly_the_pairs_of_rows_with_one_key(request, file, relations) -> None:
    with closing(sqlite3.connect(request.getfixturevalue(file))) as database:
        assert [
            row[0] for row in database.execute("SELECT mapping_table_name FROM gpkgext_relations ORDER BY id")
        ] == [relation.mapping for relation in relations]
        filled = {relation.mapping for relation in relations if _pairs(database, relation)}
    assert filled >= {relation.mapping for relation in relations[:2]} & {
        "compartments_plots",
        "compartments_classes",
    }


def _pairs(database: sqlite3.Connection, relation: Relation) -> int:
    """Compare a mapping with the keys of both tables, worked out here; return how many pairs there are."""
    keys = {
        table: dict(database.execute(f"SELECT fid, {relation.key} FROM {table}").fetchall())  # noqa: S608
        for table in (relation.base, relation.related)
    }
    expected = {
        (one, other)
        for one, key in keys[relation.base].items()
        for other, value in keys[relation.related].items()
        if key is not None and key == value
    }
    rows = database.execute(f"SELECT id, base_id, related_id FROM {relation.mapping}").fetchall()  # noqa: S608
    assert {row[1:] for row in rows} == expected
    assert len({row[0] for row in rows}) == len(rows) == len(expected)
    return len(rows)


def test_the_validator_of_gdal_finds_no_fault(path) -> None:
    needs_module("osgeo_utils.samples.validate_gpkg", "python3-gdal")
    run = subprocess.run(
        [SYSTEM_PYTHON, VALIDATOR, "-v", "-k", "--extra", "--warning-as-error", path],
        capture_output=True, text=True, check=False, env=plain_environment(),
    )  # fmt: skip
    assert run.returncode == 0, run.stdout + run.stderr
    for part in ("gpkg_schema", "relations", "gpkg_extensions", "gpkg_metadata"):
        assert f"Checking {part}" in run.stdout


def test_gdal_lists_layers_relations_code_lists_and_titles(stand_file) -> None:
    needs_module("osgeo.gdal", "python3-gdal")
    script = (
        "import json, sys; from osgeo import gdal; gdal.UseExceptions()\n"
        "data = gdal.OpenEx(sys.argv[1], gdal.OF_VECTOR)\n"
        "named = [data.GetRelationship(name) for name in data.GetRelationshipNames() or ()]\n"
        "plots = data.GetLayerByName('plots').GetLayerDefn()\n"
        "state, stems = (plots.GetFieldDefn(plots.GetFieldIndex(name)) for name in ('state', 'stems_per_ha'))\n"
        "print(json.dumps({'layers': [data.GetLayer(i).GetName() for i in range(data.GetLayerCount())],\n"
        " 'relations': [(r.GetLeftTableName(), r.GetRightTableName(), r.GetMappingTableName()) for r in named],\n"
        " 'version': int(gdal.VersionInfo()), 'alias': stems.GetAlternativeName(), 'domain': state.GetDomainName(),\n"
        " 'words': sorted(data.GetFieldDomain(state.GetDomainName()).GetEnumeration())}))"
    )
    run = subprocess.run(
        [SYSTEM_PYTHON, "-c", script, stand_file],
        capture_output=True, text=True, check=False, env=plain_environment(),
    )  # fmt: skip
    assert run.returncode == 0, run.stderr
    told = json.loads(run.stdout)
    assert {"compartments", "plots", "trees", "findings", "ledger"} < set(told["layers"])
    assert {tuple(entry) for entry in told["relations"]} == {
        (relation.base, relation.related, relation.mapping) for relation in STAND_RELATIONS
    }
    assert told["alias"] == (
        "Stems (1/ha)" if told["version"] >= 3_070_000 else ""
    )  # older GDAL reads no aliases
    assert told["domain"] == "plots_state"
    assert told["words"] == ["empty", "lost", "measured", "unvisited"]
