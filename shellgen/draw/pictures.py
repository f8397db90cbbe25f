"""What the pictures of a pack show beside the finished shell: it taken apart, its stretch, and its sizes of spikes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from shellgen.canvas import Bands, Colour, Scene, ScenePart
from shellgen.draw.crease import creased_each
from shellgen.draw.light_spikes import light
from shellgen.draw.painted_scene import zone_colours
from shellgen.draw.shell_scene import LINE_LIFT, PALETTE
from shellgen.draw.webbing import straps
from shellgen.geom.triangles import boundary_loops
from shellgen.model import Piece, Spike
from shellgen.pipeline.shell import Shell
from shellgen.wear.wearer import mannequin

APART = 0.3
"""How far pieces are moved out, over their distance from the middle of the shell (chosen)."""

LIFTS = {"rings": 0.6, "spikes": 1.1}
"""How far parts are lifted off the foam, over the height of the tallest spike (chosen)."""

LEAST_LIFT = 0.12
"""Of the shell's length, so much stands for the tallest spike where all are lower (chosen)."""


@dataclass(frozen=True, slots=True, eq=False)
class Named:
    """Words at a place. facing : (3,) outward there, or None"""

    text: str
    at: NDArray
    facing: NDArray | None = None


def worn(shell: Shell, scene: Scene) -> Scene:
    """The shell with its straps on the lay figure of its wearer, if the preset names one."""
    if shell.body is None or shell.fit is None:
        return scene
    return replace(scene, parts=(*scene.parts, mannequin.build(shell.body, shell.fit), *straps(shell)))


def exploded(shell: Shell, scene: Scene) -> tuple[Scene, tuple[Named, ...]]:
    """The shell of a `shell_scene` with pieces moved out, rings and spikes lifted off; and the names of the pieces."""
    shifts = _shifts(shell)
    owner = np.zeros(len(shell.layout.cells), int)
    for index, piece in enumerate(shell.cut.pieces):
        owner[list(piece.cells)] = index
    colour = next(part.colour for part in scene.parts if part.zone == "plates")
    parts = [_slab(shell, piece, shift, colour) for piece, shift in zip(shell.cut.pieces, shifts, strict=True)]
    tall = max([LEAST_LIFT * np.ptp(shell.mesh.points[:, 0]), *(spike.height for spike in shell.spikes)])
    over = {
        spike.name: shifts[owner[shell.layout.plates[spike.plate].cells[0]]] for spike in shell.spikes
    }  # of a plate that is cut in two, the spike goes with the first
    axes = {spike.name: spike.frame[:3, 2] for spike in shell.spikes}
    rings = [part for part in scene.parts if part.zone == "rings"]
    for ring, part in zip(shell.rings, rings, strict=True):
        way = over[ring.spike] + LIFTS["rings"] * tall * axes[ring.spike]
        parts.append(replace(part, vertices=part.vertices + way))
    for part in scene.parts:
        if part.zone == "spikes":
            mine = [spike for spike in shell.spikes if spike.master == part.name]
            places = [_moved(s.frame, over[s.name] + LIFTS["spikes"] * tall * axes[s.name]) for s in mine]
            parts.append(replace(part, placements=np.stack(places)))
    lifted = shell.mesh.offset(LINE_LIFT)
    lines = tuple(
        lifted[vertices] + shifts[owner[line.left]]
        for line, vertices in zip(shell.layout.lines, shell.mesh.line_vertices, strict=True)
        if line.kind == "plate" and owner[line.left] == owner[line.right]
    )
    return Scene(shell.name, tuple(parts), lines), tuple(_names(shell, shifts))


def _shifts(shell: Shell) -> list[NDArray]:
    """(3,) for each piece; a single piece stays."""
    if len(shell.cut.pieces) == 1:
        return [np.zeros(3)]
    points = shell.mesh.points
    base = np.array([*points.mean(axis=0)[:2], points[:, 2].min()])
    return [APART * (points[piece.shell_vertices].mean(axis=0) - base) for piece in shell.cut.pieces]


def _names(shell: Shell, shifts: list[NDArray]) -> Iterator[Named]:
    for piece, shift in zip(shell.cut.pieces, shifts, strict=True):
        points = shell.mesh.points[piece.shell_vertices]
        middle = np.linalg.norm(points - points.mean(axis=0), axis=1).argmin()
        yield Named(piece.name, points[middle] + shift, shell.mesh.normals[piece.shell_vertices[middle]])


def _moved(frame: NDArray, way: NDArray) -> NDArray:
    moved = frame.copy()
    moved[:3, 3] += way
    return moved


def _slab(shell: Shell, piece: Piece, shift: NDArray, colour: Colour) -> ScenePart:
    """A piece as formed: outer face, inner face and the cut edge between."""
    outer = shell.mesh.points[piece.shell_vertices]
    normals, count = shell.mesh.normals[piece.shell_vertices], len(piece.shell_vertices)
    inner = outer - shell.thickness * normals
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

