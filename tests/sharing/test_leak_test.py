"""The leak test finds every kind of secret in every kind of file, and nothing where there is none.

Secrets are put back by hand into a folder that was shared; nothing here uses the code that hid them.
"""

from __future__ import annotations

import csv
import json
import re
import sqlite3
import struct
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from shutil import copytree
from typing import Any

import numpy as np
import openpyxl
import pyarrow as pa
import pyarrow.parquet
import pytest
from pyproj import Transformer
from reportlab.pdfgen.canvas import Canvas

from plotmap.fielddata import read_survey
from plotmap.model.sharing import Hidden, Secrets
from plotmap.output.webmap.packing import packed, unpacked
from plotmap.sharing import leaks, secrets_of
from plotmap.workflow import compile_survey, share
from tests.sharing.hostile_survey import CREWS, PLOTS, hostile_survey

POSITION, PLOT = "a position", "an identifier of a plot"
CREW, SPECIES = "the name of a crew or instrument", "the name of a sensitive species"
EAST, NORTH = 499_951.3, 5_600_152.7
"""Plot QP-2x of the survey."""
LON, LAT = Transformer.from_crs("EPSG:32630", "EPSG:4326", always_xy=True).transform(EAST, NORTH)


@dataclass(frozen=True)
class Shared:
    """A folder that was shared, and what must not be in it."""

    folder: Path
    secrets: Secrets


@pytest.fixture(scope="module")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Shared:
    survey = hostile_survey(tmp_path_factory.mktemp("survey") / "wood")
    read = read_survey(survey)
    share(survey, "managers")
    secrets = secrets_of(read, compile_survey(read), Hidden(written=frozenset({"elm", "ellm"})))
    return Shared(survey / "shared_managers", secrets)


@pytest.fixture
def copied(shared: Shared, tmp_path: Path) -> Shared:
    """Return a copy that a test may put a secret into."""
    return Shared(copytree(shared.folder, tmp_path / "copy"), shared.secrets)


def _found(shared: Shared) -> set[tuple[str, str]]:
    return {(leak.file, leak.kind) for leak in leaks(shared.folder, shared.secrets, unpacked)}


def test_a_shared_folder_has_no_leak(shared: Shared) -> None:
    assert _found(shared) == set()


def test_the_secrets_are_those_of_the_survey(shared: Shared) -> None:
    secrets = shared.secrets
    assert secrets.plots == set(PLOTS)
    assert secrets.crews >= {*CREWS, "Quillcaliper-7", "K9"}
    assert secrets.species == {"elm", "ellm", "Ulmus glabra", "wych elm <b>", "Éßen&elm"}
    assert [EAST, NORTH] in np.round(secrets.positions, 1).tolist()
    assert len(secrets.positions) == len(PLOTS) + 56  # plots, and stems with azimuth and distance


# Positions in every form and file.


def _edit_csv(path: Path, column: str, value: str) -> None:
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.reader(file))
    rows[1][rows[0].index(column)] = value
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows(rows)


def test_a_position_in_a_table_is_found(copied: Shared) -> None:
    path = copied.folder / "tables" / "plots.csv"
    _edit_csv(path, "easting", f"{EAST:.2f}")
    assert _found(copied) == set()  # one coordinate of one plot says nothing
    _edit_csv(path, "northing", f"{NORTH:.1f}")
    assert _found(copied) == {("tables/plots.csv", POSITION)}


def test_a_position_far_enough_off_is_none(copied: Shared) -> None:
    path = copied.folder / "tables" / "plots.csv"
    _edit_csv(path, "easting", f"{EAST + 0.6:.2f}")
    _edit_csv(path, "northing", f"{NORTH + 0.6:.2f}")
    assert _found(copied) == set()


def test_eastings_alone_are_found_where_a_column_holds_them_all(copied: Shared) -> None:
    eastings = sorted(set(copied.secrets.positions[: len(PLOTS), 0].tolist()))
    few = Shared(copied.folder, _only_plots(copied.secrets))
    (few.folder / "tables" / "eastings.csv").write_text("x\n" + "\n".join(map(str, eastings)) + "\n")
    assert _found(few) == {("tables/eastings.csv", POSITION)}


def _only_plots(secrets: Secrets) -> Secrets:
    """Return secrets without positions of stems."""
    from dataclasses import replace  # noqa: PLC0415

    return replace(secrets, positions=secrets.positions[: len(PLOTS)])


