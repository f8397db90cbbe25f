"""What a preset may say about spikes."""

from __future__ import annotations

from dataclasses import dataclass

from shellgen.errors import PresetError
from shellgen.fields import params as field

PLACINGS = "shellgen.spikes.placings"


@dataclass(frozen=True, slots=True, eq=False)
class Point:
    """A spike set by hand: from a plate's centre of area, or as a tape reads it, as on the chart."""

    plate: str | None = field.text(
        None,
        "Name of the plate, such as vertebral-3; its mirror image follows. If left out: by tape from the crown.",
    )
    forward: float = field.length(
        0.0, -800, 800, "Towards the head, from the plate's centre; without a plate, along the midline from the crown."
    )
    outward: float = field.length(
        0.0, -800, 800, "Away from the midline, from the plate's centre; without a plate, straight across from there."
    )


@dataclass(frozen=True, slots=True, eq=False)
class Group:
    """Spikes of one kind. Of two groups that serve plates and name the same one the later serves it; all others are
    added."""

    profile: str = field.member("cone", "shellgen.spikes.profiles", "Shape of the spikes.")
    plates: tuple[str, ...] = field.many(
        field.text("all", "A plate's name or kind, all, or drawn."),
        "Plates that carry them: names, kinds or all; drawn for the circles on a drawing's layers for spikes.",
        default=("all",),
    )
    but_not: tuple[str, ...] = field.many(
        field.text(field.REQUIRED, "A plate's name or kind."), "Plates left bare: names or kinds."
    )
    place: field.Chosen = field.family(
        "plates", "at", PLACINGS, "Where on these plates they stand, left and right alike: shellgen list placings."
    )
    in_row: int = field.count(1, 1, 9, "How many stand in a row along each plate; 1 stands at its centre of area.")
    by_hand: tuple[Point, ...] = field.many(Point, "Spikes set by hand, instead of at the plates' centres.")
    base_diameter: float = field.length(36.0, 6, 200, "Across the base at the crown, along the turning line.")
    base_width: float | None = field.length(None, 6, 200, "Across the base the other way, for an oval one.")
    height: float = field.length(46.0, 4, 300, "From shell to tip at the crown.")
    tip_radius: float = field.length(
        5.0, 0.5, 60, "Radius of the tip; keep it as round as a fingertip, 5 mm or more: people bump into it."
    )
    lean: float = field.angle(0.0, 0, 45, "Tilt of the axis from square to the shell.")
    towards: str = field.choice(
        "rear", ("rear", "front", "rim", "crown"), "The way they lean and curve; the turning line points there."
    )
    bend: float = field.angle(50.0, 0, 100, "How far a horn's tip has turned from its base.")
    twist: float = field.angle(0.0, -180, 180, "Turn from base to tip; the right half turns the other way.")
    ridges: int = field.count(8, 3, 16, "Ridges of a ridged cone.")
    ridge_depth: float = field.ratio(0.14, 0.02, 0.4, "Depth of the valleys between ridges over the radius.")
    size_at_rim: float = field.ratio(0.6, 0.2, 2.0, "Size at the rim over the size at the crown.")
    size_at_rear: float = field.ratio(1.0, 0.2, 2.0, "Size at the rear over the size at the front.")
    sizes: int = field.count(4, 1, 20, "The most different sizes in the group; each needs a master of its own.")
    clearance: float = field.length(
        2.0, -20, 60, "Least distance from the ring to a plate line; below 0 it may stand over the line by that much."
    )
    gap: float = field.length(3.0, 0, 100, "Least distance between neighbours, rings included.")
    may_shrink: bool = field.flag(True, "Whether a spike too large for its plate is made smaller, with a finding.")
    ring: bool = field.flag(True, "Whether a foam strip goes round each.")

    def __post_init__(self) -> None:
        if self.by_hand and self.place.name != "plates":
            problem = "Both place and by_hand say where these spikes stand."
            raise PresetError("place", problem, "Leave one out, or write a group for each.")
