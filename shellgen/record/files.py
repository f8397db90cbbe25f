"""What is known about a pack once its files are made: how exact they are, and what each of them contains."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class ReadFileEntry:
    """How far a written file is from what was drawn."""

    path: str
    difference_mm: float


@dataclass(frozen=True, slots=True)
class ReadbackEntry:
    """Written files, read again and compared with what was drawn."""

    limit_mm: float
    difference_max_mm: float
    files: tuple[ReadFileEntry, ...]


@dataclass(frozen=True, slots=True)
class ChangedEntry:
    """A field of the preset that differs between the design and a size."""

    field: str
    design: str
    size: str


@dataclass(frozen=True, slots=True)
class GradedEntry:
    """A pack that is one size of a design. inputs : digest of everything it was made from"""

    from_: str
    inputs: str
    changed: tuple[ChangedEntry, ...]


@dataclass(frozen=True, slots=True)
class FileEntry:
    """One file of the pack."""

    path: str
    sha256: str
    bytes: int


def listing(files: Mapping[str, bytes]) -> tuple[FileEntry, ...]:
    """Every file by its path."""
    return tuple(FileEntry(path, hashlib.sha256(data).hexdigest(), len(data)) for path, data in sorted(files.items()))
