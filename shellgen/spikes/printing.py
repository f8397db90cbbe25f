"""Parts for the 3D printer: how each stands on the bed, whether it must be split to fit or to print without supports,
how much plastic it takes and roughly how long.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from manifold3d import Manifold, OpType

from shellgen.core.arrays import Floats
from shellgen.core.memory import remembered
from shellgen.geom.vectors import cross
from shellgen.model import Finding, Solid
from shellgen.model.said import several
from shellgen.spikes.body import SpikeBody
from shellgen.spikes.boolean import manifold, solid_of
from shellgen.spikes.making import Printer
from shellgen.spikes.mould import upright
from shellgen.spikes.solids import Master, area, volume

HOLE, SHALLOW, SKIN = 6.0, 3.0, 1.5
"""mm: depth of a pin's hole on either side of a joint, and where there is less room; plastic left round it (chosen)."""
ON_CUT = "lying on its cut"
NEAR_BED = 1.5
"""mm: what hangs lower than this over the bed is bridged by the brim's first layers (chosen: the hollow of a base)."""
PLAY = 0.2
"""mm on the diameter of a pin's hole: a slip fit in printed parts (design guides for fused filament)."""


@dataclass(frozen=True, slots=True, eq=False)
class PrintedPart:
    """One part as it lies on the bed, its lowest point at z = 0.

    serves   : the master or mould that it belongs to
    role     : "master", "half-a", "half-b" or "foot"
    lies     : how it lies, in words
    overhang : steepest overhang from the vertical, of what is not bridged near the bed
    fits     : whether it fits the bed
    walls    : mm3 of its skin
    pins     : of a half, holes across its cut
    copies   : how many are printed
    """

    name: str
    serves: str
    role: str
    solid: Solid
    lies: str
    overhang: float
    fits: bool
    volume: float
    plastic_g: float
    minutes: float
    walls: float
    pins: int = 0
    copies: int = 1


def masters(made: tuple[Master, ...], printer: Printer, *, scale: float = 1.0) -> tuple[PrintedPart, ...]:
    """The masters, larger than the finished spikes by `scale`; whole and standing where that fits the bed and prints
    without supports, else parted along the axis into halves that lie on their cut.
    """
    return tuple(part for master in made for part in _master(master, printer, scale))


@remembered
def _master(master: Master, printer: Printer, scale: float) -> tuple[PrintedPart, ...]:
    turn = upright(master.tilt)
    solid = Solid(master.name, scale * master.solid.vertices @ turn.T, master.solid.faces)
    whole = laid(solid, np.eye(3), master.name, "master", "standing on its base, with a brim", printer)
    if whole.fits and whole.overhang <= printer.overhang + np.radians(0.5):
        return (whole,)
    pins, deep = _pins_along(master.body, scale, printer.pin)
    pins = pins @ turn.T
    left, right = (
        replace(laid(half, side, master.name, "master", ON_CUT, printer), pins=len(pins))
        for half, side in zip(halves(solid, pins, deep, printer.pin), SIDES, strict=True)
    )
    if left.fits:
        return (left, right)
    return tuple(
        laid(part, np.eye(3), master.name, "master", ON_CUT, printer)
        for half in (left, right)
        for part in across(half.solid, printer)
    )


SIDES = (np.array([[1.0, 0, 0], [0, 0, -1], [0, 1, 0]]), np.array([[1.0, 0, 0], [0, 0, 1], [0, -1, 0]]))
"""Turns that lay the half on y > 0 and the half on y < 0 on the plane y = 0."""


def mould_part(solid: Solid, serves: str, role: str, printer: Printer) -> PrintedPart:
    """A part of a press mould, flat back down."""
    turn = {"half-a": SIDES[1], "half-b": SIDES[0], "foot": np.eye(3)}[role]
    return laid(solid, turn, serves, role, "lying on its flat back", printer)


def laid(solid: Solid, turn: Floats, serves: str, role: str, lies: str, printer: Printer) -> PrintedPart:
    """The part turned and set down on the bed, with its figures."""
    turned = solid.vertices @ turn.T
    low, high = turned.min(axis=0), turned.max(axis=0)
    set_down = Solid(solid.name, turned - [*(0.5 * (low + high)[:2]), low[2]], solid.faces)
    x, y, z = high - low
    fits = z <= printer.bed_z and (
        (x <= printer.bed_x and y <= printer.bed_y) or (y <= printer.bed_x and x <= printer.bed_y)
    )
    space = volume(set_down)
    walls = min(space, area(set_down) * printer.wall)
    plastic = walls + printer.infill * (space - walls)
    return PrintedPart(
        solid.name, serves, role, set_down, lies, overhang(set_down), bool(fits), space,
        plastic * printer.density / 1000, plastic / printer.flow / 60, walls,
    )  # fmt: skip


