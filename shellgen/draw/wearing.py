"""The wearing plan: how the shell hangs, seen from the side, from its hollow and from in front, with what pulls."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator

from shellgen.canvas import Drawing, Path, Text
from shellgen.draw.notes import wrapped
from shellgen.geom.patches import project
from shellgen.lettering import width
from shellgen.rule import METRIC, Rule
from shellgen.shell import Shell
from shellgen.wear import Wear

SHEET = (297.0, 210.0)  # ISO 216 A4, landscape
BORDER = 10.0
HEAD = 12.0
WORDS = 48.0
"""mm under the views for figures in words."""
GAP = 6.0
AROUND = 6.0
"""mm that a view has for itself at least, besides a column of names."""
SCALES = (2, 2.5, 3, 4, 5, 6, 7, 8, 10, 12, 15, 20)
ARROW = 150.0
"""mm of the body that the longest arrow spans; arrows show the pull of both sides together."""
PITCH = 4.4
"""mm from line to line of lettering 2.5 mm high."""
PATCH = (222, 235, 247)

Items = list[Path | Text]
Look = Callable[[NDArray], NDArray]


@dataclass(slots=True, eq=False)
class _View:
    """One view in its own mm, and what is to be named in it: (words, place), in a
    column of so many mm on its right."""

    title: str
    paths: list[Path]
    names: list[tuple[str, NDArray]]
    column: float

    def box(self) -> tuple[NDArray, NDArray]:
        points = np.vstack([path.points for path in self.paths])
        return points.min(axis=0), points.max(axis=0)


def wearing_plan(shell: Shell, wear: Wear, *, title: str, rule: Rule = METRIC) -> Drawing:
    """One A4 sheet."""
    views = [_side(shell, wear), _hollow(shell, wear, rule), _front(shell, wear, rule)]
    sizes = np.array([high - low for low, high in (view.box() for view in views)])
    beside = np.array([view.column for view in views])
    room = np.array([SHEET[0] - 2 * BORDER, SHEET[1] - 2 * BORDER - HEAD - WORDS])
    least = np.array([beside.sum() + len(views) * AROUND, 6.0])
    across = np.array([sizes[:, 0].sum(), sizes[:, 1].max()])
    scale = next((k for k in SCALES if (across / k + least <= room).all()), SCALES[-1])
    widths = sizes[:, 0] / scale + beside
    edges = BORDER + np.concatenate([[0.0], np.cumsum(widths + (room[0] - widths.sum()) / len(views))])
    head = f"{title}: how it is worn, scale 1:{scale:g}"
    items: Items = [Text(head, (BORDER, SHEET[1] - BORDER - 5), 5.0, layer="note")]
    for view, left, right in zip(views, edges[:-1], edges[1:], strict=True):
        items += _placed(view, scale, np.array([(left, BORDER + WORDS), (right, SHEET[1] - BORDER - HEAD)]))
    return Drawing("wearing-plan", *SHEET, (*items, *_words(wear, rule)), f"{title}: wearing plan")


def _placed(view: _View, scale: float, panel: NDArray) -> Items:
    low, high = view.box()
    middle = panel.mean(axis=0) - [view.column / 2, 2.5]
    shift = middle - (low + high) / 2 / scale
    paths = [Path(p.points / scale + shift, p.layer, p.closed, p.data, p.fill) for p in view.paths]
    head = Text(view.title, (float(middle[0]), float(panel[1, 1]) - 3.5), 3.5, anchor="middle", layer="note")
    names = [(name, at / scale + shift) for name, at in view.names]
    return [*paths, head, *_column(names, float(high[0] / scale + shift[0]))]


def _column(names: Sequence[tuple[str, NDArray]], edge: float) -> Items:
    """Names to the right of x = `edge`, the highest first, each with a line to its place."""
    items: Items = []
    y = np.inf
    for name, at in sorted(names, key=lambda item: -item[1][1]):
        lines = name.split(", ")
        y = min(float(at[1]), y)
        start = np.array([edge + 4.0, y])
        items += [Text(line, (edge + 5.0, y + 0.6 - PITCH * k), 2.5) for k, line in enumerate(lines)]
        items.append(Path(np.array([start, at]), "label"))
        y -= PITCH * (len(lines) + 0.5)
    return items


def _side(shell: Shell, wear: Wear) -> _View:
    """From the wearer's left: back and shell to the right."""

    def look(points: NDArray) -> NDArray:
        return points[:, [2, 0]]

    middle = np.flatnonzero(np.abs(shell.mesh.uv[:, 1]) < 1e-12)
    middle = middle[np.argsort(shell.mesh.uv[middle, 0])]
    outer, inner = shell.mesh.points[middle], shell.mesh.offset(-shell.thickness)[middle]
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
            names.append((f"{anchor.name[:-2]}, 2 x {anchor.standing_n:.1f} N", arrow[1]))
    centre = shell.materials.centre * [1, 0, 1]
    weight = look(np.array([centre, centre - [reach * wear.load_n, 0, 0]]))
    paths += _arrow(*weight)
    names.append((f"weight, {wear.load_n:.1f} N", weight[1]))
    if still is not None:
        foot = np.array([still.back_at, 0.0, wear.torso.back])
        presses = look(np.array([foot, foot + np.array([0.0, 0.0, reach * still.back])]))
        paths += _arrow(*presses)
        names.append((f"back, {still.back:.1f} N", presses[1]))
    return _View("standing, from the left", paths, names, 23.0)


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


