"""Files that are written whole or not at all."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from plotmap.errors import OutputError


@contextmanager
def whole_file(path: Path, what: str) -> Iterator[Path]:
    """Give a place beside a file to write to, and rename it to the file once it is written.

    Parameters
    ----------
    path : Path
        The file; one that is there is replaced in one step.
    what : str
        What it holds, for the message: ``the report``.

    Yields
    ------
    Path
        Where to write; deleted again where writing fails.

    Raises
    ------
    OutputError
        The file cannot be written.
    """
    beside = path.with_name(f".{path.name}.{os.getpid()}")
    try:
        yield beside
        beside.replace(path)
    except OSError as error:
        raise OutputError(
            f"{path}: {what} cannot be written: {error.strerror or error}. Name a file in a folder that is "
            "there and may be written to."
        ) from error
    finally:
        beside.unlink(missing_ok=True)
