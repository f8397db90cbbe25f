"""Finds the members of a family by file name, so that a new one is one new file and no table to edit."""

from __future__ import annotations

import importlib
import pkgutil
from types import ModuleType


def names(package: str) -> tuple[str, ...]:
    """Sorted names of the modules in `package`, those that begin with an underscore left out."""
    paths = importlib.import_module(package).__path__
    return tuple(sorted(m.name for m in pkgutil.iter_modules(paths) if not m.name.startswith("_")))


def load(package: str, name: str) -> ModuleType:
    """The member `name` of `package`. KeyError, with the names there are, if there is none."""
    if name not in names(package):
        raise KeyError(f"no {name!r} among {', '.join(names(package))}")
    return importlib.import_module(f"{package}.{name}")


def about(package: str, name: str) -> str:
    """The first sentence that a member says of itself."""
    opening = " ".join((load(package, name).__doc__ or "").split("\n\n")[0].split())
    return opening.split(". ")[0].rstrip(".:")
