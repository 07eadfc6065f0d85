"""The result folder is all or nothing. Expected behaviour is our own promise and needs no outside source."""

from __future__ import annotations

import os
import shutil
import signal
import sqlite3
import subprocess
import sys
import textwrap
import threading
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import polars as pl
import pytest

from plotmap.errors import OutputError
from plotmap.model.findings import finding
from plotmap.output import result_folder, swap
from plotmap.output.geopackage import write_geopackage
from plotmap.output.publish import output_errors, publish, write_stopped
from plotmap.output.tables import write_tables, write_workbook
from tests.stand_example import stand_example

FINDINGS = finding("column-unknown", "trees.csv", "the column sweep is not used", column="sweep")


def fill(folder: Path, text: str) -> None:
    """Write what makes a folder a good result."""
    for name in ("stand.gpkg", "ledger.csv"):
        (folder / name).write_text(text)


def contents(folder: Path) -> dict[str, str]:
    """Return every file below a folder with its text."""
    return {
        str(path.relative_to(folder)): path.read_text()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def publish_and_fail(folder: Path, error: BaseException) -> None:
    """Fail when all is written but nothing is in its place yet."""
    with publish(folder) as temporary:
        fill(temporary, "new")
        raise error


def good(text: str) -> dict[str, str]:
    return {"ledger.csv": text, "stand.gpkg": text}


@pytest.fixture(params=["exchange", "two renames"])
def either_way(request, monkeypatch) -> str:
    """Run a test with the one-step exchange and with the way of systems that have none."""
    if request.param == "two renames":
        monkeypatch.setattr(swap, "exchange", lambda _one, _other: False)
    elif not sys.platform.startswith("linux"):
        pytest.skip("only Linux exchanges folders in one step")
    return str(request.param)


@pytest.fixture
def results(tmp_path) -> Path:
    """Return a folder that holds an earlier good result."""
    folder = tmp_path / "results"
    folder.mkdir()
    fill(folder, "old")
    return folder


def test_a_new_folder_appears_only_when_all_is_written(tmp_path) -> None:
    with publish(tmp_path / "results") as temporary:
        fill(temporary, "new")
        assert not (tmp_path / "results").exists()
        assert temporary.parent == tmp_path
    assert contents(tmp_path) == {f"results/{name}": text for name, text in good("new").items()}


def test_an_earlier_result_is_replaced_as_a_whole(results, either_way) -> None:
    for name in ("map.html", "report.pdf", "findings_stopped.csv", "stand.gpkg-wal", "tables.xlsx"):
        (results / name).write_text("of the earlier run")
    (results / "tables").mkdir()
    (results / "tables" / "trees.csv").write_text("of the earlier run")
    with publish(results) as temporary:
        fill(temporary, "new")
        assert contents(results)["stand.gpkg"] == "old"
    assert contents(results) == good("new"), either_way
    assert [path.name for path in results.parent.iterdir()] == ["results"]


@pytest.mark.parametrize("error", [ValueError("a bug"), KeyboardInterrupt("stopped by hand")])
def test_any_exception_leaves_the_folder_as_it_was(results, error) -> None:
    with pytest.raises(type(error), match=str(error)):
        publish_and_fail(results, error)
    assert contents(results.parent) == {f"results/{name}": text for name, text in good("old").items()}
    assert [path.name for path in results.parent.iterdir()] == ["results"]


def test_files_of_the_user_are_carried_over(results, either_way) -> None:
    (results / "notes.txt").write_text("mine")
    (results / "photos" / "day 1").mkdir(parents=True)
    (results / "photos" / "day 1" / "plot.txt").write_text("mine too")
    (results / "tables").mkdir()
    (results / "tables" / "own.csv").write_text("and mine")
    (results / "link").symlink_to("notes.txt")
    with publish(results) as temporary:
        fill(temporary, "new")
    assert contents(results) == good("new") | {
        "notes.txt": "mine",
        "link": "mine",
        "photos/day 1/plot.txt": "mine too",
        "tables/own.csv": "and mine",
    }, either_way
    assert (results / "link").is_symlink()


def test_a_file_of_the_user_never_takes_the_place_of_a_new_result(results) -> None:
    (results / "extra.csv").write_text("mine")
    with publish(results) as temporary:
        fill(temporary, "new")
        (temporary / "extra.csv").write_text("new")
    assert contents(results)["extra.csv"] == "new"


def test_files_are_copied_where_they_cannot_be_linked(results, monkeypatch) -> None:
    def refuse(*_args: object, **_kwargs: object) -> None:
        raise PermissionError(1, "no links here")

    monkeypatch.setattr(os, "link", refuse)
    (results / "notes.txt").write_text("mine")
    with publish(results) as temporary:
        fill(temporary, "new")
    assert contents(results) == good("new") | {"notes.txt": "mine"}


def test_an_empty_folder_and_a_stopped_run_are_replaced(tmp_path) -> None:
    for name, found in {"empty": {}, "stopped": {"findings.csv": "x"}}.items():
        (tmp_path / name).mkdir()
        for file, text in found.items():
            (tmp_path / name / file).write_text(text)
        with publish(tmp_path / name) as temporary:
            fill(temporary, "new")
        assert contents(tmp_path / name) == good("new")


def test_permissions_of_the_folder_stay(results) -> None:
    results.chmod(0o750)
    with publish(results) as temporary:
        fill(temporary, "new")
    assert results.stat().st_mode & 0o777 == 0o750


def test_a_link_to_a_folder_stays_a_link(results, tmp_path) -> None:
    (tmp_path / "link").symlink_to(results)
    with publish(tmp_path / "link") as temporary:
        fill(temporary, "new")
    assert (tmp_path / "link").is_symlink()
    assert contents(results) == good("new")


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="only Linux exchanges folders in one step")
def test_there_is_no_moment_without_results(results) -> None:
    missing = []
    done = threading.Event()

    def watch() -> None:
        while not done.is_set():
            try:
                os.close(os.open(results / "stand.gpkg", os.O_RDONLY))
            except FileNotFoundError:
                missing.append(1)

    watcher = threading.Thread(target=watch)
    watcher.start()
    try:
        for number in range(100):
            with publish(results) as temporary:
                fill(temporary, str(number))
    finally:
        done.set()
        watcher.join()
    assert missing == []
    assert contents(results) == good("99")


