"""What a result folder may be, which of its files are plotmap's, and the traces of crashed runs."""

from __future__ import annotations

import os
import platform
import re
import secrets
import shutil
import zlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from plotmap.errors import OutputError
from plotmap.model.columns import Table
from plotmap.model.on_request import ALSO
from plotmap.model.result_tables import RESULT_TABLES
from plotmap.model.result_tables_change import CHANGE_TABLES
from plotmap.model.result_tables_layout import LAYOUT_TABLES
from plotmap.model.sharing import ABOUT_FILE
from plotmap.output.swap import aside_of, recover

FINDINGS_FILE = "findings.csv"
"""A folder that holds nothing else is the result of a stopped run."""
STOPPED_FILE = "findings_stopped.csv"
"""Findings of a stopped run beside the results of an earlier good one."""
TABLES_FOLDER = "tables"
"""Sub-folder of the tables as CSV."""


@dataclass(frozen=True, slots=True)
class ResultKind:
    """What one command writes into its result folder.

    Attributes
    ----------
    good : tuple of str
        A folder that holds all of these is the result of a good run.
    files : frozenset of str
        All files; a former one that is not written again is dropped, never carried over.
    folders : mapping of str to frozenset of str
        Files in each sub-folder.
    never : frozenset of str
        A folder that holds any of these is the result of another command, and not replaced.
    """

    good: tuple[str, ...]
    files: frozenset[str]
    folders: Mapping[str, frozenset[str]]
    never: frozenset[str] = frozenset()

    @classmethod
    def of(
        cls,
        good: tuple[str, ...],
        more: Iterable[str],
        tables: Iterable[Table],
        also: Mapping[str, str] | None = None,
        never: Iterable[str] = (),
    ) -> ResultKind:
        """Return a kind with the side files of its GeoPackages and the findings added.

        `tables` are CSV files in `TABLES_FOLDER`, and files of another ending in each folder that `also` names.
        """
        side = (
            f"{name}-{end}" for name in good if name.endswith(".gpkg") for end in ("journal", "wal", "shm")
        )
        files = frozenset({*good, *more, *side, FINDINGS_FILE, STOPPED_FILE})
        names = [table.name for table in tables]
        endings = {TABLES_FOLDER: ".csv", **(also or {})}
        return cls(
            good,
            files,
            {folder: frozenset(name + end for name in names) for folder, end in endings.items()},
            frozenset(never),
        )


RUN = ResultKind.of(
    ("stand.gpkg", "ledger.csv"),
    ("map.html", "report.html", "report.pdf", "tables.xlsx"),
    RESULT_TABLES,
    ALSO,
    never=(ABOUT_FILE,),
)
"""Written by `plotmap run`."""
SHARE = ResultKind.of(("stand.gpkg", ABOUT_FILE), RUN.files, RESULT_TABLES, ALSO)
"""Written by `plotmap share`."""
COMPARE = ResultKind.of(("change.gpkg", "change.xlsx"), (), CHANGE_TABLES)
"""Written by `plotmap compare`."""
LAYOUT = ResultKind.of(
    ("planned.gpkg", "planned.gpx"), ("planned.kml", "planned.csv", "compartment_maps.pdf"), LAYOUT_TABLES
)
"""Written by `plotmap layout`."""
_OF_THE_SYSTEM = frozenset({".DS_Store", "Thumbs.db", "desktop.ini"})
_SHOWN = 4


def check_target(folder: Path, *, protect: Path | None = None, kind: ResultKind = RUN) -> None:
    """Refuse a folder that plotmap must not replace.

    Parameters
    ----------
    folder : Path
        The result folder.
    protect : Path, optional
        The survey folder.
    kind : ResultKind
        What is to be written there.

    Raises
    ------
    OutputError
        `folder` is `protect` or a parent of it, a file, a mount point, lies in a parent that is not
        there or not a folder, or holds what plotmap did not write: something, but neither a good result
        of this kind nor ``findings.csv`` alone.
    """
    folder = folder.expanduser().resolve()
    if protect is not None and protect.resolve().is_relative_to(folder):
        raise OutputError(
            f"{folder}: this is the survey folder or holds it ({protect}), and results replace their whole folder. "
            f"Name a folder of its own, for instance {protect / 'results'}."
        )
    if not folder.parent.is_dir():
        what = "is a file" if folder.parent.exists() else "is not there"
        raise OutputError(
            f"{folder}: its parent {folder.parent} {what}, but results need a folder to lie in. "
            f"Make the parent folder, or name another place."
        )
    if not folder.exists():
        return
    if not folder.is_dir():
        raise OutputError(
            f"{folder}: this is a file, but results are a folder. Name a folder, or move the file away."
        )
    if folder.is_mount():
        raise OutputError(
            f"{folder}: this is a mount point, which cannot be replaced in one step. "
            f"Name a folder inside it, for instance {folder / 'results'}."
        )
    _check_ours(folder, kind)


