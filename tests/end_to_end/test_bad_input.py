"""Whatever a user can do wrong is told in words: where, what, what is allowed, what to do; never a traceback."""

from __future__ import annotations

import os
import shutil
import subprocess
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import geopandas as gpd
import polars as pl
import pyogrio
import pytest
from shapely.geometry import Point

from tests.end_to_end.command import assert_refused, plotmap, snapshot
from tests.folder_example import (
    CRS,
    FILES,
    TALLIES,
    compartments_example,
    edited,
    folder_example,
    settings_text,
    write_book,
)

RUBBISH = bytes(range(256)) * 16
TEXT = FILES["trees.csv"]


# ---- a wrong call or wrong settings: exit code 2


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    for command in ("run", "check"):
        outcome = plotmap(command, "nowhere", cwd=tmp_path)
        assert_refused(
            outcome, 2, "plotmap: nowhere: there is no such folder. Give the folder that holds survey.toml."
        )


def test_a_file_in_the_place_of_the_folder(tmp_path: Path) -> None:
    folder_example(tmp_path)
    outcome = plotmap("run", "plots.csv", cwd=tmp_path)
    assert_refused(outcome, 2, "plots.csv: this is a file, but must be a folder.", f"it lies in, {tmp_path}.")


def test_no_folder_at_all_and_what_click_refuses(tmp_path: Path) -> None:
    assert_refused(plotmap("run"), 2, "Missing argument 'SURVEY'")
    assert_refused(plotmap("fell", tmp_path), 2, "No such command 'fell'")
    assert_refused(plotmap("run", tmp_path, "--colour", "red"), 2, "No such option")
    assert_refused(plotmap("run", tmp_path, tmp_path), 2, "unexpected extra argument")


def test_a_folder_without_settings(tmp_path: Path) -> None:
    folder_example(tmp_path, {"survey.toml": None})
    assert_refused(
        plotmap("run", tmp_path), 2, "there is no survey.toml", '[plots]\ndesign = "circle"', "plotmap new"
    )


def test_settings_that_are_a_folder(tmp_path: Path) -> None:
    folder_example(tmp_path, {"survey.toml": None})
    (tmp_path / "survey.toml").mkdir()
    assert_refused(plotmap("run", tmp_path), 2, "survey.toml: this is a folder, but must be a file in TOML.")


_RINGS = 'design = "nested"\nnests = [{{radius_m = {}, min_dbh_cm = {}}}, {{radius_m = {}, min_dbh_cm = {}}}]'


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (RUBBISH, ["the file is no UTF-8 text", "Save it as UTF-8"]),
        (b"", ["[plots] is missing, but is needed"]),
        (b"[plots]\ndesign = circle\n", ["the file is no TOML", "line 2", "The line is: "]),
        (b"x = " + b"[" * 50_000, ["the file is no TOML", "Correct that place"]),
        (b'["\\u001b[31m"]\n', [r"\x1b[31m", "is no setting"]),
        (
            b'[survey]\nconfidence = 95\ncolour = 1\n[plots]\nradius_m = 1000\n[stems]\nbark = "none"\n',
            [
                "5 faults in the settings:",
                "survey.toml, [survey] confidence is 95, but must be less than or equal to 0.999.",
                "survey.toml, [survey] colour is no setting. Allowed here: areas, confidence, crs, title.",
                "survey.toml, [plots] design is missing, but is needed.",
                "survey.toml, [plots] radius_m is 1000, but must be less than or equal to 200.",
                "survey.toml, [stems] bark is 'none', but must be 'over' or 'under'.",
            ],
        ),
        (
            settings_text(survey='crs = "the usual one"').encode(),
            ["survey.toml, [survey] crs is 'the usual one', but must be a CRS that PROJ knows", "EPSG:32630"],
        ),
        (
            settings_text(plots=_RINGS.format(10, 30, 5, 10)).encode(),
            ["[plots]: nests must be in order: every ring wider and for thicker stems than the one before"],
        ),
        (
            settings_text(
                plots='design = "circle"\nradius_m = 12\nslope = ["horizontal", "ground"]'
            ).encode(),
            ["[plots] slope is ['horizontal', 'ground'], but must be 'horizontal' or 'ground'"],
        ),
        (
            settings_text(plots='design = "circle"\nradius_m = 12\nedge = ["inside", "mirage"]').encode(),
            ["[plots] edge is ['inside', 'mirage'], but must be 'whole', 'inside', 'mirage' or 'positions'"],
        ),
        (
            settings_text(plots=_RINGS.format(5, 10, 10, 30) + '\nedge = "positions"').encode(),
            ["[plots]: edge = 'positions' needs design = 'circle'"],
        ),
    ],
    ids=[
        "binary",
        "empty",
        "wrong TOML",
        "deep",
        "escape",
        "many faults",
        "CRS nonsense",
        "rings out of order",
        "two slopes",
        "two edges",
        "positions of rings",
    ],
)
def test_settings_that_cannot_be_used(tmp_path: Path, content: bytes, says: list[str]) -> None:
    assert_refused(plotmap("run", folder_example(tmp_path, {"survey.toml": content})), 2, *says)
    assert not (tmp_path / "results").exists()


