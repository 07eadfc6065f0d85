"""The result folder, all or nothing: written beside itself and put in place in one step."""

from __future__ import annotations

import os
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from plotmap.errors import OutputError
from plotmap.model.findings import Findings
from plotmap.output.result_folder import (
    FINDINGS_FILE,
    RUN,
    STOPPED_FILE,
    ResultKind,
    check_target,
    copy_foreign,
    sweep,
    temporary_sibling,
)
from plotmap.output.swap import put_in_place
from plotmap.output.tables import write_findings

_SHOWN = 300


@contextmanager
def publish(folder: Path, *, protect: Path | None = None, kind: ResultKind = RUN) -> Iterator[Path]:
    """Give a temporary folder to write into; at the end of the block it takes the place of `folder`.

    The temporary folder lies beside `folder`. Where the system can exchange two folders in one step
    (Linux), there is no moment without results; elsewhere the old folder is renamed aside first, and a
    crash between the two steps is mended by the next call. Files in `folder` that plotmap did not write
    are carried over. On any exception the temporary folder is removed and `folder` stays as it was.

    Parameters
    ----------
    folder : Path
        The result folder; made where it is not there, its parent must be.
    protect : Path, optional
        The survey folder: `folder` must be neither it nor a parent of it.
    kind : ResultKind
        What is to be written: which of the files there are plotmap's own.

    Yields
    ------
    Path
        An empty folder to write all results into.

    Raises
    ------
    OutputError
        `folder` is not one plotmap may replace (see `check_target`), or writing fails: no space, no
        permission. `folder` is untouched then.

    Examples
    --------
    >>> with publish(Path("results"), protect=Path(".")) as temporary:  # doctest: +SKIP
    ...     write_geopackage(stand, temporary / "stand.gpkg")
    """
    target = folder.expanduser().resolve()
    with output_errors(target, kind):
        check_target(target, protect=protect, kind=kind)
        sweep(target)
        temporary = temporary_sibling(target)
        try:
            yield temporary
            copy_foreign(target, temporary, kind)
            _flush(temporary)
            replaced = put_in_place(temporary, target)
        except BaseException:
            shutil.rmtree(temporary, ignore_errors=True)
            raise
        if replaced is not None:
            shutil.rmtree(replaced, ignore_errors=True)


@contextmanager
def output_errors(folder: Path, kind: ResultKind = RUN) -> Iterator[None]:
    """Word failures of writing inside the block as `OutputError`.

    Parameters
    ----------
    folder : Path
        Where the results were to go; named in the message.
    kind : ResultKind
        What was to be written.

    Raises
    ------
    OutputError
        The system, the GeoPackage or the workbook could not be written. What caused it is chained.
    """
    try:
        yield
    except Exception as error:
        if not _is_output_failure(error):
            raise
        left = (
            "The results of the last good run are untouched."
            if (folder / kind.good[0]).exists()
            else "Nothing was left behind."
        )
        raise OutputError(
            f"{folder}: the results could not be written: {_reason(error)}. {left} "
            f"Results need a folder that may be written to, on a disk with space for them: "
            f"free some space, ask for permission, or name another folder."
        ) from error


def write_stopped(findings: Findings, folder: Path, *, protect: Path | None = None) -> Path:
    """Write the findings that stopped a run, without touching good results.

    Parameters
    ----------
    findings : Findings
        All findings of the run.
    folder : Path
        The result folder; made where it is not there.
    protect : Path, optional
        The survey folder, as for `publish`.

    Returns
    -------
    Path
        ``findings.csv`` in `folder`, or ``findings_stopped.csv`` where `folder` holds the results of an
        earlier good run.

    Raises
    ------
    OutputError
        `folder` is not one plotmap may write into, or the file cannot be written.
    """
    target = folder.expanduser().resolve()
    with output_errors(target):
        check_target(target, protect=protect)
        sweep(target)
        temporary = temporary_sibling(target)
        try:
            write_findings(findings, temporary / FINDINGS_FILE)
            target.mkdir(exist_ok=True)
            good = (target / RUN.good[0]).exists()
            path = target / (STOPPED_FILE if good else FINDINGS_FILE)
            (temporary / FINDINGS_FILE).replace(path)
        finally:
            shutil.rmtree(temporary, ignore_errors=True)
    return path


def _is_output_failure(error: Exception) -> bool:
    """Say whether an exception means that a file could not be written."""
    from pyogrio.errors import DataLayerError, DataSourceError  # noqa: PLC0415 - slow to import
    from xlsxwriter.exceptions import XlsxFileError  # noqa: PLC0415

    return isinstance(
        error, OSError | sqlite3.OperationalError | DataLayerError | DataSourceError | XlsxFileError
    )


def _reason(error: Exception) -> str:
    """Return what happened in a few words; an operating-system error without its internal paths."""
    if isinstance(error, OSError):
        return error.strerror or str(error)
    said = str(error).rstrip(".")  # SQLite repeats the whole statement; what went wrong stands at its end
    return said if len(said) <= _SHOWN else f"{said[: _SHOWN // 3]} … {said[-_SHOWN // 2 :]}"


def _flush(folder: Path) -> None:
    """Have the system write every file of a folder to the disk, so that a full disk is noticed now."""
    if os.name != "posix":
        return
    for path in sorted(folder.rglob("*")):
        if path.is_symlink() or not (path.is_file() or path.is_dir()):
            continue
        with suppress(PermissionError):
            descriptor = os.open(path, os.O_RDONLY)
            try:
                os.fsync(descriptor)
            finally:
                os.close(descriptor)
