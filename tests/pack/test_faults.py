"""Whatever goes wrong while a pack is written, the last good one stands whole, or the new one does."""

from __future__ import annotations

import multiprocessing
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from shellgen import pack
from shellgen.errors import FitError

sys.path.insert(0, str(Path(__file__).parents[2] / "benchmarks"))
import kills

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="needs SIGKILL, flock and fsync of folders")


def put(folder: Path, number: int, *, files: int = 6) -> None:
    pack.write(folder, {"number": number}, kills.made_up(number, files=files))


@pytest.mark.filterwarnings("ignore:.*multi-threaded.*fork:DeprecationWarning")
def test_killed_writers_leave_a_whole_pack(tmp_path: Path) -> None:
    outcomes = kills.kill_writes(tmp_path / "toad", 25, files=6)
    assert outcomes["killed: old pack whole"] > 3


def _put_many(folder: Path, first: int) -> None:
    for number in range(first, first + 12):
        put(folder, number)


def test_two_builds_into_one_folder_take_turns(tmp_path: Path) -> None:
    context = multiprocessing.get_context("spawn")
    writers = [context.Process(target=_put_many, args=(tmp_path / "toad", first)) for first in (100, 200)]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join()
    assert [writer.exitcode for writer in writers] == [0, 0]
    assert kills.whole(tmp_path / "toad") in (111, 211)
    assert [path.name for path in tmp_path.iterdir()] == ["toad"]


@pytest.mark.parametrize("lost", ["toad", "."])
def test_the_folder_is_removed_midway(lost: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder, write_file = tmp_path / "out" / "toad", pack._write_file
    put(folder, 1)

    def write_and_lose(path: Path, data: bytes) -> None:
        write_file(path, data)
        if path.name.endswith("-3.bin"):
            shutil.rmtree(folder.parent / lost)

    monkeypatch.setattr(pack, "_write_file", write_and_lose)
    if lost == "toad":
        put(folder, 2)
        assert kills.whole(folder) == 2
    else:  # what was written so far is gone with it
        with pytest.raises(FitError, match="cannot write the pack"):
            put(folder, 2)
        assert not (folder / pack.RECORD).exists()


def test_a_file_held_open_keeps_what_it_held(tmp_path: Path) -> None:
    put(tmp_path / "toad", 1)
    content = kills.made_up(1, files=6)
    path, data = next(iter(content.items()))
    with (tmp_path / "toad" / path).open("rb") as reader:
        put(tmp_path / "toad", 2)
        assert reader.read() == data
    assert kills.whole(tmp_path / "toad") == 2


def test_what_the_maker_put_there_stays(tmp_path: Path) -> None:
    folder = tmp_path / "[toad] *"
    put(folder, 1)
    (folder / "mine").mkdir()
    (folder / "mine" / "notes.txt").write_text("cut wider", encoding="utf-8")
    (folder / "link").symlink_to("/nowhere")
    put(folder, 2)
    assert (folder / "mine" / "notes.txt").read_text(encoding="utf-8") == "cut wider"
    assert os.readlink(folder / "link") == "/nowhere"
    (folder / pack.RECORD).write_text("[" * 100_000, encoding="utf-8")
    put(folder, 3)
    assert (folder / "mine" / "notes.txt").exists()


def test_everything_is_on_the_disk_before_the_swap_and_the_swap_before_the_clearing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    put(tmp_path / "toad", 1)
    (tmp_path / "toad" / "notes.txt").write_text("mine", encoding="utf-8")
    happened: list[str] = []
    fsync, exchange, rmtree = os.fsync, pack._exchange, shutil.rmtree

    def synced(handle: int) -> None:
        happened.append(os.readlink(f"/proc/self/fd/{handle}").replace(str(tmp_path), "").rpartition(".partial-")[2])
        fsync(handle)

    def exchanged(first: Path, second: Path) -> bool:
        happened.append("swap")
        return exchange(first, second)

    def removed(path: Path, **how: bool) -> None:
        happened.append("clearing")
        rmtree(path, **how)

    monkeypatch.setattr(os, "fsync", synced)
    monkeypatch.setattr(pack, "_exchange", exchanged)
    monkeypatch.setattr(shutil, "rmtree", removed)
    put(tmp_path / "toad", 2)
    swap = happened.index("swap")
    before = {name.partition("/")[2] for name in happened[:swap]}
    wanted = {"toad", "toad/notes.txt", "toad/shell.json", *(f"toad/{p}" for p in kills.made_up(2, files=6))}
    assert before == wanted | {f"toad/sheets-{k}" for k in range(4)}
    assert happened[swap + 1 :] == ["", "clearing"]  # the folder above, by its empty name


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of half a megabyte with a pack on it."""
    disk = tmp_path / "disk"
    disk.mkdir()
    words = ["mount", "-t", "tmpfs", "-o", "size=512k", "shellgen-test", str(disk)]
    if shutil.which("mount") is None or subprocess.run(words, capture_output=True, check=False).returncode:
        pytest.skip("a small disk cannot be mounted here")
    try:
        put(disk / "toad", 1)
        yield disk
    finally:
        subprocess.run(["umount", str(disk)], check=True)


def test_a_full_disk(small_disk: Path) -> None:
    with pytest.raises(FitError, match="No space left on device; what was there is untouched"):
        put(small_disk / "toad", 2, files=30)
    assert kills.whole(small_disk / "toad") == 1
    assert [path.name for path in small_disk.iterdir()] == ["toad"]
    put(small_disk / "toad", 3, files=2)
    assert kills.whole(small_disk / "toad") == 3


def test_a_disk_that_cannot_be_written(small_disk: Path) -> None:
    subprocess.run(["mount", "-o", "remount,ro", str(small_disk)], check=True)
    for folder in ("toad", "new"):
        with pytest.raises(FitError, match="Read-only file system; what was there is untouched"):
            put(small_disk / folder, 2)
    assert kills.whole(small_disk / "toad") == 1
    assert [path.name for path in small_disk.iterdir()] == ["toad"]
