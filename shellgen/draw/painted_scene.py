"""The shell in 3-D as it is painted, or as its shade lies: three tones with smooth outlines."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from shellgen.canvas import Colour, Part, Scene
from shellgen.draw.shell_scene import shell_scene
from shellgen.geom.levels import banded
from shellgen.shell import Shell

TONES = ("light", "middle", "dark")

GREYS: tuple[Colour, ...] = ((236, 232, 222), (176, 166, 148), (98, 86, 72))
"""Light, middle and dark of the shading alone (chosen: even steps of lightness that stay apart in black and white)."""

SHADE: Colour = (52, 44, 36)
"""What the shading paint looks like, thinned (chosen: a warm dark brown)."""

BARE = ("spikes", "rings", "rim")
"""Zones that show no shade."""

STRENGTH = (0.0, 0.4, 0.78)
"""How much of a zone's colour the shading covers in each tone (chosen by eye)."""


def tone_colours(shell: Shell, look: str) -> NDArray:
    """(3, 3) uint8 light, middle and dark of the plates; look : "painted" or "shading"."""
    if look == "shading":
        return np.array(GREYS, np.uint8)
    base, shade = np.array(zone_colours(shell)["plates"]), np.array(SHADE)
    return np.array([base + strength * (shade - base) for strength in STRENGTH]).round().astype(np.uint8)


def zone_colours(shell: Shell) -> dict[str, Colour]:
    """Colour of each zone as it is painted; a zone that stays bare keeps the foam's."""
    return {zone.name: zone.rgb for zone in shell.paint.zones if zone.coats}


def painted_scene(shell: Shell, look: str = "painted") -> Scene:
    """The finished shell; look : "painted" in the zones' colours under their shade, or "shading" in three greys."""
    return painted_scenes(shell, shell_scene(shell, zone_colours(shell)), look)[0]


def painted_scenes(shell: Shell, scene: Scene, *looks: str) -> tuple[Scene, ...]:
    """A `shell_scene` in the colours of its zones, with its outer face cut along the outlines of the tones; once for
    each look."""
    shading = shell.paint.shading
    both = np.hstack([shading.points, shading.normals])
    vertices, faces, band = banded(both, shading.faces, shading.shade, shading.levels)
    normals = vertices[:, 3:] / np.linalg.norm(vertices[:, 3:], axis=1, keepdims=True)
    plain = next(part for part in scene.parts if part.zone == "plates")
    outside = replace(plain, vertices=vertices[:, :3], faces=faces, vertex_normals=normals)

    def coloured(part: Part, look: str) -> Part:
        if part.zone == "plates":
            return replace(outside, face_colours=tone_colours(shell, look)[band])
        return replace(part, colour=GREYS[0]) if look == "shading" and part.zone in BARE else part

    return tuple(replace(scene, parts=tuple(coloured(part, look) for part in scene.parts)) for look in looks)
