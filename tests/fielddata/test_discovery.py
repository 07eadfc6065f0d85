"""Which file, sheet or layer of a folder is taken for which table."""

from __future__ import annotations

import os
from pathlib import Path
from typing import IO, Any

import pyogrio
import pytest

from plotmap.fielddata import read_survey
from plotmap.fielddata.discovery import FolderContent, look_into
from plotmap.model.field_tables import FIELD_TABLES
from tests.folder_example import FILES, compartments_example, folder_example, found, the_finding, write_book


def _sources(content: FolderContent) -> dict[str, str]:
    return {name: place.source for name, place in content.locations.items()}


def test_tables_are_found_by_the_names_of_their_files_and_layers(tmp_path: Path) -> None:
    content = look_into(folder_example(tmp_path))
    assert _sources(content) == {
        "compartments": "compartments.gpkg, layer compartments",
        "instruments": "instruments.csv",
        "plots": "plots.csv",
        "species": "species.csv",
        "trees": "trees.csv",
    }
    assert not len(content.findings)


def test_sheets_of_one_workbook_and_layers_of_one_geopackage_are_tables(tmp_path: Path) -> None:
    sheets = {name.removesuffix(".csv"): [["plot"], ["A"]] for name in FILES if name.endswith(".csv")}
    write_book(tmp_path / "Hollin.xlsx", {"Notes": [["x"]], **sheets})
    for layer in ("roads", "compartments"):
        pyogrio.write_dataframe(compartments_example(), tmp_path / "map.gpkg", layer=layer)
    content = look_into(tmp_path)
    assert _sources(content) == {
        "compartments": "map.gpkg, layer compartments",
        **{name: f"Hollin.xlsx, sheet {name}" for name in sheets},
    }
    notes = {row["file"]: row["message"] for row in found(content.findings, "file-unused")}
    assert notes == {
        "Hollin.xlsx": "the sheet or layer Notes of it is not read",
        "map.gpkg": "the sheet or layer roads of it is not read",
    }


def test_capitals_of_names_and_endings_do_not_count(tmp_path: Path) -> None:
    (tmp_path / "PLOTS.CSV").write_text("plot\n")
    write_book(tmp_path / "All.XLSX", {"Trees": [["plot"]]})
    content = look_into(tmp_path)
    assert _sources(content)["plots"] == "PLOTS.CSV"
    assert _sources(content)["trees"] == "All.XLSX, sheet Trees"


def test_the_only_sheet_of_a_workbook_named_like_a_table_may_have_any_name(tmp_path: Path) -> None:
    write_book(tmp_path / "trees.xlsx", {"Sheet1": [["plot"]]})
    assert _sources(look_into(tmp_path))["trees"] == "trees.xlsx, sheet Sheet1"


def test_among_several_sheets_of_other_names_none_is_guessed(tmp_path: Path) -> None:
    write_book(tmp_path / "trees.xlsx", {"Sheet1": [["plot"]], "Sheet2": [["plot"]]})
    content = look_into(tmp_path)
    error = the_finding(content.findings, "file-unreadable")
    assert (error["file"], error["severity"]) == ("trees.xlsx", "error")
    assert "no sheet or layer trees; it has: Sheet1, Sheet2" in error["message"]
    assert "trees" not in content.locations
    assert "trees" in content.unread
    assert not [row for row in found(content.findings, "table-missing") if row["file"] == "trees"]


@pytest.mark.parametrize("missing", ["compartments", "plots"])
def test_a_table_a_survey_needs_is_reported_missing(tmp_path: Path, missing: str) -> None:
    folder_example(tmp_path)
    (tmp_path / f"{missing}.{'csv' if missing == 'plots' else 'gpkg'}").unlink()
    error = the_finding(look_into(tmp_path).findings, "table-missing")
    assert (error["file"], error["row"], error["severity"]) == (missing, None, "error")
    assert f"no table {missing}" in error["message"]
    what = "the polygons" if missing == "compartments" else "a file of that name"
    assert f"Put {what} into the survey folder" in error["hint"]