# ---- wrong data: exit code 1, all findings listed


def _book(**sheets: list[list[object]]) -> Callable[[Path], None]:
    return lambda folder: write_book(folder / "trees.xlsx", sheets) and None


def _layer(frame: gpd.GeoDataFrame, name: str = "compartments.gpkg") -> Callable[[Path], None]:
    return lambda folder: pyogrio.write_dataframe(frame, folder / name, layer=name.rpartition(".")[0])


def _as_folder(folder: Path) -> None:
    (folder / "plots.csv").mkdir()


def _without_geometry(folder: Path) -> None:
    table = compartments_example().drop(columns="geometry")
    pyogrio.write_dataframe(table, folder / "compartments.gpkg", layer="compartments")


_BARS = "instrument,kind,date,zero_mm,bar_mm,bar_reading_mm\n"
DATA: dict[str, tuple[list[str], dict[str, str | bytes], Callable[[Path], None] | None, list[str]]] = {
    # name: files left out, files put in, what else is made, what is said in this order
    "no compartments": (
        ["compartments.gpkg"],
        {},
        None,
        ["table-missing", "no table compartments", "Put the polygons"],
    ),
    "no plots": (["plots.csv"], {}, None, ["table-missing", "no table plots", "Put a file"]),
    "no stems": (["trees.csv"], {}, None, ["table-missing", "neither trees nor tallies", "Put a file"]),
    "folder for plots": (["plots.csv"], {}, _as_folder, ["plots.csv: this is a folder, but must be a file"]),
    "empty file": (
        [],
        {"trees.csv": b""},
        None,
        ["trees.csv: the file is empty", "save it again"],
    ),
    "heading only": (
        [],
        {"plots.csv": "plot,easting,northing\n"},
        None,
        ["no-rows", "plots.csv", "Fill the table"],
    ),
    "no heading": (
        [],
        {"trees.csv": "\n" + TEXT.split("\n", 1)[1]},
        None,
        ["trees.csv: the first row must hold the headings"],
    ),
    "UTF-16": (
        [],
        {"trees.csv": TEXT.encode("utf-16")},
        None,
        ["trees.csv: the file is UTF-16, but must be UTF-8"],
    ),
    "latin-1 umlaut": (
        [],
        {"trees.csv": edited("trees.csv", (9, "remark", "Föhre")).encode("latin-1")},
        None,
        ["trees.csv: line 9 is not UTF-8 text: save the file as CSV UTF-8"],
    ),
    "zero byte": ([], {"trees.csv": TEXT.encode() + b"P1,\x00"}, None, ["trees.csv: ", "zero byte"]),
    "quote never closed": (
        [],
        {"trees.csv": TEXT.replace("P1,6,", 'P1,"6,', 1)},
        None,
        ["trees.csv: row 7 cannot be read", "a double quote that opens a cell must close it"],
    ),
    "headings twice": (
        [],
        {"trees.csv": TEXT.replace("d2_cm", "d1_cm", 1)},
        None,
        ["column-twice", "the headings d1_cm and d1_cm both stand for d1_cm", "Keep one"],
    ),
    "ten thousand columns": (
        [],
        {"trees.csv": ",".join(f"h{i}" for i in range(10_000)) + "\n" + "1," * 9_999 + "1\n"},
        None,
        ["column-missing", "there is no column plot", "column-unknown (1)", "10000 columns are not used"],
    ),
    "a million letters": (
        [],
        {"trees.csv": edited("trees.csv", (2, "d1_cm", "x" * 1_000_000))},
        None,
        [
            "number-unreadable",
            "row 2 (plot P1): d1_cm is xxx",
            "but must be a number",
            "Write the number alone",
        ],
    ),
    "no numbers": (
        [],
        {
            "trees.csv": edited(
                "trees.csv",
                (2, "d1_cm", "NaN"),
                (3, "d1_cm", "inf"),
                (4, "d1_cm", "1e999"),
                (5, "d1_cm", "-inf"),
            )
        },
        None,
        ["number-unreadable (4)", "row 2 (plot P1): d1_cm is NaN, but must be a number", "1e999", "-inf"],
    ),
    "coordinates that are none": (
        [],
        {"plots.csv": edited("plots.csv", (2, "easting", "1e300"), (3, "northing", "NaN"))},
        None,
        [
            "number-unreadable",
            "northing is NaN",
            "value-out-of-range",
            "easting is 1e300, outside -3e+07 to 3e+07 m",
        ],
    ),
    "plots only blanks": (
        [],
        {"plots.csv": edited("plots.csv", *[(row, "plot", "  ") for row in range(2, 8)])},
        None,
        ["value-missing (6)", "plots.csv, row 2", "plot is blank", "Fill the cell"],
    ),
    "escapes in the data": (
        [],
        {"trees.csv": edited("trees.csv", (2, "plot", "\x1b[2J\x07"))},
        None,
        ["stem-without-plot", r"plot \x1b[2J\x07 is not in the plots table"],
    ),
    "no such sheet": (
        ["trees.csv"],
        {},
        _book(stems=[["plot"]], notes=[["x"]]),
        ["trees.xlsx: it has no sheet or layer trees; it has: stems, notes"],
    ),
    "blank sheet": (
        ["trees.csv"],
        {},
        _book(trees=[]),
        ["trees.xlsx, sheet trees: row 1", "must hold the headings"],
    ),
    "points for compartments": (
        ["compartments.gpkg"],
        {},
        _layer(compartments_example().set_geometry([Point(499_850, 5_600_050)] * 3, crs=CRS)),
        [
            "geometry-not-polygon (3)",
            "row 1 (compartment A): compartment A is a point, but must be a polygon",
        ],
    ),
    "layer without geometry": (
        ["compartments.gpkg"],
        {},
        _without_geometry,
        ["compartments.gpkg, layer compartments: compartments need polygons, but it has none"],
    ),
    "layer in feet": (
        ["compartments.gpkg"],
        {},
        _layer(compartments_example().set_crs("EPSG:2263", allow_override=True)),
        ["crs-not-metric", "New York Long Island (ftUS)", "must be projected, in metres", "[survey] crs"],
    ),
    "CRS of the settings in degrees": (
        [],
        {"survey.toml": settings_text(survey='crs = "EPSG:4326"')},
        None,
        [
            "crs-not-metric",
            "survey.toml: [survey] crs is EPSG:4326 (WGS 84), but must be projected, in metres",
        ],
    ),
    "readings that no tree has": (
        [],
        {
            "trees.csv": edited(
                "trees.csv",
                (2, "d1_cm", "0"),
                (3, "d1_cm", "-12"),
                (4, "d1_cm", "1e9"),
                (5, "d2_cm", "thick"),
                (6, "girth_cm", "0"),
            )
        },
        None,
        [
            "row 5 (plot P1): d2_cm is thick, but must be a number",
            "value-out-of-range (4)",
            "row 2 (plot P1): d1_cm is 0, outside 0.5 to 400 cm",
            "row 3 (plot P1): d1_cm is -12, outside 0.5 to 400 cm",
            "row 4 (plot P1): d1_cm is 1e9, outside 0.5 to 400 cm",
            "row 6 (plot P1): girth_cm is 0, outside 1.5 to 1250 cm",
        ],
    ),
    "check bar of nought": (
        [],
        {"instruments.csv": _BARS + "K1,caliper,2026-05-01,1,0,300\nK2,caliper,2026-05-01,1,300,0\n"},
        None,
        ["value-out-of-range (2)", "bar_mm is 0, outside 10 to 3000 mm", "bar_reading_mm is 0, outside"],
    ),
    "check bar that reads its zero": (
        [],
        {"instruments.csv": _BARS + "K1,caliper,2026-05-01,50,300,50\n"},
        None,
        ["bar-unusable", "a bar of 300.0 mm that reads 0.0 mm less the zero gives no gain from 0.8 to 1.25"],
    ),
    "two checks on one day": (
        [],
        {"instruments.csv": _BARS + "K1,caliper,2026-05-01,1,,\nK1,caliper,2026-05-01,2,,\n"},
        None,
        ["instrument-check-twice", "K1 has 2 checks on 2026-05-01 (rows 2, 3) that disagree on the zero"],
    ),
    "azimuths off the compass": (
        [],
        {"trees.csv": edited("trees.csv", (2, "azimuth_deg", "400"), (3, "azimuth_deg", "-10"))},
        None,
        ["azimuth_deg is 400, outside 0 to 360", "azimuth_deg is -10, outside 0 to 360"],
    ),
    "stems that count five times or never": (
        [],
        {
            "trees.csv": edited("trees.csv", (2, "times", "5"), (3, "times", "0")),
            "survey.toml": settings_text(plots='design = "circle"\nradius_m = 12.62\nedge = "mirage"'),
        },
        None,
        ["times is 5, outside 1 to 4", "times is 0, outside 1 to 4"],
    ),
    "slope twice": (
        [],
        {"plots.csv": edited("plots.csv", (3, "slope_deg", "3"))},
        None,
        ["column-twice", "the headings slope_pct and slope_deg both stand for slope_pct", "Keep one"],
    ),
    "tallies without count": (
        [],
        {"tallies.csv": TALLIES.replace("count", "n")},
        None,
        ["there is no column count"],
    ),
}


