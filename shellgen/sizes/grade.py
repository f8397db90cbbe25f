"""One design for another wearer: what changes with the body, and what stays.

dome    its length, width and height times the ratio of the domes that fit the two wearers, both in steps (`wearer`):
        a shell that is wide or short on purpose stays so, and nobody's measures can be found from it
plates  divided again on the new dome, the same number
spikes  each keeps its place; its base follows the room on its plate, apart from constant parts: with R mm from plate
        line to plate line, a ring t thick and the clearance c, a base of b mm takes b + 2 (t + c) of R. The new base
        takes the same share of the new room, b' = (b + 2 (t + c)) R'/R - 2 (t + c), and a group follows its tightest
        plate. Steps along a line, distances of scattered spikes, with their bases, and circles of a drawing grow as the
        dome does. The height above the ring keeps its proportion to the base: h' = w + (h - w) b'/b, ring w high.
stays   foam, ring stock, edging, tip radius, flare, gaps, numbers of plates, spikes and masters
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import Field, dataclass, replace
from typing import Any

import numpy as np
from scipy.spatial import cKDTree

from shellgen.core import registry
from shellgen.core.flow import Flow
from shellgen.errors import FitError, GeometryError
from shellgen.fields import params
from shellgen.fields.params import Chosen
from shellgen.fields.values import give, written
from shellgen.geom.patches import area
from shellgen.model import Body
from shellgen.pattern.plans import kept
from shellgen.pipeline import dome, foam
from shellgen.preset import Preset
from shellgen.preset.resolved import resolved
from shellgen.spikes import netlines, place, spots
from shellgen.spikes.body import make
from shellgen.spikes.groups import Group
from shellgen.trim import rings
from shellgen.wear import wearer
from shellgen.wear.wearer import fit

STEP, STEPS = 0.005, 10
"""Change of the cell size in one step, and most steps, until there are as many plates as in the design (chosen: one
plate in a hundred, and up to 5 % in all)."""

PAST = 2
"""Error of the number of plates at which no further size is tried (chosen: the count does not fall evenly)."""

TRIES = 11
"""Steps back to the design's size that are tried if a tip is too blunt for the smaller spike (chosen)."""


@dataclass(frozen=True, slots=True, eq=False)
class Stand:
    """The place of a spike: its name and group, its size over its group's, and mm from plate line to plate line, or
    0 where it does not keep to its plate.

    drawn : whether a circle of a drawing gives its size, which follows the dome
    """

    name: str
    group: int
    grade: float
    room: float
    drawn: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Design:
    """The design from which all sizes are graded.

    area   : of the outer face, mm2; plates : how many
    stands : of the spikes
    seams  : pairs of plates with a seam between them, or None if every size finds its own
    """

    preset: Preset
    body: Body
    area: float
    plates: int
    stands: tuple[Stand, ...]
    seams: tuple[str, ...] | None


def design(preset: Preset, *, flow: Flow | None = None) -> Design:
    """The design of a preset, with its seams chosen once for all sizes."""
    flow = flow or Flow()
    face, plates, stands = _seen(preset, flow)
    seams = None
    if preset.seams.name == "least":
        on = dome.ground(preset, flow)
        seams = kept.pairs(on.layout, foam.cut(preset, flow, on).cut_lines)
    return Design(preset, _made_for(preset, flow), face, plates, stands, seams)


def grade(of: Design, name: str, worn_by: wearer.Params) -> Preset:
    """The design for another wearer, as a new preset named after the design and `name`.

    FitError if this kind of dome cannot be graded, or if a graded figure is out of the bounds of its field.
    PresetError for measures that no body has.
    """
    fitted, reference = fit.exact(wearer.in_steps(worn_by)), fit.exact(of.body)
    along, across, up = (getattr(fitted, side) / getattr(reference, side) for side in ("length", "width", "height"))
    first = of.preset
    new = replace(
        first,
        name=f"{first.name}-{name}",
        title=f"{first.title or first.name}, {name}",
        wearer=worn_by,
        dome=replace(first.dome, own=_dome(first.dome, along, across, up)),
        seams=_seams(first.seams, of.seams),
    )
    flow = Flow()
    new = _plates(of, new, flow)
    new = replace(new, spikes=_spikes(of, new, along, across, flow))
    _check(new)
    return new


def _made_for(preset: Preset, flow: Flow) -> Body:
    """The body that the design fits: its wearer, or without one the body that its dome would fit."""
    if preset.wearer.given:
        return wearer.in_steps(preset.wearer)
    turn = np.linspace(0, 2 * np.pi, 361)
    surface, _ = dome.asked(preset, flow)
    rim = surface.points(np.column_stack([np.cos(turn), np.sin(turn)]))
    return fit.wearer_of(preset.wearer, rim)


def changes(before: Preset, after: Preset) -> tuple[tuple[str, str, str], ...]:
    """(field, before, after) of every figure that differs, written as in a preset."""
    was = {row[0]: row[1] for row in resolved(before).rows}
    rows = ((str(row[0]), str(was.get(row[0], "")), str(row[1])) for row in resolved(after).rows)
    return tuple(row for row in rows if row[1] != row[2] and row[0].startswith(("dome.", "plates.", "spikes[")))


def _dome(chosen: Chosen, along: float, across: float, up: float) -> Any:
    module = registry.load("shellgen.dome.surfaces", chosen.name)
    if not hasattr(module, "graded"):
        raise FitError(f"A dome of kind {chosen.name} belongs to one wearer and cannot be graded. Use plan or girths.")
    return module.graded(chosen.own, along, across, up)


def _seams(seams: Chosen, between: tuple[str, ...] | None) -> Chosen:
    return seams if between is None else replace(seams, name="kept", own=kept.Params(between=between))