def test_a_survey_needs_trees_or_tallies_but_not_both(tmp_path: Path) -> None:
    folder_example(tmp_path, {"trees.csv": None})
    error = the_finding(look_into(tmp_path).findings, "table-missing")
    assert "neither trees nor tallies" in error["message"]
    (tmp_path / "tallies.csv").write_text("plot,class,count\n")
    assert not len(look_into(tmp_path).findings)


def test_a_table_in_two_files_is_taken_from_neither(tmp_path: Path) -> None:
    folder_example(tmp_path)
    write_book(tmp_path / "book.xlsx", {"trees": [["plot"], ["P1"]]})
    content = look_into(tmp_path)
    error = the_finding(content.findings, "table-twice")
    assert error["severity"] == "error"
    assert error["message"] == "the table trees is in book.xlsx, sheet trees and in trees.csv"
    assert "Keep one" in error["hint"]
    assert "trees" not in content.locations
    assert content.unread == {"trees"}
    assert not found(content.findings, "table-missing")


@pytest.mark.parametrize("name", ["tree_list.csv", "plots.backup.csv", "notes.txt", "extra.geojson"])
def test_a_file_of_another_name_is_noted_and_left_alone(tmp_path: Path, name: str) -> None:
    folder_example(tmp_path, {name: "anything"})
    content = look_into(tmp_path)
    note = the_finding(content.findings, "file-unused")
    assert (note["file"], note["severity"]) == (name, "note")
    assert f"is none of {', '.join(sorted(table.name for table in FIELD_TABLES))}" in note["message"]
    assert "Rename it" in note["hint"]


def test_a_copy_of_the_plots_under_another_name_does_not_pass_for_the_plots(tmp_path: Path) -> None:
    folder_example(tmp_path, {"plots.csv": None, "plots.backup.csv": FILES["plots.csv"]})
    assert the_finding(look_into(tmp_path).findings, "table-missing")["file"] == "plots"


def test_a_workbook_without_any_table_is_noted(tmp_path: Path) -> None:
    folder_example(tmp_path)
    write_book(tmp_path / "costs.xlsx", {"2026": [["x"]]})
    note = the_finding(look_into(tmp_path).findings, "file-unused")
    assert (note["file"], note["severity"]) == ("costs.xlsx", "note")
    assert "(2026)" in note["message"]


@pytest.mark.parametrize("name", ["plots.xls", "trees.ods", "compartments.kml"])
def test_a_table_in_a_format_that_is_not_read_is_noted(tmp_path: Path, name: str) -> None:
    folder_example(tmp_path, {name: b"anything"})
    note = the_finding(look_into(tmp_path).findings, "file-unused")
    assert (note["file"], note["severity"]) == (name, "note")
    assert f"the ending .{name.rpartition('.')[2]} is none of .csv, .geojson" in note["message"]


@pytest.mark.parametrize("name", ["species.ods", "trees.xls", "plots.xlsb", "compartments.kml"])
def test_the_only_copy_of_a_table_in_a_format_that_is_not_read_is_an_error(tmp_path: Path, name: str) -> None:
    table = name.partition(".")[0]
    left_out = {f"{table}.csv": None} if table != "compartments" else {}
    folder_example(tmp_path, {name: b"anything", **left_out}, with_compartments=table != "compartments")
    content = look_into(tmp_path)
    error = the_finding(content.findings, "file-unreadable")
    assert (error["file"], error["severity"]) == (name, "error")
    assert error["hint"].startswith("Save it as .")
    assert content.findings.codes == {"file-unreadable"}
    assert table in content.unread


def test_a_picture_called_after_a_table_that_is_not_there_is_noted(tmp_path: Path) -> None:
    folder_example(tmp_path, {"tallies.jpg": b"anything"})
    assert the_finding(look_into(tmp_path).findings, "file-unused")["severity"] == "note"