PRESSED, EVEN, STRETCHED = (47, 111, 176), (241, 239, 230), (201, 84, 31)
"""Ends and middle of the colour scale: blue and orange are told apart by colour-blind readers (chosen)."""

BANDS = 9
STEPS = (0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2)
"""Widths that a band may have; the least with which the bands hold every stretch is taken (chosen: round figures)."""

Legend = tuple[tuple[Colour, str], ...]


def stretched(shell: Shell) -> tuple[Scene, tuple[Named, ...], Legend]:
    """The shell in the colours of what forming asks of the foam, the most of each piece, and what the colours mean."""
    heat = shell.proof.heat - 1
    most = np.take_along_axis(heat, np.abs(heat).argmax(axis=1)[:, None], axis=1)[:, 0]
    step = next((s for s in STEPS if BANDS / 2 * s >= np.abs(most).max()), STEPS[-1])
    parts: list[ScenePart] = []
    names: list[Named] = []
    for piece, name in zip(shell.cut.pieces, _names(shell, [np.zeros(3)] * len(shell.cut.pieces)), strict=True):
        mine = most[piece.shell_faces]
        parts.append(_mapped(shell, piece, mine, step))
        worst = mine[np.abs(mine).argmax()]
        names.append(replace(name, text=f"{piece.name}\nmost {'+' if worst > 0 else '−'}{100 * abs(worst):.1f} %"))
    lifted = shell.mesh.offset(LINE_LIFT)
    return (
        Scene(shell.name, tuple(parts), tuple(lifted[seam.vertices] for seam in shell.cut.seams)),
        tuple(names),
        _legend(step),
    )


def _mapped(shell: Shell, piece: Piece, values: NDArray, step: float) -> ScenePart:
    """A piece in the colours of its bands; values : (m,) of its own triangles"""
    count = np.bincount(piece.faces.ravel(), minlength=len(piece.shell_vertices))
    value = np.bincount(piece.faces.ravel(), np.repeat(values, 3)) / count
    limits = tuple(step * (k - BANDS / 2) for k in range(1, BANDS))
    bands = Bands(value, limits, np.array([_colour(k) for k in range(BANDS)], np.uint8))
    points, normals = shell.mesh.points[piece.shell_vertices], shell.mesh.normals[piece.shell_vertices]
    return ScenePart(piece.name, points, piece.faces, vertex_normals=normals, bands=bands)


def _colour(band: int) -> Colour:
    share = 2 * band / (BANDS - 1) - 1
    far = STRETCHED if share > 0 else PRESSED
    red, green, blue = (round(e + abs(share) * (f - e)) for e, f in zip(EVEN, far, strict=True))
    return red, green, blue


def _legend(step: float) -> Legend:
    middles = 100 * step * (np.arange(BANDS) - BANDS // 2)
    words = [f"{middle:+.3g}".replace("-", "−") if middle else "0" for middle in middles.tolist()]
    return tuple((_colour(k), word) for k, word in enumerate(words))


# ---- spikes --------------------------------------------------------------------------------------------------------

ROW = 8
"""Spikes beside each other on the chart (chosen: their figures stay readable)."""


def spike_chart(shell: Shell) -> tuple[Scene, tuple[Named, ...]]:
    """Every size of spike once, side by side, seen from its side, with its measures and how many there are."""
    sizes = sorted({spike.shape: spike for spike in shell.spikes}.values(), key=_size)
    solids = {solid.name: solid for solid in light(tuple(sizes), sunk=0.0)}
    wide = 1.75 * max(max(spike.shape.diameter, _reach(solids[spike.master].vertices)) for spike in sizes)
    high = 1.2 * max(spike.height for spike in sizes) + 0.62 * wide
    parts, lines, words = [], [], []
    colour = {**PALETTE, **zone_colours(shell)}["spikes"]
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
        count = sum(other.shape == spike.shape for other in shell.spikes)
        base = f"Ø {spike.shape.diameter:.0f}"
        if abs(spike.shape.width - spike.shape.diameter) > 0.5:
            base = f"{spike.shape.diameter:.0f} × {spike.shape.width:.0f}"
        words.append(Named(f"{base}, {spike.height:.0f} high\n{count} × {spike.profile}", low - (0, 0, 0.16 * wide)))
    return Scene(shell.name, tuple(parts), tuple(lines)), tuple(words)


def _size(spike: Spike) -> tuple[float, ...]:
    return -spike.shape.height, -spike.shape.diameter


def _reach(points: NDArray) -> float:
    return float(np.ptp(points[:, 0]))


def _measure(start: NDArray, end: NDArray, tick: NDArray) -> list[NDArray]:
    """A measuring line with a tick at either end."""
    return [np.array([start, end]), *(np.array([at - tick, at + tick]) for at in (start, end))]