def _plates(of: Design, new: Preset, flow: Flow) -> Preset:
    """The preset with its plate size graded, if there is one, for the same number of plates or nearly so."""
    module = registry.load("shellgen.plates", new.plates.name)
    if not hasattr(module, "graded"):
        return new
    surface, _ = dome.asked(new, flow)
    scale = float(np.sqrt(area(surface) / of.area))

    def sized(more: float) -> Any:
        return module.graded(of.preset.plates.own, more * scale)

    def off(own: Any) -> float:
        try:
            return float(module.count(surface, own) - of.plates)
        except GeometryError:
            return np.inf

    best = sized(1.0)
    least = off(best)
    way = 1 if least > 0 else -1
    for n in range(1, STEPS + 1):
        if least == 0 or (missed := off(tried := sized(1 + way * n * STEP))) * way <= -PAST:
            break
        if abs(missed) < abs(least):
            best, least = tried, missed
    return replace(new, plates=replace(new.plates, own=best))


def _seen(preset: Preset, flow: Flow) -> tuple[float, int, tuple[Stand, ...]]:
    """Area of the outer face, number of plates, and the stands of the spikes."""
    surface, layout = dome.plated(preset, flow)
    face = area(surface)
    if not preset.spikes:
        return face, len(layout.plates), ()
    grid = dome.coarse_mesh(preset, flow, surface, layout)
    places = tuple(spots.spots(surface, grid, layout, preset.spikes, ring_thickness=preset.rings.thickness))
    if not places:
        return face, len(layout.plates), ()
    lines = cKDTree(netlines.net_points(surface, layout))
    rooms = 2 * lines.query(surface.points(np.stack([spot.uv for spot in places])))[0]
    free = [not (group.by_hand or spots.serves_plates(group)) for group in preset.spikes]
    rooms[[free[spot.group] for spot in places]] = 0.0
    grades = place.grades(places, preset.spikes)
    found = zip(places, grades.tolist(), rooms.tolist(), strict=True)
    return (
        face,
        len(layout.plates),
        tuple(Stand(s.name, s.group, size, room, s.size is not None) for s, size, room in found),
    )


def _spikes(of: Design, new: Preset, along: float, across: float, flow: Flow) -> tuple[Group, ...]:
    if not new.spikes:
        return ()
    moved = tuple(_moved(group, along, across) for group in new.spikes)
    face, _, stands = _seen(replace(new, spikes=moved), flow)
    after = {stand.name: stand for stand in stands}
    whole = float(np.sqrt(face / of.area))
    return tuple(
        _resized(group, [s for s in of.stands if s.group == g], after, whole, new.rings)
        for g, group in enumerate(moved)
    )


def _moved(group: Group, along: float, across: float) -> Group:
    """The groups, with points set by hand and steps from spike to spike moved with the dome."""
    points = tuple(replace(p, forward=along * p.forward, outward=across * p.outward) for p in group.by_hand)
    place, of = group.place, spots.placing(group)
    if hasattr(of, "graded"):
        place = replace(place, own=of.graded(place.own, float(np.sqrt(along * across))))
    return replace(group, by_hand=points, place=place)


def _resized(group: Group, stands: Sequence[Stand], after: dict[str, Stand], whole: float, ring: rings.Params) -> Group:
    """A group with base and height by the rule above; `whole` is used if none of its plates exists any more."""
    fixed = 2 * max(0.0, (ring.thickness if group.ring else 0.0) + group.clearance)
    shares = []
    for stand in stands:
        base = stand.grade * group.base_diameter
        if stand.name in after and stand.drawn:
            shares.append(after[stand.name].grade / stand.grade)
        elif stand.name in after and stand.room > 0:
            shares.append(((base + fixed) * after[stand.name].room / stand.room - fixed) / base)
    share = min(shares, default=whole)
    grades = [stand.grade for stand in stands] or [1.0]
    tried = (_scaled(group, share + (1 - share) * n / (TRIES - 1), ring) for n in range(TRIES))
    return next((made for made in tried if all(_stands(made, grade) for grade in grades)), _scaled(group, share, ring))


def _scaled(group: Group, share: float, ring: rings.Params) -> Group:
    """Bases times `share`, in whole mm so that the ring still fits; heights above the ring in proportion."""
    base = float(np.floor(share * group.base_diameter + 1e-6))
    width = None if group.base_width is None else float(np.floor(share * group.base_width + 1e-6))
    hidden = ring.width if group.ring and group.height > ring.width else 0.0
    height = float(np.round(hidden + (group.height - hidden) * base / group.base_diameter))
    return replace(group, base_diameter=base, base_width=width, height=height)


def _stands(group: Group, grade: float) -> bool:
    """Whether the profile can have this size with the same tip."""
    try:
        make(place.shape(group, grade))
    except (GeometryError, ValueError):
        return False
    return True


def _check(new: Preset) -> None:
    """FitError if grading takes a figure out of the bounds of its field."""
    named = [("dome", new.dome.own), ("plates", new.plates.own)]
    named += [(f"spikes[{n}]", group) for n, group in enumerate(new.spikes, 1)]
    for where, section in named:
        for name, field in _lengths(section):
            value = getattr(section, name)
            low, high = field.metadata["low"], field.metadata["high"]
            if value is not None and not low <= value <= high:
                shown = written(float(f"{value:.4g}"), field.metadata)
                raise FitError(f"{where}.{name} comes to {shown} for this wearer. {give(field.metadata)}")


def _lengths(section: Any) -> Iterator[tuple[str, Field[Any]]]:
    specs = params.specs(type(section)) if section is not None else {}
    return ((name, field) for name, field in specs.items() if field.metadata["kind"] == "length")
