"""Writes one file so that under its name there is the old one or the new one, whole, at every instant."""

from __future__ import annotations

import errno
import os
import tempfile
from collections.abc import Callable
from pathlib import Path

from shellgen.errors import FitError


def write(path: Path, data: bytes) -> None:
    """FitError if it cannot be written; what was there is then untouched."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        put(path, data, rights=0o644)  # as any new file; a temporary one is for the user alone
    except OSError as error:
        raise _unwritten(path, error) from error


def put(path: Path, data: bytes, *, rights: int, last: Callable[[], object] = lambda: None) -> None:
    """The same in a folder that is there, with these permissions; OSError if it cannot be written.

    last : called when all is ready for the exchange; what it raises leaves the old file
    """
    handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        os.chmod(name, rights)
        last()
        os.replace(name, path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


def hold(path: Path) -> None:
    """FitError if nothing can be written under this name, as far as that is seen without leaving anything there."""
    try:
        if path.is_dir():
            raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR))
        room(path)
    except OSError as error:
        raise _unwritten(path, error) from error


def room(path: Path) -> None:
    """OSError unless a file or folder can be put where `path` is, or be made there with the folders above it."""
    near = next(folder for folder in path.absolute().parents if os.path.lexists(folder))
    if not near.is_dir():
        raise NotADirectoryError(errno.ENOTDIR, os.strerror(errno.ENOTDIR))
    with tempfile.TemporaryFile(dir=near):  # only a trial shows why not: rights, a disk that is full or read-only
        pass


def _unwritten(path: Path, error: OSError) -> FitError:
    return FitError(f"cannot write {path}: {error.strerror}; what was there is untouched")
