"""Writes a pack of files so that at every instant the folder has the whole old pack or the whole new one."""

from __future__ import annotations

import contextlib
import ctypes
import errno
import glob
import json
import os
import shutil
import sys
import tempfile
from collections.abc import Iterator, Mapping
from dataclasses import Field, replace
from pathlib import Path
from typing import Any, ClassVar, Protocol

from shellgen.core import onefile
from shellgen.errors import FitError
from shellgen.record.files import FileEntry, listing
from shellgen.record.plain import plain

RECORD = "shell.json"
_AT_FDCWD, _RENAME_EXCHANGE = -100, 2  # Linux uapi: fcntl.h, fs.h


class Listing(Protocol):
    """A dataclass that lists files: the record of a shell."""

    __dataclass_fields__: ClassVar[dict[str, Field[Any]]]

    @property
    def files(self) -> tuple[FileEntry, ...] | None: ...


def encode_record(record: Listing, files: Mapping[str, bytes]) -> bytes:
    """`record` as JSON with the list of `files` (path, sha256, bytes) added, the record itself left out."""
    whole = plain(replace(record, files=listing(files)))
    return (json.dumps(whole, indent=1, ensure_ascii=False, allow_nan=False) + "\n").encode()


def write(folder: Path, record: Listing, files: Mapping[str, bytes]) -> None:
    """Writes all files and the record into `folder`, replacing an older pack there in one step.

    Files in the old folder that no pack put there (a maker's notes) are carried over.
    FitError if the folder holds something that is not a pack, or cannot be written.
    """
    folder = folder.absolute()
    check_folder(folder)
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        with _locked(folder.parent) as alone, _temporary_folder(folder, alone=alone) as partial:
            content = {**files, RECORD: encode_record(record, files)}
            for path, data in content.items():
                _write_file(partial / path, data)
            if folder.is_dir():
                _carry_over(folder, partial)
            _sync_folders(partial)
            _check(partial, content)
            _swap(partial, folder)
    except OSError as error:
        raise _write_error(folder, error) from error


def check_folder(folder: Path) -> None:
    """FitError if no pack can replace `folder`, as far as one can check without writing there, so that a build does not
    fail after a minute's work."""
    folder = folder.absolute()
    try:
        if folder.is_symlink() or (folder.exists() and not folder.is_dir()):
            raise FitError(f"{folder} is not a folder. Name a new folder, or one that holds an earlier pack.")
        if folder.is_dir() and any(folder.iterdir()) and not (folder / RECORD).is_file():
            raise FitError(f"{folder} holds files but no {RECORD}. Name a new folder, or one with an earlier pack.")
        if Path.cwd().is_relative_to(folder.resolve()):
            raise FitError(f"{folder} is the current folder, and a pack replaces its whole folder. Name another one.")
        onefile.room(folder)
    except OSError as error:
        raise _write_error(folder, error) from error


def _write_error(folder: Path, error: OSError) -> FitError:
    return FitError(f"cannot write the pack to {folder}: {error.strerror}; what was there is untouched")


@contextlib.contextmanager
def _locked(parent: Path) -> Iterator[bool]:
    """Packs in one folder are written one after another; False if the system cannot lock a folder.

    References: flock(2). The lock ends with the process, however that ends.
    """
    try:
        import fcntl

        handle = os.open(parent, os.O_RDONLY)
    except (ImportError, PermissionError):  # Windows has neither
        yield False
        return
    try:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX)
            alone = True
        except OSError:  # some network file systems
            alone = False
        yield alone
    finally:
        os.close(handle)


@contextlib.contextmanager
def _temporary_folder(folder: Path, *, alone: bool) -> Iterator[Path]:
    """A new folder next to `folder`, removed afterwards, like leftovers of killed builds unless one may be running."""
    prefix = f".{folder.name}.partial-"
    if alone:
        for stale in folder.parent.glob(glob.escape(prefix) + "*"):
            shutil.rmtree(stale, ignore_errors=True)
    outer = Path(tempfile.mkdtemp(prefix=prefix, dir=folder.parent))
    try:
        partial = outer / folder.name
        partial.mkdir()  # with the rights of any new folder; `outer` is for this user only
        yield partial
    finally:
        shutil.rmtree(outer, ignore_errors=True)


def _write_file(path: Path, data: bytes) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("wb") as handle:
        handle.write(data)
        handle.flush()
        os.fsync(handle.fileno())


def _sync(path: Path) -> None:
    """Waits until a folder's names or a file's content would survive a power cut."""
    if sys.platform == "win32" and path.is_dir():
        return
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _sync_folders(root: Path) -> None:
    for folder in (root, *(p for p in root.rglob("*") if p.is_dir() and not p.is_symlink())):
        _sync(folder)


def _check(partial: Path, content: Mapping[str, bytes]) -> None:
    """OSError if a written file is missing, for example because somebody emptied the folder."""
    for path, data in content.items():
        if (partial / path).stat().st_size != len(data):
            raise OSError(errno.EIO, f"{path} is not as it was written")


def _carry_over(old: Path, new: Path) -> None:
    """Copies the maker's own files in the old pack: every file that its record does not list."""
    try:
        listed = {item["path"] for item in json.loads((old / RECORD).read_text("utf-8"))["files"]} | {RECORD}
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        listed = {RECORD}  # unreadable record: keep everything that the new pack does not write
    for path in sorted(old.rglob("*")):
        name = path.relative_to(old)
        target = new / name
        own = path.is_symlink() or (path.is_file() and name.as_posix() not in listed)
        if own and not os.path.lexists(target):
            target.parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(path, target, follow_symlinks=False)
            if not path.is_symlink():
                _sync(target)


def _swap(partial: Path, folder: Path) -> None:
    """Replaces `folder` by `partial`; afterwards `partial` is the old pack, or does not exist."""
    if not folder.exists():
        os.rename(partial, folder)
    elif not _exchange(partial, folder):
        # No atomic exchange here: after a power cut the old pack is still whole under its other name.
        aside = Path(tempfile.mkdtemp(prefix=f".{folder.name}.old-", dir=folder.parent)) / folder.name
        os.rename(folder, aside)
        os.rename(partial, folder)
        shutil.rmtree(aside.parent, ignore_errors=True)
    _sync(folder.parent)


def _exchange(first: Path, second: Path) -> bool:
    """Swaps two names in one step if the system can (Linux); False if not.

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