def _hollow(shell: Shell, wear: Wear, rule: Rule) -> _View:
    """Into the hollow, head up: the wearer's left is on the right."""
    mesh = shell.mesh
    inside = mesh.offset(-shell.thickness)
    cut = set(shell.cut.cut_lines)
    paths = []
    rim = np.argsort(np.arctan2(mesh.uv[:, 1], mesh.uv[:, 0]))
    rim = rim[np.hypot(*mesh.uv[rim].T) > 1 - 1e-9]
    paths.append(Path(inside[rim][:, [1, 0]], "cut", closed=True))
    for k, (line, vertices) in enumerate(zip(shell.layout.lines, mesh.line_vertices, strict=True)):
        if k in cut:
            paths.append(Path(inside[vertices][:, [1, 0]], "cut"))
        elif line.kind == "plate":
            paths.append(Path(inside[vertices][:, [1, 0]], "score"))
    names = []
    for anchor, (lying, ahead) in zip(wear.anchors, _lying(shell, wear), strict=True):
        paths += [Path(lying[:, [1, 0]], "fill", closed=True, fill=PATCH), Path(lying[:, [1, 0]], "mark", closed=True)]
        way = np.array([anchor.point, anchor.point + 0.5 * wear.patches[anchor.patch].length * ahead])[:, [1, 0]]
        paths += _arrow(*way, size=9.0)
        if anchor.name.endswith("-L"):
            place = f"{rule.mm(anchor.along)} along, {rule.mm(anchor.up)} inwards"
            names.append((f"{anchor.name[:-2]}, {place}", anchor.point[[1, 0]]))
    return _View("into the hollow, head up", paths, names, _broad(names, 31.0))


def _lying(shell: Shell, wear: Wear) -> Iterator[tuple[NDArray, NDArray]]:
    """For each anchor the outline (n, 3) of its patch on the inner face, and the unit direction of its pull there."""
    if not wear.anchors:
        return
    outlines, ways = [], []
    for anchor in wear.anchors:
        outline = wear.patches[anchor.patch].outline
        ahead = anchor.pull - (anchor.pull @ anchor.inward) * anchor.inward
        ahead = ahead / np.linalg.norm(ahead)
        aside = np.cross(anchor.inward, ahead)
        outlines.append(
            anchor.point + outline[:, :1] * ahead + outline[:, 1:] * aside - shell.thickness * anchor.inward
        )
        ways.append(ahead)
    uv = project(shell.surface, np.vstack(outlines))[0]
    lying = shell.surface.points(uv, offset=-shell.thickness)
    yield from zip(np.split(lying, np.cumsum([len(o) for o in outlines])[:-1]), ways, strict=True)


