"""The smallest run of a benchmark: `--smallest` behind any of them shows in seconds that it still works.

Its figures mean nothing; a test makes these runs, so that no benchmark breaks unseen.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TypeVar

HERE = Path(__file__).parent
FLAG = "--smallest"
SMALLEST = FLAG in sys.argv
sys.argv = [word for word in sys.argv if word != FLAG]

T = TypeVar("T")


def pick(usual: T, small: T) -> T:
    """What the usual run takes, or what the smallest one takes."""
    return small if SMALLEST else usual


def demos() -> list[Path]:
    """The presets that are measured."""
    return pick(sorted((HERE.parent / "presets").glob("*.yaml")), [HERE / "small.yaml"])
