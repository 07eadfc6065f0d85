"""Reading survey.toml: every fault is reported at once, with its key, its value and what is allowed."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError

from plotmap.errors import SettingsError
from plotmap.fielddata.headings import understand
from plotmap.model.field_tables import FIELD_TABLES
from plotmap.model.labels import own_label_faults
from plotmap.model.settings import BandSetting, NestSetting, Settings
from plotmap.model.settings_heights import MaximumSetting, VolumeSetting
from plotmap.model.settings_labels import flat_keys
from plotmap.model.settings_map import MapLayerSetting

_AT_LINE = re.compile(r"at line (\d+)")
_FOLDERS = 5
_ENTRIES = {
    "bands": "band",
    "nests": "ring",
    "edges_cm": "edge of edges_cm",
    "equations": "equation",
    "maxima": "maximum",
    "layers": "layer",
}
"""What one entry of a list in the settings is called."""
_ENTRY_MODELS: dict[str, type[BaseModel]] = {
    "nests": NestSetting,
    "bands": BandSetting,
    "equations": VolumeSetting,
    "maxima": MaximumSetting,
    "layers": MapLayerSetting,
}
_SHOWN = 200
"""Longest piece of a file that a message repeats."""


def read_settings(path: Path) -> Settings:
    """Read the settings of a survey.

    Parameters
    ----------
    path : Path
        The file ``survey.toml``.

    Returns
    -------
    Settings
        Frozen and complete.

    Raises
    ------
    SettingsError
        The file is missing, cannot be read, is no TOML, or has faults: all of them are in the message.
    """
    try:
        text = path.read_bytes().decode("utf-8-sig")
        content = tomllib.loads(text)
    except (FileNotFoundError, NotADirectoryError) as error:
        raise SettingsError(
            f"{path.parent}: there is no {path.name}.{_look_alikes(path)} A survey folder needs one, with at least\n"
            '[plots]\ndesign = "circle"\nradius_m = 12.62\n'
            "Run plotmap new to lay down a survey folder with commented files."
        ) from error
    except IsADirectoryError as error:
        raise SettingsError(f"{path}: this is a folder, but must be a file in TOML.") from error
    except OSError as error:
        raise SettingsError(
            f"{path}: the file cannot be read: {error.strerror or error}. Settings need a file that may be read."
        ) from error
    except UnicodeDecodeError as error:
        raise SettingsError(
            f"{path}: the file is no UTF-8 text, but settings are TOML in UTF-8. Save it as UTF-8."
        ) from error
    except (ValueError, RecursionError) as error:  # TOMLDecodeError is a ValueError; so is a number too long
        said = str(error).splitlines()[0][:_SHOWN] if str(error) else type(error).__name__
        raise SettingsError(f"{path}: the file is no TOML: {said}.{_line_of(text, said)}") from error
    return settings_from(content, path.name)


def _look_alikes(path: Path) -> str:
    """Return, for messages, files that may be the settings under another name, and folders around that have some."""
    try:
        beside = sorted(path.parent.iterdir())
    except OSError:
        return ""
    alike = [
        other.name
        for other in beside
        if other.is_file() and other.name.casefold().startswith(("survey.toml", "survey.tml", "survey.txt"))
    ]
    if alike:
        return f" {alike[0]} may be meant: rename it to {path.name} (some systems hide endings)."
    below = [folder.name for folder in beside if folder.is_dir() and (folder / path.name).is_file()]
    if below:
        return f" There is one in {', '.join(below[:_FOLDERS])}: give that folder."
    above = path.parent.resolve().parent
    if (above / path.name).is_file():
        return f" There is one in the folder above, {above}: give that folder."
    return ""


def _line_of(text: str, said: str) -> str:
    """Return, for messages, the line that a TOML error names, and what it most often is."""
    found = _AT_LINE.search(said)
    lines = text.splitlines()
    if found is None or not 1 <= int(found[1]) <= len(lines):
        return " Correct that place."
    line = lines[int(found[1]) - 1].strip()[:_SHOWN]
    return (
        f"\nThe line is: {line}\nMost often a number has a decimal comma (write 12.62), or a text or an own heading "
        'stands without double quotes (write "oak").'
    )


def settings_from(content: Mapping[str, Any], source: str = "settings") -> Settings:
    """Check settings given as nested mappings, as TOML gives them.

    Parameters
    ----------
    content : mapping
        Sections by name.
    source : str
        What to call it in messages.

    Raises
    ------
    SettingsError
        There are faults: all of them are in the message, one a line.
    """
    try:
        settings = Settings.model_validate(dict(content))
    except ValidationError as error:
        faults = [_in_words(fault, source, content) for fault in error.errors(include_url=False)]
        faults += _own_headings(_well_formed(content.get("columns")), source)
        faults += _own_labels(_labels_of(content), source)
        raise SettingsError(_all(faults)) from error
    faults = _own_headings(settings.columns, source) + _own_labels(settings.labels.own, source)
    if faults:
        raise SettingsError(_all(faults))
    return settings


def _all(faults: list[str]) -> str:
    """Return all faults, one a line, with their number."""
    head = "1 fault in the settings:" if len(faults) == 1 else f"{len(faults)} faults in the settings:"
    return "\n".join([head, *(f"  {fault}" for fault in faults)])


def _place(keys: list[str], section: object) -> str:
    """Return a key in words: ``the 2nd band (slate), high_cm`` for ``bands.1.high_cm``."""
    if len(keys) < 2 or not keys[1].isdigit():  # noqa: PLR2004 - list, number, key
        return ".".join(keys)
    number = int(keys[1])
    entries = section.get(keys[0]) if isinstance(section, Mapping) else None
    entry = entries[number] if isinstance(entries, list) and number < len(entries) else None
    name = entry.get("name", entry.get("species", entry.get("file"))) if isinstance(entry, Mapping) else None
    named = f" ({name})" if isinstance(name, str) else ""
    ordinal = {0: "1st", 1: "2nd", 2: "3rd"}.get(number, f"{number + 1}th")
    rest = f", {'.'.join(keys[2:])}" if keys[2:] else ""
    return f"the {ordinal} {_ENTRIES.get(keys[0], 'entry of ' + keys[0])}{named}{rest}"


def _in_words(fault: Any, source: str, content: Mapping[str, Any]) -> str:
    """Return one fault as where, what and what is allowed."""
    section, *keys = [str(part) for part in fault["loc"]] or [""]
    where = (f"{source}, [{section}]" if section else source) + (
        f" {_place(keys, content.get(section))}" if keys else ""
    )
    if fault["type"] == "missing":
        return f"{where} is missing, but is needed."
    if fault["type"] == "extra_forbidden":
        known = ", ".join(_known_keys(section if keys else "", keys[0] if len(keys) > 1 else ""))
        return f"{where} is no setting. Allowed here: {known}."
    said = str(fault["msg"]).removeprefix("Value error, ").removeprefix("Input ")
    said = said.replace("should be", "must be").replace("should have", "must have")
    value = fault["input"]
    if fault["type"] in {"model_type", "dict_type"}:
        whole = ".".join([section, *keys])
        said = f"must be a section: write [{whole}] on a line of its own and its keys below"
    if isinstance(value, Mapping) and fault["type"] == "value_error":
        return f"{where}: {said}."
    shown = "a section" if isinstance(value, Mapping) else repr(value)
    return f"{where} is {shown[:_SHOWN]}, but {said}."


def _well_formed(columns: object) -> dict[str, dict[str, str]]:
    """Return those parts of [columns] that are text by text, so that they can be checked beside other faults."""
    tables = columns if isinstance(columns, Mapping) else {}
    return {
        str(name): {heading: target for heading, target in own.items() if isinstance(target, str)}
        for name, own in tables.items()
        if isinstance(own, Mapping)
    }


def _labels_of(content: Mapping[str, Any]) -> dict[str, str]:
    """Return those own labels that are texts, so that they can be checked beside other faults."""
    section = content.get("labels")
    own = flat_keys(section.get("own")) if isinstance(section, Mapping) else None
    return {key: text for key, text in own.items() if isinstance(text, str)} if isinstance(own, dict) else {}


def _own_labels(own: Mapping[str, str], source: str) -> list[str]:
    """Return the faults of [labels] own: keys that do not exist, and words that do not fit."""
    return [f"{source}, [labels] own {fault}" for fault in own_label_faults(own)]


def _known_keys(section: str, entry: str = "") -> list[str]:
    """Return the keys of a section, of an entry of a list in it, or the sections."""
    fields = Settings.model_fields
    if entry:
        return list(_ENTRY_MODELS[entry].model_fields)
    if section not in fields:
        return sorted(fields)
    return sorted(getattr(fields[section].annotation, "model_fields", {}))


def _own_headings(columns: Mapping[str, Mapping[str, str]], source: str) -> list[str]:
    """Return the faults of [columns]: tables and columns that do not exist."""
    tables = {table.name: table for table in FIELD_TABLES}
    faults: list[str] = []
    for name, own in columns.items():
        table = tables.get(name)
        if table is None:
            faults.append(f"{source}, [columns.{name}] is no table. Allowed here: {', '.join(tables)}.")
            continue
        faults += _double_headings(name, list(own), source)
        for heading, target in own.items():
            if understand(table, target) is None:
                allowed = ", ".join(column.name for column in table.columns)
                faults.append(
                    f"{source}, [columns.{name}] {heading!r} is {target!r}, but must be one of {allowed} "
                    "(d1_cm, d2_cm, … for readings; any unit by its suffix)."
                )
    return faults


def _double_headings(table: str, headings: list[str], source: str) -> list[str]:
    """Return the faults of own headings that differ only by capitals or blanks at their ends."""
    seen: dict[str, str] = {}
    faults: list[str] = []
    for heading in headings:
        first = seen.setdefault(heading.strip().casefold(), heading)
        if first != heading:
            faults.append(
                f"{source}, [columns.{table}] {heading!r} is the heading {first!r} again, as capitals do not count: "
                "keep one of the two."
            )
    return faults
