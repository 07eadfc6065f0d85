"""What writers get: words in the language of the survey, own labels over them, English where there are none."""

from __future__ import annotations

from typing import Any

import pytest

from plotmap.errors import SettingsError
from plotmap.model.labels import Labels, catalogue, labels_of
from plotmap.model.labels.catalogue import LABELLED_TABLES, declared_words
from plotmap.model.result_tables import COMPARTMENT_RESULTS, TALLIED_RESULTS, TREE_RESULTS
from plotmap.model.settings import Settings

_BASAL_AREA = COMPARTMENT_RESULTS["basal_area_m2_per_ha"]


def labels(**section: Any) -> Labels:
    """Return the labels of settings with that section."""
    return labels_of(
        Settings.model_validate({"plots": {"design": "circle", "radius_m": 5}, "labels": section})
    )


def test_without_settings_words_are_english() -> None:
    assert labels().language == "en"
    assert labels()("workbook.caution") == "Caution"


def test_words_are_those_of_the_language_and_english_where_it_has_none() -> None:
    lacking = next(key for key in catalogue("en") if key not in catalogue("de") and "{" not in key)
    german = labels(language="de")
    assert german("workbook.caution") == "Achtung"
    assert german.texts[lacking] == catalogue("en")[lacking]


def test_values_stand_in_their_places_and_are_not_read_as_places() -> None:
    assert labels()("workbook.plots_set_aside", reason="{n} <b>") == "Plots set aside: {n} <b>"


@pytest.mark.parametrize("values", [{}, {"why": "x"}, {"reason": "x", "n": 1}])
def test_values_that_do_not_fit_the_places_are_a_fault_of_the_code(values: dict[str, str]) -> None:
    with pytest.raises(KeyError, match=r"label workbook.plots_set_aside has the places \['reason'\]"):
        labels()("workbook.plots_set_aside", **values)


def test_a_key_that_english_lacks_is_a_fault_of_the_code() -> None:
    with pytest.raises(KeyError, match=r"workbook\.nothing"):
        labels()("workbook.nothing")


@pytest.mark.parametrize(("n", "said"), [(0, "0 plots"), (1, "1 plot"), (2, "2 plots"), (21, "21 plots")])
def test_one_thing_and_many_things_have_their_own_words(n: int, said: str) -> None:
    assert labels().count("words.plots", n) == said


def test_counts_take_further_values() -> None:
    assert labels().count("workbook.sheet_left_out_rows", 1, table="trees") == "1 row: see tables/trees.csv"


def test_a_section_is_one_output_with_own_labels_in_it() -> None:
    section = labels(language="de", own={"map.missing": "zu groß"}).section("map")
    assert section["missing"] == "zu groß"
    assert set(section) == {key.removeprefix("map.") for key in catalogue("en") if key.startswith("map.")}
    with pytest.raises(KeyError, match=r"no section \[maps\]"):
        labels().section("maps")


def test_english_titles_units_and_meanings_are_those_of_the_declarations() -> None:
    english = labels()
    for table in LABELLED_TABLES:
        assert (english.table(table), english.sheet_name(table)) == (table.title, table.name)
        for column in table.columns:
            for at in (table, table.name, ""):
                found = (english.title(column, at), english.heading(column, at), english.meaning(column, at))
                assert found == (column.title, column.heading, column.meaning)
            assert english.unit(column) == column.unit


def test_a_column_is_worded_by_its_table_where_one_name_has_several_titles() -> None:
    german = labels(language="de")
    assert german.title(TREE_RESULTS["dbh_cm"], TREE_RESULTS) == "Durchmesser"
    assert german.title(TALLIED_RESULTS["dbh_cm"], "tallied") == "Mittlerer Durchmesser"


def test_headings_have_the_unit_of_the_language() -> None:
    german = labels(language="de")
    assert german.heading(_BASAL_AREA) == "Grundfläche (m²/ha)"
    assert german.heading(COMPARTMENT_RESULTS["stems_per_ha"]) == "Stammzahl (Stück/ha)"
    assert german.heading(COMPARTMENT_RESULTS["status"]) == "Status"


def test_an_own_label_goes_before_the_language_and_the_one_of_the_table_before_that_of_all() -> None:
    own = {"column.dbh_cm": "BHD", "column.tallied.dbh_cm": "Mittel-BHD", "unit.cm": "Zentimeter"}
    german = labels(language="de", own=own)
    assert german.heading(TREE_RESULTS["dbh_cm"], "trees") == "BHD (Zentimeter)"
    assert german.title(TALLIED_RESULTS["dbh_cm"], "tallied") == "Mittel-BHD"
    assert (
        labels(language="de", own={"column.dbh_cm": "BHD"}).title(TALLIED_RESULTS["dbh_cm"], "tallied")
        == "BHD"
    )


@pytest.mark.parametrize("language", ["en", "de"])
def test_an_own_label_replaces_its_key_and_no_other(language: str) -> None:
    before = labels(language=language)
    english = catalogue("en") | declared_words()
    for key in ("words.one_plot", "workbook.plots_set_aside", "column.basal_area_m2_per_ha", "unit.m²/ha"):
        mine = english[key] + " *"
        after = labels(language=language, own={key: mine})
        changed = {one for one in after.texts if after.texts[one] != before.texts.get(one)}
        assert changed == {key}
        assert after.texts[key] == mine
    titled = labels(language=language, own={"column.basal_area_m2_per_ha": "*"})
    differ = [
        column.name
        for column in COMPARTMENT_RESULTS.columns
        if titled.title(column, "compartments") != before.title(column, "compartments")
    ]
    assert differ == ["basal_area_m2_per_ha"]


def test_words_of_tables_are_translated_and_others_stay_as_they_are() -> None:
    german = labels(language="de")
    assert german.word("one plot") == "eine Probefläche"
    assert german.word("angle-count") == "Winkelzählprobe"
    assert german.word("Sorbus <i>") == "Sorbus <i>"


def test_settings_made_without_a_file_are_checked_as_well() -> None:
    with pytest.raises(SettingsError, match=r"\[labels\] own 'map.nothing_of_it' is no label"):
        labels(own={"map.nothing_of_it": "x"})