@pytest.mark.parametrize("name", DATA)
def test_data_that_cannot_be_used(tmp_path: Path, name: str) -> None:
    left_out, put_in, make, says = DATA[name]
    files = {**{file: None for file in left_out if file in FILES}, **put_in}
    folder_example(tmp_path, files, with_compartments="compartments.gpkg" not in left_out)
    if make is not None:
        make(tmp_path)
    begun = time.monotonic()
    outcome = plotmap("check", tmp_path)
    assert_refused(outcome, 1, "Findings: ", *says, "A run would stop")
    assert "What to do: " in outcome.out
    assert time.monotonic() - begun < 15
    assert max(map(len, outcome.out.splitlines())) < 1500


def test_a_stem_outside_its_ring_is_a_finding_and_no_error(tmp_path: Path) -> None:
    folder_example(
        tmp_path,
        {
            "survey.toml": settings_text(plots=_RINGS.format(5, 10, 12, 60)),
            "trees.csv": edited("trees.csv", (2, "distance_m", "5.1")),
        },
    )
    outcome = plotmap("check", tmp_path)
    assert outcome.code == 0
    assert "row 2 (plot P1): the stem is 5.1 m from the centre, but the plot reaches 5.0 m" in outcome.out


def test_compartments_in_degrees_are_fine(tmp_path: Path) -> None:
    folder_example(tmp_path, compartments=compartments_example().to_crs("EPSG:4326"))
    assert plotmap("check", tmp_path).out == "No findings.\nNo errors: the survey can be run.\n"


