"""Shading on the flat pieces: three tones whose outlines a brush can follow."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

import numpy as np
import shapely

from shellgen.canvas import Colour, Drawing, Path, Text
from shellgen.canvas.lettering import width
from shellgen.canvas.rule import METRIC, Rule
from shellgen.core.arrays import Bools, Floats, Ints
from shellgen.core.memory import remembered
from shellgen.draw import notes
from shellgen.draw.lines import MARGIN, outline, score_paths, sheet_of
from shellgen.draw.placing import Room
from shellgen.draw.shelf import GAP, on_sheets
from shellgen.geom.hatching import hatched
from shellgen.geom.isolines import cut_into_bands
from shellgen.geom.subdivision import subdivided
from shellgen.model import Paint, Ring, Shading, ShellMesh, Spike
from shellgen.pattern.flatmap import Seats
from shellgen.pipeline.dome import Ground
from shellgen.pipeline.foam import Foam

FILLS: tuple[Colour, ...] = ((255, 255, 255), (222, 220, 214), (176, 172, 164))
"""Light, middle and dark (chosen: they differ in black and white; the dark one is also hatched)."""
HATCH = 2.2
"""mm on paper between the hatching lines (chosen)."""
SHORTEST = 0.5
"""mm of a hatching line (chosen: two widths of the line)."""
SLACK = 0.25
"""Largest deviation of simplified outlines, mm (chosen: less than a brush shows)."""
SCALES = (1, 1.5, 2, 2.5, 3, 3.5, 4, 4.5, 5, 6, 8, 10, 12, 15, 20, 50)
SMALLER = 1.3
"""Factor by which the scale may be smaller if that saves a page (chosen: names still have room)."""
A4: Mapping[str, Any] = {"paper": "A4"}
HEIGHTS = (10.0, 7.0, 5.0, 3.5, 2.5)
SLIP = 160.0
"""Width in mm of the words for all pieces (chosen: it fits every paper, upright and lying)."""
SWATCH = np.array([[0.0, 0.0], [2.5, 0.0], [2.5, 1.6], [0.0, 1.6]])
"""Corners of a colour field of the legend, over the height of its letters."""
LEGEND = ("light: leave the paint as it is", "middle: shade lightly", "dark: shade fully")


def guides(
    shell_name: str,
    ground: Ground,
    foam: Foam,
    seats: Seats,
    spikes: tuple[Spike, ...],
    rings: tuple[Ring, ...],
    paint: Paint,
    *,
    window: tuple[float, float],
    layout: Mapping[str, Any] = A4,
    rule: Rule = METRIC,
) -> tuple[tuple[Drawing, ...], tuple[Drawing, ...]]:
    """One full-size Drawing per piece, seen from outside; and a slip with instructions for all, followed by all pieces
    at one scale, at which the largest fits under the slip, or a little smaller where that saves a page.

    window : mm of a page on which there can be pieces; layout : of the pages, as `on_sheets` takes it
    """
    count = range(len(foam.cut.pieces))
    occupied = [_occupied(foam, seats, rings, index) for index in count]
    edges = [outline(foam, index) for index in count]
    scale = scale_of(edges, lambda k: _about(k, spikes, paint, rule), window=window, layout=layout)
    areas = [tone_areas(ground.mesh, foam, paint.shading, index, occupied[index]) for index in count]
    true = [
        notes.with_notes(
            _with_legend(_guide(shell_name, ground, foam, k, areas[k], occupied[k], 1.0)),
            _instructions(spikes, paint, rule),
        )
        for k in count
    ]
    small = (_guide(shell_name, ground, foam, k, areas[k], occupied[k], scale) for k in count)
    return tuple(true), (_about(scale, spikes, paint, rule), *small)


def scale_of(
    edges: Sequence[Floats], about: Callable[[float], Drawing], *, window: tuple[float, float],
    layout: Mapping[str, Any],
) -> float:  # fmt: skip
    """The largest scale at which each outline fits under the slip `about`, or a smaller one that saves a page."""
    room = np.array(window) - (0.0, about(1.0).height + GAP)
    sizes = np.array([np.ptp(edge, axis=0) + 2 * MARGIN for edge in edges])
    largest = next((k for k in SCALES if (sizes / k <= room).all()), SCALES[-1])

    def pages(k: float) -> int:
        bare = (Drawing("", 1.0, 1.0, (Path(edge / k, "cut", closed=True),)) for edge in edges)
        return len(on_sheets((about(k), *bare), **layout).pages)

    tried = [k for k in SCALES if largest <= k <= SMALLER * largest] if len(edges) > 1 else [largest]
    return min(tried, key=lambda k: (pages(k), k))


def _about(scale: float, spikes: tuple[Spike, ...], paint: Paint, rule: Rule) -> Drawing:
    """Legend and instructions for all pieces."""
    lines = [
        f"Shading guide, scale 1:{scale:g}, all pieces. Use it while you shade, and find each plate by its grooves.",
        *_instructions(spikes, paint, rule),
    ]
    return notes.with_notes(_with_legend(Drawing("about the shading", SLIP, 1.0, ())), lines)


def tone_areas(
    mesh: ShellMesh, foam: Foam, shading: Shading, index: int, occupied: shapely.Geometry
) -> tuple[shapely.Geometry, shapely.Geometry]:
    """The areas of a flat piece that are at least middle, and that are dark, mm, without the area `occupied`.

    Neither is narrower than the brush, except where the piece or a spike cuts it off: closed, so that no gap
    is narrower, then opened, with the area beyond the edge included, because the neighbour continues there.

    References: opening and closing, Serra, Image Analysis and Mathematical Morphology, 1982.
    """
    radius = shading.brush / 2
    flat, faces, values = _fine(mesh, foam, shading, index)
    vertices, faces, band = cut_into_bands(flat, faces, values, shading.levels)
    edge = shapely.make_valid(shapely.polygons(outline(foam, index)))
    beyond = edge.buffer(4 * radius).difference(edge.buffer(-2 * SLACK))  # overlaps, so that areas meet at the edge
    found = []
    for level in (1, 2):
        rough = _covered(vertices, faces, band >= level).simplify(SLACK)
        closed = rough.buffer(radius, quad_segs=6).buffer(-radius, quad_segs=6).simplify(SLACK / 4)
        opened = closed.union(beyond).buffer(-radius, quad_segs=6).simplify(SLACK / 4).buffer(radius, quad_segs=6)
        kept = opened.intersection(closed.buffer(2 * SLACK)).simplify(SLACK)
        found.append(kept.intersection(edge).difference(occupied))
    return found[0], found[1].intersection(found[0])


def _fine(mesh: ShellMesh, foam: Foam, shading: Shading, index: int) -> tuple[Floats, Ints, Floats]:
    """The flat piece with its edges halved as in the mesh of the shading, and the shade at its vertices."""
    piece, flat = foam.cut.pieces[index], foam.pattern.flats[index].flat
    fine, faces, of = _halved(flat, piece.faces, piece.shell_vertices, shading.ends, len(mesh.points))
    return fine, faces, shading.shade[of]


@remembered
def _halved(flat: Floats, faces: Ints, of: Ints, halved_edges: Sequence[Ints], count: int) -> tuple[Floats, Ints, Ints]:
    """Vertices, faces, and the index of each vertex in the mesh of the shading."""
    for ends in halved_edges:
        faces, own = subdivided(faces, len(flat))
        pair = np.sort(of[own], axis=1)
        place = np.searchsorted(ends[:, 0] * count + ends[:, 1], pair[:, 0] * count + pair[:, 1])
        of, flat, count = np.append(of, count + place), np.vstack([flat, flat[own].mean(axis=1)]), count + len(ends)
    return flat, faces, of


def _covered(vertices: Floats, faces: Ints, inside: Bools) -> shapely.Geometry:
    """The area of some triangles of a flat mesh, which are counter-clockwise: `inside` (m,) says which."""
    if not inside.any():
        return shapely.Polygon()
    rings = _round(*_edges(faces, inside, len(vertices)))
    which = np.repeat(np.arange(len(rings)), [len(ring) for ring in rings])
    lines = shapely.linestrings(vertices[np.concatenate(rings)], indices=which)
    return shapely.build_area(shapely.multilinestrings(lines))


def _edges(faces: Ints, inside: Bools, count: int) -> tuple[Ints, Ints]:
    """(k,) starts and ends of the edges of only one of the triangles inside, with the triangle on their right.
    Searched only at vertices on the mesh's own edge and at those of triangles outside."""
    turn = (np.roll(faces, -1, axis=1) - np.roll(faces, 1, axis=1)).ravel()
    at_edge = np.bincount(faces.ravel(), turn.astype(float), count) != 0
    at_edge[faces[~inside]] = True
    start, end = np.roll(faces[inside], -1, axis=1), faces[inside]
    near = at_edge[start] & at_edge[end]
    start, end = start[near], end[near]
    key = np.minimum(start, end) * np.int64(count) + np.maximum(start, end)
    _, first, uses = np.unique(key, return_index=True, return_counts=True)
    return start[first[uses == 1]], end[first[uses == 1]]


