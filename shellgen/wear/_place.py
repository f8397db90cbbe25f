"""Where the anchors are on the inside of the shell: on plates, clear of seams, grooves and spikes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from shellgen.core.arrays import Floats, Ints
from shellgen.core.memory import remembered
from shellgen.geom.curves import arc_length
from shellgen.geom.geodesics import shortest
from shellgen.model import FoamSheet, Layout, ShellMesh, Spike, Surface
from shellgen.wear._strand import End


@dataclass(frozen=True, slots=True, eq=False)
class AnchorSites:
    """Every vertex of the shell as a place for an anchor.

    inside : (n, 3) on the inner face; inward : (n, 3) unit
    clear  : (n,) mm from the nearest seam, groove or spike, negative under a spike
    to_rim : (n,) mm to the rim
    plate  : (n,) index of the plate it lies on
    """

    inside: Floats
    inward: Floats
    clear: Floats
    to_rim: Floats
    plate: Ints
    uv: Floats
    mirror: Ints


@dataclass(frozen=True, slots=True, eq=False)
class AnchorSite:
    """A place on the left half.

    vertex : of the mesh; clear : as in AnchorSites
    short  : mm of room that is missing for a patch, to the rim, the midline or the next patch
    """

    role: str
    vertex: int
    clear: float
    short: float


def anchor_sites(
    layout: Layout, mesh: ShellMesh, cut_lines: Sequence[int], spikes: Sequence[Spike], foam: FoamSheet
) -> AnchorSites:
    """All places, on the inner face of the foam."""
    inside = mesh.offset(foam.inner_offset)
    kinds = [line.kind for line in layout.lines]
    drawn = [k for k, kind in enumerate(kinds) if kind == "plate" or k in set(cut_lines)]
    rim = [k for k, kind in enumerate(kinds) if kind == "rim"]
    clear = _distance(inside, [inside[mesh.line_vertices[k]] for k in drawn])
    for spike in spikes:
        middle = spike.base_curve.mean(axis=0)
        radius = np.linalg.norm(spike.base_curve - middle, axis=1).max()
        clear = np.minimum(clear, np.linalg.norm(mesh.points - middle, axis=1) - radius)
    to_rim = _distance(inside, [inside[mesh.line_vertices[k]] for k in rim])
    plate = np.zeros(len(inside), int)
    plate[mesh.faces.ravel()] = np.repeat(np.array(layout.cell_plate)[mesh.face_cell], 3)
    return AnchorSites(inside, -mesh.normals, clear, to_rim, plate, mesh.uv, mesh.mirror)


@remembered
def _distance(points: Floats, lines: Sequence[Floats]) -> Floats:
    """(n,) mm to the nearest of the lines, sampled every two millimetres."""
    if not lines:
        return np.full(len(points), np.inf)
    fine = []
    for line in lines:
        along = arc_length(line)
        at = np.linspace(0, along[-1], 2 + int(along[-1] / 2))
        fine.append(np.column_stack([np.interp(at, along, line[:, k]) for k in range(3)]))
    return np.asarray(cKDTree(np.vstack(fine)).query(points)[0])


def nearest_sites(on: AnchorSites, ends: Sequence[End], *, margin: float, reach: float) -> tuple[AnchorSite, ...]:
    """For each end the place nearest to the wanted one with `margin` to seams, grooves and spikes, `reach` (half a
    patch) to rim and midline and twice that to each other. If there is none, the place that misses least.
    The lowest is placed first: there is least room at the tail.
    """
    found: dict[int, AnchorSite] = {}
    left = np.flatnonzero(on.uv[:, 1] > 1e-9)
    room = np.minimum(on.to_rim, on.inside[:, 1])[left] - reach
    for number in sorted(range(len(ends)), key=lambda k: float(ends[k].wanted[0])):
        short = np.maximum(0.0, -room)
        lacks = np.maximum(0.0, margin - on.clear[left]) + short
        away = np.linalg.norm(on.inside[left] - ends[number].wanted, axis=1)
        best = int(np.lexsort((away, np.round(lacks, 6)))[0])
        vertex = int(left[best])
        found[number] = AnchorSite(ends[number].role, vertex, float(on.clear[vertex]), float(short[best]))
        room = np.minimum(room, np.linalg.norm(on.inside[left] - on.inside[vertex], axis=1) - 2 * reach)
    return tuple(found[number] for number in range(len(ends)))


@dataclass(frozen=True, slots=True, eq=False)
class TapeRoute:
    """How to find a place inside the shell with a tape.

    edge  : the tape begins at its middle, "neck" or "tail"; along : mm from there along the inner rim
    up    : mm from there straight in over the inner face
    out   : (3,) unit, at the place, straight back to the rim
    """

    edge: str
    along: float
    up: float
    out: Floats


def from_rim(
    surface: Surface, on: AnchorSites, vertex: int, rim: Ints, rim_points: Floats, foam: FoamSheet
) -> TapeRoute:
    """The tape to a place on the left half.

    rim, rim_points : (k,) vertices and (k, 3) points of the inner rim, from the neck, left side first
    """
    near = int(np.linalg.norm(rim_points - on.inside[vertex], axis=1).argmin())
    first = max(0, near - 3)
    ways = shortest(surface, on.uv[vertex], on.uv[rim[first : near + 4]], offset=foam.inner_offset)
    best = int(ways.length.argmin())
    along = arc_length(rim_points, closed=True)
    half = along[int((np.abs(on.uv[rim, 1]) + (on.uv[rim, 0] > 0)).argmin())]
    far = along[first + best]
    edge, far = ("neck", far) if far <= half - far else ("tail", half - far)
    return TapeRoute(edge, float(far), float(ways.length[best]), ways.heading[best])
