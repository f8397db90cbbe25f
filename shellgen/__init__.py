"""Turns one preset into everything needed to build a segmented, spiked costume shell from foam.

    from pathlib import Path
    from shellgen import build, read

    build(read("presets/marsh-warden.yaml")).write(Path("out/marsh-warden"))

Four functions lead from the maker's file to the pack, each as far as it goes: `read` the preset, `check` how large it
gets, `compute` the shell, `build` the pack of files. All values are frozen; lengths are mm and angles radians unless a
name says otherwise. What is the maker's to mend is raised as a `ShellgenError`.

>>> import tempfile
>>> from pathlib import Path
>>> import shellgen
>>> path = Path(tempfile.mkdtemp()) / "pond-guard.yaml"
>>> _ = path.write_text('''
... dome: {length: 12 in, width: 26 cm, height: 90}
... plates: {layout: turtle, vertebrals: 3, pleurals: 2, marginals: 6}
... mesh: {edge: 40}
... seams: plates
... shape: {rounds: 0}
... spikes: [{plates: vertebral-2, base_diameter: 20, height: 30}]
... nest: {effort: quick}
... ''')
>>> preset = shellgen.read(path)
>>> preset.name, preset.dome.own.length, preset.foam.thickness
('pond-guard', 304.8, 10.0)
>>> {load.what: round(load.figure) for load in shellgen.check(preset)}["plates"]
20
>>> shell = shellgen.compute(preset)
>>> len(shell.foam.cut.pieces), [spike.name for spike in shell.top.spikes]
(20, ['spike-vertebral-2'])
>>> bool(max(abs(flat.stretch - 1).max() for flat in shell.foam.pattern.flats) < preset.seams.common.stretch_limit)
True
>>> _ = path.write_text("dome: {lenght: 300}")
>>> shellgen.read(path)  # doctest: +ELLIPSIS
Traceback (most recent call last):
shellgen.errors.PresetError: ...pond-guard.yaml:1: dome.lenght: There is no such line. ... Did you mean length?
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from shellgen.errors import FaultError, FitError, GeometryError, PresetError, ShellgenError

if TYPE_CHECKING:
    from shellgen.pack.contents import Pack
    from shellgen.pipeline.shell import Shell
    from shellgen.preset import Preset
    from shellgen.preset.bounds import Load

__version__ = "0.2.0"

__all__ = [
    "FaultError",
    "FitError",
    "GeometryError",
    "Pack",
    "Preset",
    "PresetError",
    "Shell",
    "ShellgenError",
    "__version__",
    "build",
    "check",
    "compute",
    "read",
]


def read(path: str | Path) -> Preset:
    """The preset in a YAML file. PresetError with file, line, field, what was found and what is allowed."""
    from shellgen import preset

    return preset.read(Path(path))


def check(preset: Preset) -> tuple[Load, ...]:
    """How much work the preset comes to, each with the most there may be. PresetError if it is more."""
    from shellgen.core.flow import Flow
    from shellgen.pipeline import dome

    return dome.asked(preset, Flow())[1]


def compute(preset: Preset, *, progress: Callable[[str], None] = lambda _: None) -> Shell:
    """The finished shell: surface, plates, pieces, spikes and all else, but no files.

    progress : called with the name of each stage before it is run
    GeometryError, FitError or PresetError for figures that make no shell.
    """
    from shellgen.core.flow import Flow
    from shellgen.pipeline import shell_of

    flow = Flow(progress)
    shell = shell_of(preset, flow)
    flow.finish()
    return shell


def build(preset: Preset, *, progress: Callable[[str], None] = lambda _: None) -> Pack:
    """The pack: the shell, its record, and the bytes of every file; `write(folder)` puts it in place in one step.

    FaultError if somebody could come to harm by it; `contents.build` has a switch for those who know better.
    """
    from shellgen.pack import contents

    return contents.build(preset, progress=progress)


_HOMES = {"Pack": "pack.contents", "Preset": "preset", "Shell": "pipeline.shell"}


def __getattr__(name: str) -> Any:
    """The classes are looked up when first asked for: they bring the whole house with them."""
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(f"shellgen.{_HOMES[name]}"), name)
