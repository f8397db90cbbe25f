"""At points that the maker gives: so far from a plate's centre, or so much tape from the crown and the midline."""

from __future__ import annotations

from collections.abc import Iterator

from shellgen.core.arrays import Floats
from shellgen.dome.tapes import tape_limits, tape_spot
from shellgen.errors import PresetError
from shellgen.spikes.groups import Group, Point
from shellgen.spikes.placings._ground import AskedPlace, PlaceGround, foot, mirrored, unknown
from shellgen.spikes.placings.plates import axes

ON_LINES = False
BY_HAND = 2


def expected(group: Group, plates: float, area: float) -> float:
    """With their mirror images."""
    return 2.0 * len(group.by_hand)


def places(on: PlaceGround, group: Group) -> Iterator[AskedPlace]:
    """Points set by hand and their mirror images."""
    for k, point in enumerate(group.by_hand, 1):
        where = f"{on.where}.by_hand[{k}]"
        yield from _by_tape(on, point, where) if point.plate is None else _on_plate(on, point, point.plate, where)


def _on_plate(on: PlaceGround, point: Point, name: str, where: str) -> Iterator[AskedPlace]:
    by_name = {plate.name: p for p, plate in enumerate(on.layout.plates)}
    if name not in by_name:
        raise unknown(on.layout, name, f"{where}.plate", more=())
    p = by_name[name]
    plate = on.layout.plates[p]
    yield _from_centre(on, p, point.forward, point.outward)
    if plate.side != "C":
        yield _from_centre(on, plate.mirror, point.forward, point.outward)
    elif point.outward != 0:
        yield _from_centre(on, p, point.forward, -point.outward)


def _from_centre(on: PlaceGround, p: int, forward: float, outward: float) -> AskedPlace:
    """At so many mm from the plate's centre of area, measured in the plane that touches the shell there."""
    centre = on.centres[p]
    here, ways = axes(on.surface, on.layout.plates[p], centre)
    uv: Floats = foot(on.surface, (here + ways @ [forward, outward])[None], centre[None])[0]
    return AskedPlace(uv, p, order=BY_HAND)


def _by_tape(on: PlaceGround, point: Point, where: str) -> Iterator[AskedPlace]:
    """At a length of tape along the midline from the crown, and from there straight across."""
    rear, front = tape_limits(on.surface)
    if not rear < point.forward < front:
        end, most = ("front", front) if point.forward > 0 else ("rear", rear)
        problem = f"{point.forward:g} mm from the crown is past the rim."
        raise PresetError(f"{where}.forward", problem, f"The tape reads {most:.0f} mm at the {end} edge.")
    uv, reach = tape_spot(on.surface, point.forward, abs(point.outward))
    if abs(point.outward) >= reach:
        problem = f"{abs(point.outward):g} mm from the midline is past the rim."
        raise PresetError(f"{where}.outward", problem, f"The tape reads {reach:.0f} mm at the side edge there.")
    for place in mirrored(on, uv[None]):
        yield AskedPlace(place.uv, place.plate, order=BY_HAND)
