"""Result folders that are named like files."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from plotmap.errors import OutputError

_FILE_ENDINGS = frozenset({".csv", ".gpkg", ".html", ".pdf", ".toml", ".xlsx"})
"""Endings of the files of a survey or a result; a folder called so is a slip."""


def refuse_file_name(out: Any) -> None:
    """Refuse a result folder that is called like a file."""
    if out is not None and Path(out).suffix.lower() in _FILE_ENDINGS and not Path(out).is_dir():
        raise OutputError(
            f"{out}: this is the name of a file, but results are a folder. Name a folder, for instance "
            f"{Path(out).with_suffix('')}."
        )