@pytest.mark.parametrize(
    "text",
    [
        f"seen at {EAST} / {NORTH}",
        f"seen at {LAT:.6f}, {LON:.6f}",
        f"lon={LON:.7f};lat={LAT:.7f}",
        f"E {EAST:.1f}".replace(".", ",") + f" N {NORTH:.1f}".replace(".", ","),
    ],
)
def test_a_position_in_a_sentence_is_found(copied: Shared, text: str) -> None:
    about = copied.folder / "about_sharing.txt"
    about.write_text(about.read_text("utf-8") + text + "\n", "utf-8")
    assert _found(copied) == {("about_sharing.txt", POSITION)}


def _change_map(folder: Path, change: Callable[[dict[str, Any]], None]) -> None:
    """Unpack the data of the map, change them and pack them again."""
    path = folder / "map.html"
    page = path.read_text("utf-8")
    start, data, end = re.split(r'(?<=id="survey-data">)([^<]*)', page, maxsplit=1)
    content = unpacked(data.strip())
    change(content)
    path.write_text(start + packed(content) + end, "utf-8")


def _steps(values: list[float], unit: float) -> list[int]:
    return np.diff(np.rint(np.array(values) * unit).astype(np.int64), prepend=0).tolist()


def test_positions_as_steps_in_the_packed_map_are_found(copied: Shared) -> None:
    def change(content: dict[str, Any]) -> None:
        lon, lat = np.cumsum(content["plots"]["lon"]) / 1e6, np.cumsum(content["plots"]["lat"]) / 1e6
        lon[3], lat[3] = LON, LAT
        content["plots"]["lon"], content["plots"]["lat"] = _steps(list(lon), 1e6), _steps(list(lat), 1e6)

    _change_map(copied.folder, change)
    assert _found(copied) == {("map.html", POSITION)}


def test_positions_in_tenths_of_a_metre_in_the_packed_map_are_found(copied: Shared) -> None:
    def change(content: dict[str, Any]) -> None:
        content["hidden"] = {"x": _steps([500_000.0, EAST], 10), "y": _steps([5_600_000.0, NORTH], 10)}

    _change_map(copied.folder, change)
    assert _found(copied) == {("map.html", POSITION)}


def _sql(folder: Path, statement: str, values: tuple[object, ...] = ()) -> None:
    with closing(sqlite3.connect(folder / "stand.gpkg")) as database, database:
        database.execute(statement, values)


def test_a_position_in_the_geometry_of_a_layer_is_found(copied: Shared) -> None:
    with closing(sqlite3.connect(copied.folder / "stand.gpkg")) as database:
        (blob,) = database.execute("SELECT geom FROM plots LIMIT 1").fetchone()
    assert struct.unpack_from("<BI", blob, 8) == (1, 1)  # little-endian WKB of a point behind the header
    _sql(
        copied.folder,
        "CREATE TABLE kept AS SELECT ? AS shape",
        (blob[:13] + struct.pack("<2d", EAST, NORTH),),
    )
    assert _found(copied) == {("stand.gpkg", POSITION)}


def test_a_position_and_a_name_on_a_freed_page_are_found(copied: Shared) -> None:
    _sql(copied.folder, "CREATE TABLE gone (shape BLOB, said TEXT)")
    secret = struct.pack(">2d", EAST, NORTH)
    rows = [(secret, "Warden Blot") for _ in range(200)]
    with closing(sqlite3.connect(copied.folder / "stand.gpkg")) as database, database:
        database.execute("PRAGMA secure_delete = OFF")
        database.executemany("INSERT INTO gone VALUES (?, ?)", rows)
    with closing(sqlite3.connect(copied.folder / "stand.gpkg")) as database, database:
        database.execute("PRAGMA secure_delete = OFF")
        database.execute("DROP TABLE gone")
    assert secret in (copied.folder / "stand.gpkg").read_bytes()
    assert _found(copied) == {("stand.gpkg", POSITION), ("stand.gpkg", CREW)}


def test_a_position_in_a_workbook_is_found(copied: Shared) -> None:
    book = openpyxl.load_workbook(copied.folder / "tables.xlsx")
    book.worksheets[1]["B60"], book.worksheets[1]["F60"] = EAST, NORTH
    book.save(copied.folder / "tables.xlsx")
    assert _found(copied) == {("tables.xlsx", POSITION)}


def test_positions_in_files_on_request_are_found(copied: Shared) -> None:
    shape = struct.pack("<BI2d", 1, 1, EAST, NORTH)
    pa.parquet.write_table(pa.table({"geometry": [shape]}), copied.folder / "plots.parquet")
    feature = {"type": "Point", "coordinates": [LON, LAT]}
    (copied.folder / "plots.geojson").write_text(json.dumps(feature))
    assert _found(copied) == {("plots.parquet", POSITION), ("plots.geojson", POSITION)}