@pytest.mark.parametrize(
    ("name", "missing"),
    [("book.xlsx", {"compartments"}), ("book.gpkg", set()), ("trees.xlsx", {"compartments", "plots"})],
)
def test_what_may_lie_in_a_book_that_cannot_be_opened_is_not_missing(
    tmp_path: Path, name: str, missing: set[str]
) -> None:
    folder_example(
        tmp_path, {"plots.csv": None, "trees.csv": None, name: b"rubbish"}, with_compartments=False
    )
    findings = look_into(tmp_path).findings
    assert the_finding(findings, "file-unreadable")["file"] == name
    assert {row["file"] for row in found(findings, "table-missing")} == missing


@pytest.mark.parametrize("name", ["trees.csv", "book.xlsx"])
def test_a_file_that_the_system_does_not_open_is_to_be_closed_elsewhere(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    whole = Path.open

    def locked(self: Path, *how: str, **more: str) -> IO[Any]:
        if self.name == name:
            raise PermissionError(13, "Permission denied")
        return whole(self, *how, **more)

    folder_example(tmp_path, {"book.xlsx": b"rubbish"})
    monkeypatch.setattr(Path, "open", locked)
    rows = found(read_survey(tmp_path), "file-unreadable")
    hints = {row["file"]: row["hint"] for row in rows}
    assert hints[name] == "Close the file in other programs, and see that you may read it."
    assert name == "book.xlsx" or "save it again" in hints["book.xlsx"]


@pytest.mark.parametrize(
    "name", ["README.md", ".hidden.csv", "~$trees.xlsx", "compartments.qmd", "photo.jpg"]
)
def test_what_is_no_table_is_passed_over_without_a_word(tmp_path: Path, name: str) -> None:
    assert not len(look_into(folder_example(tmp_path, {name: b"anything"})).findings)


def test_a_folder_in_the_place_of_a_file_is_unreadable_and_other_folders_are_left_alone(
    tmp_path: Path,
) -> None:
    folder_example(tmp_path, {"plots.csv": None})
    (tmp_path / "plots.csv").mkdir()
    (tmp_path / "results").mkdir()
    content = look_into(tmp_path)
    error = the_finding(content.findings, "file-unreadable")
    assert (error["file"], error["severity"]) == ("plots.csv", "error")
    assert "this is a folder, but must be a file" in error["message"]
    assert content.findings.codes == {"file-unreadable"}


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="the system has no named pipes")
def test_a_named_pipe_is_not_waited_for(tmp_path: Path) -> None:
    folder_example(tmp_path, {"plots.csv": None})
    os.mkfifo(tmp_path / "plots.csv")
    assert (
        "no file that can be opened"
        in the_finding(look_into(tmp_path).findings, "file-unreadable")["message"]
    )


def test_all_files_of_a_shapefile_count_as_input(tmp_path: Path) -> None:
    folder_example(tmp_path, with_compartments=False)
    short = compartments_example().rename(columns={"compartment": "compartmen"})
    pyogrio.write_dataframe(short, tmp_path / "compartments.shp")
    names = {path.name for path in look_into(tmp_path).files}
    assert {f"compartments.{ending}" for ending in ("shp", "shx", "dbf", "prj")} <= names


@pytest.mark.skipif(os.name != "posix", reason="names are bytes only on POSIX")
def test_a_file_name_that_is_no_utf_8_is_spelled_out(tmp_path: Path) -> None:
    folder_example(tmp_path, {"trees.csv": None})
    (tmp_path / os.fsdecode(b"f\xf6hre.csv")).write_text("plot\n")
    book = write_book(tmp_path / "a.xlsx", {"trees": [["plot"], ["P1"]]})
    book.rename(tmp_path / os.fsdecode(b"h\xf6he.xlsx"))
    content = look_into(tmp_path)
    assert the_finding(content.findings, "file-unused")["file"] == r"f\xf6hre.csv"
    assert the_finding(content.findings, "file-unreadable")["file"] == r"h\xf6he.xlsx"


