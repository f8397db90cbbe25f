"""Where presets are: found by path or by name, without what it takes to understand them."""

from __future__ import annotations

import os
from importlib import resources
from pathlib import Path

_PACKAGE = Path(str(resources.files("shellgen")))
_INSTALLED = _PACKAGE / "presets"
FOLDERS = (Path("presets"), _INSTALLED if _INSTALLED.is_dir() else _PACKAGE.parent / "presets")
"""Folders with presets: the current one, then the one that comes with shellgen, within the installed package or at
the top level of a checkout."""


def find(name: str) -> Path:
    """The preset with a path, or with a name in a `presets` folder.

    `os.path.exists` is False where `Path.exists` would raise: for names that no file can have.
    """
    path = Path(name)
    if os.path.exists(path) or path.suffix:
        return path
    places = [folder / f"{name}.yaml" for folder in FOLDERS]
    return next((place for place in places if os.path.exists(place)), path)


def presets() -> tuple[Path, ...]:
    """All presets by name; one in the current folder replaces one that comes with shellgen."""
    found = {path.name: path for folder in reversed(FOLDERS) for path in folder.glob("*.yaml")}
    return tuple(found[name] for name in sorted(found))
