"""The catalogue holds what the code asks for, in both languages alike; what it must hold is scanned from the code."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

import plotmap
from plotmap.model import result_tables, result_tables_change, result_tables_errors
from plotmap.model.field_tables import EMPTY, LOST, MEASURED, UNVISITED
from plotmap.model.finding_rules import Severity
from plotmap.model.labels import LANGUAGES, catalogue, known_keys
from plotmap.model.labels.catalogue import LABELLED_TABLES
from plotmap.model.labels.labels import word_key
from plotmap.model.labels.placeholders import placeholders, stray_braces
from plotmap.model.settings import Design
from plotmap.plots import layout

PACKAGE = Path(plotmap.__file__).parent
OTHERS = [language for language in LANGUAGES if language != "en"]
WORDS = (
    *(result_tables.ESTIMATED, result_tables.ONE_PLOT, result_tables.NO_PLOTS, result_tables.FULL_COUNT),
    *(result_tables.TOTAL_PARTLY, result_tables_change.PARTLY),
    *(MEASURED, EMPTY, UNVISITED, LOST),
    *(layout.OUTSIDE, layout.NOT_IN_LAYER, layout.NOT_RECORDED, layout.NOT_REACHED, layout.NONE_INSIDE),
    *(result_tables_errors.MORE_PLOTS, result_tables_errors.BETTER_INSTRUMENT, result_tables_errors.MEASURE),
    *(result_tables_errors.MODEL_BASED, result_tables_errors.TOO_FEW_COMPARTMENTS),
    *(severity.value for severity in Severity),
    *(design.value for design in Design),
)
"""Words of the tables that people read in a map or a report."""


def asked_keys() -> Iterator[tuple[str, str]]:
    """Yield each key that code asks a `labels` for, with the place; a count asks for both of its keys."""
    for path in sorted(PACKAGE.rglob("*.py")):
        if path.is_relative_to(PACKAGE / "model" / "labels"):
            continue
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Call):
                place = f"{path.relative_to(PACKAGE)}:{node.lineno}"
                yield from ((key, place) for key in _keys_of(node))


def _keys_of(call: ast.Call) -> Iterator[str]:
    """Yield the keys of ``labels(...)``, ``x.labels(...)`` and ``labels.count(...)``; beginnings end in ``*``."""
    asked = call.func
    counted = isinstance(asked, ast.Attribute) and asked.attr == "count"
    name = asked.value if isinstance(asked, ast.Attribute) and counted else asked
    called = getattr(name, "id", getattr(name, "attr", ""))
    if called not in {"labels", "_labels"} or not call.args:
        return
    for text in _texts(call.args[0]):
        yield from (f"{text}_one", f"{text}_many") if counted and not text.endswith("*") else (text,)


def _texts(node: ast.expr) -> list[str]:
    """Return the texts an expression may be: of both sides of a condition; of an f-string its beginning and ``*``."""
    if isinstance(node, ast.IfExp):
        return _texts(node.body) + _texts(node.orelse)
    if isinstance(node, ast.JoinedStr):
        first = node.values[0]
        return [f"{first.value}*"] if isinstance(first, ast.Constant) else ["*"]
    return [node.value] if isinstance(node, ast.Constant) and isinstance(node.value, str) else []


def missing_keys(asked: list[str], known: dict[str, str]) -> list[str]:
    """Return those keys asked for that the catalogue lacks; a beginning needs one key or more."""
    return [
        key
        for key in asked
        if key not in known
        and not (key.endswith("*") and any(one.startswith(key[:-1]) for one in known) and key != "*")
    ]


def test_every_key_that_the_code_asks_for_is_in_the_english_catalogue() -> None:
    asked = list(asked_keys())
    known = catalogue("en")
    assert [(key, place) for key, place in asked if missing_keys([key], known)] == []


@pytest.mark.parametrize("section", ["workbook", "report"])
def test_every_word_of_an_output_is_asked_for(section: str) -> None:
    """Whole keys also where they are handed on; the words of the map are asked for by its scripts (test_words)."""
    asked = {key for key, _ in asked_keys()}
    text = "\n".join(path.read_text("utf-8") for path in (PACKAGE / "output").rglob("*.py"))
    beginnings = tuple(key[:-1] for key in asked if key.endswith("*"))
    own = [key for key in catalogue("en") if key.startswith(f"{section}.")]
    assert own
    handed = {key: {key, key.removesuffix("_one"), key.removesuffix("_many")} for key in own}
    assert [
        key
        for key in own
        if not (key in asked or any(f'"{one}"' in text for one in handed[key]) or key.startswith(beginnings))
    ] == []


def test_the_scan_sees_calls_counts_conditions_and_beginnings() -> None:
    code = "labels('a.b', n=1); self.labels.count('a.c', 2); labels('a.d' if x else 'a.e')"
    code += "; labels(f'a.{y}'); count('z')"
    found = [
        key for node in ast.walk(ast.parse(code)) if isinstance(node, ast.Call) for key in _keys_of(node)
    ]
    assert sorted(found) == ["a.*", "a.b", "a.c_many", "a.c_one", "a.d", "a.e"]
    assert missing_keys(found, {"a.b": "", "a.d": "", "a.c_one": ""}) == ["a.c_many", "a.e"]


@pytest.mark.parametrize("language", OTHERS)
def test_other_languages_have_no_key_that_english_lacks(language: str) -> None:
    assert set(catalogue(language)) - set(known_keys()) == set()


@pytest.mark.parametrize("language", OTHERS)
def test_placeholders_are_the_same_in_all_languages(language: str) -> None:
    english = known_keys()
    differ = {
        key for key, text in catalogue(language).items() if placeholders(text) != placeholders(english[key])
    }
    assert differ == set()


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_label_has_words_named_placeholders_and_one_line(language: str) -> None:
    for key, text in catalogue(language).items():
        assert text.strip() == text != "", key
        assert not stray_braces(text), key
        assert text.isprintable(), key


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_label_for_one_thing_has_one_for_many_beside_it(language: str) -> None:
    keys = set(catalogue(language))
    ones = {key.removesuffix("_one") for key in keys if key.endswith("_one")}
    many = {key.removesuffix("_many") for key in keys if key.endswith("_many")}
    assert ones == many


def test_no_title_of_a_column_is_written_a_second_time_in_english() -> None:
    sections = {key.partition(".")[0] for key in catalogue("en")}
    assert sections & {"column", "meaning", "table", "unit", "sheet_name"} == set()


@pytest.mark.parametrize("language", OTHERS)
def test_a_translation_for_a_name_is_only_taken_for_columns_that_english_words_alike(language: str) -> None:
    """A name may have several titles; a translation of one must not stand for the other."""
    found = catalogue(language)
    said: dict[str, set[str]] = {}
    for table in LABELLED_TABLES:
        for column in table.columns:
            for kind, text in (("column", column.title), ("meaning", column.meaning)):
                if f"{kind}.{table.name}.{column.name}" not in found:
                    said.setdefault(f"{kind}.{column.name}", set()).add(text)
    assert [key for key, texts in said.items() if key in found and len(texts) > 1] == []


@pytest.mark.parametrize("word", WORDS)
def test_words_of_the_tables_are_in_the_catalogue_as_they_are_written(word: str) -> None:
    assert catalogue("en")[word_key(word)] == word


def test_there_is_a_file_for_each_language_and_no_other() -> None:
    files = {path.stem for path in (PACKAGE / "model" / "labels").glob("*.toml")}
    assert files == set(LANGUAGES)
