"""A sign on a sheet, as it is drawn, with what it is called and what it means."""

from __future__ import annotations

from dataclasses import dataclass

from shellgen.canvas import Path, Text


@dataclass(frozen=True, slots=True, eq=False)
class Sign:
    """items : a sample as on a piece, at most 26 mm wide; brief : the meaning in few words; meaning : in full"""

    name: str
    brief: str
    meaning: str
    items: tuple[Path | Text, ...]