def test_a_heading_without_rows_beside_the_filled_table_is_left_out_with_a_note(tmp_path: Path) -> None:
    folder_example(tmp_path)
    write_book(tmp_path / "book.xlsx", {"trees": [["plot", "tree"], [None, " "]]})
    content = look_into(tmp_path)
    note = the_finding(content.findings, "file-unused")
    assert (note["file"], note["severity"]) == ("book.xlsx, sheet trees", "note")
    assert note["message"] == "it holds a heading and no rows; trees.csv is read"
    assert _sources(content)["trees"] == "trees.csv"
    assert "table-twice" not in content.findings.codes


def test_of_two_headings_without_rows_one_is_taken_with_a_note_on_the_other(tmp_path: Path) -> None:
    folder_example(tmp_path, {"tallies.csv": "plot,class,count\n"})
    write_book(tmp_path / "book.xlsx", {"tallies": [["plot", "class", "count"]]})
    content = look_into(tmp_path)
    note = the_finding(content.findings, "file-unused")
    assert {note["file"], _sources(content)["tallies"]} == {"tallies.csv", "book.xlsx, sheet tallies"}
    assert note["hint"].startswith("Delete it if it is an empty table of plotmap new")
    assert "table-twice" not in content.findings.codes


def test_the_sheet_that_explains_the_template_is_passed_over_unless_it_holds_a_table(tmp_path: Path) -> None:
    folder_example(tmp_path, {"trees.csv": None})
    trees = [["plot", "tree", "d1_cm"], ["P1", "1", 20.5]]
    write_book(tmp_path / "book.xlsx", {"About": [["How to fill in"]], "trees": trees})
    assert look_into(tmp_path).findings.frame.rows() == []
    write_book(tmp_path / "book.xlsx", {"About": trees, "Sheet2": [["How to fill in"]]})
    findings = look_into(tmp_path).findings
    assert the_finding(findings, "table-overlooked")["file"] == "book.xlsx, sheet About"
    assert the_finding(findings, "table-missing")["message"].endswith("book.xlsx has Sheet2")


@pytest.mark.parametrize(
    ("headings", "table"),
    [
        (["plot", "tree", "species", "d1_cm", "note"], "trees"),
        (["plot", "easting", "northing"], "plots"),
        (["plot", "tree"], None),
        (["plot", "tree", "species", "a", "b", "c"], None),
        (["x", "y", "z"], None),
    ],
)
def test_a_sheet_of_another_name_with_the_headings_of_a_table_is_a_warning(
    tmp_path: Path, headings: list[str], table: str | None
) -> None:
    folder_example(tmp_path, {"trees.csv": None})
    write_book(tmp_path / "book.xlsx", {"Sheet3": [headings], "species2": [["x"]]})
    findings = look_into(tmp_path).findings
    warnings = found(findings, "table-overlooked")
    assert [row["file"] for row in warnings] == (["book.xlsx, sheet Sheet3"] if table else [])
    if table:
        assert warnings[0]["severity"] == "warning"
        said = f"its headings look like those of {table}, but only a part called {table} is read"
        assert warnings[0]["message"] == said
    missing = the_finding(findings, "table-missing")["message"]
    assert missing.endswith("other sheets and layers are not read: book.xlsx has Sheet3, species2")


@pytest.mark.parametrize(("name", "better"), [("plots.xls", ".xlsx"), ("compartments.kml", ".gpkg")])
def test_another_format_is_to_be_saved_and_not_renamed(tmp_path: Path, name: str, better: str) -> None:
    folder_example(tmp_path, {name: "anything"})
    note = the_finding(look_into(tmp_path).findings, "file-unused")
    assert note["hint"].startswith(f"Save it as {better} in the program it came from")