def _round(start: Ints, end: Ints) -> list[list[int]]:
    """Edges joined into rings, from which an area is built much faster; single edges if rings touch at a vertex."""
    after = dict(zip(start.tolist(), end.tolist(), strict=True))
    if len(after) < len(start):
        pairs: list[list[int]] = np.sort(np.stack([start, end], axis=1), axis=1).tolist()
        return pairs
    rings = []
    while after:
        at: int | None = next(iter(after))
        ring = list[int]()
        while at is not None:
            ring.append(at)
            at = after.pop(at, None)
        rings.append(ring)
    return rings


def _occupied(foam: Foam, seats: Seats, rings: tuple[Ring, ...], index: int) -> shapely.Geometry:
    """The area that spikes and their rings cover."""
    wide = {ring.spike: ring.thickness for ring in rings}
    return shapely.union_all(
        [
            shapely.make_valid(shapely.polygons(points)).buffer(wide.get(name, 0.0))
            for name, points in seats[index]
            if len(points) > 3
        ]
    ).intersection(shapely.make_valid(shapely.polygons(outline(foam, index))))


def _guide(
    shell_name: str,
    ground: Ground,
    foam: Foam,
    index: int,
    areas: tuple[shapely.Geometry, shapely.Geometry],
    covered: shapely.Geometry,
    scale: float,
) -> Drawing:
    piece = foam.cut.pieces[index]
    low, across, up = sheet_of(foam.pattern, index)

    def place(points: Floats) -> Floats:
        return (points - low) / scale

    edge = place(outline(foam, index))
    tones = [shapely.make_valid(shapely.transform(area, place)) for area in areas]
    scores = [Path(path.points / scale, "score") for path in score_paths(ground, foam, index, low)]
    occupied = list(_rings(shapely.transform(covered, place)))
    feet = [Path(ring, "seat", closed=True) for ring in occupied]
    fills = [*_fills(tones), *(Path(ring, "fill", closed=True, fill=FILLS[0]) for ring in occupied)]
    hatching = [Path(line, "label") for line in _hatched(tones[1])]
    words = _named([piece.name, "shading"], shapely.difference(shapely.make_valid(shapely.polygons(edge)), tones[0]))
    items: tuple[Path | Text, ...] = (*fills, *hatching, *scores, *feet, Path(edge, "cut", closed=True), *words)
    title = f"{shell_name} {piece.name} shading"
    return Drawing(f"{piece.name}-shading", across / scale, up / scale, items, title)


