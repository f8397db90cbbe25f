"""What several files of tests need is computed once for a whole run, whichever of its processes asks first."""

from __future__ import annotations

import fcntl
import os
import pickle
import shutil
import sys
import tempfile
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import TypeVar

from cloudpickle import dumps  # of closures too

T = TypeVar("T")
FOLDER = "SHELLGEN_TESTS_FOLDER"
"""Variable of the environment: where the processes of one run leave what they share."""


def begin() -> None:
    """Called by each process of a run; the first makes the folder, and the others find it in their environment."""
    if FOLDER not in os.environ:
        os.environ[FOLDER] = tempfile.mkdtemp(prefix="shellgen-tests-")
        os.environ[f"{FOLDER}_OF"] = str(os.getpid())
        os.environ.pop("PYTHONDONTWRITEBYTECODE", None)  # to compile the house takes half the start of each program
        sys.dont_write_bytecode = False


def end() -> None:
    if os.environ.get(f"{FOLDER}_OF") == str(os.getpid()):
        shutil.rmtree(os.environ.pop(FOLDER), ignore_errors=True)


def shared(name: str, make: Callable[[Path], T]) -> T:
    """What `make` returns, pickled. make : gets a folder of its own, which stays until the run ends"""
    place = Path(os.environ[FOLDER]) / name
    place.mkdir(exist_ok=True)
    kept = place / "result"
    with (place / "lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        with suppress(FileNotFoundError):
            result: T = pickle.loads(kept.read_bytes())
            return result
        result = make(place)
        kept.write_bytes(dumps(result))
    return result
