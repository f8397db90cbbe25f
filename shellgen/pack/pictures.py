"""The pictures of a pack, drawn without a graphics driver, the same bytes every time."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from shellgen import page
from shellgen.core.arrays import Floats
from shellgen.core.memory import remembered
from shellgen.draw import pictures as draw
from shellgen.draw.painted_scene import GREYS, painted_scenes, zone_colours
from shellgen.draw.shell_scene import shell_scene
from shellgen.export import glb, png
from shellgen.finish.paint.figures import TONES
from shellgen.model import Cut, Paint, Ring, ShellMesh, Solid, Spike, Zone
from shellgen.pipeline.dome import Ground
from shellgen.pipeline.foam import Foam
from shellgen.pipeline.wear import Worn

SIDES = ("from above", "three-quarter", "from the tail", "left side", "head end", "tail end")
WORN = ("worn, three-quarter", "worn, from the left", "worn, from the front")
CHART = png.View("spikes from the side", (0.0, -1.0, 0.0))
FLAT = 0.3
"""Strength of light on the stretch map (chosen: the dome still looks round, and colours match the legend)."""

SMALL, APART = 420, 700
"""Most pixels along the shell, in pictures of several views and of the shell taken apart."""

SIZES = "Every size of spike, figures in mm"
STRETCH = "Forming, in per cent: − compressed, + stretched"

Pictures = tuple[dict[str, bytes], dict[str, str]]
"""Files by path, and by path the data URLs of those that the page shows."""

_png, _glb = remembered(png.write), remembered(glb.write)
"""The writers of the same names, but an unchanged scene is not drawn again."""


@remembered
def _looks(looks: tuple[png.Look, ...]) -> tuple[bytes, ...]:
    return tuple(png.write_looks(looks))


def whole(
    shell_name: str, ground: Ground, thickness: float, spikes: tuple[Spike, ...], rings: tuple[Ring, ...],
    edging: tuple[Solid, ...], paint: Paint, worn: Worn | None,
) -> Pictures:  # fmt: skip
    """The finished shell, its sides, on the wearer if that may be shown, its shading, and in 3-D."""
    colours, pixel = zone_colours(paint.zones), _length(ground.mesh) / SMALL
    plain = shell_scene(shell_name, ground, thickness, spikes, rings, edging, colours)
    small = shell_scene(shell_name, ground, thickness, spikes, rings, edging, colours, pixel=pixel)
    painted, shading = painted_scenes(paint, plain, "painted", "shading")
    legend = tuple(zip(GREYS, TONES, strict=True))
    words = png.SceneText("Where to shade", legend=legend)
    looks = png.Look(painted, (1200, 900)), png.Look(shading, (760, 620), words=words, shade=0.5)
    files = dict(zip(("preview.png", "shading.png"), _looks(looks), strict=True))
    files["views.png"] = _png(small, views=SIDES, size=(1350, 810))
    if worn is not None and worn.body is not None:
        files["worn.png"] = _png(draw.with_wearer(worn, small), views=WORN, size=(1350, 900))
    files["preview.glb"] = _glb(plain, quantised=True)
    return files, page.stills(files)


def apart(
    shell_name: str, ground: Ground, foam: Foam, spikes: tuple[Spike, ...], rings: tuple[Ring, ...],
    edging: tuple[Solid, ...], zones: tuple[Zone, ...],
) -> Pictures:  # fmt: skip
    """The shell taken apart."""
    colours, pixel = zone_colours(zones), _length(ground.mesh) / APART
    plain = shell_scene(shell_name, ground, foam.thickness, spikes, rings, edging, colours, pixel=pixel)
    scene, names = draw.exploded(shell_name, ground, foam, spikes, rings, plain)
    files = {"exploded.png": _png(scene, size=(1000, 760), scale_bar=False, labels=_labels(names))}
    return files, page.stills(files)


def stretch(shell_name: str, mesh: ShellMesh, cut: Cut, heat: Floats) -> Pictures:
    """How much forming stretches and compresses the foam."""
    map_, names, legend = draw.stretched(shell_name, mesh, cut, heat)
    sides, size = ("from above", "left side"), (1000, 1040)
    drawn = _png(map_, views=sides, size=size, caption=STRETCH, labels=_labels(names), legend=legend, shade=FLAT)
    files = {"stretch.png": drawn}
    return files, page.stills(files)


def sizes(shell_name: str, spikes: tuple[Spike, ...], zones: tuple[Zone, ...]) -> Pictures:
    """Every size of spike."""
    if not spikes:
        return {}, {}
    chart, names = draw.spike_chart(shell_name, spikes, zones)
    rows, columns = -(-len(names) // draw.ROW), min(len(names), draw.ROW)
    size = (max(480, 150 * columns), 90 + 300 * rows)
    files = {"spikes.png": _png(chart, views=(CHART,), size=size, caption=SIZES, labels=_labels(names))}
    return files, page.stills(files)


def _length(mesh: ShellMesh) -> float:
    """mm"""
    return float(np.ptp(mesh.points[:, 0]))


def _labels(names: Iterable[draw.Named]) -> list[png.SceneLabel]:
    return [png.SceneLabel(name.text, name.at, name.facing) for name in names]
