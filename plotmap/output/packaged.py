"""Files of others that are shipped with plotmap: nothing is used that is not the file of its manifest."""

from __future__ import annotations

import hashlib
import json
from importlib.resources.abc import Traversable

from plotmap.errors import OutputError

MANIFEST = "manifest.json"
"""Beside the files: package, version, licence, file and sha256 of each."""


def verified_bytes(folder: Traversable, file: str, what: str, script: str) -> bytes:
    """Return a shipped file of others, once its hash is that of the manifest.

    Parameters
    ----------
    folder : importlib.resources.abc.Traversable
        Holds the file and `MANIFEST`.
    file : str
        Path below `folder`, with ``/``.
    what : str
        What the file is for, as the message begins: ``map page``.
    script : str
        Script that fetches the files again.

    Returns
    -------
    bytes
        As it was shipped.

    Raises
    ------
    OutputError
        The file is not in the manifest, or its hash is another.
    """
    content = (folder / file).read_bytes()
    listed = {entry["file"]: entry for entry in json.loads((folder / MANIFEST).read_bytes())["files"]}
    found = hashlib.sha256(content).hexdigest()
    expected = listed.get(file, {}).get("sha256", "not listed")
    if found != expected:
        raise OutputError(
            f"{what}: sha256 of assets/{file} is {found}, but the manifest says {expected}. "
            f"Install plotmap again, or run {script}"
        )
    return content
