"""The lines along which spikes can stand, each as its part in the left half."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from scipy.interpolate import CubicSpline
from scipy.spatial import cKDTree

from shellgen.core.arrays import Floats
from shellgen.errors import PresetError
from shellgen.geom.geodesics import shortest
from shellgen.geom.straightest import closest_uv, inward, walk
from shellgen.model import Surface
from shellgen.spikes.placings._ground import PlaceGround, border, left_cells, named, unknown

MIDLINE, RIM = "midline", "rim"
FINE = 721
"""Points of a line that is drawn here, 1 to 2 mm apart on an adult's shell (chosen)."""
NEARER = 0.05
"""mm by which a point of a parallel line may be too near (chosen: far above the error of a walk, below any maker's)."""
PAST = 400.0
"""mm that a row is led on over its last plate at most: more than any plate measures."""


@dataclass(frozen=True, slots=True, eq=False)
class HalfLine:
    """A line's part in the left half or on the midline.

    uv      : (n, 2), v >= 0
    crosses : whether the line goes on as its mirror image at its first point and at its last
    closed  : whether it runs round to where it began, all in the left half
    """

    uv: Floats
    crosses: tuple[bool, bool] = (False, False)
    closed: bool = False


def found(on: PlaceGround, along: str, away: float) -> tuple[HalfLine, ...]:
    """The lines that a word names, where they run over plates that carry spikes. PresetError if there is none."""
    where = f"{on.where}.place"
    if "/" in along:
        return tuple(_between(on, along, f"{where}.along"))
    if along == MIDLINE and not away:
        return tuple(HalfLine(uv) for uv in _ridge(on))
    if along in (MIDLINE, RIM):
        return tuple(_clipped(on, _parallel(on.surface, along, away, f"{where}.away")))
    return tuple(_rows(on, along, f"{where}.along"))


def _ridge(on: PlaceGround) -> list[Floats]:
    """The stretches of the midline on the plates, from the tail."""
    owner, stretches = on.layout.cell_plate, list[tuple[float, float]]()
    for i, line in enumerate(on.layout.lines):
        if line.mirror == i and {owner[line.left], owner[line.right]} & on.plates:
            low, high = sorted((float(line.uv[0, 0]), float(line.uv[-1, 0])))
            stretches.append((low, high))
    joined: list[tuple[float, float]] = []
    for low, high in sorted(stretches):
        if joined and low == joined[-1][1]:
            joined[-1] = joined[-1][0], high
        else:
            joined.append((low, high))
    return [np.column_stack([np.linspace(low, high, FINE), np.zeros(FINE)]) for low, high in joined]


def _parallel(surface: Surface, along: str, away: float, where: str) -> HalfLine:
    """The line `away` mm in from the rim, or to the left of the midline: walked to squarely from there, without what is
    nearer to another part of it, as in a bay of the rim."""
    start = np.linspace(0, 1, FINE)
    if along == RIM:
        base = np.column_stack([np.cos(np.pi * start), np.sin(np.pi * start)])
        base[[0, -1]] = (1, 0), (-1, 0)
        heading = inward(surface, base)
    else:
        base = np.column_stack([np.cos(np.pi * start), np.zeros(FINE)])
        heading = np.broadcast_to((0.0, 1.0, 0.0), (FINE, 3))
    uv = walk(surface, base, np.asarray(heading), np.full(FINE, away))
    if along == RIM:
        uv[[0, -1], 1] = 0.0
    sound = (uv[:, 1] >= 0) & (np.hypot(*uv.T) < 1 - 1e-9 if along == MIDLINE or away else True)
    _, near = cKDTree(surface.points(base)).query(surface.points(uv), k=3)
    if away and sound.any():
        rows = np.repeat(np.flatnonzero(sound), near.shape[1])
        ways = shortest(surface, base[near[sound].ravel()], uv[rows], steps=8, close=1e-6)
        sound[rows[ways.length < away - NEARER]] = False
    if sound.sum() < 2:
        raise PresetError(where, f"Nothing of the dome is {away:g} mm from the {along}.", "Give less.")
    kept = uv[sound]
    crosses = (False, False)
    if along == RIM:
        kept, crosses = _to_midline(kept), (True, True)
    return HalfLine(kept, crosses)