def test_when_the_second_rename_fails_the_old_folder_is_back(results, monkeypatch) -> None:
    monkeypatch.setattr(swap, "exchange", lambda _one, _other: False)
    rename = Path.rename

    def refuse_new(path: Path, target: Path) -> Path:
        if ".partial-" in path.name:
            raise PermissionError(13, "Permission denied")
        return rename(path, target)

    monkeypatch.setattr(Path, "rename", refuse_new)
    with (
        pytest.raises(
            OutputError, match=r"Permission denied. The results of the last good run are untouched"
        ),
        publish(results) as temporary,
    ):
        fill(temporary, "new")
    assert contents(results.parent) == {f"results/{name}": text for name, text in good("old").items()}


def test_a_crash_between_two_renames_is_mended_by_the_next_call(results) -> None:
    aside = swap.aside_of(results)
    results.rename(aside)
    with pytest.raises(ValueError, match="stopped again"):
        publish_and_fail(results, ValueError("stopped again"))
    assert contents(results) == good("old")
    assert not aside.exists()


def test_a_crash_after_two_renames_leaves_nothing_behind(results) -> None:
    shutil.copytree(results, swap.aside_of(results))
    with publish(results) as temporary:
        fill(temporary, "new")
    assert [path.name for path in results.parent.iterdir()] == ["results"]


def test_a_process_killed_while_writing_leaves_the_last_results_and_the_next_run_clears_up(results) -> None:
    script = f"""
        import time
        from pathlib import Path
        from plotmap.output.publish import publish
        with publish(Path({str(results)!r})) as temporary:
            (temporary / "stand.gpkg").write_text("half")
            print("writing", flush=True)
            time.sleep(60)
    """
    with subprocess.Popen([sys.executable, "-c", textwrap.dedent(script)], stdout=subprocess.PIPE) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == b"writing\n"
        with publish(results) as temporary:  # a second run leaves the folder of the first alone
            fill(temporary, "second")
        left = [path for path in results.parent.iterdir() if ".partial-" in path.name]
        assert [contents(path) for path in left] == [{"stand.gpkg": "half"}]
        process.send_signal(signal.SIGKILL)
        process.wait()
    assert contents(results) == good("second")
    assert left[0].exists()
    with publish(results) as temporary:
        fill(temporary, "third")
    assert contents(results) == good("third")
    assert [path.name for path in results.parent.iterdir()] == ["results"]


def test_temporary_folders_of_other_machines_and_other_names_are_left(results) -> None:
    dead = subprocess.run(
        [sys.executable, "-c", "import os; print(os.getpid())"], capture_output=True, check=True
    )
    process = int(dead.stdout)
    elsewhere = results.with_name(f".results.partial-{process}-00000000-12345678")
    others = results.with_name(f".other.partial-{process}-{result_folder._machine()}-12345678")  # noqa: SLF001
    crashed = results.with_name(f".results.partial-{process}-{result_folder._machine()}-12345678")  # noqa: SLF001
    for path in (elsewhere, others, crashed):
        path.mkdir()
    with publish(results) as temporary:
        fill(temporary, "new")
    assert (elsewhere.exists(), others.exists(), crashed.exists()) == (True, True, False)


def test_failures_of_the_database_are_worded_and_bugs_are_not(tmp_path) -> None:
    with (
        pytest.raises(OutputError, match=r"could not be written: database or disk is full. Nothing was left"),
        output_errors(tmp_path),
    ):
        raise sqlite3.OperationalError("database or disk is full")
    with pytest.raises(KeyError, match="a bug"), output_errors(tmp_path):
        raise KeyError("a bug")


