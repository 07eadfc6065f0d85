"""A whole folder: the same survey in every format, source rows that can be found again, and files as input."""

from __future__ import annotations

import hashlib
from pathlib import Path

import geopandas as gpd
import polars as pl
import pyogrio
import pytest
from polars.testing import assert_frame_equal
from shapely.geometry import Point

from plotmap.errors import SettingsError
from plotmap.fielddata import read_survey
from plotmap.model.survey import Survey
from tests.folder_example import (
    CRS,
    FILES,
    N_STEMS,
    TALLIES,
    as_csv,
    compartments_example,
    edited,
    folder_example,
    found,
    rows_of,
    settings_text,
    the_finding,
    write_book,
)

TABLES = ("plots", "trees", "tallies", "instruments", "species")
AWKWARD = ["001", "NA", "10E2", "3-5", "null"]
"""Identifiers put in the place of the plots P1 to P5; the last, P6, becomes ``True``."""


def _texts() -> dict[str, str]:
    """Return the tables with awkward identifiers of plots."""
    texts = {f"{name}.csv": FILES.get(f"{name}.csv", TALLIES) for name in TABLES}
    for number, word in enumerate([*AWKWARD, "True"], start=1):
        texts = {name: text.replace(f"P{number},", f"{word},") for name, text in texts.items()}
    return texts


def _typed(text: str) -> pl.DataFrame:
    """Return a table as a program would hold it: numbers as numbers, all else as text."""
    rows = rows_of(text)
    frame = pl.DataFrame(rows[1:], schema=rows[0], orient="row").with_columns(pl.all().replace("", None))
    numbers = {
        "d1_cm",
        "d2_cm",
        "height_m",
        "easting",
        "northing",
        "slope_pct",
        "zero_mm",
        "bark_factor",
        "count",
    }
    return frame.with_columns(pl.col(c).cast(pl.Float64) for c in frame.columns if c in numbers)


def _csv(folder: Path, texts: dict[str, str]) -> None:
    for name, text in texts.items():
        (folder / name).write_text(text)


def _one_book(folder: Path, texts: dict[str, str]) -> None:
    sheets = {name[:-4]: [_typed(text).columns, *_typed(text).rows()] for name, text in texts.items()}
    write_book(folder / "survey.xlsx", sheets)


def _books(folder: Path, texts: dict[str, str]) -> None:
    for name, text in texts.items():
        frame = _typed(text)
        write_book(folder / f"{name[:-4]}.xlsx", {"Sheet1": [frame.columns, *frame.rows()]})


def _parquet(folder: Path, texts: dict[str, str]) -> None:
    for name, text in texts.items():
        _typed(text).write_parquet(folder / f"{name[:-4]}.parquet")


def _geopackage(folder: Path, texts: dict[str, str]) -> None:
    for name, text in texts.items():
        pyogrio.write_dataframe(_typed(text).to_pandas(), folder / "tables.gpkg", layer=name[:-4])


WRITERS = {
    "csv": _csv,
    "one workbook": _one_book,
    "workbooks": _books,
    "parquet": _parquet,
    "gpkg": _geopackage,
}


def _read_as(folder: Path, format_: str) -> Survey:
    folder_example(folder, {name: None for name in FILES if name != "survey.toml"})
    WRITERS[format_](folder, _texts())
    return read_survey(folder)


@pytest.mark.parametrize("format_", [name for name in WRITERS if name != "csv"])
def test_every_format_gives_the_same_tables(tmp_path: Path, format_: str) -> None:
    expected, survey = _read_as(tmp_path / "csv", "csv"), _read_as(tmp_path / "other", format_)
    assert not len(expected.findings)
    assert not len(survey.findings)
    shift = 1 if format_ == "gpkg" else 0  # rows of layers are numbered from 1, of sheets from 2
    for name in ("trees", "tallies", "instruments", "species"):
        frame = getattr(survey, name).with_columns(pl.col("source_row") + shift)
        assert_frame_equal(frame, getattr(expected, name))
    kept = ["plot", "easting", "northing", "compartment", "state", "date", "crew", "slope_pct", "located_in"]
    pl_frames = [pl.from_pandas(s.plots[kept]) for s in (survey, expected)]
    assert_frame_equal(*pl_frames)


@pytest.mark.parametrize("format_", list(WRITERS))
def test_identifiers_stay_text_in_every_format(tmp_path: Path, format_: str) -> None:
    survey = _read_as(tmp_path, format_)
    assert survey.plots["plot"].tolist() == [*AWKWARD, "True"]
    assert survey.trees["plot"].unique(maintain_order=True).to_list() == AWKWARD
    assert survey.trees["tree"].head(6).to_list() == ["1", "2", "3", "4", "5", "6"]
    assert survey.trees.height == N_STEMS


