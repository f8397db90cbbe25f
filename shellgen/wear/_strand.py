"""Straps for the statics: where each end leaves the shell, and how it runs to and around the body."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from shellgen.canvas import frozen_array
from shellgen.core.arrays import Floats

MIRROR = np.array([1.0, -1.0, 1.0])


@dataclass(frozen=True, slots=True, eq=False)
class StrapBend:
    """Where a strap presses on the body. where : such as "shoulder"; radius : of the bend, mm; turn : radians"""

    where: str
    radius: float
    turn: float


@dataclass(frozen=True, slots=True, eq=False)
class Run:
    """One end of a strap, from its anchor to where it meets the other end.

    path   : (n, 3) mm, beginning at the anchor
    bends  : from the anchor on
    """

    path: Floats
    bends: tuple[StrapBend, ...]

    def __post_init__(self) -> None:
        object.__setattr__(self, "path", frozen_array(self.path))

    @property
    def pull(self) -> Floats:
        """(3,) unit vector in which the strap pulls at its anchor."""
        step = self.path[1] - self.path[0]
        return np.asarray(step / np.linalg.norm(step))

    @property
    def length(self) -> float:
        return float(np.linalg.norm(np.diff(self.path, axis=0), axis=1).sum())

    @property
    def beside_middle(self) -> Floats:
        """(3,) half-way along the last straight stretch, where a strap around the body meets its mirror image."""
        return np.asarray(self.path[-2:].mean(axis=0))

    def mirrored(self) -> Run:
        return replace(self, path=self.path * MIRROR)


@dataclass(frozen=True, slots=True, eq=False)
class End:
    """The best place to anchor an end on the left half, (3,) mm, and how it runs from an anchor (3,)."""

    role: str
    wanted: Floats
    run: Callable[[Floats], Run]


@dataclass(frozen=True, slots=True, eq=False)
class Strand:
    """A strap. With two ends there is one on each side of the body; with one, it goes around to its own mirror image.

    on_neck : whether it presses on the neck
    cloth   : whether it is part of a garment, not cut from webbing
    buckles : (name, how many) on each strap
    lets_go : N at which its fastener opens by itself; None if it has no such fastener
    """

    name: str
    width: float
    ends: tuple[End, ...]
    on_neck: bool = False
    cloth: bool = False
    buckles: tuple[tuple[str, int], ...] = ()
    lets_go: float | None = None

    @property
    def count(self) -> int:
        return len(self.ends)

    @property
    def padded(self) -> bool:
        """Whether it is webbing over a shoulder, which a pad makes wider."""
        return not self.cloth and any(end.role == "shoulder" for end in self.ends)
