"""What the checks found, in the record."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from shellgen.model import Finding


@dataclass(frozen=True, slots=True)
class FindingEntry:
    """One sentence. level : "ok", "caution" or "fault"; safety : whether somebody could be seriously hurt"""

    level: str
    stage: str
    text: str
    safety: bool

    @property
    def sentence(self) -> str:
        """With a capital letter."""
        return f"{self.text[:1].upper()}{self.text[1:]}"


def findings(of: Iterable[Finding]) -> tuple[FindingEntry, ...]:
    return tuple(FindingEntry(one.level, one.stage, one.text, one.safety) for one in of)