@pytest.mark.parametrize("format_", list(WRITERS))
def test_a_finding_names_the_row_of_the_file_in_every_format(tmp_path: Path, format_: str) -> None:
    folder_example(tmp_path, {name: None for name in FILES if name != "survey.toml"})
    WRITERS[format_](tmp_path, {**_texts(), "trees.csv": edited("trees.csv", (5, "d1_cm", "999"))})
    error = the_finding(read_survey(tmp_path), "value-out-of-range")
    assert error["row"] == (4 if format_ == "gpkg" else 5)
    assert error["value"] in {"999", "999.0"}
    assert error["plot"] == "P1"


def test_delimiters_decimal_commas_marks_and_line_ends_change_nothing(tmp_path: Path) -> None:
    expected = read_survey(folder_example(tmp_path / "plain"))
    rows = [[cell.replace(".", ",") for cell in cells] for cells in rows_of(FILES["trees.csv"])]
    text = as_csv(rows, ";").replace("\n", "\r\n")
    survey = read_survey(folder_example(tmp_path / "comma", {"trees.csv": b"\xef\xbb\xbf" + text.encode()}))
    assert not len(survey.findings)
    assert_frame_equal(survey.trees, expected.trees)


def test_units_and_own_headings_change_nothing(tmp_path: Path) -> None:
    expected = read_survey(folder_example(tmp_path / "plain"))
    rows = rows_of(FILES["trees.csv"])
    rows[0] = ["Plot no.", "Nr", "Sp.", "BHD 1 (mm)", "d2_mm", "K", "height_cm", "Notes"]
    for cells in rows[1:]:
        cells[3], cells[4] = (str(round(10 * float(cells[i]))) for i in (3, 4))
        cells[6] = str(round(100 * float(cells[6])))
    own = (
        '"plot NO." = "plot"\nNr = "tree"\n"Sp." = "species"\n"BHD 1 (mm)" = "d1_mm"\n'
        'K = "instrument"\nNotes = "remark"'
    )
    files = {"trees.csv": as_csv(rows), "survey.toml": settings_text(columns__trees=own)}
    survey = read_survey(folder_example(tmp_path / "own", files))
    assert not len(survey.findings)
    assert_frame_equal(survey.trees, expected.trees, rel_tol=1e-14)


def test_rows_are_counted_and_blank_ones_apart(tmp_path: Path) -> None:
    text = FILES["trees.csv"].replace("P2,1,", "\n,,,,,,,\nP2,1,", 1)
    survey = read_survey(folder_example(tmp_path, {"trees.csv": text}))
    assert (survey.rows_read["trees"], survey.rows_blank["trees"]) == (N_STEMS + 2, 2)
    assert the_finding(survey, "row-blank")["message"] == "2 of 32 rows are blank"
    assert survey.trees.filter(plot="P2")["source_row"].to_list() == [10, 11, 12, 13, 14, 15]


def test_every_input_file_is_there_with_its_hash(tmp_path: Path) -> None:
    survey = read_survey(folder_example(tmp_path, {"notes.md": "not read"}))
    names = [item.name for item in survey.inputs]
    assert sorted(names) == sorted([*FILES, "compartments.gpkg"])
    for item in survey.inputs:
        content = (tmp_path / item.name).read_bytes()
        assert (item.size_bytes, item.sha256) == (len(content), hashlib.sha256(content).hexdigest())


def test_a_table_that_is_not_there_is_empty(tmp_path: Path) -> None:
    survey = read_survey(folder_example(tmp_path, {"species.csv": None}))
    assert not survey.species.height
    assert "species" not in survey.sources


def test_trailing_columns_without_heading_that_hold_something_are_noted(tmp_path: Path) -> None:
    folder_example(tmp_path, {"species.csv": None})
    write_book(tmp_path / "species.xlsx", {"species": [["species"], ["oak"], ["ash", None, "0.94"]]})
    note = the_finding(read_survey(tmp_path), "column-unknown")
    assert (note["severity"], note["file"], note["column"]) == ("note", "species.xlsx, sheet species", "3")
    assert note["value"] == "0.94"


@pytest.mark.parametrize("name", ["plots", "compartments"])
def test_a_table_a_survey_needs_must_have_rows(tmp_path: Path, name: str) -> None:
    if name == "plots":
        folder_example(tmp_path, {"plots.csv": FILES["plots.csv"].splitlines()[0] + "\n\n"})
    else:
        folder_example(tmp_path, compartments=compartments_example().iloc[:0])
    error = the_finding(read_survey(tmp_path), "no-rows")
    assert (error["severity"], error["row"]) == ("error", None)
    assert error["file"].startswith(name)
    told = {
        "plots": ("there is no row below the heading", "Fill the table"),
        "compartments": ("there is no polygon in it", "Save the compartments again"),
    }
    assert error["message"] == told[name][0]
    assert told[name][1] in error["hint"]


