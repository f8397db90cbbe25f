"""Writes one file so that under its name there is the old one or the new one, whole, at every instant."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from shellgen.errors import FitError


def write(path: Path, data: bytes) -> None:
    """FitError if it cannot be written; what was there is then untouched."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        put(path, data, rights=0o644)  # as any new file; a temporary one is for the user alone
    except OSError as error:
        raise FitError(f"cannot write {path}: {error.strerror}; what was there is untouched") from error


def put(path: Path, data: bytes, *, rights: int) -> None:
    """The same in a folder that is there, with these permissions; OSError if it cannot be written."""
    handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        os.chmod(name, rights)
        os.replace(name, path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
