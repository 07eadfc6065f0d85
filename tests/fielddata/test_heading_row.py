"""The heading below title rows, in text files and workbooks; both sides of every rule about it."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pytest
from polars.testing import assert_frame_equal

from plotmap.fielddata import read_survey
from plotmap.fielddata.heading_row import HEAD_ROWS, Wanted, heading_place
from plotmap.fielddata.raw import UnreadableFileError
from plotmap.fielddata.text_files import read_text
from plotmap.model.field_tables import PLOTS, TREES
from tests.folder_example import (
    FILES,
    edited,
    folder_example,
    found,
    rows_of,
    settings_text,
    the_finding,
    write_book,
)

HEADING = ["plot", "tree", "species", "d1_cm"]
DATA = ["P1", "1", "oak", "31.5"]


def _place(*rows: Sequence[str], own: dict[str, str] | None = None) -> int:
    return heading_place(rows, Wanted(TREES, own or {}))


def test_the_row_most_of_whose_cells_are_columns_is_the_heading() -> None:
    assert _place(["Beat 7", ""], [], HEADING, DATA) == 2


def test_a_heading_in_the_first_row_stays_the_heading() -> None:
    assert _place(HEADING, DATA) == 0


def test_own_headings_and_headings_without_unit_count_as_known() -> None:
    own = {"Fläche": "plot", "Nr.": "tree"}
    assert _place(["Title"], ["fläche", "nr.", "Bemerkung"], own=own) == 1
    assert _place(["Title"], ["plot", "d1", "girth", "crown", "lean"]) == 1


def test_without_knowing_what_is_wanted_the_first_row_is_the_heading() -> None:
    assert heading_place([["Title"], HEADING], None) == 0


def test_a_first_row_with_many_columns_of_its_own_stays_the_heading() -> None:
    assert _place(["plot", "a", "b", "c", "d"], DATA, DATA) == 0


def test_of_two_rows_the_one_with_more_columns_is_the_heading() -> None:
    assert _place(["plot", "tree", "species"], HEADING, DATA) == 1


def test_two_rows_that_fit_equally_are_refused() -> None:
    with pytest.raises(UnreadableFileError, match="rows 2 and 4 fit equally well as the heading of trees"):
        _place(["Title"], HEADING, DATA, HEADING)


def test_half_of_the_cells_is_not_most_of_them() -> None:
    assert _place(["Title"], [*HEADING, "a", "b", "c"]) == 1
    with pytest.raises(UnreadableFileError, match=r"Row 2 comes nearest with 4 of 8: .* \[columns\.trees\]"):
        _place(["Title"], [*HEADING, "a", "b", "c", "d"])


def test_a_word_of_the_data_that_is_a_column_is_no_heading() -> None:
    assert _place(["Fl.", "Nr.", "Art"], ["P1", "1", "oak"], ["P1", "2", "bark"]) == 0
    with pytest.raises(UnreadableFileError, match="Row 2 comes nearest with 1 of 3"):
        _place(["Beat 7"], ["plot", "Nr.", "Art"])


def test_the_heading_is_looked_for_among_the_first_rows_only() -> None:
    assert _place(*[["title"]] * (HEAD_ROWS - 1), HEADING) == HEAD_ROWS - 1
    assert _place(*[["title"]] * HEAD_ROWS, HEADING) == 0


def _csv(folder: Path, content: str) -> tuple[tuple[str, ...], list[tuple], int]:
    path = folder / "plots.csv"
    path.write_text(content)
    raw = read_text(path, "", "plots.csv", Wanted(PLOTS))
    return raw.headings, raw.cells.rows(), raw.first_row


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("title", ["Beat 7", "Beat 7, plots, of May, by A, B, C;", '"two\nlines"', "\n,,;"])
def test_titles_above_a_text_table_are_passed_over(tmp_path: Path, delimiter: str, title: str) -> None:
    table = "\n".join(delimiter.join(cells) for cells in (["plot", "crew"], ["A", "x"], ["", ""], ["B", "y"]))
    headings, rows, first_row = _csv(tmp_path, f"{title}\n{table}\n")
    assert headings == ("plot", "crew")
    assert rows == [("A", "x"), (None, None), ("B", "y")]
    assert first_row == (4 if title == "\n,,;" else 3)


def test_titles_are_passed_over_where_rows_need_care(tmp_path: Path) -> None:
    headings, rows, first_row = _csv(tmp_path, 'Beat 7\nplot,crew\nA,x" y\nB\n"C\nc",z\n')
    assert (headings, first_row) == (("plot", "crew"), 3)
    assert rows == [("A", 'x" y'), ("B", None), ("C\nc", "z")]


def test_a_line_too_long_below_a_title_has_the_row_of_the_file(tmp_path: Path) -> None:
    (tmp_path / "plots.csv").write_text("Beat 7\n\nplot,crew\nA,x\nB,y,z\n")
    raw = read_text(tmp_path / "plots.csv", "", "plots.csv", Wanted(PLOTS))
    error = the_finding(raw.findings, "line-too-long")
    assert (error["row"], error["message"]) == (5, "the row has 3 cells, but there are 2 headings")


def test_rows_of_a_survey_below_a_title_keep_the_numbers_of_the_file(tmp_path: Path) -> None:
    expected = read_survey(folder_example(tmp_path / "plain"))
    text = "Beat 7, May\n\n" + edited("trees.csv", (3, "d1_cm", "999"))
    survey = read_survey(folder_example(tmp_path / "title", {"trees.csv": text}))
    assert survey.trees["source_row"].to_list() == [row + 2 for row in expected.trees["source_row"]]
    assert_frame_equal(survey.trees.drop("source_row", "d1_cm"), expected.trees.drop("source_row", "d1_cm"))
    note = the_finding(survey, "heading-row-found")
    assert (note["severity"], note["file"], note["row"]) == ("note", "trees.csv", 3)
    assert note["message"] == "the heading was found in row 3; the 2 rows above it are not read (Beat 7 May)"
    assert the_finding(survey, "value-out-of-range")["row"] == 5


def test_a_title_above_a_sheet_is_passed_over(tmp_path: Path) -> None:
    rows = [["Beat 7"], *rows_of(FILES["species.csv"])]
    folder_example(tmp_path, {"species.csv": None})
    write_book(tmp_path / "species.xlsx", {"list": rows})
    survey = read_survey(tmp_path)
    assert survey.species["species"].to_list() == ["oak", "ash"]
    assert survey.species["source_row"].to_list() == [3, 4]
    note = the_finding(survey, "heading-row-found")
    assert note["message"] == "the heading was found in row 2; the row above it is not read (Beat 7)"
    assert note["file"] == "species.xlsx, sheet list"


def test_own_headings_are_found_below_a_title(tmp_path: Path) -> None:
    text = "Liste\n" + FILES["species.csv"].replace("species,name,bark_factor", "Art,wiss. Name,Rinde")
    own = 'Art = "species"\n"wiss. Name" = "name"\n'
    files = {"species.csv": text, "survey.toml": settings_text(columns__species=own)}
    survey = read_survey(folder_example(tmp_path, files))
    assert the_finding(survey, "heading-row-found")["row"] == 2
    assert survey.species["name"].to_list() == ["Quercus robur", "Fraxinus excelsior"]


def test_a_table_with_two_headings_is_not_read_and_says_so(tmp_path: Path) -> None:
    first, rest = FILES["trees.csv"].split("\n", 1)
    survey = read_survey(folder_example(tmp_path, {"trees.csv": f"{first}\n{first}\n{rest}"}))
    error = the_finding(survey, "file-unreadable")
    assert "rows 1 and 2 fit equally well as the heading of trees" in error["message"]
    assert not survey.trees.height


def test_a_table_with_its_heading_in_the_first_row_has_no_finding(tmp_path: Path) -> None:
    assert not found(read_survey(folder_example(tmp_path)), "heading-row-found")


def test_a_title_and_a_heading_without_rows_beside_a_filled_table_are_left_out(tmp_path: Path) -> None:
    folder_example(tmp_path)
    write_book(tmp_path / "book.xlsx", {"species": [["To be filled"], ["species", "name"]]})
    survey = read_survey(tmp_path)
    assert survey.sources["species"] == "species.csv"
    assert "table-twice" not in survey.findings.codes


def test_rows_below_the_heading_that_cannot_be_parted_do_not_hide_it(tmp_path: Path) -> None:
    headings, rows, first_row = _csv(tmp_path, "plot,crew\nA," + "x" * 200_000 + "\n")
    assert (headings, first_row) == (("plot", "crew"), 2)
    assert rows == [("A", "x" * 200_000)]
