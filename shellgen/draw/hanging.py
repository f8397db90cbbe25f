"""How a shell hangs, from the side, from inside and from the front: lines in mm of the body, and their labels."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy.interpolate import PchipInterpolator

from shellgen.canvas import Path
from shellgen.canvas.lettering import width
from shellgen.canvas.rule import Rule
from shellgen.core.arrays import Bools, Floats
from shellgen.geom.patches import project
from shellgen.model import ShellMesh, Surface
from shellgen.pipeline.dome import Ground
from shellgen.pipeline.foam import Foam
from shellgen.wear import Run, Strand, Wear

ARROW = 150.0
"""mm of the body that the longest arrow spans; arrows show the pull of both sides together."""
PATCH = (222, 235, 247)


@dataclass(frozen=True, slots=True, eq=False)
class BodyView:
    """names : labels and (m, 2) the points to which their leader lines may go, the best first: one, or along an arrow
    from its tip to its tail. column : mm on paper for the labels, on the right of the view"""

    title: str
    paths: list[Path]
    names: list[tuple[str, Floats]]
    column: float

    def box(self) -> tuple[Floats, Floats]:
        points = np.vstack([path.points for path in self.paths])
        return points.min(axis=0), points.max(axis=0)


def side(mesh: ShellMesh, thickness: float, centre: Floats, wear: Wear) -> BodyView:
    """From the wearer's left: back and shell to the right."""

    def look(points: Floats) -> Floats:
        return points[:, [2, 0]]

    middle = mesh.midline
    outer, inner = mesh.points[middle], mesh.offset(-thickness)[middle]
    paths = [Path(look(np.vstack([outer, inner[::-1]])), "cut", closed=True), *_body_side(wear)]
    paths += [Path(look(run.path), "mark") for run in wear.runs]
    names = []
    still = wear.holds[0]
    pulls = [2 * a.standing_n for a in wear.anchors[::2]]
    reach = ARROW / max([*pulls, wear.load_n, still.back if still else 0.0])
    for anchor in wear.anchors[::2]:
        if anchor.standing_n > 0.01 * wear.load_n:
            arrow = look(np.array([anchor.point, anchor.point + 2 * reach * anchor.standing_n * anchor.pull]))
            paths += _arrow(*arrow)
            names.append((f"{anchor.name[:-2]}, 2 x {anchor.standing_n:.1f} N", _along(*arrow)))
    centre = centre * [1, 0, 1]
    weight = look(np.array([centre, centre - [reach * wear.load_n, 0, 0]]))
    paths += _arrow(*weight)
    names.append((f"weight, {wear.load_n:.1f} N", _along(*weight)))
    if still is not None:
        foot = np.array([still.back_at, 0.0, wear.torso.back])
        push = look(np.array([foot, foot + np.array([0.0, 0.0, reach * still.back])]))
        paths += _arrow(*push)
        names.append((f"back, {still.back:.1f} N", _along(*push)))
    return BodyView("standing, from the left", paths, names, 23.0)


def _body_side(wear: Wear) -> list[Path]:
    """Back, front and the top of the shoulder."""
    torso = wear.torso
    low, top = torso.hip - 0.12 * torso.back_length, torso.neck + 60
    deep, neck = torso.deep, torso.neck_radius
    turn = np.linspace(0, np.pi, 25)
    round_ = 0.5 * deep * np.column_stack([np.cos(turn), np.sin(turn) - 1])
    shoulder = round_ + np.array([torso.back - deep, torso.shoulder_top(torso.strap_y)])
    down = np.array([0.0, 15, 60 + 0.25 * torso.back_length, 60 + 0.5 * torso.back_length, top - low])
    level = np.linspace(0, top - low, 60)
    behind = PchipInterpolator(down, [deep - neck, deep - neck, 0.05 * deep, 0.0, 0.0])(level)
    ahead = PchipInterpolator(down, [deep - neck, deep - neck, 0.2 * deep, 0.0, 0.0])(level)
    back = np.column_stack([torso.back - behind, top - level])
    front = np.column_stack([torso.back - 2 * deep + ahead, top - level])
    return [Path(line, "guide") for line in (back, front, shoulder)]


def from_inside(ground: Ground, foam: Foam, wear: Wear, rule: Rule) -> BodyView:
    """From inside, head up: the wearer's left is on the right."""
    mesh = ground.mesh
    inside = mesh.offset(-foam.thickness)
    cut = set(foam.cut.cut_lines)
    paths = [Path(inside[mesh.rim][:, [1, 0]], "cut", closed=True)]
    for k, (line, vertices) in enumerate(zip(ground.layout.lines, mesh.line_vertices, strict=True)):
        if k in cut:
            paths.append(Path(inside[vertices][:, [1, 0]], "cut"))
        elif line.kind == "plate":
            paths.append(Path(inside[vertices][:, [1, 0]], "score"))
    names = []
    for anchor, (on_shell, ahead) in zip(
        wear.anchors, _patches_on_shell(ground.surface, foam.thickness, wear), strict=True
    ):
        paths += [
            Path(on_shell[:, [1, 0]], "fill", closed=True, fill=PATCH),
            Path(on_shell[:, [1, 0]], "mark", closed=True),
        ]
        pull_arrow = np.array([anchor.point, anchor.point + 0.5 * wear.patches[anchor.patch].length * ahead])[:, [1, 0]]
        paths += _arrow(*pull_arrow, size=9.0)
        if anchor.name.endswith("-L"):
            place = f"{rule.mm(anchor.along)} along, {rule.mm(anchor.up)} inwards"
            names.append((f"{anchor.name[:-2]}, {place}", anchor.point[None, [1, 0]]))
    return BodyView("from inside, head up", paths, names, _column_width(names, 31.0))


