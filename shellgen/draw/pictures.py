"""Pictures of a pack other than the finished shell: the shell taken apart, its stretch, and its sizes of spikes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from shellgen.canvas import Bands, Colour, Scene, ScenePart
from shellgen.core.arrays import Floats
from shellgen.draw.crease import creased_each
from shellgen.draw.light_spikes import light
from shellgen.draw.painted_scene import zone_colours
from shellgen.draw.shell_scene import FOAM, LINE_LIFT, PALETTE
from shellgen.draw.webbing import straps
from shellgen.geom.triangles import boundary_loops
from shellgen.model import Cut, Piece, Ring, ShellMesh, Spike, Zone
from shellgen.pipeline.dome import Ground
from shellgen.pipeline.foam import Foam
from shellgen.pipeline.wear import Worn
from shellgen.wear.wearer import mannequin

APART = 0.3
"""Distance by which pieces are moved out, over their distance from the middle of the shell (chosen)."""

LIFTS = {"rim": -0.6, "rings": 0.6, "spikes": 1.1}
"""Height by which parts are lifted off the foam, or let down, over the height of the tallest spike (chosen)."""

LEAST_LIFT = 0.12
"""Least height used for the tallest spike, as a share of the shell's length (chosen)."""


@dataclass(frozen=True, slots=True, eq=False)
class Named:
    """Words at a place. facing : (3,) outward there, or None"""

    text: str
    at: Floats
    facing: Floats | None = None


def with_wearer(worn: Worn, scene: Scene) -> Scene:
    """The shell with its straps on a figure of its wearer, if the preset has one."""
    if worn.body is None or worn.fit is None:
        return scene
    return replace(scene, parts=(*scene.parts, mannequin.build(worn.body, worn.fit), *straps(worn)))


def exploded(
    shell_name: str, ground: Ground, foam: Foam, spikes: tuple[Spike, ...], rings: tuple[Ring, ...], scene: Scene
) -> tuple[Scene, tuple[Named, ...]]:
    """The shell of a `shell_scene` with pieces moved out, rings and spikes lifted off, the edging let down;
    and the names of the pieces."""
    shifts = _shifts(ground.mesh, foam.cut)
    owner = np.zeros(len(ground.layout.cells), int)
    for index, piece in enumerate(foam.cut.pieces):
        owner[list(piece.cells)] = index
    colour = next(part.colour for part in scene.parts if part.zone == "plates")
    parts = [
        _slab(ground.mesh, foam.thickness, piece, shift, colour)
        for piece, shift in zip(foam.cut.pieces, shifts, strict=True)
    ]
    tall = max([LEAST_LIFT * np.ptp(ground.mesh.points[:, 0]), *(spike.height for spike in spikes)])
    over = {
        spike.name: shifts[owner[ground.layout.plates[spike.plate].cells[0]]] for spike in spikes
    }  # if a plate is cut in two, its spike goes with the first part
    axes = {spike.name: spike.frame[:3, 2] for spike in spikes}
    around = [part for part in scene.parts if part.zone == "rings"]
    for ring, part in zip(rings, around, strict=True):
        shift = over[ring.spike] + LIFTS["rings"] * tall * axes[ring.spike]
        parts.append(replace(part, vertices=part.vertices + shift))
    edging = list(_edging(ground.mesh, scene, (0, 0, LIFTS["rim"] * tall)))
    parts += [part for part, _ in edging]
    for part in scene.parts:
        if part.zone == "spikes":
            mine = [spike for spike in spikes if spike.master == part.name]
            places = [_moved(s.frame, over[s.name] + LIFTS["spikes"] * tall * axes[s.name]) for s in mine]
            parts.append(replace(part, placements=np.stack(places)))
    lifted = ground.mesh.offset(LINE_LIFT)
    lines = tuple(
        lifted[vertices] + shifts[owner[line.left]]
        for line, vertices in zip(ground.layout.lines, ground.mesh.line_vertices, strict=True)
        if line.kind == "plate" and owner[line.left] == owner[line.right]
    )
    names = (*_names(ground.mesh, foam.cut, shifts), *(name for _, name in edging))
    return Scene(shell_name, tuple(parts), lines), names


