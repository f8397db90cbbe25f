"""A new preset to begin with: a commented starter, or an existing preset under a new name."""

from __future__ import annotations

import json
import os
import re
from importlib import resources
from pathlib import Path

from shellgen import preset
from shellgen.errors import PresetError
from shellgen.fields.values import RESERVED, SLUG, slug_of
from shellgen.fields.yamltree import quote
from shellgen.preset.schema import schema

SCHEMA_FILE = "preset.schema.json"
POINTER = f"# yaml-language-server: $schema={SCHEMA_FILE}"
"""First line of a new preset: editors that know it complete and check the rest."""
_PACKAGE = Path(str(resources.files("shellgen")))
_INSTALLED = _PACKAGE / "presets"
FOLDERS = (Path("presets"), _INSTALLED if _INSTALLED.is_dir() else _PACKAGE.parent / "presets")
"""Where presets are looked for by name: here, then among those that come with shellgen, which stand in the package
once it is installed and at the top level of a checkout."""

STARTER = f"""\
{POINTER}
# Lengths are millimetres unless a unit stands behind: 560, 56 cm, 22 in, 22 1/2 in.
# A line that is left out takes its default; "shellgen list fields" shows every line there is.

name: {{name}}

# The finished shell, measured outside. Measure the wearer's back with the costume's underclothes on.
dome:
  length: 560      # from the base of the neck to where the shell ends; short enough to sit down in
  width: 460       # from bony point to bony point of the shoulders, and two fingers past each; wider blocks the elbows
  height: 180      # how far the crown stands out from the rim; more looks heavier and goes through fewer doors

# How the dome is divided into plates. "shellgen list layouts" shows the layouts.
plates:
  layout: turtle

# The foam that the pieces are cut from.
foam:
  thickness: 10    # measure the sheet: 10 mm foam is often 9

# Each item is a kind of spike. "shellgen list profiles" shows the shapes.
spikes:
  - profile: cone
    base_diameter: 36
    height: 46
    tip_radius: 5  # a tip rounder than a fingertip; never make it sharp, people will bump into it
"""


def find(name: str) -> Path:
    """The preset meant by a path, or by the bare name of one in a `presets` folder.

    `os.path.exists` is False where `Path.exists` would raise: for names that no file can have.
    """
    path = Path(name)
    if os.path.exists(path) or path.suffix:
        return path
    places = [folder / f"{name}.yaml" for folder in FOLDERS]
    return next((place for place in places if os.path.exists(place)), path)


def presets() -> tuple[Path, ...]:
    """The presets at hand, by name; one here hides one of the same name that comes with shellgen."""
    found = {path.name: path for folder in reversed(FOLDERS) for path in folder.glob("*.yaml")}
    return tuple(found[name] for name in sorted(found))


def write(path: Path, *, like: str | None = None) -> None:
    """Writes a new preset and the schema its editor line points to. PresetError if the name is no good or taken."""
    name = path.stem
    if not re.fullmatch(SLUG, name) or name in RESERVED:
        hint = f"Try {slug_of(name)}." if slug_of(name) not in (*RESERVED, "") else ""
        problem = f"{quote(name)} cannot name a preset."
        raise PresetError("", problem, "Use small letters, digits and single hyphens.", hint=hint)
    text = STARTER.replace("{name}", name) if like is None else _renamed(find(like), name)
    shape = schema_bytes()
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("x", encoding="utf-8") as stream:
            stream.write(text)
        (path.parent / SCHEMA_FILE).write_bytes(shape)
    except FileExistsError as error:
        raise PresetError("", "This file exists already.", "Choose a new name.", file=str(path)) from error
    except OSError as error:
        problem = f"The file cannot be written: {error.strerror}."
        raise PresetError("", problem, "Choose a folder of yours.") from error


def schema_bytes() -> bytes:
    """The JSON Schema of presets as a file."""
    return (json.dumps(schema(preset.Preset), indent=1, ensure_ascii=False) + "\n").encode()


def _renamed(source: Path, name: str) -> str:
    """The text of a preset under another name, comments and all."""
    preset.read(source)  # a copy of what cannot be read would help nobody
    text, count = re.subn(r"^name:.*$", f"name: {name}", source.read_text("utf-8-sig"), count=1, flags=re.MULTILINE)
    text = text if count else f"name: {name}\n{text}"
    return text if text.startswith("# yaml-language-server:") else f"{POINTER}\n{text}"