def _to_midline(uv: Floats) -> Floats:
    """A line whose ends have just been cut off at the midline, led on to it."""
    ends = [uv[:0] if end[1] == 0 else np.array([[end[0], 0.0]]) for end in (uv[0], uv[-1])]
    return np.concatenate([ends[0], uv, ends[1]])


def _clipped(on: PlaceGround, line: HalfLine) -> list[HalfLine]:
    """The parts of a line on the plates that carry spikes."""
    if on.all_plates:
        return [line]
    area = shapely.union_all(left_cells(on)[1])
    parts = shapely.get_parts(shapely.line_merge(shapely.intersection(shapely.LineString(line.uv), area)))
    ways = [shapely.get_coordinates(part) for part in parts if part.geom_type == "LineString"]
    crossing = any(line.crosses)
    return [HalfLine(uv, (crossing and uv[0, 1] == 0, crossing and uv[-1, 1] == 0)) for uv in ways]


def _between(on: PlaceGround, along: str, where: str) -> list[HalfLine]:
    """The plate lines between the plates of two words, joined where they run on."""
    words = [word.strip() for word in along.split("/")]
    if len(words) != 2:
        raise PresetError(where, f'"{along}" names no line.', "Name two plates or kinds: vertebral / pleural.")
    sides = []
    for word in words:
        plates = named(on.layout, word)
        if not plates:
            raise unknown(on.layout, word, where)
        sides.append({*plates, *(on.layout.plates[p].mirror for p in plates)})
    chosen = []
    for i, line in enumerate(on.layout.lines):
        if line.kind != "plate" or line.uv[:, 1].min() < 0:
            continue
        left, right = on.layout.cell_plate[line.left], on.layout.cell_plate[line.right]
        between = (left in sides[0] and right in sides[1]) or (left in sides[1] and right in sides[0])
        if between and {left, right} & on.plates:
            chosen.append(i)
    if not chosen:
        problem = f"There is no line between {words[0]} and {words[1]} on the plates of this group."
        raise PresetError(where, problem, "Name plates that lie side by side.")
    return _chains(on, chosen)


def _chains(on: PlaceGround, chosen: Sequence[int]) -> list[HalfLine]:
    """The lines as long chains: broken on the midline and where three meet."""
    lines, nodes = on.layout.lines, on.layout.nodes
    at: dict[int, list[int]] = {}
    for i in chosen:
        for node in (lines[i].start, lines[i].end):
            at.setdefault(node, []).append(i)
    through = {node for node, ends in at.items() if len(ends) == 2 and nodes[node, 1] > 0}
    left, made = set(chosen), list[HalfLine]()

    def chain(node: int, i: int) -> Floats:
        """From a node along line i as far as it goes."""
        parts = []
        while i in left:
            left.remove(i)
            ahead = lines[i].start == node
            parts.append(lines[i].uv if ahead else lines[i].uv[::-1])
            node = lines[i].end if ahead else lines[i].start
            i = next((k for k in at[node] if k in left), i) if node in through else i
        return np.concatenate([parts[0], *(part[1:] for part in parts[1:])])

    for node in sorted(at, key=lambda n: (-nodes[n, 0], nodes[n, 1])):
        if node not in through:
            for i in at[node]:
                if i in left:
                    uv = chain(node, i)
                    crosses = [bool(uv[:, 1].any()) and uv[k, 1] == 0 for k in (0, -1)]
                    made.append(HalfLine(uv, (crosses[0], crosses[1])))
    for i in chosen:
        if i in left:
            made.append(HalfLine(chain(lines[i].start, i), closed=True))
    return made


def _rows(on: PlaceGround, kind: str, where: str) -> list[HalfLine]:
    """A smooth line through the middles of each row of plates of a kind, from edge to edge of the row."""
    if not any(kind == plate.kind for plate in on.layout.plates):
        raise unknown(on.layout, kind, where, more=(MIDLINE, RIM))
    own = {p for p, plate in enumerate(on.layout.plates) if plate.kind == kind and p in on.plates and plate.side != "R"}
    made = []
    while own:
        row = _path(on, own, where)
        own -= set(row)
        if all(on.layout.plates[p].side == "C" for p in row):
            made += [HalfLine(uv) for uv in _ridge(_only(on, row))]
        else:
            made.append(_through(on, row, kind, where))
    return made


