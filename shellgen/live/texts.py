"""The text of a preset while several hands edit it: written only over the text that was read."""

from __future__ import annotations

import hashlib
import os
from dataclasses import dataclass
from pathlib import Path

from shellgen.core import onefile
from shellgen.errors import PresetError, ShellgenError
from shellgen.fields import yamltree

GONE = ""
"""The digest of a file that is not there."""


@dataclass(frozen=True, slots=True)
class PresetText:
    """A text as it is in the file, a byte order mark included. digest : SHA-256 of its bytes"""

    text: str
    digest: str


class OvertakenError(ShellgenError):
    """The file has changed since it was read. now : what it is"""

    def __init__(self, now: PresetText) -> None:
        super().__init__("The file has changed meanwhile. Look at both texts.")
        self.now = now


def read(path: Path) -> PresetText:
    """PresetError if it cannot be read, or is no UTF-8."""
    data = yamltree.content(path)
    try:
        if len(data) <= yamltree.LARGEST:
            return PresetText(data.decode("utf-8"), hashlib.sha256(data).hexdigest())
    except UnicodeDecodeError:
        pass
    yamltree.parse(data, file=str(path))  # says what is wrong with it
    raise AssertionError


def write(path: Path, text: str, digest: str) -> PresetText:
    """Replaces the text with this digest, in one step; `GONE` if there must be no file.

    OvertakenError if the file has another text by now. PresetError if it cannot be written.
    """
    data = text.encode("utf-8")
    if len(data) > yamltree.LARGEST:
        size = f"{yamltree.LARGEST // 1024} kB"
        raise PresetError("", f"The text has more than {size}.", f"A preset has up to {size}.", file=str(path))
    path = path.resolve()

    def unchanged() -> None:
        now = read(path) if os.path.lexists(path) else PresetText("", GONE)
        if now.digest != digest:
            raise OvertakenError(now)

    try:
        unchanged()
        rights = 0o644 if digest == GONE else path.stat().st_mode & 0o7777
        onefile.put(path, data, rights=rights, last=unchanged)
    except OSError as error:
        problem = f"The preset cannot be written: {error.strerror}."
        raise PresetError("", problem, "Use a file of yours.", file=str(path)) from error
    return PresetText(text, hashlib.sha256(data).hexdigest())


def set_aside(path: Path, text: str) -> Path:
    """Writes a text under a new name next to the preset, so that nothing of it is lost."""
    number = 1
    while True:
        other = path.with_name(f"{path.stem}-other{f'-{number}' if number > 1 else ''}{path.suffix}")
        try:
            write(other, text, GONE)
            return other
        except OvertakenError:
            number += 1