def _named(title: Sequence[str], light: shapely.Geometry) -> tuple[Text, ...]:
    """The name of the piece, on the largest light area; nothing if that is too small."""
    patches = [part for part in shapely.get_parts(light) if part.geom_type == "Polygon" and not part.is_empty]
    if not patches:
        return ()
    patch = max(patches, key=lambda part: part.area)
    room = Room(np.array(patch.exterior.coords)[:-1], [np.array(hole.coords) for hole in patch.interiors])
    for hole in patch.interiors:
        room.close(np.array(hole.coords)[:-1])
    spots = room.spots(np.array(patch.representative_point().coords[0]), step=4.0, most=400)
    return room.place(title, HEIGHTS, spots) or room.place(title[:1], HEIGHTS, spots)


def _rings(area: shapely.Geometry) -> Iterator[Floats]:
    """Every ring of an area, outer or inner, without the repeated last point."""
    for part in shapely.get_parts(area):
        if part.geom_type == "Polygon" and not part.is_empty:
            for ring in (part.exterior, *part.interiors):
                yield np.array(ring.coords)[:-1]


def _fills(tones: Sequence[shapely.Geometry]) -> Iterator[Path]:
    """Filled outlines, the largest first, so that a hole in one tone shows what is in it."""
    found: list[tuple[float, int, Path]] = []
    for level, area in enumerate(tones, 1):
        for part in shapely.get_parts(area):
            if part.geom_type != "Polygon" or part.is_empty:
                continue
            for ring, tone in ((part.exterior, level), *((hole, level - 1) for hole in part.interiors)):
                shape = shapely.Polygon(ring)
                path = Path(np.array(ring.coords)[:-1], "fill", closed=True, data={"tone": str(tone)}, fill=FILLS[tone])
                found.append((shape.area, level, path))
    found.sort(key=lambda item: (-item[0], item[1]))
    yield from (path for _, _, path in found)


def _hatched(area: shapely.Geometry) -> Floats:
    """(n, 2, 2) lines rising to the right across an area."""
    lines = hatched(area, HATCH * np.sqrt(2))
    return np.asarray(lines[np.hypot(*(lines[:, 1] - lines[:, 0]).T) > SHORTEST])


def _with_legend(drawing: Drawing) -> Drawing:
    """The drawing with three swatches below it."""
    height = next(h for least, h in notes.HEIGHTS if max(drawing.width, notes.NARROWEST) >= least)
    across = max(drawing.width, 2 * notes.EDGE + 3.5 * height + max(width(line, height) for line in LEGEND))
    row, up = 2.2 * height, 2.2 * height * len(LEGEND) + 2.0
    items = list(notes.raised(drawing.items, up))
    for tone, line in enumerate(LEGEND):
        base = up - row * (tone + 1)
        box = np.array([notes.EDGE, base]) + SWATCH * height
        items += [Path(box, "fill", closed=True, fill=FILLS[tone]), Path(box, "note", closed=True)]
        if tone == len(FILLS) - 1:
            items += [Path(hatch, "label") for hatch in _hatched(shapely.polygons(box))]
        items.append(Text(line, (notes.EDGE + 3.5 * height, base + 0.3 * height), height, layer="note"))
    return Drawing(drawing.name, across, drawing.height + up, tuple(items), drawing.title)


def _instructions(spikes: tuple[Spike, ...], paint: Paint, rule: Rule) -> list[str]:
    """How to use the guide, and the caution for the paint."""
    return [
        f"Seen from outside. A brush of {rule.mm(paint.shading.brush, None)} can follow the outlines. "
        "Dashed: grooves." + (" Dotted: spikes and rings." if spikes else ""),
        paint.coats[-1].instruction,
    ]