@pytest.mark.parametrize("name", ["trees.csv", "tallies.csv"])
def test_measured_plots_without_any_stem_are_an_error(tmp_path: Path, name: str) -> None:
    heading = (TALLIES if name == "tallies.csv" else FILES[name]).splitlines()[0]
    error = the_finding(read_survey(folder_example(tmp_path, {"trees.csv": None, name: heading})), "no-rows")
    assert (error["severity"], error["file"]) == ("error", name)
    assert error["message"] == "there is no row below the heading, but 5 plots are marked measured"
    assert "plot-without-stems" not in read_survey(tmp_path).findings.codes  # it only says so again


@pytest.mark.parametrize("content", [b"", b"\xff\xfep\x00"])
def test_with_stems_that_cannot_be_read_an_empty_tally_is_no_error(tmp_path: Path, content: bytes) -> None:
    files = {"trees.csv": content, "tallies.csv": TALLIES.splitlines()[0] + "\n"}
    assert read_survey(folder_example(tmp_path, files)).findings.codes == {"file-unreadable"}


def test_a_survey_of_empty_plots_needs_no_stem(tmp_path: Path) -> None:
    files = {
        "trees.csv": FILES["trees.csv"].splitlines()[0],
        "plots.csv": FILES["plots.csv"].replace("measured", "empty"),
    }
    assert not len(read_survey(folder_example(tmp_path, files)).findings)


def test_trees_without_rows_are_fine_where_stems_were_tallied(tmp_path: Path) -> None:
    files = {"trees.csv": FILES["trees.csv"].splitlines()[0], "tallies.csv": TALLIES}
    assert "no-rows" not in read_survey(folder_example(tmp_path, files)).findings.codes


@pytest.mark.parametrize("name", ["species.csv", "instruments.csv"])
def test_tables_a_survey_can_do_without_may_be_empty(tmp_path: Path, name: str) -> None:
    assert not len(read_survey(folder_example(tmp_path, {name: FILES[name].splitlines()[0]})).findings)


@pytest.mark.parametrize(
    ("content", "says"),
    [(b"", "the file is empty"), (FILES["plots.csv"].encode("utf-16"), "UTF-16, but must be UTF-8")],
)
def test_a_file_that_cannot_be_read_is_an_error_and_not_missing(
    tmp_path: Path, content: bytes, says: str
) -> None:
    survey = read_survey(folder_example(tmp_path, {"plots.csv": content}))
    error = the_finding(survey, "file-unreadable")
    assert (error["severity"], error["file"], error["row"]) == ("error", "plots.csv", None)
    assert says in error["message"]
    assert "save it again" in error["hint"]
    assert survey.findings.codes == {"file-unreadable"}


def test_compartments_without_geometry_are_unreadable(tmp_path: Path) -> None:
    folder_example(tmp_path, {"compartments.csv": "compartment\nA\n"}, with_compartments=False)
    error = the_finding(read_survey(tmp_path), "file-unreadable")
    assert (error["file"], error["message"]) == (
        "compartments.csv",
        "compartments need polygons, but it has none: bring them as .gpkg, .geojson, .shp or .parquet",
    )


def test_points_for_compartments_are_found_one_by_one(tmp_path: Path) -> None:
    points = compartments_example().set_geometry([Point(499_850, 5_600_050)] * 3, crs=CRS)
    survey = read_survey(folder_example(tmp_path, compartments=gpd.GeoDataFrame(points)))
    assert [row["row"] for row in found(survey, "geometry-not-polygon")] == [1, 2, 3]


def test_a_folder_that_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match=r"nowhere: there is no such folder\. Give the folder"):
        read_survey(tmp_path / "nowhere")


def test_a_file_in_the_place_of_the_folder_is_refused(tmp_path: Path) -> None:
    folder_example(tmp_path)
    with pytest.raises(SettingsError, match="this is a file, but must be a folder"):
        read_survey(tmp_path / "survey.toml")


def test_a_link_that_leads_nowhere_is_unreadable(tmp_path: Path) -> None:
    folder_example(tmp_path, {"species.csv": None})
    (tmp_path / "species.csv").symlink_to(tmp_path / "gone.csv")
    assert "no file that can be opened" in the_finding(read_survey(tmp_path), "file-unreadable")["message"]
