"""The folder that is served: its presets and packs. Nothing outside it is read or written, whatever a request says:
a name is looked up among those that are there, and never made into a path."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from shellgen import pack
from shellgen.errors import FitError

PACKS = "out"
LARGEST_RECORD = 64 * 2**20
"""Most bytes of a record that is read (chosen: that of the first demo has one)."""
SUFFIXES = (".yaml", ".yml")


class MissingError(FitError):
    """There is no such thing in the folder."""


@dataclass(frozen=True, slots=True, eq=False)
class Workplace:
    """folder : resolved; opened : the file that the command names, whatever its ending"""

    folder: Path
    opened: str = ""

    def presets(self) -> dict[str, Path]:
        """By file name."""
        return {
            path.name: path
            for path in sorted(self.folder.iterdir())
            if (path.suffix in SUFFIXES or path.name == self.opened)
            and not path.name.startswith(".")
            and path.is_file()
            and self._within(path)
        }

    def preset(self, name: str) -> Path:
        """MissingError if the folder has no such preset."""
        found = self.presets().get(name)
        if found is None:
            raise MissingError(f"There is no preset {name} in this folder.")
        return found

    def picture(self, name: str) -> Path | None:
        """The picture next to a preset, or that of its pack."""
        path = self.preset(name)
        near = path.with_suffix(".png"), self.folder / PACKS / path.stem / "preview.png"
        return next((file for file in near if file.is_file() and self._within(file)), None)

    def packs(self) -> dict[str, Path]:
        """Folders by name, the latest first."""
        home = self.folder / PACKS
        if not home.is_dir() or not self._within(home):
            return {}
        found = [path for path in home.iterdir() if self._is_pack(path)]
        return {path.name: path for path in sorted(found, key=lambda p: -(p / pack.RECORD).stat().st_mtime)}

    def place_of_pack(self, name: str) -> Path:
        """Where a pack is written. FitError if that leads out of the folder, or no pack can be written there."""
        home = self.folder / PACKS
        if not self._within(home):
            raise FitError(f"{home} leads out of the folder. Remove that link.")
        pack.check_folder(home / name)
        return home / name

    def file(self, name: str, path: str) -> bytes:
        """A file of a pack, which its record must list. MissingError if there is none."""
        home = self._pack(name)
        if path not in (pack.RECORD, *(entry["path"] for entry in listed(home))):
            raise MissingError(f"The pack {name} has no file {path}.")
        return self._content(home, path)

    def files(self, name: str) -> dict[str, bytes]:
        """All files of a pack, as they were built. FitError if one has changed since."""
        home = self._pack(name)
        found = {pack.RECORD: self._content(home, pack.RECORD)}
        for entry in listed(home):
            data = self._content(home, entry["path"])
            if hashlib.sha256(data).hexdigest() != entry["sha256"]:
                raise FitError(f"{entry['path']} in the pack {name} is not as it was built. Build the pack again.")
            found[entry["path"]] = data
        return found

    def _pack(self, name: str) -> Path:
        found = self.packs().get(name)
        if found is None:
            raise MissingError(f"There is no pack {name} in this folder.")
        return found

    def _content(self, home: Path, path: str) -> bytes:
        file = home / path
        try:
            if file.resolve().is_relative_to(home) and file.is_file():
                return file.read_bytes()
        except (OSError, ValueError, RuntimeError):  # names that no file can have, links that lead to themselves
            pass
        raise MissingError(f"The pack {home.name} has no file {path}.")

    def _is_pack(self, path: Path) -> bool:
        record = path / pack.RECORD
        named = not path.name.startswith(".") and not path.is_symlink() and not record.is_symlink()
        return named and path.is_dir() and record.is_file()

    def _within(self, path: Path) -> bool:
        try:
            return path.resolve().is_relative_to(self.folder)
        except (OSError, RuntimeError):
            return False


def listed(home: Path) -> Iterator[dict[str, Any]]:
    """The files that a pack's record lists; none if the record cannot be read."""
    try:
        with (home / pack.RECORD).open("rb") as stream:
            files = json.loads(stream.read(LARGEST_RECORD))["files"]
        yield from (e for e in files if isinstance(e["path"], str) and isinstance(e["sha256"], str))
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return
