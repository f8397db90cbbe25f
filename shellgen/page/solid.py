"""The shell as the page's viewer reads it: pieces that move from flat to built, and everything on them.

A blob is one zlib stream: the length of a JSON header as uint32, the header, then little-endian arrays, each aligned
to four bytes. For each array the header has its position, type, shape and scale.
"""

from __future__ import annotations

import json
import zlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import shapely
from scipy import ndimage
from scipy.spatial import cKDTree

from shellgen.canvas import Colour, Scene, frozen_array
from shellgen.core.arrays import Floats, Int32s, Ints, Numbers
from shellgen.core.memory import remembered
from shellgen.draw import painted_scene
from shellgen.draw.shell_scene import FOAM, PALETTE
from shellgen.geom import scan_conversion
from shellgen.model import Built, Cut, Layout, Paint, Pattern, Piece, Proof, Shading, ShellMesh, Spike, Zone
from shellgen.pattern.flatmap import chains
from shellgen.pattern.proof import motions
from shellgen.pipeline.dome import Ground
from shellgen.pipeline.foam import Foam

ON_FOAM = ("spikes", "rings")
"""Zones that are on the foam and move with it in the virtual build."""

LOOKS = ("finished", "shading")
TONED = {"finished": "painted", "shading": "shading"}
"""Looks of the viewer, and their names in `draw`."""

TINTS = 7
"""Number of colours for pieces (chosen: as many muted colours as are easy to tell apart)."""

CHART = 512
"""Pixels along each side of the shading map (chosen: 1.5 mm on an adult's shell, finer than any brush)."""

UNDER = 2.0
"""Pixels inside the base of a spike at which shading ends (chosen: its edge is never visible next to the spike)."""

DEEPEST = 1.5
"""Largest shade stored, as a multiple of the value where the dark tone begins, in 255 steps (chosen: the outlines of
the tones are then exact to a hundredth of a brush)."""

SCALES = np.array([0.01, 0.02, 0.03, 0.05, 0.1, 0.2, 0.5, 1.0])
"""Possible ends of the colour scale of the stretch map; the smallest that covers every stretch is used."""


@dataclass(slots=True)
class Packer:
    """Arrays one after the other, and what a reader must know about each."""

    data: bytearray = field(default_factory=bytearray)

    def add(self, values: Numbers, kind: str, scale: float = 1.0) -> dict[str, Any]:
        stored = np.ascontiguousarray(np.round(values / scale) if scale != 1.0 else values).astype(f"<{kind}")
        at = len(self.data)
        self.data += stored.tobytes() + bytes(-stored.nbytes % 4)
        return {"at": at, "kind": kind, "shape": stored.shape, "scale": scale}

    def points(self, values: Floats) -> dict[str, Any]:
        """Points in mm, as 16-bit steps of the largest."""
        return self.add(values, "i2", float(np.float32(max(np.abs(values).max(), 1e-3) / 32767)))

    def indices(self, values: Ints) -> dict[str, Any]:
        return self.add(values, "u2" if values.size == 0 or values.max() < 65536 else "u4")

    def pack(self, header: Mapping[str, Any]) -> bytes:
        text = json.dumps(header, separators=(",", ":"), allow_nan=False).encode()
        text += b" " * (-len(text) % 4)
        return zlib.compress(np.uint32(len(text)).tobytes() + text + bytes(self.data), 6)


def pieces(ground: Ground, foam: Foam, proof: Proof, spikes: tuple[Spike, ...], paint: Paint, scene: Scene) -> bytes:
    """The pieces of foam, flat and formed, with the motion from one to the other, in the colours of `scene`."""
    packer = Packer()
    tint = tints(foam.cut)
    made = [
        _piece(packer, ground, foam.cut, proof.heat, index) | {"tint": tint[index], "way": _way(packer, way)}
        for index, way in enumerate(motions(foam.cut, foam.pattern, proof.formed))
    ]
    most = float(np.abs(proof.heat - 1).max())
    header = {
        "thickness": foam.thickness,
        "outer": -foam.pattern.mid_offset,
        "stretch": float(SCALES[np.searchsorted(SCALES[:-1], most)]),
        "colours": {part.zone: part.colour for part in scene.parts if part.name.startswith(FOAM)},
        "points": packer.points(proof.formed.points),
        "disc": packer.add(ground.mesh.uv, "i2", float(np.float32(1 / 32767))),
        "shade": _shade(packer, ground.mesh, spikes, paint.shading),
        "looks": {look: _look(paint.zones, look) for look in LOOKS},
        "pieces": made,
    }
    return packer.pack(header)


def _shade(packer: Packer, mesh: ShellMesh, spikes: tuple[Spike, ...], shading: Shading) -> dict[str, Any]:
    """The shading map, and where the middle and the dark tone begin on its scale from 0 to 1."""
    deepest = DEEPEST * shading.levels[1]
    charted = chart(mesh.uv, shading, tuple(spike.seat_uv for spike in spikes))
    steps = np.round(255 * np.clip(charted / deepest, 0, 1))
    return {"chart": packer.add(steps, "u1"), "levels": [level / deepest for level in shading.levels]}