def test_position_and_names_in_a_pdf_are_found(copied: Shared) -> None:
    page = Canvas(str(copied.folder / "report.pdf"), pageCompression=1)
    page.drawString(72, 700, f"{EAST:.1f} {NORTH:.1f}, Ulmus glabra, Warden Blot, plot QP-2x")
    page.save()
    assert _found(copied) == {("report.pdf", kind) for kind in (POSITION, SPECIES, CREW, PLOT)}


# Names in every form and file.


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("elm", SPECIES),
        ("ULMUS  GLABRA", SPECIES),
        ("a group of Úlmus glabra here", SPECIES),
        ("essen&ELM", SPECIES),
        ("two wych elm <b> fell", SPECIES),
        ("ellm", SPECIES),
        ("Zoe “Zed” Quill", None),  # other quotation marks are another name
        ('by zoë "zed" quill', CREW),
        ("with Quillcaliper-7", CREW),
        ("K9", CREW),
        ("see qp-7x.", PLOT),
        ("elmira is a town", None),
        ("helm", None),
    ],
)
def test_a_name_in_a_cell_is_found_between_word_boundaries(
    copied: Shared, text: str, kind: str | None
) -> None:
    _edit_csv(copied.folder / "tables" / "compartments.csv", "name", text)
    assert _found(copied) == ({("tables/compartments.csv", kind)} if kind else set())


def test_a_name_in_the_packed_map_is_found(copied: Shared) -> None:
    def change(content: dict[str, Any]) -> None:
        content["species"]["words"][0] = "Ulmus glabra"

    _change_map(copied.folder, change)
    assert _found(copied) == {("map.html", SPECIES)}


@pytest.mark.parametrize(
    "text",
    [
        "<p>wych elm &lt;b&gt;</p>",
        '<p title="&Eacute;&szlig;en&amp;elm">x</p>',
        "<!-- elm -->",
        "<p>&#69;lm</p>",
        '<p>{"a": "\\u00c9\\u00dfen&amp;elm"}</p>',
    ],
)
def test_a_name_in_a_page_is_found_however_it_is_escaped(copied: Shared, text: str) -> None:
    page = copied.folder / "map.html"
    page.write_text(page.read_text("utf-8").replace("</body>", f"{text}</body>"), "utf-8")
    assert _found(copied) == {("map.html", SPECIES)}


def test_a_crew_in_the_metadata_of_the_geopackage_is_found(copied: Shared) -> None:
    with closing(sqlite3.connect(copied.folder / "stand.gpkg")) as database, database:
        (text,) = database.execute("SELECT metadata FROM gpkg_metadata").fetchone()
        said = json.loads(text) | {"by": CREWS[0]}
        database.execute("UPDATE gpkg_metadata SET metadata = ?", (json.dumps(said),))
    assert ("stand.gpkg", CREW) in _found(copied)


def test_a_column_named_after_a_species_is_found(copied: Shared) -> None:
    _sql(copied.folder, 'ALTER TABLE ledger ADD COLUMN "elm" REAL')
    assert ("stand.gpkg", SPECIES) in _found(copied)


def test_a_name_in_a_hidden_part_of_a_workbook_is_found(copied: Shared) -> None:
    book = openpyxl.load_workbook(copied.folder / "tables.xlsx")
    book.properties.creator = "Warden Blot"
    book.create_sheet("very hidden").sheet_state = "veryHidden"
    book["very hidden"]["C3"] = "QP-2x"
    book.save(copied.folder / "tables.xlsx")
    assert _found(copied) == {("tables.xlsx", CREW), ("tables.xlsx", PLOT)}


def test_a_name_of_a_file_is_found_without_repeating_it(copied: Shared) -> None:
    (copied.folder / "wych elm b.txt").write_text("x")
    (copied.folder / "elm.txt").write_text("x")
    found = leaks(copied.folder, copied.secrets, unpacked)
    assert {(leak.file, leak.kind) for leak in found} == {("(name of a file)", SPECIES)}


@pytest.mark.parametrize("name", ["picture.png", "unknown", "broken.gpkg", "broken.xlsx", "broken.pdf"])
def test_a_file_that_cannot_be_searched_is_a_leak(copied: Shared, name: str) -> None:
    (copied.folder / name).write_bytes(b"\x89PNG\r\n")
    assert _found(copied) == {(name, "a file that cannot be searched")}


@pytest.mark.parametrize("crew", ["north", "oak"])
def test_a_crew_called_like_a_word_of_the_map_or_a_species_stops_nothing(tmp_path: Path, crew: str) -> None:
    survey = hostile_survey(tmp_path / "wood")
    plots = survey / "plots.csv"
    plots.write_text(plots.read_text("utf-8").replace(CREWS[1], crew), "utf-8")
    assert crew in set(read_survey(survey).plots["crew"])
    assert share(survey, "managers").folder.is_dir()
