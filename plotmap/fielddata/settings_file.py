"""Reading survey.toml: every fault is reported at once, with its key, its value and what is allowed."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from plotmap.errors import SettingsError
from plotmap.fielddata.headings import understand
from plotmap.model.field_tables import FIELD_TABLES
from plotmap.model.settings import Settings


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
        The file is missing, is no TOML, or has faults: all of them are in the message.
    """
    try:
        text = path.read_bytes().decode("utf-8-sig")
        content = tomllib.loads(text)
    except (FileNotFoundError, NotADirectoryError) as error:
        raise SettingsError(
            f"{path.parent}: there is no {path.name}. A survey folder needs one, with at least\n"
            '[plots]\ndesign = "circle"\nradius_m = 12.62\n'
            "Run plotmap new to lay down a survey folder with commented files."
        ) from error
    except IsADirectoryError as error:
        raise SettingsError(f"{path}: this is a folder, but must be a file in TOML.") from error
    except UnicodeDecodeError as error:
        raise SettingsError(f"{path}: the file is no UTF-8 text. Save it as UTF-8.") from error
    except tomllib.TOMLDecodeError as error:
        raise SettingsError(f"{path}: the file is no TOML: {error}. Correct that line.") from error
    return settings_from(content, path.name)


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
        faults = [_in_words(fault, source) for fault in error.errors(include_url=False)]
        raise SettingsError(_all(faults)) from error
    faults = _own_headings(settings, source)
    if faults:
        raise SettingsError(_all(faults))
    return settings


def _all(faults: list[str]) -> str:
    """Return all faults, one a line, with their number."""
    head = "1 fault in the settings:" if len(faults) == 1 else f"{len(faults)} faults in the settings:"
    return "\n".join([head, *(f"  {fault}" for fault in faults)])


def _in_words(fault: Any, source: str) -> str:
    """Return one fault as where, what and what is allowed."""
    section, *keys = [str(part) for part in fault["loc"]] or ["settings"]
    where = f"{source}, [{section}]" + (f" {'.'.join(keys)}" if keys else "")
    if fault["type"] == "missing":
        return f"{where} is missing, but is needed."
    if fault["type"] == "extra_forbidden":
        known = ", ".join(_known_keys(section if keys else ""))
        return f"{where} is no setting. Allowed here: {known}."
    said = str(fault["msg"]).removeprefix("Value error, ").removeprefix("Input ")
    value = fault["input"]
    if isinstance(value, Mapping):
        return f"{where}: {said}."
    return f"{where} is {value!r}, but {said}."


def _known_keys(section: str) -> list[str]:
    """Return the keys of a section, or the sections."""
    fields = Settings.model_fields
    if section not in fields:
        return sorted(fields)
    return sorted(getattr(fields[section].annotation, "model_fields", {}))


def _own_headings(settings: Settings, source: str) -> list[str]:
    """Return the faults of [columns]: tables and columns that do not exist."""
    tables = {table.name: table for table in FIELD_TABLES}
    faults: list[str] = []
    for name, own in settings.columns.items():
        table = tables.get(name)
        if table is None:
            faults.append(f"{source}, [columns.{name}] is no table. Allowed here: {', '.join(tables)}.")
            continue
        for heading, target in own.items():
            if understand(table, target) is None:
                allowed = ", ".join(column.name for column in table.columns)
                faults.append(
                    f"{source}, [columns.{name}] {heading!r} is {target!r}, but must be one of {allowed} "
                    "(d1_cm, d2_cm, … for readings; any unit by its suffix)."
                )
    return faults
