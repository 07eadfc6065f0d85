"""Files are written whole or not at all."""

from __future__ import annotations

from pathlib import Path

import pytest

from plotmap.errors import OutputError
from plotmap.files import whole_file


def test_a_file_is_replaced_once_the_new_one_is_whole(tmp_path: Path) -> None:
    path = tmp_path / "a.txt"
    path.write_text("old")
    with whole_file(path, "the text") as beside:
        beside.write_text("new")
        assert path.read_text() == "old"
    assert path.read_text() == "new"
    assert [found.name for found in tmp_path.iterdir()] == ["a.txt"]


def test_a_write_that_fails_leaves_the_old_file_and_no_other(tmp_path: Path) -> None:
    path = tmp_path / "a.txt"
    path.write_text("old")
    with pytest.raises(OutputError, match=r"a\.txt: the text cannot be written: disk full\. Name a file"):  # noqa: PT012, SIM117
        with whole_file(path, "the text") as beside:
            beside.write_text("half")
            raise OSError(28, "disk full")
    assert path.read_text() == "old"
    assert [found.name for found in tmp_path.iterdir()] == ["a.txt"]


def test_a_fault_of_another_kind_goes_on_and_leaves_nothing_behind(tmp_path: Path) -> None:
    path = tmp_path / "a.txt"
    with pytest.raises(ZeroDivisionError, match="division"):  # noqa: PT012, SIM117
        with whole_file(path, "the text") as beside:
            beside.write_text("half")
            _ = 1 / 0
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_is_not_there_is_named(tmp_path: Path) -> None:
    with (
        pytest.raises(OutputError, match="the text cannot be written: No such file or directory"),
        whole_file(tmp_path / "none" / "a.txt", "the text") as beside,
    ):
        beside.write_text("new")
