"""Checks whether this computer has everything that shellgen uses, and says how to install what is missing."""

from __future__ import annotations

import importlib
import re
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from importlib import metadata

OLDEST_PYTHON = (3, 11)

IMPORT_NAMES = {"pyyaml": "yaml", "pillow": "PIL"}
"""Packages whose import name differs from their package name."""

SYSTEM_LIBRARIES = {
    "cadquery": (
        "libGL",
        "STEP files of the spikes",
        "Debian, Ubuntu: sudo apt-get install libgl1; Fedora: sudo dnf install mesa-libGL; "
        "Arch: sudo pacman -S libglvnd; macOS, Windows: part of the system",
    ),
}
"""Packages that need a library of the system: its name, what is left out without it, and how to install it."""


@dataclass(frozen=True, slots=True)
class Check:
    """One check. `needed` is False if shellgen works without it; `cure` is empty if all is well."""

    name: str
    good: bool
    needed: bool
    found: str
    cure: str = ""

    def lines(self) -> Iterator[str]:
        """The lines to print."""
        mark = "good   " if self.good else "MISSING" if self.needed else "without"
        yield f"{mark}  {self.name:<12}  {self.found}"
        if self.cure:
            yield f"{'':9}cure: {self.cure}"


def examine() -> tuple[Check, ...]:
    """Checks of Python, every package that shellgen declares, and the system libraries they need."""
    return (_python(), *(_package(name) for name in _declared()))


def _python() -> Check:
    good = sys.version_info[:2] >= OLDEST_PYTHON
    oldest = ".".join(map(str, OLDEST_PYTHON))
    return Check("python", good, True, sys.version.split()[0], "" if good else f"install Python {oldest} or newer")


def _declared() -> tuple[str, ...]:
    """Names of the packages that the installed shellgen requires, without extras."""
    lines = [line for line in metadata.requires("shellgen") or () if "extra ==" not in line]
    return tuple(re.split(r"[^A-Za-z0-9_.-]", line, maxsplit=1)[0].lower() for line in lines)


def _package(name: str) -> Check:
    library, loss, cure = SYSTEM_LIBRARIES.get(name, ("", "", ""))
    try:
        version = metadata.version(name)
    except metadata.PackageNotFoundError:
        return Check(name, False, not library, "not installed", f"pip install {name}")
    try:
        importlib.import_module(IMPORT_NAMES.get(name, name))
    except (ImportError, OSError) as error:  # OSError if a package loads its library itself
        reason = str(error).strip().splitlines()[0] if str(error).strip() else type(error).__name__
        if library:
            return Check(name, False, False, f"{version}, but it cannot load {library}; left out: {loss}", cure)
        return Check(name, False, True, f"{version}, but it cannot be loaded: {reason}", f"pip install -U {name}")
    return Check(name, True, not library, version)
