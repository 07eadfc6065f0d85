"""The catalogue: one file of words a language, and the keys that declarations add to it."""

from __future__ import annotations

import tomllib
from importlib.resources import files
from typing import get_args

from plotmap.model.columns import Table
from plotmap.model.printed_tables import PRINTED_TABLES
from plotmap.model.result_tables_change import CHANGE_TABLES
from plotmap.model.settings_labels import LabelsSection

ENGLISH = "en"
LANGUAGES: tuple[str, ...] = get_args(LabelsSection.model_fields["language"].annotation)
"""Languages there is a file for; the first one, English, has every key."""
LABELLED_TABLES: tuple[Table, ...] = (*PRINTED_TABLES, *CHANGE_TABLES)
"""Tables whose columns people read."""


def catalogue(language: str) -> dict[str, str]:
    """Return the words of a language by key: ``map.no_plots`` for ``no_plots`` of the table ``[map]``.

    Parameters
    ----------
    language : str
        One of `LANGUAGES`.

    Returns
    -------
    dict of str to str
        In the order of the file. Texts may hold named placeholders, ``{n}``.

    Raises
    ------
    FileNotFoundError
        There is no file for `language`.
    """
    text = files("plotmap.model.labels").joinpath(f"{language}.toml").read_text("utf-8")
    return {
        f"{section}.{key}": words
        for section, part in tomllib.loads(text).items()
        for key, words in part.items()
    }


def declared_words() -> dict[str, str]:
    """Return what the declarations of the tables say in English, by the keys that replace it.

    Returns
    -------
    dict of str to str
        ``column.<name>`` and ``meaning.<name>`` of a column in every table, ``column.<table>.<name>`` and
        ``meaning.<table>.<name>`` of one table only, ``table.<name>``, ``sheet_name.<name>`` and ``unit.<unit>``.
    """
    found: dict[str, str] = {}
    for table in LABELLED_TABLES:
        found[f"table.{table.name}"] = table.title
        found[f"sheet_name.{table.name}"] = table.name
        for column in table.columns:
            for at in (column.name, f"{table.name}.{column.name}"):
                found.setdefault(f"column.{at}", column.title)
                found.setdefault(f"meaning.{at}", column.meaning)
            if column.unit:
                found[f"unit.{column.unit}"] = column.unit
    return found


def known_keys() -> dict[str, str]:
    """Return every key that a language or a survey may give words to, with the English words."""
    return catalogue(ENGLISH) | declared_words()