def _damaged(path: Path) -> bytes:
    """Return the first half of a correct file of the format of the ending."""
    if path.suffix == ".xlsx":
        write_book(path, {path.stem: [["plot"], *[[f"P{i}"] for i in range(200)]]})
    elif path.suffix == ".parquet":
        pl.DataFrame({"plot": [f"P{i}" for i in range(200)]}).write_parquet(path)
    else:
        frame = compartments_example().rename(columns={"compartment": "compartmen"})
        pyogrio.write_dataframe(frame, path.with_suffix(".shp") if path.suffix == ".zip" else path)
        if path.suffix == ".zip":
            shutil.make_archive(str(path.with_suffix("")), "zip", path.parent, path.with_suffix(".shp").name)
            for beside in path.parent.glob(f"{path.stem}.*"):
                if beside != path:
                    beside.unlink()
    content = path.read_bytes()
    return content[: len(content) // 2]


FORMATS = ["trees.csv", "trees.tsv", "trees.txt", "trees.xlsx", "trees.parquet", "compartments.gpkg"]
FORMATS += [f"compartments.{ending}" for ending in ("geojson", "json", "shp", "zip", "parquet", "geoparquet")]


@pytest.mark.parametrize("name", FORMATS)
def test_binary_rubbish_under_every_ending(tmp_path: Path, name: str) -> None:
    table = name.partition(".")[0]
    folder_example(
        tmp_path, {"trees.csv": None} if table == "trees" else {}, with_compartments=table == "trees"
    )
    (tmp_path / name).write_bytes(RUBBISH)
    outcome = plotmap("run", tmp_path)
    assert_refused(
        outcome, 1, "ERROR file-unreadable (1)", f"  {name}", "What to do: Open the file", "Errors stopped"
    )
    assert "table-missing" not in outcome.out


@pytest.mark.parametrize("name", [name for name in FORMATS if not name.endswith((".csv", ".tsv", ".txt"))])
def test_a_file_cut_off_in_the_middle(tmp_path: Path, name: str) -> None:
    table = name.partition(".")[0]
    folder_example(
        tmp_path, {"trees.csv": None} if table == "trees" else {}, with_compartments=table == "trees"
    )
    if name.endswith((".json", ".geoparquet")):
        pytest.skip("the same reader as .geojson and .parquet")
    (tmp_path / name).write_bytes(_damaged(tmp_path / name))
    for beside in tmp_path.glob("compartments.*"):
        if beside.name != name and table == "compartments":
            beside.unlink()
    assert_refused(plotmap("check", tmp_path), 1, "ERROR ", name, "What to do: ")


def test_a_locked_workbook(tmp_path: Path) -> None:
    """[MS-CFB] 2.2: a workbook locked by a password is a compound file, not a zip file."""
    locked = bytes.fromhex("d0cf11e0a1b11ae1") + bytes(2048)
    folder_example(tmp_path, {"trees.csv": None, "trees.xlsx": locked})
    assert_refused(
        plotmap("check", tmp_path), 1, "trees.xlsx: the file is no workbook that can be opened", "save it"
    )


def test_all_faults_of_all_files_are_listed_at_once(tmp_path: Path) -> None:
    files = {
        "plots.csv": edited(
            "plots.csv", (3, "plot", "P1"), (4, "state", "mesured"), (5, "date", "15.5.2026")
        ),
        "trees.csv": edited("trees.csv", (2, "d1_cm", "900"), (3, "plot", "P9")),
        "species.csv": b"",
        "instruments.csv": "instrument,kind\nK1,caliper\n",
    }
    outcome = plotmap("check", folder_example(tmp_path, files))
    codes = ["choice-unknown", "column-missing", "date-unreadable", "file-unreadable", "plot-twice"]
    for code in [*codes, "stem-without-plot", "value-out-of-range"]:
        assert_refused(outcome, 1, f"ERROR {code} (")


# ---- results that cannot be written: exit code 2, nothing left behind


@pytest.fixture
def survey(tmp_path: Path) -> Path:
    """Make a correct survey in a folder of its own."""
    return folder_example(tmp_path / "survey")


def test_an_output_folder_inside_a_file(tmp_path: Path, survey: Path) -> None:
    (tmp_path / "file").write_text("mine")
    before = snapshot(tmp_path)
    outcome = plotmap("run", survey, "--out", tmp_path / "file" / "out")
    assert_refused(outcome, 2, f"{tmp_path}/file/out: its parent", "is a file", "Make the parent folder")
    assert snapshot(tmp_path) == before


def test_an_output_folder_that_is_a_file_or_whose_parent_is_missing(tmp_path: Path, survey: Path) -> None:
    (tmp_path / "file").write_text("mine")
    assert_refused(
        plotmap("run", survey, "--out", tmp_path / "file"), 2, "this is a file, but results are a folder"
    )
    assert_refused(plotmap("run", survey, "--out", tmp_path / "a" / "b"), 2, "its parent", "is not there")
    assert (tmp_path / "file").read_text() == "mine"


def test_an_output_folder_with_files_of_others(tmp_path: Path, survey: Path) -> None:
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "thesis.docx").write_text("mine")
    before = snapshot(tmp_path)
    outcome = plotmap("run", survey, "--out", tmp_path / "out")
    assert_refused(outcome, 2, "holds what plotmap did not write (thesis.docx)", "Name another folder")
    assert snapshot(tmp_path) == before


