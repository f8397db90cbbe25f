"""The files that a preset names, as they are shared: the smooth outer face of a scanned dome, never the scan, which may
show a body; and plate lines on a fresh chart, never the maker's drawing, which may name people or show their dome."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from shellgen.dome.surfaces import scan
from shellgen.draw import chart
from shellgen.export import chart_svg, stl
from shellgen.fields.params import File
from shellgen.geom import patches
from shellgen.model import Layout, Solid, Surface
from shellgen.plates import drawn
from shellgen.preset import Preset

NAME, LINES = "dome.stl", "lines.svg"
FINEST = 5.0
"""The least smoothing, mm, because the shape is smooth already."""
RINGS, SPOKES = 60, 180
"""Chosen: triangles of about 5 to 9 mm on an adult's shell, less than 0.05 mm from the smooth face."""


def passed_on(preset: Preset, surface: Surface, layout: Layout) -> tuple[Preset, dict[str, bytes]]:
    """A preset that builds the same shell without the maker's own files, and the files that it then needs."""
    files = dict[str, bytes]()
    own, lines = preset.dome.own, preset.plates.own
    if isinstance(own, scan.Params):
        files[NAME] = stl.write(mesh(surface))
        preset = replace(preset, dome=replace(preset.dome, own=plain(replace(own.file, written=NAME))))
    if isinstance(lines, drawn.Params):
        files[LINES] = chart_svg.write(chart.chart(str(preset.name), surface, layout))
        again = drawn.Params(file=replace(lines.file, written=LINES), gap=lines.gap)
        preset = replace(preset, plates=replace(preset.plates, own=again))
    return preset, files


def plain(file: File) -> scan.Params:
    """Params that read the mesh of a dome back unchanged."""
    return scan.Params(file=file, up="z", head="x", cut=0.0, smoothing=FINEST)


def mesh(surface: Surface) -> Solid:
    """The outer face, closed by a flat bottom in the plane of the rim."""
    uv = np.vstack([np.zeros((1, 2)), patches.polar_grid(np.linspace(0, 1, RINGS + 1)[1:], SPOKES)])
    place = 1 + np.arange(RINGS * SPOKES).reshape(RINGS, SPOKES)
    after = np.roll(place, -1, axis=1)
    middle = np.stack([np.zeros(SPOKES, int), place[0], after[0]], axis=-1)
    inner, outer = place[:-1].ravel(), place[1:].ravel()
    on, out = after[:-1].ravel(), after[1:].ravel()
    points = surface.points(uv)
    last = np.full(SPOKES, len(points))
    bottom = np.stack([last, after[-1], place[-1]], axis=-1)
    faces = np.concatenate([middle, np.stack([inner, outer, out], -1), np.stack([inner, out, on], -1), bottom])
    return Solid(NAME, np.vstack([points, points[place[-1]].mean(axis=0)]), faces)