def _patches_on_shell(surface: Surface, thickness: float, wear: Wear) -> Iterator[tuple[Floats, Floats]]:
    """For each anchor the outline (n, 3) of its patch on the inner face, and the unit direction of its pull there."""
    if not wear.anchors:
        return
    outlines, directions = [], []
    for anchor in wear.anchors:
        outline = wear.patches[anchor.patch].outline
        ahead = anchor.pull - (anchor.pull @ anchor.inward) * anchor.inward
        ahead = ahead / np.linalg.norm(ahead)
        aside = np.cross(anchor.inward, ahead)
        outlines.append(anchor.point + outline[:, :1] * ahead + outline[:, 1:] * aside - thickness * anchor.inward)
        directions.append(ahead)
    uv = project(surface, np.vstack(outlines))[0]
    on_shell = surface.points(uv, offset=-thickness)
    yield from zip(np.split(on_shell, np.cumsum([len(o) for o in outlines])[:-1]), directions, strict=True)


def front(mesh: ShellMesh, wear: Wear, rule: Rule) -> BodyView:
    """The wearer from the front, without head and arms; lines behind the body are dotted."""
    torso = wear.torso
    paths = [Path(_outline(wear), "guide", closed=True)]
    paths.append(Path(mesh.points[mesh.rim][:, [1, 0]], "seat", closed=True))
    names, at = [], 0
    for strand, strap in zip(wear.strands, wear.straps, strict=True):
        for run in wear.runs[at : at + strand.count]:
            for side in (run, run.mirrored()):
                seen = side.path[:, 2] < torso.back - torso.deep
                paths += [Path(part[:, [1, 0]], "mark" if front else "seat") for front, part in _parts(side.path, seen)]
        cut = (
            f"{strap.count} x {rule.mm(strap.width, None)}, {rule.mm(strap.cut)} long"
            if strap.cut
            else "bought ready-made"
        )
        ahead = wear.runs[at].path[wear.runs[at].path[:, 2] < torso.back - torso.deep]
        spot = ahead[ahead[:, 1].argmax()]
        names.append((f"{strap.name}, {cut}", spot[None, [1, 0]]))
        corners = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) * strand.width / 2
        buckles = _buckles(strand, wear.runs[at])
        paths += [Path(place + corners, "label", closed=True) for place in buckles]
        if strand.lets_go is not None:
            names.append((f"breakaway, opens at {strand.lets_go:.0f} N", buckles))
        at += strand.count
    return BodyView("from the front", paths, names, _column_width(names, 33.0))


def _buckles(strand: Strand, run: Run) -> Floats:
    """(n, 2) where straps of webbing open, as `wear.Strap` has it."""
    if strand.cloth:
        return np.empty((0, 2))
    places = [run.path[-1], run.mirrored().path[-1]] if strand.count > 1 else [run.path[-1]]
    return np.array(places if strand.lets_go is None else [run.beside_middle])[:, [1, 0]]


def _column_width(names: Sequence[tuple[str, Floats]], least: float) -> float:
    """mm for a column of names."""
    return max([least, *(6.0 + width(line, 2.5) for name, _ in names for line in name.split(", "))])


def _outline(wear: Wear) -> Floats:
    """(n, 2) neck, shoulders, chest and hips, down the wearer's left and up the right."""
    torso = wear.torso
    half = np.array(
        [
            (torso.neck + 60, torso.neck_radius),
            (torso.neck + 15, torso.neck_radius),
            (torso.shoulder_top(torso.strap_y), torso.strap_y),
            (torso.shoulder_top(torso.shoulder_half) - 20, torso.shoulder_half),
            (torso.armpit, torso.half),
            (torso.neck - 0.9 * torso.back_length, 0.92 * torso.half),
            (torso.hip, torso.hips),
            (torso.hip - 0.12 * torso.back_length, torso.hips),
        ]
    )
    level = np.linspace(half[-1, 0], half[0, 0], 80)
    left = np.column_stack([PchipInterpolator(half[::-1, 0], half[::-1, 1])(level), level])
    return np.vstack([left, left[::-1] * [-1, 1]])


def _parts(path: Floats, seen: Bools) -> Iterable[tuple[bool, Floats]]:
    """A path in parts that are fully visible or fully hidden, each starting where the last one ends."""
    turns = np.flatnonzero(seen[1:] != seen[:-1]) + 1
    ends = [0, *turns, len(path) - 1]
    for a, b in pairwise(ends):
        if b > a:
            yield bool(seen[a]), path[a : b + 1]


def _arrow(start: Floats, end: Floats, *, size: float = 14.0) -> list[Path]:
    along = (end - start) / max(float(np.hypot(*(end - start))), 1e-9)
    aside = np.array([-along[1], along[0]])
    head = np.array([end - size * along + 0.4 * size * aside, end, end - size * along - 0.4 * size * aside])
    return [Path(np.array([start, end]), "label"), Path(head, "label")]


def _along(start: Floats, end: Floats) -> Floats:
    """(3, 2) where a leader line may meet an arrow: its tip, its middle, its tail."""
    return np.array([end, (start + end) / 2, start])
