"""The shell in 3-D as painted, or its shading: three tones with smooth outlines."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from shellgen.canvas import Bands, Colour, Scene, ScenePart
from shellgen.core.arrays import Bytes, Ints
from shellgen.draw.shell_scene import PALETTE
from shellgen.geom.subdivision import parents, subdivided_where
from shellgen.model import Paint, Shading, Zone

GREYS: tuple[Colour, ...] = ((236, 232, 222), (176, 166, 148), (98, 86, 72))
"""Light, middle and dark of the shading alone (chosen: even steps of lightness that stay apart in black and white)."""

SHADE: Colour = (52, 44, 36)
"""What the shading paint looks like, thinned (chosen: a warm dark brown)."""

BARE = ("spikes", "rings", "rim")
"""Zones without shading."""

STRENGTH = (0.0, 0.4, 0.78)
"""How much of a zone's colour the shading covers in each tone (chosen by eye)."""


def tone_colours(zones: tuple[Zone, ...], look: str) -> Bytes:
    """(3, 3) uint8 light, middle and dark of the plates; look : "painted" or "shading"."""
    if look == "shading":
        return np.array(GREYS, np.uint8)
    base, shade = np.array({**PALETTE, **zone_colours(zones)}["plates"]), np.array(SHADE)
    return np.array([base + strength * (shade - base) for strength in STRENGTH]).round().astype(np.uint8)


def zone_colours(zones: tuple[Zone, ...]) -> dict[str, Colour]:
    """Painted colour of each zone; a bare zone keeps the colour of the foam."""
    return {zone.name: zone.rgb for zone in zones if zone.coats}


def painted_scenes(paint: Paint, scene: Scene, *looks: str) -> tuple[Scene, ...]:
    """A `shell_scene` in the colours of its zones, its outer face in those of the tones; once for each look."""
    shading = paint.shading
    plain = next(part for part in scene.parts if part.zone == "plates")
    kept, faces = _fine_at_outlines(plain.faces, shading)
    outside = replace(plain, vertices=shading.points[kept], faces=faces, vertex_normals=shading.normals[kept])

    def coloured(part: ScenePart, look: str) -> ScenePart:
        if part.zone == "plates":
            return replace(outside, bands=Bands(shading.shade[kept], shading.levels, tone_colours(paint.zones, look)))
        return replace(part, colour=GREYS[0]) if look == "shading" and part.zone in BARE else part

    return tuple(replace(scene, parts=tuple(coloured(part, look) for part in scene.parts)) for look in looks)


def _fine_at_outlines(faces: Ints, shading: Shading) -> tuple[Ints, Ints]:
    """Vertices (n,) and faces (m, 3) of the dome's mesh, as fine as that of the shading where two tones meet."""
    first, again = shading.ends
    count = len(shading.points) - len(again)
    tone = (shading.shade[:, None] >= np.array(shading.levels)).sum(axis=1)
    finest = tone[shading.faces].reshape(-1, 12)
    once = finest.min(axis=1) != finest.max(axis=1)
    for ends, start, wanted, finer in (
        (first, count - len(first), once.reshape(-1, 4).any(axis=1), parents(shading.faces)),
        (again, count, once, shading.faces),
    ):
        used = np.zeros(start + len(ends), bool)
        used[finer.reshape(-1, 12)[wanted]] = True
        faces = subdivided_where(faces, ends, start, used[start:])
    used = np.zeros(len(shading.points), bool)
    used[faces] = True
    return np.flatnonzero(used), (np.cumsum(used) - 1)[faces]