def _edging(mesh: ShellMesh, scene: Scene, down: tuple[float, float, float]) -> Iterator[tuple[ScenePart, Named]]:
    """The pieces of edging moved out and down, each with its name; a single piece goes down only."""
    base = mesh.points[mesh.rim].mean(axis=0)
    pieces = [part for part in scene.parts if part.zone == "rim" and not part.name.startswith(FOAM)]
    for part in pieces:
        shift = APART * (part.vertices.mean(axis=0) - base) * (len(pieces) > 1) + down
        middle = part.vertices[len(part.vertices) // 2]
        yield replace(part, vertices=part.vertices + shift), Named(part.name, middle + shift, middle - base)


def _shifts(mesh: ShellMesh, cut: Cut) -> list[Floats]:
    """(3,) for each piece; a single piece stays."""
    if len(cut.pieces) == 1:
        return [np.zeros(3)]
    points = mesh.points
    base = np.array([*points.mean(axis=0)[:2], points[:, 2].min()])
    return [APART * (points[piece.shell_vertices].mean(axis=0) - base) for piece in cut.pieces]


def _names(mesh: ShellMesh, cut: Cut, shifts: list[Floats]) -> Iterator[Named]:
    for piece, shift in zip(cut.pieces, shifts, strict=True):
        points = mesh.points[piece.shell_vertices]
        middle = np.linalg.norm(points - points.mean(axis=0), axis=1).argmin()
        yield Named(piece.name, points[middle] + shift, mesh.normals[piece.shell_vertices[middle]])


def _moved(frame: Floats, shift: Floats) -> Floats:
    moved = frame.copy()
    moved[:3, 3] += shift
    return moved


def _slab(mesh: ShellMesh, thickness: float, piece: Piece, shift: Floats, colour: Colour) -> ScenePart:
    """A piece as formed: outer face, inner face and the cut edge between."""
    outer = mesh.points[piece.shell_vertices]
    normals, count = mesh.normals[piece.shell_vertices], len(piece.shell_vertices)
    inner = outer - thickness * normals
    walls, points, facing = [], [outer, inner], [normals, -normals]
    start = 2 * count
    for loop in boundary_loops(piece.faces):
        ahead = np.roll(outer[loop], -1, axis=0) - np.roll(outer[loop], 1, axis=0)
        out = np.cross(ahead, normals[loop])
        out /= np.maximum(np.linalg.norm(out, axis=1, keepdims=True), 1e-12)
        points += [outer[loop], inner[loop]]
        facing += [out, out]
        k, n = np.arange(len(loop)), len(loop)
        after = (k + 1) % n
        walls += [np.column_stack([k, k + n, after]) + start, np.column_stack([after, k + n, after + n]) + start]
        start += 2 * n
    faces = np.vstack([piece.faces, piece.faces[:, ::-1] + count, *walls])
    return ScenePart(piece.name, np.vstack(points) + shift, faces, colour, vertex_normals=np.vstack(facing), solid=True)


# ---- stretch -------------------------------------------------------------------------------------------------------

COMPRESSED, EVEN, STRETCHED = (47, 111, 176), (241, 239, 230), (201, 84, 31)
"""Ends and middle of the colour scale: colour-blind readers can tell blue from orange (chosen)."""

BANDS = 9
STEPS = (0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2)
"""Possible widths of a band; the smallest whose bands cover every stretch is used (chosen: round figures)."""

Legend = tuple[tuple[Colour, str], ...]


def stretched(shell_name: str, mesh: ShellMesh, cut: Cut, heat: Floats) -> tuple[Scene, tuple[Named, ...], Legend]:
    """The shell coloured by stretch in forming, the largest stretch of each piece, and the meaning of the colours."""
    strain = heat - 1
    most = np.take_along_axis(strain, np.abs(strain).argmax(axis=1)[:, None], axis=1)[:, 0]
    step = next((s for s in STEPS if BANDS / 2 * s >= np.abs(most).max()), STEPS[-1])
    parts: list[ScenePart] = []
    names: list[Named] = []
    for piece, name in zip(cut.pieces, _names(mesh, cut, [np.zeros(3)] * len(cut.pieces)), strict=True):
        mine = most[piece.shell_faces]
        parts.append(_mapped(mesh, piece, mine, step))
        worst = mine[np.abs(mine).argmax()]
        names.append(replace(name, text=f"{piece.name}\nlargest {'+' if worst > 0 else '−'}{100 * abs(worst):.1f} %"))
    lifted = mesh.offset(LINE_LIFT)
    return (
        Scene(shell_name, tuple(parts), tuple(lifted[seam.vertices] for seam in cut.seams)),
        tuple(names),
        _legend(step),
    )


def _mapped(mesh: ShellMesh, piece: Piece, values: Floats, step: float) -> ScenePart:
    """A piece in the colours of its bands; values : (m,) of its own triangles"""
    count = np.bincount(piece.faces.ravel(), minlength=len(piece.shell_vertices))
    value = np.bincount(piece.faces.ravel(), np.repeat(values, 3)) / count
    limits = tuple(step * (k - BANDS / 2) for k in range(1, BANDS))
    bands = Bands(value, limits, np.array([_colour(k) for k in range(BANDS)], np.uint8))
    points, normals = mesh.points[piece.shell_vertices], mesh.normals[piece.shell_vertices]
    return ScenePart(piece.name, points, piece.faces, vertex_normals=normals, bands=bands)


def _colour(band: int) -> Colour:
    share = 2 * band / (BANDS - 1) - 1
    far = STRETCHED if share > 0 else COMPRESSED
    red, green, blue = (round(e + abs(share) * (f - e)) for e, f in zip(EVEN, far, strict=True))
    return red, green, blue


def _legend(step: float) -> Legend:
    middles = 100 * step * (np.arange(BANDS) - BANDS // 2)
    words = [f"{middle:+.3g}".replace("-", "−") if middle else "0" for middle in middles.tolist()]
    return tuple((_colour(k), word) for k, word in enumerate(words))


# ---- spikes --------------------------------------------------------------------------------------------------------

ROW = 8
"""Spikes in a row of the chart (chosen: their figures stay readable)."""


def spike_chart(shell_name: str, spikes: tuple[Spike, ...], zones: tuple[Zone, ...]) -> tuple[Scene, tuple[Named, ...]]:
    """Every size of spike once, in a row, from the side, with its measures and number."""
    sizes = sorted({spike.shape: spike for spike in spikes}.values(), key=_size)
    solids = {solid.name: solid for solid in light(tuple(sizes), sunk=0.0)}
    wide = 1.75 * max(max(spike.shape.diameter, _reach(solids[spike.master].vertices)) for spike in sizes)
    high = 1.2 * max(spike.height for spike in sizes) + 0.62 * wide
    parts, lines, words = [], [], []
    colour = {**PALETTE, **zone_colours(zones)}["spikes"]
    shaped = creased_each([(solids[spike.master].vertices, solids[spike.master].faces) for spike in sizes])
    for number, (spike, (points, faces, normals)) in enumerate(zip(sizes, shaped, strict=True)):
        row, column = divmod(number, ROW)
        at = np.array([column * wide, 0.0, -row * high])
        parts.append(ScenePart(spike.master, points + at, faces, colour, "spikes", vertex_normals=normals, solid=True))
        low, left, tick = at - (0, 0, 0.09 * wide), at - (0.4 * wide, 0, 0), 0.03 * wide
        half = np.array([spike.shape.diameter / 2, 0.0, 0.0])
        lines += _measure(low - half, low + half, np.array([0, 0, tick]))
        lines += _measure(left, left + np.array([0, 0, spike.height]), np.array([tick, 0, 0]))
        lines.append(low - np.array([[0.0, 0.0, 0.36 * wide]]))  # room for the words
        count = sum(other.shape == spike.shape for other in spikes)
        base = f"Ø {spike.shape.diameter:.0f}"
        if abs(spike.shape.width - spike.shape.diameter) > 0.5:
            base = f"{spike.shape.diameter:.0f} × {spike.shape.width:.0f}"
        words.append(Named(f"{base}, {spike.height:.0f} high\n{count} × {spike.profile}", low - (0, 0, 0.16 * wide)))
    return Scene(shell_name, tuple(parts), tuple(lines)), tuple(words)


def _size(spike: Spike) -> tuple[float, ...]:
    return -spike.shape.height, -spike.shape.diameter


def _reach(points: Floats) -> float:
    return float(np.ptp(points[:, 0]))


def _measure(start: Floats, end: Floats, tick: Floats) -> list[Floats]:
    """A measuring line with a tick at either end."""
    return [np.array([start, end]), *(np.array([at - tick, at + tick]) for at in (start, end))]