def _front(shell: Shell, wear: Wear, rule: Rule) -> _View:
    """The wearer from in front, without head and arms; what lies behind the body is dotted."""
    torso = wear.torso
    paths = [Path(_outline(wear), "guide", closed=True)]
    mesh = shell.mesh
    rim = np.argsort(np.arctan2(mesh.uv[:, 1], mesh.uv[:, 0]))
    rim = rim[np.hypot(*mesh.uv[rim].T) > 1 - 1e-9]
    paths.append(Path(mesh.points[rim][:, [1, 0]], "seat", closed=True))
    names, at = [], 0
    for strand, strap in zip(wear.strands, wear.straps, strict=True):
        for run in wear.runs[at : at + strand.count]:
            for side in (run, run.mirrored()):
                seen = side.path[:, 2] < torso.back - torso.deep
                paths += [Path(part[:, [1, 0]], "mark" if front else "seat") for front, part in _parts(side.path, seen)]
        cut = (
            f"{strap.count} x {rule.mm(strap.width, None)}, {rule.mm(strap.cut)} long" if strap.cut else "bought whole"
        )
        ahead = wear.runs[at].path[wear.runs[at].path[:, 2] < torso.back - torso.deep]
        spot = ahead[ahead[:, 1].argmax()]
        names.append((f"{strap.name}, {cut}", spot[[1, 0]]))
        at += strand.count
    return _View("from in front", paths, names, _broad(names, 33.0))


def _broad(names: Sequence[tuple[str, NDArray]], least: float) -> float:
    """mm for a column of names."""
    return max([least, *(6.0 + width(line, 2.5) for name, _ in names for line in name.split(", "))])


def _outline(wear: Wear) -> NDArray:
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


def _parts(path: NDArray, seen: NDArray) -> Iterable[tuple[bool, NDArray]]:
    """A path in stretches that are all seen or all hidden, each beginning where the last one ends."""
    turns = np.flatnonzero(seen[1:] != seen[:-1]) + 1
    ends = [0, *turns, len(path) - 1]
    for a, b in pairwise(ends):
        if b > a:
            yield bool(seen[a]), path[a : b + 1]


def _arrow(start: NDArray, end: NDArray, *, size: float = 14.0) -> list[Path]:
    along = (end - start) / max(float(np.hypot(*(end - start))), 1e-9)
    aside = np.array([-along[1], along[0]])
    head = np.array([end - size * along + 0.4 * size * aside, end, end - size * along - 0.4 * size * aside])
    return [Path(np.array([start, end]), "label"), Path(head, "label")]


def _words(wear: Wear, rule: Rule) -> Items:
    """Figures of every case, pressures and straps, in three columns under the views."""
    columns = (_cases(wear), _pressing(wear), _straps(wear, rule))
    across = (SHEET[0] - 2 * BORDER - 2 * GAP) / 3
    items: Items = []
    for k, said in enumerate(columns):
        x, y = BORDER + k * (across + GAP), BORDER + WORDS - 8.0
        for text in said:
            for line in wrapped(text, across, 2.5):
                items.append(Text(line, (x, y), 2.5, layer="note"))
                y -= PITCH
    return items


def _cases(wear: Wear) -> Sequence[str]:
    roles = [anchor.name[:-2] for anchor in wear.anchors[::2]]
    said = ["Pull at each anchor (N), the greater of left and right, and of the back:"]
    for case, hold in zip(wear.cases, wear.holds, strict=True):
        if hold is None:
            said.append(f"{case.name}: not held")
            continue
        most = hold.pulls.reshape(-1, 2).max(axis=1)
        pulls = ", ".join(f"{role} {pull:.1f}" for role, pull in zip(roles, most, strict=True))
        said.append(f"{case.name}: {pulls}; back {hold.back:.1f}")
    return said


def _pressing(wear: Wear) -> Sequence[str]:
    said = ["Pressure under the straps (kPa), standing and at the most:"]
    said += [f"{p.strap} on the {p.where}: {p.standing_kpa:.1f}, {p.most_kpa:.1f}" for p in wear.pressures]
    return (*said, f"Share of the weight on the neck: {wear.neck_share:.0%}")


def _straps(wear: Wear, rule: Rule) -> Sequence[str]:
    said = ["Straps, with tabs and spare to adjust:"]
    for s in wear.straps:
        buckles = ", ".join(f"{count} {name}" for name, count in s.buckles)
        cut = f"cut {rule.mm(s.cut)}" if s.cut else "bought whole"
        said.append(
            f"{s.count} x {s.name} {rule.mm(s.width, None)}, {cut}, {rule.mm(s.on_body)} on the body; "
            f"each with {buckles}"
        )
    said.append(
        "Place of a patch: along the inner rim from the middle of the edge named on its template, then straight in."
    )
    return said
