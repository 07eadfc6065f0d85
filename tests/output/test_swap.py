"""Exchanging folders: renameat2(2) of Linux, and two renames elsewhere."""

from __future__ import annotations

import ctypes
import sys
from pathlib import Path

import pytest

from plotmap.output import swap
from plotmap.output.swap import exchange, put_in_place, recover

linux = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="only Linux exchanges in one step")


@pytest.fixture
def pair(tmp_path) -> tuple[Path, Path]:
    """Return two folders that hold a file with their name."""
    for name in ("new", "target"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "file").write_text(name)
    return tmp_path / "new", tmp_path / "target"


@linux
def test_two_folders_change_names(pair) -> None:
    new, target = pair
    assert exchange(new, target)
    assert (new / "file").read_text() == "target"
    assert (target / "file").read_text() == "new"


@linux
def test_a_refusal_of_the_system_is_raised_with_its_reason(pair, tmp_path) -> None:
    with pytest.raises(FileNotFoundError, match="No such file or directory"):
        exchange(pair[0], tmp_path / "nowhere")


def test_systems_without_an_exchange_change_nothing(pair, monkeypatch) -> None:
    new, target = pair
    monkeypatch.setattr(sys, "platform", "darwin")
    assert not exchange(new, target)
    assert (target / "file").read_text() == "target"


@linux
def test_file_systems_without_an_exchange_change_nothing(pair, monkeypatch) -> None:
    class Library:
        @staticmethod
        def renameat2(*_args: object) -> int:
            ctypes.set_errno(22)  # EINVAL
            return -1

    monkeypatch.setattr(ctypes, "CDLL", lambda *_args, **_kwargs: Library)
    new, target = pair
    assert not exchange(new, target)
    monkeypatch.setattr(ctypes, "CDLL", lambda *_args, **_kwargs: object())  # a C library without the call
    assert not exchange(new, target)
    assert (target / "file").read_text() == "target"


def test_a_target_that_is_not_there_is_made_by_one_rename(pair, tmp_path) -> None:
    assert put_in_place(pair[0], tmp_path / "fresh") is None
    assert (tmp_path / "fresh" / "file").read_text() == "new"


def test_without_an_exchange_the_old_folder_lies_aside(pair, monkeypatch) -> None:
    new, target = pair
    monkeypatch.setattr(swap, "exchange", lambda _one, _other: False)
    aside = put_in_place(new, target)
    assert aside == swap.aside_of(target)
    assert (target / "file").read_text() == "new"
    assert (aside / "file").read_text() == "target"


def test_recovery_never_touches_a_folder_that_is_there(pair) -> None:
    new, target = pair
    new.rename(swap.aside_of(target))
    recover(target)
    assert (target / "file").read_text() == "target"
    assert swap.aside_of(target).exists()
