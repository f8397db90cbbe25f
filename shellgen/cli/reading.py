"""Reading the preset of a command, and wording what goes wrong with it for its maker."""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import click

from shellgen.errors import FaultError, PresetError, ShellgenError, printable


def there(name: str) -> Path:
    """The file of a preset, found before anything heavy is imported: a wrong name is answered at once."""
    from shellgen.fields import presetfiles, yamltree

    path = presetfiles.find(name)
    yamltree.content(path)
    return path


def read(name: str) -> tuple[Path, Any]:
    """A preset and its path. That it is YAML is found out before anything heavy is imported."""
    from shellgen.fields import yamltree

    path = there(name)
    yamltree.read(path)
    from shellgen import preset

    return path, preset.read(path)


@contextlib.contextmanager
def progress(path: Path, content: Any) -> Iterator[Callable[[str], None]]:
    """A line on stderr as each stage starts."""
    start = time.perf_counter()
    with located(path, content):
        yield lambda stage: click.echo(f"{time.perf_counter() - start:6.1f} s  {stage}", err=True)


@contextlib.contextmanager
def located(path: Path, content: Any) -> Iterator[None]:
    """Adds the file to a stage's error, the line if the error names one field, and the units of the maker."""
    try:
        yield
    except ShellgenError as error:
        from shellgen import preset
        from shellgen.canvas import rule

        both = rule.of(content.print.paper).both
        if isinstance(error, FaultError):
            raise FaultError(str(error), tuple(map(both, error.faults))) from error
        if isinstance(error, PresetError):
            raise preset.locate(error.worded(both), path) from error
        raise type(error)(f"{printable(str(path))}: {both(str(error))}") from error
