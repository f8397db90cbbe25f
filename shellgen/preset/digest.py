"""What a preset says, as one digest: so that a pack can be known for that of a preset."""

from __future__ import annotations

import hashlib
import json
from dataclasses import fields, is_dataclass
from typing import Any

from shellgen.fields import params
from shellgen.preset import Preset
from shellgen.wear import wearer


def digest(preset: Preset) -> str:
    """SHA-256 of every figure and word as read, defaults too, and of what the files hold that it names.

    It stands in the pack, and there are few enough measures to try them all: so of a wearer who keeps them private
    only the steps count, which the pack is made from. Where the preset lies, on which computer, does not count.
    """
    content = {field.name: _plain(getattr(preset, field.name)) for field in fields(preset) if field.name != "wearer"}
    content["wearer"] = trace(preset.wearer)
    return hashlib.sha256(json.dumps(content, sort_keys=True, default=str).encode()).hexdigest()


def trace(of: wearer.Params) -> str:
    """All of a wearer that a pack depends on, as text; nothing but the group where no measure is given."""
    return wearer.trace(of) if of.given else repr(of.group)


def _plain(value: Any) -> Any:
    if isinstance(value, params.File):
        return value.digest
    if isinstance(value, tuple):
        return [_plain(item) for item in value]
    if is_dataclass(value):
        return {field.name: _plain(getattr(value, field.name)) for field in fields(value)}
    return value
