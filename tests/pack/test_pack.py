"""The folder of a pack is replaced in one step, or not at all."""

import errno
import json
import os
import signal
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

import pytest

from shellgen import pack
from shellgen.core import onefile
from shellgen.errors import FitError
from shellgen.record.files import FileEntry


@dataclass(frozen=True)
class Toad:
    """The smallest record that can list files."""

    name: str = ""
    files: tuple[FileEntry, ...] | None = None


def test_written_files_match_the_record(tmp_path):
    folder = tmp_path / "out" / "toad"
    pack.write(folder, Toad("toad"), {"templates/a.svg": b"<svg/>", "preview.png": b"png"})
    record = json.loads((folder / "shell.json").read_text())
    assert [f["path"] for f in record["files"]] == ["preview.png", "templates/a.svg"]
    # SHA-256 of "abc": FIPS 180-4, example B.1 (NIST)
    pack.write(folder, Toad(), {"abc": b"abc"})
    digest = json.loads((folder / "shell.json").read_text())["files"][0]["sha256"]
    assert digest == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


def test_second_pack_replaces_the_first_but_keeps_the_makers_own_files(tmp_path):
    folder = tmp_path / "toad"
    pack.write(folder, Toad(), {"old.svg": b"1", "sub/old.stl": b"1"})
    (folder / "notes.txt").write_text("cut 3 mm wider")
    pack.write(folder, Toad(), {"new.svg": b"2"})
    assert sorted(p.name for p in folder.iterdir()) == ["new.svg", "notes.txt", "shell.json"]
    assert sorted(p.name for p in tmp_path.iterdir()) == ["toad"]


def test_a_folder_that_is_not_a_pack_is_refused(tmp_path):
    (tmp_path / "photos").mkdir()
    (tmp_path / "photos" / "cat.jpg").write_bytes(b"x")
    with pytest.raises(FitError, match="holds files but no"):
        pack.write(tmp_path / "photos", Toad(), {"a": b"1"})
    (tmp_path / "file").write_text("x")
    with pytest.raises(FitError, match="not a folder"):
        pack.write(tmp_path / "file", Toad(), {"a": b"1"})


NOBODY = 65534  # the user without rights of every Linux


@pytest.fixture
def own_folder():
    """A folder of a user whom rights can stop: of this one, or of nobody while this one is root."""
    with tempfile.TemporaryDirectory() as name:
        folder, root = Path(name), os.geteuid() == 0
        (folder / "shut").mkdir(mode=0o500)
        (folder / "hidden").mkdir(mode=0o300)
        for path in (folder, *folder.iterdir()) if root else ():
            os.chown(path, NOBODY, NOBODY)
        os.seteuid(NOBODY if root else os.geteuid())
        try:
            yield folder
        finally:
            os.seteuid(0 if root else os.geteuid())
            (folder / "shut").chmod(0o700)
            (folder / "hidden").chmod(0o700)


@pytest.mark.skipif(sys.platform == "win32", reason="needs the rights of POSIX")
def test_a_folder_that_may_not_be_written_is_refused_at_once(own_folder):
    for folder in (own_folder / "shut" / "toad", own_folder / "hidden"):
        with pytest.raises(FitError, match="Permission denied; what was there is untouched"):
            pack.check_folder(folder)


def test_a_failed_write_leaves_the_old_pack(tmp_path):
    folder = tmp_path / "toad"
    pack.write(folder, Toad(), {"a": b"1"})
    with pytest.raises(FitError, match="untouched"):
        pack.write(folder, Toad(), {"b": b"2", "c" * 300: b"too long a name"})
    assert (folder / "a").read_bytes() == b"1" and not (folder / "b").exists()
    assert sorted(p.name for p in tmp_path.iterdir()) == ["toad"]


def test_where_names_cannot_be_exchanged_the_old_pack_goes_aside_first(tmp_path, monkeypatch):
    folder = tmp_path / "toad"
    pack.write(folder, Toad(), {"a": b"1"})
    monkeypatch.setattr(pack, "_exchange", lambda first, second: False)
    pack.write(folder, Toad(), {"b": b"2"})
    assert sorted(p.name for p in folder.iterdir()) == ["b", "shell.json"]
    assert sorted(p.name for p in tmp_path.iterdir()) == ["toad"]


def test_a_single_file_that_cannot_be_written_leaves_the_old_one(tmp_path, monkeypatch):
    onefile.write(tmp_path / "toad.zip", b"old")

    def full(*_):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "replace", full)
    with pytest.raises(FitError, match="No space left on device; what was there is untouched"):
        onefile.write(tmp_path / "toad.zip", b"new")
    assert (tmp_path / "toad.zip").read_bytes() == b"old"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["toad.zip"]


@pytest.mark.skipif(sys.platform == "win32", reason="needs SIGKILL")
def test_killed_builds_leave_a_whole_pack(tmp_path):
    folder = tmp_path / "toad"
    program = (
        "import os, sys; from dataclasses import make_dataclass; from pathlib import Path; from shellgen import pack\n"
        "Toad = make_dataclass('Toad', ['k', ('files', object, None)])\n"
        "for _ in sys.stdin:\n"
        "    builder = os.fork()\n"  # so that the program is read once for all attempts
        "    if builder:\n"
        "        print('ended by', os.WTERMSIG(os.waitpid(builder, 0)[1]), flush=True)\n"
        "    for k in range(0 if builder else 10**6):\n"
        "        pack.write(Path(sys.argv[1]), Toad(k), {f'f{i}': str(k).encode() for i in range(20)})\n"
        "        print(os.getpid(), flush=True) if k == 0 else None\n"
    )
    words = [sys.executable, "-c", program, str(folder)]
    child = subprocess.Popen(words, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
    for attempt in range(8):
        print("build", file=child.stdin, flush=True)
        builder = int(child.stdout.readline())
        time.sleep(0.003 * attempt)
        os.kill(builder, signal.SIGKILL)
        assert child.stdout.readline() == f"ended by {signal.SIGKILL}\n"
        record = json.loads((folder / "shell.json").read_text())
        found = {(folder / f["path"]).read_bytes() for f in record["files"]}
        assert found == {str(record["k"]).encode()} and len(record["files"]) == 20
    child.communicate(timeout=60)
    pack.write(folder, Toad(), {"a": b"1"})
    assert sorted(p.name for p in tmp_path.iterdir()) == ["toad"]
