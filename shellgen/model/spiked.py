"""Spikes, the solids they are cast over, and the foam strips round them."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from shellgen.core.arrays import Floats, Ints
from shellgen.model._freeze import freeze


@dataclass(frozen=True, slots=True)
class SpikeShape:
    """The figures of one spike, free of where it stands. Equal figures compare equal.

    diameter : of the base along the turning line; `width` across it
    bend     : how far the tip's direction is turned from the axis, towards the turning line (curved profiles)
    twist    : turn of the section from base to tip, counter-clockwise seen from the tip
    """

    profile: str
    diameter: float
    width: float
    height: float
    tip_radius: float = 0.0
    bend: float = 0.0
    twist: float = 0.0
    ridges: int = 0
    ridge_depth: float = 0.0


@dataclass(frozen=True, slots=True, eq=False, weakref_slot=True)
class Spike:
    """One spike as placed and fitted.

    plate        : index of the plate it stands on
    uv           : (2,) where its axis meets the outer face
    frame        : (4, 4) rigid: spike's own frame (z along the axis, origin on the outer face, x the turning line)
    base_curve   : (n, 3) closed polyline where it meets the outer face, first point not repeated
    seat_uv      : (n, 2) the same in the domain
    master       : name of the solid that serves it; equal spikes share one
    flank        : (n, 3) unit, up the spike's side at each point of the base curve
    ring         : whether a foam strip is to go round it
    """

    name: str
    plate: int
    uv: Floats
    frame: Floats
    tilt: float
    base_curve: Floats
    seat_uv: Floats
    master: str
    shape: SpikeShape
    flank: Floats = field(default_factory=lambda: np.zeros((0, 3)))
    ring: bool = True

    def __post_init__(self) -> None:
        freeze(self)

    @property
    def profile(self) -> str:
        return self.shape.profile

    @property
    def base_diameter(self) -> float:
        return self.shape.diameter

    @property
    def height(self) -> float:
        return self.shape.height


@dataclass(frozen=True, slots=True, eq=False, weakref_slot=True)
class Solid:
    """A closed triangle mesh, mm, outward faces counter-clockwise."""

    name: str
    vertices: Floats
    faces: Ints

    def __post_init__(self) -> None:
        freeze(self)


@dataclass(frozen=True, slots=True, eq=False, weakref_slot=True)
class Ring:
    """A foam strip round one spike's base."""

    spike: str
    neutral_length: float  # what to cut, along the neutral fibre
    thickness: float
    width: float
