"""What a writer asks for words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from plotmap.errors import SettingsError
from plotmap.model.columns import Column, Table
from plotmap.model.labels.catalogue import ENGLISH, catalogue
from plotmap.model.labels.own import own_label_faults
from plotmap.model.labels.placeholders import filled
from plotmap.model.settings import Settings


@dataclass(frozen=True, slots=True)
class Labels:
    """Words people read, in one language, own labels put over them. All are plain text: each writer escapes it.

    Attributes
    ----------
    language : str
        Its code, as of ``<html lang>``.
    texts : mapping of str to str
        Words by key: those of English, over them those of the language, over them the survey's own.
    own : mapping of str to str
        The survey's own among them.
    """

    language: str
    texts: Mapping[str, str]
    own: Mapping[str, str]

    def __call__(self, key: str, /, **values: object) -> str:
        """Return the words of a key, with values in their places.

        Parameters
        ----------
        key : str
            As ``map.no_plots``.
        **values : object
            What is put in the placeholders, as it prints; exactly those of the label.

        Raises
        ------
        KeyError
            No such key, or the values are not those that the label has places for: a fault of the code.
        """
        return filled(key, self.texts[key], values)

    def count(self, key: str, n: int, /, **values: object) -> str:
        """Return the words for `n` things: of ``<key>_one`` for 1, else of ``<key>_many``; both may say ``{n}``.

        Raises
        ------
        KeyError
            As of a call.
        """
        form = f"{key}_one" if n == 1 else f"{key}_many"
        shown = {"n": n} if "{n}" in self.texts[form] else {}
        return self(form, **shown, **values)

    def section(self, name: str) -> dict[str, str]:
        """Return all words of one output by their keys in it, for a page that fills the placeholders itself.

        Raises
        ------
        KeyError
            The catalogue has no such section.
        """
        start = f"{name}."
        found = {key.removeprefix(start): text for key, text in self.texts.items() if key.startswith(start)}
        if not found:
            raise KeyError(f"the catalogue of labels has no section [{name}]")
        return found

    def word(self, value: str) -> str:
        """Return a word of the tables, such as a status, for people; a word that is not listed stays as it is.

        Parameters
        ----------
        value : str
            As the table has it: ``one plot``.
        """
        return self.texts.get(word_key(value), value)

    def title(self, column: Column, table: Table | str = "") -> str:
        """Return the title of a column without its unit; give the table where one name has several titles."""
        return self._declared("column", column.name, table) or column.title

    def unit(self, column: Column) -> str:
        """Return the unit of a column as people read it; empty where there is none."""
        return self.texts.get(f"unit.{column.unit}", column.unit)

    def heading(self, column: Column, table: Table | str = "") -> str:
        """Return the title of a column with its unit: ``Basal area (m²/ha)``."""
        unit = self.unit(column)
        return f"{self.title(column, table)} ({unit})" if unit else self.title(column, table)

    def meaning(self, column: Column, table: Table | str = "") -> str:
        """Return what a column means, in a sentence."""
        return self._declared("meaning", column.name, table) or column.meaning

    def table(self, table: Table) -> str:
        """Return the title of a table."""
        return self.texts.get(f"table.{table.name}", table.title)

    def sheet_name(self, table: Table) -> str:
        """Return what the sheet of a table is called in a workbook."""
        return self.texts.get(f"sheet_name.{table.name}", table.name)

    def _declared(self, kind: str, name: str, table: Table | str) -> str | None:
        """Return the words for a column of a table: own ones first, and those of this table only before others."""
        at = table.name if isinstance(table, Table) else table
        keys = (f"{kind}.{at}.{name}", f"{kind}.{name}")
        found = (texts[key] for texts in (self.own, self.texts) for key in keys if key in texts)
        return next(found, None)


def word_key(value: str) -> str:
    """Return the key of a word of the tables: ``words.one_plot`` for ``one plot``."""
    return f"words.{value.lower().replace(' ', '_').replace('-', '_')}"


def labels_of(settings: Settings) -> Labels:
    """Return the labels of a survey.

    Parameters
    ----------
    settings : Settings
        Their section ``[labels]`` says the language and own labels.

    Returns
    -------
    Labels
        A key that the language lacks has the English words.

    Raises
    ------
    SettingsError
        Own labels have faults (`plotmap.model.labels.own_label_faults`), and the settings were not read from a file.
    """
    section = settings.labels
    if faults := own_label_faults(section.own):
        raise SettingsError("\n".join(f"[labels] own {fault}" for fault in faults))
    texts = catalogue(ENGLISH) | catalogue(section.language) | section.own
    return Labels(section.language, texts, section.own)