@pytest.mark.parametrize("up", ["", ".."])
def test_the_survey_folder_or_its_parent_as_output_folder(survey: Path, up: str) -> None:
    before = snapshot(survey)
    outcome = plotmap("run", survey, "--out", survey / up)
    assert_refused(outcome, 2, "this is the survey folder or holds it", "Name a folder of its own")
    assert snapshot(survey) == before


def test_findings_that_cannot_be_written(tmp_path: Path, survey: Path) -> None:
    assert_refused(
        plotmap("check", survey, "--findings", tmp_path), 2, "this is a folder, but findings go into a file"
    )
    outcome = plotmap("check", survey, "--findings", tmp_path / "a" / "f.csv")
    assert_refused(
        outcome, 2, "f.csv: the findings cannot be written", "Name a file in a folder that is there"
    )
    assert [path.name for path in tmp_path.iterdir()] == ["survey"]


def test_a_new_survey_where_none_can_be_laid_down(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("mine")
    assert_refused(
        plotmap("new", tmp_path / "file"), 2, "this is a file, but a survey is a folder. Name a folder."
    )
    assert_refused(
        plotmap("new", tmp_path / "a" / "b"), 2, "the survey cannot be laid down", "Name a folder that may"
    )
    assert [path.name for path in tmp_path.iterdir()] == ["file"]


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Callable[[str], Path]]:
    """Mount a file system in memory; skipped where that is not allowed."""
    place = tmp_path / "disk"
    place.mkdir()

    def mount(options: str) -> Path:
        call = ["mount", "-t", "tmpfs", "-o", options, "tmpfs", str(place)]
        try:
            done = subprocess.run(call, capture_output=True, text=True, check=False)
        except OSError as error:
            pytest.skip(f"nothing can be mounted here: {error}")
        if done.returncode:
            pytest.skip(f"nothing can be mounted here: {done.stderr.strip()}")
        return place

    yield mount
    if place.is_mount():
        subprocess.run(["umount", str(place)], check=True)


