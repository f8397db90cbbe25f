"""Writes a pack of files so that the folder holds the old pack or the new one, whole, at every instant."""

from __future__ import annotations

import contextlib
import ctypes
import errno
import hashlib
import json
import os
import shutil
import sys
import tempfile
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from shellgen.errors import FitError

RECORD = "shell.json"
_AT_FDCWD, _RENAME_EXCHANGE = -100, 2  # Linux uapi: fcntl.h, fs.h


def encode_record(record: Mapping[str, Any], files: Mapping[str, bytes]) -> bytes:
    """`record` as JSON with the list of `files` (path, sha256, bytes) added, the record itself left out."""
    listing = [
        {"path": path, "sha256": hashlib.sha256(data).hexdigest(), "bytes": len(data)}
        for path, data in sorted(files.items())
    ]
    text = json.dumps({**record, "files": listing}, indent=1, ensure_ascii=False, allow_nan=False)
    return (text + "\n").encode()


def write(folder: Path, record: Mapping[str, Any], files: Mapping[str, bytes]) -> None:
    """Writes all files and the record into `folder`, replacing an older pack there in one step.

    Files in the old folder that no pack put there (a maker's notes) are carried over.
    FitError if the folder holds something that is not a pack, or cannot be written.
    """
    folder = folder.absolute()
    if folder.is_symlink() or (folder.exists() and not folder.is_dir()):
        raise FitError(f"{folder} is not a folder; allowed: a new folder, or one that holds an earlier pack")
    if folder.is_dir() and any(folder.iterdir()) and not (folder / RECORD).is_file():
        raise FitError(f"{folder} holds files but no {RECORD}; allowed: a new folder, or one with an earlier pack")
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        _remove_stale(folder)
        with _workplace(folder) as partial:
            for path, data in {**files, RECORD: encode_record(record, files)}.items():
                _write_file(partial / path, data)
            if folder.is_dir():
                _carry_over(folder, partial)
            _sync_folders(partial)
            _swap(partial, folder)
    except OSError as error:
        raise FitError(f"cannot write the pack to {folder}: {error.strerror}; what was there is untouched") from error


def _prefix(folder: Path) -> str:
    return f".{folder.name}.partial-"


@contextlib.contextmanager
def _workplace(folder: Path) -> Iterator[Path]:
    """A new folder beside `folder`, gone afterwards. Its lock lets another build tell a live one from a dead one."""
    descriptor, name = tempfile.mkstemp(prefix=_prefix(folder), suffix=".lock", dir=folder.parent)
    lock, partial = Path(name), Path(name).with_suffix("")
    with os.fdopen(descriptor, "w") as handle:
        _lock(handle)
        try:
            partial.mkdir()
            yield partial
        finally:
            shutil.rmtree(partial, ignore_errors=True)
            lock.unlink(missing_ok=True)


def _lock(handle: Any) -> bool:
    try:
        import fcntl
    except ImportError:  # Windows: stale folders are then left for the user to delete
        return False
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True


def _remove_stale(folder: Path) -> None:
    """Deletes what builds that were killed left behind."""
    for lock in folder.parent.glob(_prefix(folder) + "*.lock"):
        with contextlib.suppress(OSError), lock.open("r+") as handle:
            if _lock(handle):
                shutil.rmtree(lock.with_suffix(""), ignore_errors=True)
                lock.unlink(missing_ok=True)


def _write_file(path: Path, data: bytes) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("wb") as handle:
        handle.write(data)
        handle.flush()
        os.fsync(handle.fileno())


def _sync_folders(root: Path) -> None:
    if sys.platform == "win32":
        return
    for folder in (root, *(p for p in root.rglob("*") if p.is_dir())):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _carry_over(old: Path, new: Path) -> None:
    """Copies what the maker put into the old pack: every file its record does not list."""
    try:
        listed = {item["path"] for item in json.loads((old / RECORD).read_text())["files"]} | {RECORD}
    except (OSError, ValueError, KeyError, TypeError):
        listed = {RECORD}  # an unreadable record: keep everything that the new pack does not write itself
    for path in sorted(old.rglob("*")):
        name = path.relative_to(old)
        target = new / name
        if path.is_file() and not path.is_symlink() and name.as_posix() not in listed and not target.exists():
            target.parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(path, target)


def _swap(partial: Path, folder: Path) -> None:
    """Puts `partial` in the place of `folder`; afterwards `partial` is the old pack, or gone."""
    if not folder.exists():
        os.rename(partial, folder)
    elif not _exchange(partial, folder):
        # No atomic exchange here: the old pack is still whole under its other name if the power goes between.
        aside = Path(tempfile.mkdtemp(prefix=f".{folder.name}.old-", dir=folder.parent)) / folder.name
        os.rename(folder, aside)
        os.rename(partial, folder)
        shutil.rmtree(aside.parent, ignore_errors=True)


def _exchange(first: Path, second: Path) -> bool:
    """Swaps two names in one step where the system can (Linux); False where it cannot.

    References: renameat2(2), RENAME_EXCHANGE.
    """
    if not sys.platform.startswith("linux"):
        return False
    try:
        renameat2 = ctypes.CDLL(None, use_errno=True).renameat2
    except AttributeError:
        return False
    paths = os.fsencode(first), os.fsencode(second)
    if renameat2(_AT_FDCWD, paths[0], _AT_FDCWD, paths[1], _RENAME_EXCHANGE) == 0:
        return True
    code = ctypes.get_errno()
    if code in (errno.EINVAL, errno.ENOSYS, errno.EOPNOTSUPP):  # the file system cannot
        return False
    raise OSError(code, os.strerror(code))