def overhang(solid: Solid) -> float:
    """Steepest overhang from the vertical of the faces that are clear of the bed; 0 if there are none."""
    corner = solid.vertices[solid.faces]
    normal = cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    size = np.linalg.norm(normal, axis=1)
    high = (corner[:, :, 2].max(axis=1) > NEAR_BED) & (size > 1e-6)
    down = -normal[high, 2] / size[high]
    return float(np.arcsin(np.clip(down.max(initial=0.0), 0, 1)))


def halves(solid: Solid, pins: Floats, deep: Floats, diameter: float) -> tuple[Solid, Solid]:
    """The solid parted in the plane y = 0, with holes across the cut for pins at the points (n, 3), (n,) deep."""
    holes = [
        _hole(diameter, depth).rotate((90, 0, 0)).translate((x, 0, z))
        for (x, _, z), depth in zip(pins, deep, strict=True)
    ]
    drilled = Manifold.batch_boolean([manifold(solid), *holes], OpType.Subtract)
    left, right = drilled.split_by_plane((0, 1, 0), 0.0)
    return solid_of(f"{solid.name}-left", left), solid_of(f"{solid.name}-right", right)


def _hole(diameter: float, deep: float = HOLE) -> Manifold:
    """A pin's hole across a cut in the plane z = 0, its ends tapered so that they print as steeply as anything may."""
    radius = (diameter + PLAY) / 2
    end = Manifold.cylinder(radius, radius, 0.0, 32).translate((0, 0, deep))
    return Manifold.batch_boolean([_rod(radius, 2 * deep), end, end.mirror((0, 0, 1))], OpType.Add)


def _rod(radius: float, length: float) -> Manifold:
    return Manifold.cylinder(length, radius, radius, 32, True)


def _pins_along(body: SpikeBody, scale: float, diameter: float) -> tuple[Floats, Floats]:
    """(n, 3) points on the spine, in the spike's own frame, where there is room round a pin's hole, at most two; and
    (n,) how deep it goes on either side: less where the spike is slender."""
    s = np.array([0.18, 0.62]) * body.length
    reach = scale * body.radius(s) * (1 - body.depth(s)) * min(1.0, body.oval)
    x, z, _ = body.spine(s)
    points = scale * np.column_stack([x, np.zeros(2), z])
    beyond = (diameter + PLAY) / 2 + SKIN
    deep = np.where(reach > HOLE + beyond, HOLE, SHALLOW)
    room = reach > np.maximum(deep + beyond, diameter + SKIN)
    return points[room], deep[room]


def unpinned(prints: tuple[PrintedPart, ...]) -> tuple[Finding, ...]:
    """A word on masters in halves that are too slender for a pin."""
    bare = dict.fromkeys(p.serves for p in prints if p.lies == ON_CUT and not p.pins and p.fits)
    if not bare:
        return ()
    text = f"{several(bare)}: in halves, but too slender for the holes of pins. Glue the halves edge to edge by eye."
    return (Finding("caution", "spikes", text),)


def across(solid: Solid, printer: Printer) -> tuple[Solid, ...]:
    """A part that lies on the bed, cut square to its longer way into lengths that fit, with two pins at each cut."""
    low, high = solid.vertices.min(axis=0), solid.vertices.max(axis=0)
    axis = int(np.argmax((high - low)[:2]))
    bed = max(printer.bed_x, printer.bed_y)
    count = int(np.ceil((high - low)[axis] / (bed - 1)))
    normal = np.eye(3)[axis]
    rest, parts = manifold(solid), []
    for k in range(1, count):
        cut = float(low[axis] + (high - low)[axis] * k / count)
        rest = _drilled(rest, axis, cut, printer.pin)
        rest, part = rest.split_by_plane(tuple(normal), cut)
        parts.append(part)
    return tuple(solid_of(f"{solid.name}-{k}", part) for k, part in enumerate([*parts, rest], 1))


def _drilled(part: Manifold, axis: int, cut: float, diameter: float) -> Manifold:
    """Two holes across the plane of a cut, a third of the section's breadth to either side of its middle."""
    thin = part.trim_by_plane(tuple(np.eye(3)[axis]), cut - 0.5).trim_by_plane(tuple(-np.eye(3)[axis]), -cut - 0.5)
    box = np.array(thin.bounding_box())
    middle, span = 0.5 * (box[:3] + box[3:]), box[3:] - box[:3]
    hole, other = _hole(diameter).rotate((0, 90, 0) if axis == 0 else (90, 0, 0)), 1 - axis
    for side in (-1, 1):
        at = middle.copy()
        at[axis], at[other] = cut, middle[other] + side * span[other] / 5
        at[2] = box[2] + 0.35 * span[2]
        part = part - hole.translate(tuple(at))
    return part
