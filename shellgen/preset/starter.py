"""A new preset: a commented starter, or an existing preset under a new name."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Mapping
from pathlib import Path

from shellgen import preset
from shellgen.core import onefile
from shellgen.errors import PresetError
from shellgen.fields import presetfiles
from shellgen.fields.values import RESERVED, SLUG, slug_of
from shellgen.fields.yamltree import Section, quote
from shellgen.preset import opening
from shellgen.preset.schema import schema

SCHEMA_FILE = "preset.schema.json"
POINTER = f"# yaml-language-server: $schema={SCHEMA_FILE}"
"""First line of a new preset: editors that support it complete and check the rest."""
EXISTS = "This file exists already."


def check(path: Path) -> None:
    """PresetError if a new preset cannot have this name, or if the file exists."""
    name = path.stem
    if not re.fullmatch(SLUG, name) or name in RESERVED:
        hint = f"Try {slug_of(name)}." if slug_of(name) not in (*RESERVED, "") else ""
        problem = f"{quote(name)} cannot name a preset."
        raise PresetError("", problem, "Use small letters, digits and single hyphens.", hint=hint)
    if os.path.exists(path):
        raise PresetError("", EXISTS, "Choose a new name.", file=str(path))


def write(path: Path, *, like: str | None = None, answers: Mapping[str, str] | None = None, unit: str = "mm") -> None:
    """Writes a new preset and the schema its editor line points to. PresetError as `check`.

    answers, unit : as `opening.text`; of a copy the answers replace what it says
    """
    check(path)
    name = path.stem
    if like is None:
        text = f"{POINTER}\n{opening.text(name, answers, unit=unit)}"
    else:
        text = _renamed(presetfiles.find(like), name) + _replacing(answers or {}, presetfiles.find(like))
    shape = schema_bytes()
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("x", encoding="utf-8") as stream:
            stream.write(text)
        onefile.put(path.parent / SCHEMA_FILE, shape, rights=0o644)
        if like is not None:
            _copy_files(presetfiles.find(like), path.parent)
    except FileExistsError as error:
        raise PresetError("", EXISTS, "Choose a new name.", file=str(path)) from error
    except OSError as error:
        problem = f"The file cannot be written: {error.strerror}."
        raise PresetError("", problem, "Choose a folder of yours.") from error


def _replacing(answers: Mapping[str, str], source: Path) -> str:
    who = preset.tree_of(source).entries.get("wearer")
    return opening.replacing(answers, who.entries if isinstance(who, Section) else ()) if answers else ""


def _copy_files(source: Path, folder: Path) -> None:
    """The files that a preset names, in the same places under the folder of its copy; what is there already stays."""
    for file in preset.files(preset.read(source)):
        copy = folder / file.relative_to(source.parent)
        if not os.path.lexists(copy):  # what is written through a link could end anywhere
            copy.parent.mkdir(parents=True, exist_ok=True)
            copy.write_bytes(file.read_bytes())


def schema_bytes() -> bytes:
    """The JSON Schema of presets as a file."""
    return (json.dumps(schema(preset.Preset), indent=1, ensure_ascii=False) + "\n").encode()


def _renamed(source: Path, name: str) -> str:
    """The text of a preset under another name, with its comments."""
    preset.read(source)  # a preset that cannot be read is not worth copying
    text, count = re.subn(r"^name:.*$", f"name: {name}", source.read_text("utf-8-sig"), count=1, flags=re.MULTILINE)
    text = text if count else f"name: {name}\n{text}"
    return text if text.startswith("# yaml-language-server:") else f"{POINTER}\n{text}"
