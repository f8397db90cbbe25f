"""The pictures of a pack, drawn without a graphics driver, the same bytes every time."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np

from shellgen.core.memory import remembered
from shellgen.draw import pictures as draw
from shellgen.draw.painted_scene import GREYS, painted_scenes, zone_colours
from shellgen.draw.shell_scene import shell_scene
from shellgen.export import glb, png
from shellgen.finish.paint.figures import TONES
from shellgen.pipeline.shell import Shell

SIDES = ("from above", "three-quarter", "from the tail", "left side", "head end", "tail end")
WORN = ("worn, three-quarter", "worn, from the left", "worn, from in front")
CHART = png.View("spikes from their side", (0.0, -1.0, 0.0))
FLAT = 0.3
"""Play of light on the stretch map (chosen: the dome is still seen as one, and colours match those of the legend)."""

SMALL, APART = 420, 700
"""Pixels along the shell, at most, on pictures of several views and on that of it taken apart."""

SIZES = "Every size of spike, figures in mm"
STRETCH = "What forming asks of the foam, per cent: − pressed in, + stretched"


_png, _glb = remembered(png.write), remembered(glb.write)
"""As they are called, but a scene that has not changed is not drawn again."""


@remembered
def _looks(looks: tuple[png.Look, ...]) -> tuple[bytes, ...]:
    return tuple(png.write_looks(looks))


def whole(shell: Shell) -> Iterator[tuple[str, bytes]]:
    """Path and bytes of each: the finished shell, its sides, it on the wearer, and its shade; and in 3-D."""
    colours = zone_colours(shell)
    plain, small = shell_scene(shell, colours), shell_scene(shell, colours, pixel=_length(shell) / SMALL)
    painted, shading = painted_scenes(shell, plain, "painted", "shading")
    legend = tuple(zip(GREYS, TONES, strict=True))
    words = png.SceneText("Where the shade lies", legend=legend)
    looks = png.Look(painted, (1200, 900)), png.Look(shading, (760, 620), words=words, shade=0.5)
    yield from zip(("preview.png", "shading.png"), _looks(looks), strict=True)
    yield "views.png", _png(small, views=SIDES, size=(1350, 810))
    if shell.measures_shared and shell.body is not None:
        yield "worn.png", _png(draw.worn(shell, small), views=WORN, size=(1350, 900))
    yield "preview.glb", _glb(plain, quantised=True)


def parts(shell: Shell) -> Iterator[tuple[str, bytes]]:
    """Path and bytes of each: the shell taken apart, its stretch, its spikes."""
    apart, names = draw.exploded(shell, shell_scene(shell, zone_colours(shell), pixel=_length(shell) / APART))
    yield "exploded.png", _png(apart, size=(1000, 760), scale_bar=False, labels=_labels(names))
    map_, names, legend = draw.stretched(shell)
    sides, size = ("from above", "left side"), (1000, 1040)
    yield (
        "stretch.png",
        _png(map_, views=sides, size=size, caption=STRETCH, labels=_labels(names), legend=legend, shade=FLAT),
    )
    if shell.spikes:
        chart, names = draw.spike_chart(shell)
        rows, columns = -(-len(names) // draw.ROW), min(len(names), draw.ROW)
        size = (max(480, 150 * columns), 90 + 300 * rows)
        yield "spikes.png", _png(chart, views=(CHART,), size=size, caption=SIZES, labels=_labels(names))


def _length(shell: Shell) -> float:
    """mm"""
    return float(np.ptp(shell.mesh.points[:, 0]))


def _labels(names: Iterable[draw.Named]) -> list[png.SceneLabel]:
    return [png.SceneLabel(name.text, name.at, name.facing) for name in names]
