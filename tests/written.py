"""Presets from text."""

from __future__ import annotations

from shellgen.fields import bind, yamltree
from shellgen.preset import Preset


def preset_of(text: str) -> Preset:
    """The preset that a YAML text is."""
    return bind.bind(yamltree.parse(text.encode()), Preset)