def temporary_sibling(folder: Path) -> Path:
    """Make an empty folder beside `folder`, named after it and this process, with its permissions.

    Raises
    ------
    OSError
        The parent may not be written to.
    """
    made = folder.with_name(f".{folder.name}.partial-{os.getpid()}-{_machine()}-{secrets.token_hex(4)}")
    made.mkdir()
    if folder.is_dir():
        shutil.copymode(folder, made)
    return made


def copy_foreign(old: Path, new: Path, kind: ResultKind = RUN) -> None:
    """Carry files that plotmap did not write from one result folder to the next, where the name is free.

    Files are linked where the file system can, else copied: `old` keeps them until it is deleted.

    Raises
    ------
    OSError
        A file cannot be read or written.
    """
    if not old.is_dir():
        return
    for path in sorted(old.iterdir()):
        if path.name in kind.folders and path.is_dir() and not path.is_symlink():
            ours = kind.folders[path.name]
            foreign = [inner for inner in sorted(path.iterdir()) if inner.name not in ours]
            if foreign:
                (new / path.name).mkdir(exist_ok=True)
            for inner in foreign:
                _copy(inner, new / path.name / inner.name)
        elif path.name not in kind.files:
            _copy(path, new / path.name)


def foreign_files(folder: Path, kind: ResultKind) -> list[str]:
    """Return the names of files in a result folder that a command of this kind does not write."""
    if not folder.is_dir():
        return []
    inner = {
        name: frozenset(path.name for path in (folder / name).iterdir())
        for name in kind.folders
        if (folder / name).is_dir()
    }
    found = [
        f"{name}/{file}"
        for name, files in inner.items()
        for file in files - kind.folders[name] - _OF_THE_SYSTEM
    ]
    return sorted(
        [*found, *({path.name for path in folder.iterdir()} - kind.files - set(inner) - _OF_THE_SYSTEM)]
    )


def sweep(folder: Path) -> None:
    """Mend and clear away what crashed runs left beside `folder`.

    A former folder that was renamed aside gets its name back where `folder` is missing. Temporary folders
    of processes of this machine that are no longer there are deleted; on systems other than POSIX they
    are left.

    Raises
    ------
    OSError
        The former folder cannot be renamed.
    """
    if not folder.parent.is_dir():
        return
    recover(folder)
    if folder.exists():
        shutil.rmtree(aside_of(folder), ignore_errors=True)
    name = re.compile(re.escape(f".{folder.name}.partial-") + rf"(\d+)-{_machine()}-[0-9a-f]{{8}}")
    for path in folder.parent.iterdir():
        found = name.fullmatch(path.name)
        if found and _is_gone(int(found[1])) and not path.is_symlink():
            shutil.rmtree(path, ignore_errors=True)


def _check_ours(folder: Path, kind: ResultKind) -> None:
    """Refuse a folder that is neither empty nor a result."""
    names = {path.name for path in folder.iterdir()} - _OF_THE_SYSTEM
    ours = not names or names == {FINDINGS_FILE} or names.issuperset(kind.good)
    if ours and not names & kind.never:
        return
    listed = sorted(names)
    shown = ", ".join(listed[:_SHOWN]) + (f" and {len(listed) - _SHOWN} more" if len(listed) > _SHOWN else "")
    raise OutputError(
        f"{folder}: this folder holds what plotmap did not write ({shown}). Only an empty folder or an earlier "
        f"result ({' and '.join(kind.good)}) is replaced. Name another folder, or move the files away."
    )


def _copy(path: Path, to: Path) -> None:
    """Carry over one file, link or folder unless the name is taken."""
    if to.exists() or to.is_symlink():
        return
    if path.is_dir() and not path.is_symlink():
        shutil.copytree(path, to, symlinks=True, copy_function=_link)
    else:
        _link(path, to)


def _link(path: Path | str, to: Path | str) -> None:
    """Give a file a second name, or copy it where the file system or its owner does not allow that."""
    try:
        os.link(path, to, follow_symlinks=False)
    except (OSError, NotImplementedError):
        shutil.copy2(path, to, follow_symlinks=False)


def _machine() -> str:
    """Return eight letters that stand for this machine: process numbers of others say nothing here."""
    return f"{zlib.crc32(platform.node().encode()):08x}"


def _is_gone(process: int) -> bool:
    """Say whether no process has this number; never asked where asking would end the process."""
    if os.name != "posix":
        return False
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return True
    except (PermissionError, OverflowError):
        return False
    return False
