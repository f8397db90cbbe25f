"""Streams that are closed or full, signals, and no room for a second process: one line, and nothing lost."""

from __future__ import annotations

import errno
import json
import os
import shlex
import signal
import subprocess
import sys
from functools import partial
from pathlib import Path

import pytest
from click.testing import CliRunner

from shellgen.cli import main
from shellgen.core import worker
from shellgen.fields import presetfiles

ROOT = Path(__file__).parent.parent


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


PROGRAM = [sys.executable, "-c", "from shellgen.cli import main; main()"]
SURROUNDINGS = {**os.environ, "PYTHONPATH": str(ROOT)}


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
@pytest.mark.parametrize(
    ("words", "code"),
    (
        ("list papers >&-", 0),
        ("list papers >&- 2>&- <&-", 0),
        ("list papers 2>/dev/full", 0),
        ("list nothing 2>/dev/full", 2),
        ("list nothing 2>&-", 2),
        ("list papers >/dev/full", 1),
    ),
)
def test_streams_that_are_closed_or_full_cost_no_more_than_what_is_shown(words: str, code: int) -> None:
    done = subprocess.run(
        f"{shlex.join(PROGRAM)} {words}", shell=True, capture_output=True, text=True, check=False, env=SURROUNDINGS
    )
    assert done.returncode == code
    assert done.stderr in ("", "Error: cannot write the output: No space left on device\n")
    assert bool(done.stderr) == (code == 1)


def test_json_is_whole_on_a_terminal_of_bare_ascii(here: Path) -> None:
    (here / "pond.yaml").write_text("title: K\u00f6nig\n", encoding="utf-8")
    plain = {**SURROUNDINGS, "PYTHONIOENCODING": "ascii", "LC_ALL": "C"}
    words = [*PROGRAM, "check", "--figures", "--json", "pond.yaml"]
    done = subprocess.run(words, capture_output=True, env=plain, check=True)
    assert json.loads(done.stdout)["title"] == "K\u00f6nig"


@pytest.mark.skipif(sys.platform == "win32", reason="needs signals")
@pytest.mark.parametrize(("sent", "code"), ((signal.SIGINT, 130), (signal.SIGTERM, 143)))
def test_what_is_ended_from_outside_says_so_in_one_line_and_leaves_nothing(
    sent: signal.Signals, code: int, here: Path
) -> None:
    (here / "pond.yaml").write_text("dome: plan\n", encoding="utf-8")
    awake = partial(signal.signal, signal.SIGINT, signal.SIG_DFL)  # a shell's background jobs ignore it
    with subprocess.Popen(
        [*PROGRAM, "build", "pond.yaml"], stderr=subprocess.PIPE, text=True, start_new_session=True, env=SURROUNDINGS,
        preexec_fn=awake,
    ) as of:  # fmt: skip
        assert of.stderr is not None
        of.stderr.readline()  # the first stage has begun, and so has the second process
        os.killpg(of.pid, sent) if sent == signal.SIGINT else of.send_signal(sent)
        told = [line for line in of.stderr.read().splitlines() if " s  " not in line]
        assert of.wait() == code
    assert told == ["Stopped." if sent == signal.SIGINT else "Ended by the system."]
    assert [path.name for path in here.iterdir()] == ["pond.yaml"]


def test_where_there_is_no_room_for_a_second_process_there_is_one(monkeypatch: pytest.MonkeyPatch) -> None:
    """As in a container with a /dev/shm of a few kB."""

    def full(*_: object, **__: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(worker, "cpu_count", lambda: 2)
    monkeypatch.setattr(worker, "ProcessPoolExecutor", full)
    with worker.started(worker.__name__) as other:
        assert other is None


def test_an_error_that_is_not_the_outputs_is_no_mistake_of_theirs(monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_: object) -> None:
        raise OSError(errno.EIO, "a disk")

    monkeypatch.setattr(presetfiles, "presets", fail)
    assert isinstance(CliRunner().invoke(main, ["list", "presets"]).exception, OSError)
