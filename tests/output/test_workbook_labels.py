"""The workbook in another language and with own labels, read back with openpyxl; no text becomes anything else."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import openpyxl
import polars as pl
import pytest
from openpyxl.styles.numbers import is_date_format
from openpyxl.utils.escape import unescape

from plotmap.model.class_rule import ClassEdge, ClassMeasure, ClassRule
from plotmap.model.columns import Kind
from plotmap.model.labels import class_rule_words, labels_of
from plotmap.model.printed_tables import PRINTED_TABLES
from plotmap.model.settings import Settings
from plotmap.model.survey import Stand
from plotmap.output.tables import printed_frames, write_workbook
from plotmap.output.workbook import ABOUT, COLUMNS, sheet_names
from tests.stand_example import stand_example

AWKWARD = (
    "=1+1",
    "+1",
    "-1",
    "@A1",
    "\t=1",
    "\r=1",
    "{=A1}",
    "https://example.org",
    "mailto:a@example.org",
    "internal:Sheet1!A1",
    "external:c:\\a.xlsx",
    "001",
    "1e5",
    "TRUE",
    "#N/A",
    "<b>&amp;</b>",
    "_x0041_",
    "'quoted",
    " ",
)
"""Texts that a spreadsheet may take for a formula, a link, a number, a truth value, an error or markup."""
LABELS_THAT_FIT = [text for text in AWKWARD if text.strip() and text.isprintable() and "{" not in text]


def with_labels(stand: Stand, **section: Any) -> Stand:
    """Return a stand whose settings have that section of labels."""
    content = stand.settings.model_dump(mode="json") | {"labels": section}
    return replace(stand, settings=Settings.model_validate(content))


def written(stand: Stand, path: Path) -> Any:
    """Write a workbook and return it opened, its file closed again."""
    write_workbook(stand, path)
    with path.open("rb") as file:
        return openpyxl.load_workbook(file)


def is_plain_text(cell: Any, text: str) -> bool:
    """Return whether a cell holds a text as it is, and is no formula, link or number."""
    # _x000D_ for a control letter is ST_Xstring of ECMA-376; openpyxl leaves it in texts that stand in their cell
    return unescape(str(cell.value)) == text and cell.data_type == "s" and cell.hyperlink is None


@pytest.fixture(scope="module")
def stand() -> Stand:
    return stand_example()


@pytest.fixture(scope="module")
def german(stand: Stand, tmp_path_factory: pytest.TempPathFactory) -> Any:
    return written(with_labels(stand, language="de"), tmp_path_factory.mktemp("de") / "tables.xlsx")


# --- language ---------------------------------------------------------------------------------------------


def test_sheets_headings_and_first_sheet_are_in_the_language_and_cells_are_those_of_the_tables(
    stand: Stand, german: Any
) -> None:
    assert german.sheetnames[:3] == ["Über diese Mappe", "Abteilungen", "Probeflächen"]
    assert german.sheetnames[-1] == "Spalten"
    sheet = german["Abteilungen"]
    headings = [cell.value for cell in sheet[1]]
    assert "Grundfläche (m²/ha)" in headings
    assert "Durchmesser des Grundflächenmittelstamms (cm)" in headings
    status = [sheet.cell(row, 1 + headings.index("Status")).value for row in range(2, sheet.max_row + 1)]
    assert status == printed_frames(stand)["compartments"]["status"].to_list()
    assert "one plot" in status
    told = dict(row[:2] for row in german.worksheets[0].iter_rows(values_only=True))
    assert told["Aufnahme"] == stand.settings.survey.title
    assert told["Nicht verwendete Probeflächen: nicht aufgesucht"] == 1


def test_a_column_is_found_by_its_name_in_the_sheet_and_in_the_file(german: Any) -> None:
    rows = list(german["Spalten"].iter_rows(min_row=2, values_only=True))
    assert len(rows) == sum(len(table.columns) for table in PRINTED_TABLES)
    found = next(row for row in rows if row[1] == "basal_area_m2_per_ha" and row[0].startswith("Abteil"))
    assert found[0] == "Abteilungen (compartments)"
    assert found[2:] == (
        "Grundfläche (m²/ha)",
        "m²/ha",
        "Grundfläche in Brusthöhe je Hektar. Fehlt ohne Probefläche.",
    )


def test_headings_of_every_sheet_are_frozen_in_every_language(german: Any) -> None:
    first, *tables = german.worksheets
    assert first.freeze_panes is None
    assert {sheet.freeze_panes for sheet in tables} == {"A2"}


@pytest.mark.parametrize(
    "rule",
    [
        ClassRule(5.0, (), ClassMeasure.DIAMETER, ClassEdge.LOWER),
        ClassRule(None, (10.0, 22.5, 45.0), ClassMeasure.GIRTH, ClassEdge.UPPER),
    ],
)
def test_the_rule_of_classes_is_said_as_the_rule_itself_says_it_and_in_german(
    stand: Stand, rule: ClassRule
) -> None:
    assert class_rule_words(labels_of(stand.settings), rule) == rule.describe()
    said = class_rule_words(labels_of(with_labels(stand, language="de").settings), rule)
    assert said.startswith(("Durchmesserklassen, 5 cm", "Umfangsklassen mit den Grenzen 10, 22.5, 45 cm"))


# --- units and formats ------------------------------------------------------------------------------------


def test_every_column_with_a_unit_has_it_in_its_heading_and_a_format_of_its_kind(
    stand: Stand, tmp_path: Path
) -> None:
    book = written(stand, tmp_path / "tables.xlsx")
    for table in PRINTED_TABLES:
        sheet = book[table.name]
        for at, column in enumerate(table.columns, start=1):
            assert sheet.cell(1, at).value.endswith(f"({column.unit})" if column.unit else column.title)
            shown = {
                sheet.cell(row, at).number_format
                for row in range(2, sheet.max_row + 1)
                if sheet.cell(row, at).value is not None
            }
            if column.kind is Kind.DATE:
                assert all(is_date_format(one) for one in shown)
            elif column.kind in {Kind.NUMBER, Kind.COUNT}:
                assert "@" not in shown
            else:
                assert shown <= {"@"}


# --- texts that must stay texts ---------------------------------------------------------------------------


def test_no_text_of_the_user_becomes_a_formula_a_link_or_a_number_in_any_sheet(
    stand: Stand, tmp_path: Path
) -> None:
    trees = stand.trees.head(1).join(pl.DataFrame({"text": AWKWARD}), how="cross")
    trees = trees.with_columns(tree="text", species="text", plot="text").drop("text")
    plots = stand.plots.copy()
    plots["crew"] = plots["set_aside"] = [AWKWARD[at % len(AWKWARD)] for at in range(len(plots))]
    compartments = stand.compartments.copy()
    compartments["name"] = [AWKWARD[at % len(AWKWARD)] for at in range(len(compartments))]
    content = stand.settings.model_dump(mode="json")
    content["survey"]["title"] = "=1+1"
    changed = replace(
        stand,
        trees=trees,
        plots=plots,
        compartments=compartments,
        settings=Settings.model_validate(content),
    )
    book = written(changed, tmp_path / "tables.xlsx")
    for sheet in book.worksheets:
        for row in sheet.iter_rows():
            for cell in row:
                assert cell.data_type in {"s", "n", "d"}, (sheet.title, cell.coordinate, cell.value)
                assert cell.hyperlink is None
    at = 1 + next(t for t in PRINTED_TABLES if t.name == "trees").names.index("tree")
    for row, text in enumerate(AWKWARD, start=2):
        assert is_plain_text(book["trees"].cell(row, at), text), text
    assert is_plain_text(book["About"]["B1"], "=1+1")
    assert "Plots set aside: =1+1" in [cell.value for cell in book["About"]["A"]]


@pytest.mark.parametrize("text", LABELS_THAT_FIT)
def test_an_own_label_is_text_wherever_it_stands(stand: Stand, tmp_path: Path, text: str) -> None:
    own = {
        "column.compartments.name": text,
        "meaning.compartments.name": text,
        "workbook.survey": text,
        "workbook.columns_meaning": text,
        "unit.°": text,
    }
    book = written(with_labels(stand, own=own), tmp_path / "tables.xlsx")
    at = 1 + next(t for t in PRINTED_TABLES if t.name == "compartments").names.index("name")
    assert is_plain_text(book["compartments"].cell(1, at), text)
    assert is_plain_text(book["About"]["A1"], text)
    assert is_plain_text(book["Columns"]["E1"], text)
    explained = [row for row in book["Columns"].iter_rows(min_row=2) if row[1].value == "name"]
    assert is_plain_text(explained[0][2], text)
    assert is_plain_text(explained[0][4], text)
    lean = next(row for row in book["Columns"].iter_rows(min_row=2) if row[1].value == "lean_deg")
    assert is_plain_text(lean[3], text)


# --- names of sheets --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("wanted", "found"),
    [
        ("a" * 31, "a" * 31),
        ("a" * 32, "a" * 31),
        ("a[b]:c*d?e/f\\g", "a_b__c_d_e_f_g"),
        ("'a'", "a"),
        ("''", "_"),
        ("history", "history 2"),
        ("ABOUT", "ABOUT 2"),
        ("Compartments", "Compartments 2"),
        ("🌲" * 16, "🌲" * 15),  # two units each: the sixteenth would reach to 32
        ("=1+1", "=1+1"),
    ],
)
def test_any_own_label_makes_a_name_that_a_sheet_may_have(
    stand: Stand, tmp_path: Path, wanted: str, found: str
) -> None:
    named = with_labels(stand, own={"sheet_name.trees": wanted})
    names = sheet_names(PRINTED_TABLES, labels_of(named.settings))
    assert names["trees"] == found
    book = written(named, tmp_path / "tables.xlsx")
    assert book.sheetnames == list(names.values())
    assert (book.sheetnames[0], book.sheetnames[-1]) == (names[ABOUT], names[COLUMNS])


def test_two_sheets_of_one_own_name_are_told_apart_within_the_length(stand: Stand) -> None:
    own = {f"sheet_name.{name}": "x" * 40 for name in ("plots", "trees", "classes")}
    names = sheet_names(PRINTED_TABLES, labels_of(with_labels(stand, own=own).settings))
    assert [names[name] for name in ("plots", "trees", "classes")] == [
        "x" * 31,
        "x" * 29 + " 2",
        "x" * 29 + " 3",
    ]