def test_findings_of_a_stopped_run_are_written_alone_where_there_is_no_result(tmp_path) -> None:
    folder = tmp_path / "results"
    for _ in range(2):
        path = write_stopped(FINDINGS, folder)
        assert path == folder / "findings.csv"
        assert pl.read_csv(path)["column"].to_list() == ["sweep"]
        assert [path.name for path in folder.iterdir()] == ["findings.csv"]
    assert [path.name for path in tmp_path.iterdir()] == ["results"]
    with publish(folder) as temporary:
        fill(temporary, "new")
    assert contents(folder) == good("new")


def test_findings_of_a_stopped_run_lie_beside_good_results(results) -> None:
    (results / "findings.csv").write_text("of the good run")
    path = write_stopped(FINDINGS, results)
    assert path == results / "findings_stopped.csv"
    assert "sweep" in path.read_text()
    assert contents(results).items() >= (good("old") | {"findings.csv": "of the good run"}).items()


def test_findings_of_a_stopped_run_are_not_put_into_folders_of_others(tmp_path) -> None:
    (tmp_path / "letters").mkdir()
    (tmp_path / "letters" / "findings.csv").write_text("mine")
    (tmp_path / "letters" / "letter.txt").write_text("mine")
    with pytest.raises(OutputError, match="what plotmap did not write"):
        write_stopped(FINDINGS, tmp_path / "letters")
    with pytest.raises(OutputError, match="survey folder"):
        write_stopped(FINDINGS, tmp_path, protect=tmp_path)
    assert contents(tmp_path / "letters") == {"findings.csv": "mine", "letter.txt": "mine"}


def test_a_failed_write_of_stopped_findings_leaves_no_folder(tmp_path, monkeypatch) -> None:
    def full(*_args: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(sys.modules["plotmap.output.publish"], "write_findings", full)
    with pytest.raises(OutputError, match="No space left on device"):
        write_stopped(FINDINGS, tmp_path / "results")
    assert list(tmp_path.iterdir()) == []


@pytest.fixture
def mounted(tmp_path) -> Iterator[Callable[[str], Path]]:
    """Return a function that mounts a small file system of its own; skip where that is not permitted."""
    made: list[Path] = []

    def mount(options: str) -> Path:
        folder = tmp_path / f"disk {len(made)}"
        folder.mkdir()
        command = ["mount", "-t", "tmpfs", "-o", options, "tmpfs", str(folder)]
        if not shutil.which("mount") or subprocess.run(command, check=False, capture_output=True).returncode:
            pytest.skip("mounting a file system is not permitted here")
        made.append(folder)
        return folder

    yield mount
    for folder in made:
        subprocess.run(["umount", str(folder)], check=True)


def write_one(name: str, folder: Path, size: int) -> None:
    """Write one kind of result of a stand whose trees are `size` times the example's."""
    stand = stand_example()
    stand = replace(stand, trees=pl.concat([stand.trees] * size))
    if name == "geopackage":
        write_geopackage(stand, folder / "stand.gpkg")
    elif name == "tables":
        write_tables(stand, folder / "tables")
    else:
        write_workbook(stand, folder / "tables.xlsx")


@pytest.mark.parametrize("name", ["geopackage", "tables", "workbook"])
def test_a_full_disk_is_worded_and_the_last_results_are_untouched(mounted, name) -> None:
    disk = mounted("size=400k")
    with publish(disk / "results") as temporary:
        fill(temporary, "old")
    with (
        pytest.raises(
            OutputError, match=r"could not be written: .* last good run are untouched.*free some space"
        ),
        publish(disk / "results") as temporary,
    ):
        write_one(name, temporary, 480)
    assert contents(disk / "results") == good("old")
    assert [path.name for path in disk.iterdir()] == ["results"]


@pytest.mark.parametrize("kilobytes", [40, 150, 250, 300])
def test_a_geopackage_that_does_not_fit_is_never_published(mounted, kilobytes) -> None:
    disk = mounted(f"size={kilobytes}k")
    stand = stand_example()
    try:
        with publish(disk / "results") as temporary:
            write_geopackage(stand, temporary / "stand.gpkg")
    except OutputError:
        assert list(disk.iterdir()) == []
    else:
        with sqlite3.connect(disk / "results" / "stand.gpkg") as database:
            assert database.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
            assert database.execute("SELECT count(*) FROM layer_styles").fetchall() == [(3,)]
        database.close()


def test_a_folder_that_may_not_be_written_to_is_worded(mounted) -> None:
    disk = mounted("size=1m,ro")
    with (
        pytest.raises(
            OutputError, match=r"Read-only file system. Nothing was left behind.*name another folder"
        ),
        publish(disk / "results"),
    ):
        pytest.fail("nothing can be written here")


def test_a_mount_point_is_refused(mounted) -> None:
    disk = mounted("size=1m")
    with pytest.raises(OutputError, match=r"this is a mount point.*Name a folder inside it"), publish(disk):
        pytest.fail("a mount point cannot be replaced")