def _only(on: PlaceGround, plates: Iterable[int]) -> PlaceGround:
    return replace(on, plates=frozenset(plates))


def _path(on: PlaceGround, own: set[int], where: str) -> list[int]:
    """The plates of one row in order, centre plates only at its ends or alone. PresetError if they make no row."""
    near = {p: [q for q in on.layout.plates[p].neighbours if q in own] for p in own}
    row = [min(own, key=lambda p: (len(near[p]), on.layout.plates[p].side != "C", p))]
    while ahead := [q for q in near[row[-1]] if q not in row]:
        row.append(min(ahead))
    centre = [on.layout.plates[p].side == "C" for p in row]
    branched = any(len(near[p]) > 2 for p in row) or (len(row) > 2 and row[0] in near[row[-1]])
    if branched or (any(centre[1:-1]) and not all(centre)):
        kind = on.layout.plates[row[0]].kind
        problem = f"The plates {kind} lie in no single row."
        raise PresetError(where, problem, "Name the plates of one row under plates, or another line here.")
    return row


def _through(on: PlaceGround, row: Sequence[int], kind: str, where: str) -> HalfLine:
    """The line through the middles of plates in the left half."""
    middles = on.centres[list(row)]
    plates = on.layout.plates
    meets = [plates[p].side != "C" and plates[p].mirror in plates[p].neighbours for p in (row[0], row[-1])]
    if len(row) == 1:
        meets[0] = False  # its one crossing is at the end
    crosses = tuple(plates[p].side == "C" or meet for p, meet in zip((row[0], row[-1]), meets, strict=True))
    if len(row) == 1 and not any(crosses):
        problem = f"There is but one plate {kind} on each side, and no row."
        raise PresetError(where, problem, "Leave place out: a spike then stands in its middle (in_row: for more).")
    before = middles[1 if not meets[0] else 0 :][:3][::-1] * (1, -1) if crosses[0] else middles[:0]
    after = middles[: len(row) if meets[1] else -1][-3:][::-1] * (1, -1) if crosses[1] else middles[:0]
    uv = _smooth(on.surface, np.concatenate([before, middles, after]), len(before), len(row), crosses, meets)
    uv[[0, -1], 1] = np.where(crosses, 0.0, uv[[0, -1], 1])
    uv[:, 1] = np.maximum(uv[:, 1], 0.0)
    first = uv[:0] if crosses[0] else _led_on(on, uv[::-1], row[0])[::-1]
    last = uv[:0] if crosses[1] else _led_on(on, uv, row[-1])
    return HalfLine(np.concatenate([first, uv, last]), (bool(crosses[0]), bool(crosses[1])))


def _smooth(
    surface: Surface, uv: Floats, skip: int, count: int, crosses: Sequence[bool], meets: Sequence[bool]
) -> Floats:
    """(FINE, 2) a spline through places, from one of them to another, or from and to halfway where the line meets its
    mirror image between two."""
    points = surface.points(uv)
    chord = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
    low, high = chord[skip], chord[skip + count - 1]
    if crosses[0] and meets[0]:
        low = (chord[skip - 1] + chord[skip]) / 2
    if crosses[1] and meets[1]:
        high = (chord[skip + count - 1] + chord[skip + count]) / 2
    at = np.linspace(low, high, FINE)
    guess = np.column_stack([np.interp(at, chord, uv[:, k]) for k in (0, 1)])
    return closest_uv(surface, CubicSpline(chord, points)(at), guess)


def _led_on(on: PlaceGround, uv: Floats, plate: int) -> Floats:
    """(n, 2) straight on from the end of a line as far as the plate goes."""
    ahead = np.subtract(*on.surface.points(uv[[-1, -2]]))
    reach = np.linspace(0, PAST, 401)[1:]
    ways = walk(on.surface, np.repeat(uv[-1:], len(reach), axis=0), np.repeat(ahead[None], len(reach), axis=0), reach)
    cells = [shapely.Polygon(border(on.layout, cell)) for cell in on.layout.plates[plate].cells]
    inside = shapely.intersects_xy(shapely.union_all(cells), ways[:, 0], ways[:, 1])
    return ways[: int(np.argmin(inside)) if not inside.all() else len(ways)]