@pytest.mark.parametrize("size", ["100k", "300k"])
def test_a_full_disk(survey: Path, small_disk: Callable[[str], Path], size: str) -> None:
    disk = small_disk(f"size={size}")
    outcome = plotmap("run", survey, "--out", disk / "out")
    assert_refused(
        outcome,
        2,
        f"{disk}/out: the results could not be written",
        "Nothing was left behind",
        "free some space",
    )
    assert not list(disk.iterdir())


def test_a_disk_that_may_only_be_read(survey: Path, small_disk: Callable[[str], Path]) -> None:
    disk = small_disk("ro")
    outcome = plotmap("run", survey, "--out", disk / "out")
    assert_refused(
        outcome, 2, f"{disk}/out: the results could not be written: Read-only file system", "name another"
    )


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write everywhere")
def test_a_folder_that_may_not_be_written_to(tmp_path: Path, survey: Path) -> None:
    (tmp_path / "closed").mkdir(mode=0o555)
    outcome = plotmap("run", survey, "--out", tmp_path / "closed" / "out")
    assert_refused(outcome, 2, "the results could not be written: Permission denied", "ask for permission")


@pytest.mark.skipif(os.name != "posix", reason="limits of POSIX")
@pytest.mark.parametrize("most_bytes", [0, 20_000, 200_000])
def test_files_that_may_not_grow_leave_earlier_results_as_they_were(survey: Path, most_bytes: int) -> None:
    """Like a full disk, without one: the system refuses to write a file beyond a size (setrlimit(2))."""
    import resource  # noqa: PLC0415 - only there on POSIX

    assert plotmap("run", survey).code == 0
    before = snapshot(survey)
    limit = (most_bytes, most_bytes)
    outcome = plotmap("run", survey, before=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, limit))
    assert_refused(
        outcome, 2, "the results could not be written", "last good run are untouched", "name another folder"
    )
    assert snapshot(survey) == before