def chart(uv: Floats, shading: Shading, seats: tuple[Floats, ...]) -> Floats:
    """(CHART, CHART) shade over the disc that the dome is mapped to: row and column of the centre of a pixel are
    (v + 1, u + 1) * CHART / 2 - 1/2. Pixels just outside the rim repeat the nearest on the dome; the foam under
    spikes is light, because it is not painted. uv : of the vertices of the shell's mesh; seats : of the spikes"""
    pixels, (one, two, three), (second, third) = _ground(uv, shading.ends, shading.faces)
    first = shading.shade.take(one)
    found = np.zeros((CHART, CHART))
    found.ravel()[pixels] = (
        first + second * (shading.shade.take(two) - first) + third * (shading.shade.take(three) - first)
    )
    for seat in seats:
        rows, columns, bare = _bare(seat)
        found[np.ix_(rows, columns)] *= bare
    return frozen_array(found)


@remembered
def _ground(uv: Floats, ends: tuple[Ints, ...], faces: Ints) -> tuple[Ints, Int32s, Floats]:
    """The (n,) pixels of the map that show the dome, the (3, n) corners of the triangle at each, and the (2, n)
    barycentric shares of the second and third corner."""
    for pair in ends:
        uv = np.vstack([uv, uv[pair].mean(axis=1)])
    x, y = ((place + 1) * CHART / 2 for place in uv.T)
    pixel, owner = scan_conversion.samples(scan_conversion.Facets(x, y, faces), (CHART, CHART))
    shown = np.full((CHART, CHART), -1)
    shown.ravel()[pixel] = owner
    beyond, near = ndimage.distance_transform_edt(shown < 0, return_indices=True)
    pixels = np.flatnonzero(beyond < 3)
    row, column = near.reshape(2, -1)[:, pixels]
    corners = faces[shown[row, column]].T
    (x0, x1, x2), (y0, y1, y2) = x[corners], y[corners]
    across, up, area = column + 0.5 - x0, row + 0.5 - y0, (x1 - x0) * (y2 - y0) - (x2 - x0) * (y1 - y0)
    second, third = across * (y2 - y0) - up * (x2 - x0), up * (x1 - x0) - across * (y1 - y0)
    return pixels, corners.astype(np.int32), np.array([second, third]) / area


@remembered
def _bare(seat: Floats) -> tuple[Ints, Ints, Floats]:
    """Rows and columns of the map around a seat, and (rows, columns) the share of shade that each pixel keeps."""
    under = shapely.buffer(shapely.polygons((seat + 1) * CHART / 2), -UNDER)
    if under.is_empty:
        return np.arange(0), np.arange(0), np.ones((0, 0))
    (left, top), (right, foot) = np.reshape(shapely.bounds(under), (2, 2)).astype(int)
    rows, columns = np.arange(top - 1, foot + 2), np.arange(left - 1, right + 2)
    x, y = np.meshgrid(columns + 0.5, rows + 0.5)
    within, about = shapely.contains_xy(under, x, y), shapely.contains_xy(shapely.buffer(under, 1.1), x, y)
    left_there, edge = np.where(about, 0.0, 1.0), about & ~within  # distances are the slowest part
    left_there[edge] = np.minimum(shapely.distance(shapely.points(x[edge], y[edge]), under), 1.0)
    return rows, columns, left_there


def _look(zones: tuple[Zone, ...], look: str) -> dict[str, Any]:
    """Colours of the foam: the light, middle and dark tone outside, and the inside."""
    inside = zone_colours(zones, look).get("inside", PALETTE["inside"])
    return {"tones": painted_scene.tone_colours(zones, TONED[look]).tolist(), "inside": inside}


def zone_colours(zones: tuple[Zone, ...], look: str) -> dict[str, Colour]:
    """Colour of every zone that has one in this look."""
    if look == "finished":
        return painted_scene.zone_colours(zones)
    return dict.fromkeys(("spikes", "rings", "rim"), painted_scene.GREYS[0])


def standing(mesh: ShellMesh, pattern: Pattern, formed: Built, zones: tuple[Zone, ...], scene: Scene) -> bytes:
    """The parts of `scene` that are not foam; those on the foam move with it in the virtual build,
    and the edging bends with it."""
    packer, near = Packer(), cKDTree(mesh.points)
    moved = formed.points - mesh.offset(pattern.mid_offset)
    looks = {look: zone_colours(zones, look) for look in LOOKS}
    parts = _parts(packer, scene, near, moved)
    for part in parts:
        part["looks"] = {look: colours[part["zone"]] for look, colours in looks.items() if part["zone"] in colours}
    return packer.pack({"parts": parts})


