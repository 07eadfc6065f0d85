"""Put a folder in the place of another, in one step where the system can."""

from __future__ import annotations

import ctypes
import errno
import os
import sys
from pathlib import Path

_AT_FDCWD = -100  # fcntl.h of Linux
_RENAME_EXCHANGE = 2  # linux/fs.h; renameat2(2), Linux 3.15
_CANNOT = {errno.ENOSYS, errno.EINVAL, errno.EOPNOTSUPP}
"""What renameat2 answers where the kernel or the file system has no exchange."""


def put_in_place(new: Path, target: Path) -> Path | None:
    """Give `new` the name `target`.

    Parameters
    ----------
    new, target : Path
        Folders beside each other; `target` need not be there.

    Returns
    -------
    Path or None
        Where the former `target` lies now, to be deleted; None where there was none.

    Raises
    ------
    OSError
        Neither way of renaming works; `target` is as it was.
    """
    if not target.exists():
        new.rename(target)
        return None
    if exchange(new, target):
        return new
    aside = aside_of(target)
    target.rename(aside)
    try:
        new.rename(target)
    except BaseException:
        if not target.exists():
            aside.rename(target)
        raise
    return aside


def exchange(one: Path, other: Path) -> bool:
    """Exchange two folders in one step; False where the system cannot, and nothing is changed then.

    Raises
    ------
    OSError
        The system can, but refuses: no permission, a mount point.
    """
    if not sys.platform.startswith("linux"):
        return False
    library = ctypes.CDLL(None, use_errno=True)
    if not hasattr(library, "renameat2"):
        return False
    failed = library.renameat2(
        _AT_FDCWD, os.fsencode(one), _AT_FDCWD, os.fsencode(other), ctypes.c_uint(_RENAME_EXCHANGE)
    )
    if not failed:
        return True
    number = ctypes.get_errno()
    if number in _CANNOT:
        return False
    raise OSError(number, os.strerror(number), str(other))


def aside_of(target: Path) -> Path:
    """Return the name a folder has while another takes its place."""
    return target.with_name(f".{target.name}.replaced-by-plotmap")


def recover(target: Path) -> None:
    """Mend a crash between the two renames: give the former folder its name back.

    Raises
    ------
    OSError
        The former folder cannot be renamed.
    """
    aside = aside_of(target)
    if aside.is_dir() and not target.exists():
        aside.rename(target)