def whole(mesh: ShellMesh, layout: Layout, *, thickness: float, mid_offset: float) -> bytes:
    """The dome as one piece with its plate lines, before it is cut."""
    packer = Packer()
    points = mesh.offset(mid_offset)
    middle = points.mean(axis=0)
    lines = zip(layout.lines, mesh.line_vertices, strict=True)
    still = {"yaw": np.eye(3).tolist(), "tilt": [0.0] * 3, "here": middle.tolist(), "there": middle.tolist()}
    piece = {
        "name": "",
        "shell": packer.indices(np.arange(len(points))),
        "faces": packer.indices(mesh.faces),
        "stretch": packer.add(np.zeros(len(points)), "i2"),
        "lines": [packer.indices(vertices) for line, vertices in lines if line.kind == "plate"],
        "edges": [],
        "tint": 0,
        "way": still | {"lying": packer.points((points - middle)[:, :2])},
    }
    header = {"thickness": thickness, "outer": -mid_offset, "stretch": float(SCALES[0]), "colours": {}}
    return packer.pack(header | {"points": packer.points(points), "pieces": [piece]})


def _piece(packer: Packer, ground: Ground, cut: Cut, heat: Floats, index: int) -> dict[str, Any]:
    piece = cut.pieces[index]
    strain = heat[piece.shell_faces] - 1
    most = np.take_along_axis(strain, np.abs(strain).argmax(axis=1)[:, None], axis=1)
    return {
        "name": piece.name,
        "shell": packer.indices(piece.shell_vertices),
        "faces": packer.indices(piece.faces),
        "stretch": packer.add(_at_vertices(piece, most)[:, 0], "i2", 1e-4),
        "lines": [packer.indices(line) for line in _score_lines(ground, cut, index)],
        "edges": [packer.indices(line) for line in _edge_lines(ground.layout, cut, index)],
    }


def _way(packer: Packer, way: Any) -> dict[str, Any]:
    rigid = {name: np.round(getattr(way, name), 6).tolist() for name in ("yaw", "tilt", "here", "there")}
    return rigid | {"lying": packer.points(way.lying[:, :2])}


def _at_vertices(piece: Piece, values: Floats) -> Floats:
    """(k, c) mean over the triangles at each vertex of the piece, from (m, c)."""
    count = np.bincount(piece.faces.ravel(), minlength=len(piece.shell_vertices))
    sums = [np.bincount(piece.faces.ravel(), np.repeat(v, 3), minlength=len(count)) for v in values.T.astype(float)]
    return np.column_stack(sums) / count[:, None]


def _score_lines(ground: Ground, cut: Cut, index: int) -> Iterable[Ints]:
    """Plate lines within a piece, as vertices of the piece."""
    cuts = set(cut.cut_lines)
    scored = [k for k, line in enumerate(ground.layout.lines) if line.kind == "plate" and k not in cuts]
    return chains(cut.pieces[index], ground.mesh, ground.layout, scored).values()


def _edge_lines(layout: Layout, cut: Cut, index: int) -> Iterable[Ints]:
    """Plate lines along a piece's edge, counter-clockwise."""
    for side in cut.pieces[index].sides:
        if side.seam >= 0 and any(layout.lines[k].kind == "plate" for k in cut.seams[side.seam].lines):
            yield side.vertices


def _parts(packer: Packer, scene: Scene, near: cKDTree, moved: Floats) -> list[dict[str, Any]]:
    """moved : (n, 3) mm from the design to the virtual build, at each vertex of the shell"""
    made = []
    for part in scene.parts:
        if part.name.startswith(FOAM):
            continue
        places = np.eye(4)[None] if part.placements is None else np.array(part.placements)
        if part.zone in ON_FOAM:
            middle = part.vertices.mean(axis=0) if part.placements is None else np.zeros(3)
            places[:, :3, 3] += moved[near.query(places[:, :3, :3] @ middle + places[:, :3, 3])[1]]
        bent = moved[near.query(part.vertices)[1]] if part.zone == "rim" else 0.0
        made.append(
            {
                "name": part.name,
                "zone": part.zone,
                "colour": part.colour,
                "vertices": packer.points(part.vertices + bent),
                "faces": packer.indices(part.faces),
                "places": packer.add(places, "f4"),
            }
        )
    return made


def tints(cut: Cut) -> list[int]:
    """A colour number for each piece, different from its neighbours, the same as its mirror image if they do not
    touch."""
    adjacent: list[set[int]] = [set() for _ in cut.pieces]
    for seam in cut.seams:
        (one, _), (other, _) = seam.sides
        adjacent[one].add(other)
        adjacent[other].add(one)
    tint = [-1] * len(cut.pieces)
    for index, piece in enumerate(cut.pieces):
        pair = {index, piece.mirror} if piece.mirror not in adjacent[index] else {index}
        if tint[index] < 0:
            taken = [tint[other] for k in pair for other in adjacent[k]]
            free = [(k + index) % TINTS for k in range(TINTS)]
            chosen = next((k for k in free if k not in taken), min(free, key=taken.count))
            for k in pair:
                tint[k] = chosen
    return tint
