"""Masters as STEP (ISO 10303-21), with exact sides: the only module that imports CadQuery, and only when it is asked.

Straight round profiles are the meridian, lines and arcs, turned about the axis; others are lofted through their
sections. The underside is a polynomial surface through the shell's own points, cut exactly.
"""

from __future__ import annotations

import re
import tempfile
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from shellgen.core.arrays import Floats
from shellgen.errors import GeometryError
from shellgen.spikes.fit import angles
from shellgen.spikes.solids import Master, to_level

if TYPE_CHECKING:
    import cadquery

ORDER = 6
"""Degree of the polynomial under a spike: a dome's curvature changes little over a base (chosen; see SMOOTH)."""
SMOOTH = 0.02
"""mm: the polynomial must come as near as this to every point of the underside."""
PAST = 3.0
"""mm by which bodies and cutters reach beyond what they cut."""
BLUNT = 0.02
"""mm: radius of the flat on which a lofted tip ends."""
SECTIONS = 24


def write(master: Master, *, scale: float = 1.0) -> bytes:
    """STEP of the master in mm, larger than the finished spike by `scale`; equal bytes for equal masters."""
    solid: Any = exact_solid(master).scale(scale)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"{master.name}.step"
        solid.exportStep(str(path))
        text = path.read_text(encoding="ascii")
    return _timeless(text, master.name).encode("ascii")


def _timeless(text: str, name: str) -> str:
    """Without the hour, and without the kernel's count of what it wrote before."""
    header = f"FILE_NAME('{name}.step','1970-01-01T00:00:00',(''),(''),'','','');"
    text = re.sub(r"FILE_NAME\(.*?\);", header, text, count=1, flags=re.DOTALL)
    return re.sub(r"Open CASCADE STEP translator [\d. ]+", name, text)


def exact_solid(master: Master) -> cadquery.Solid:
    """The exact solid, in the spike's own frame. GeometryError if the cut does not leave one solid."""
    body, plain = master.body, not (master.body.shape.bend or master.body.shape.ridges or master.body.shape.twist)
    whole = _turned(master) if plain and body.oval == 1 else _lofted(master)
    found = whole.cut(_shell_under(master)).Solids()
    kept: list[cadquery.Solid] = [solid for solid in found if solid.Volume() > 1e-3 * whole.Volume()]
    if len(kept) != 1 or not kept[0].isValid():
        raise GeometryError(f"{master.name}: no exact solid comes of it; use the mesh")
    return kept[0]


def _lowest(master: Master) -> float:
    """Height, along the spike's axis, under which nothing of it lies."""
    return float(min(master.under.points[..., 2].min(), master.under.middle[2])) - PAST


def _turned(master: Master) -> Any:
    """The meridian turned about the axis."""
    import cadquery as cq

    body, low = master.body, _lowest(master)
    ends = np.unique([low, 0.0, *body.joints, body.length])
    path = cq.Workplane("XZ").moveTo(0, low).lineTo(float(body.radius(ends[:1])[0]), low)
    for start, end in pairwise(ends):
        path = _along(path, body.radius, np.linspace(start, end, 17))
    return path.close().revolve(360, (0, 0, 0), (0, 1, 0)).val()


def _along(path: Any, radius: Callable[[Floats], Floats], s: Floats) -> Any:
    """The path taken on through one curve of the side: a line or an arc where it is one, else a spline."""
    points = np.column_stack([radius(s), s])
    start, middle, end = points[[0, 8, 16]]
    if _bow(points) < 1e-7:
        return path.lineTo(*end)
    sides = np.array([middle - start, end - start])
    centre = start + np.linalg.solve(sides, 0.5 * (sides**2).sum(axis=1))
    if np.ptp(np.linalg.norm(points - centre, axis=1)) < 1e-6:
        return path.threePointArc(tuple(middle), tuple(end))
    return path.spline([tuple(p) for p in points[1:]], includeCurrent=True)


def _bow(points: Floats) -> float:
    """How far points (n, 2) deviate from the line between first and last."""
    chord = (points[-1] - points[0]) / np.linalg.norm(points[-1] - points[0])
    return float(np.abs((points - points[0]) @ [-chord[1], chord[0]]).max())


def _lofted(master: Master) -> Any:
    """A loft through sections: square to the spine above the base, level below it."""
    import cadquery as cq

    body = master.body
    foot = to_level(body, 0.0, _lowest(master))
    angle = angles(body.shape)
    if body.shape.ridges:  # crisp crests: flat from row to row
        levels = body.rows[:-1]
    else:
        levels = np.concatenate([np.linspace(0, body.rows[-1] * 0.9, SECTIONS, endpoint=False), body.rows[-8:-1]])
    levels = np.unique(np.append(levels, body.length - BLUNT**2 / (2 * body.tip)))
    wires = [_wire(body.points(foot, angle), body.shape.ridges)]
    wires += [_wire(body.points(np.full(len(angle), s), angle), body.shape.ridges) for s in levels]
    return cq.Solid.makeLoft(wires, bool(body.shape.ridges))


def _wire(points: Floats, ridges: int) -> Any:
    """A closed section: one smooth curve, or one from crest to crest."""
    import cadquery as cq

    vectors = [cq.Vector(*p) for p in points]
    if not ridges:
        return cq.Wire.assembleEdges([cq.Edge.makeSpline(vectors, periodic=True)])
    step = len(vectors) // ridges
    ring = [*vectors, vectors[0]]
    return cq.Wire.assembleEdges([cq.Edge.makeSpline(ring[k : k + step + 1]) for k in range(0, len(vectors), step)])


def _shell_under(master: Master) -> Any:
    """The shell under the spike as a solid: a smooth face through the underside, drawn down past the body's end."""
    import cadquery as cq

    points = np.vstack([master.under.points.reshape(-1, 3), master.under.middle])
    reach = 1.15 * np.abs(points[:, :2]).max() + PAST
    powers = [(i, j) for i in range(ORDER + 1) for j in range(ORDER + 1 - i)]

    def terms(xy: Floats) -> Floats:
        return np.stack([(xy[:, 0] / reach) ** i * (xy[:, 1] / reach) ** j for i, j in powers], axis=1)

    weights = np.linalg.lstsq(terms(points[:, :2]), points[:, 2], rcond=None)[0]
    error = np.abs(terms(points[:, :2]) @ weights - points[:, 2]).max()
    if error > SMOOTH:
        raise GeometryError(f"{master.name}: the shell under it is too uneven for a smooth face ({error:.2f} mm)")
    grid = np.linspace(-reach, reach, 15)
    rows = [
        np.column_stack([np.full(15, x), grid, terms(np.column_stack([np.full(15, x), grid])) @ weights]) for x in grid
    ]
    face = cq.Face.makeSplineApprox([[cq.Vector(*p) for p in row] for row in rows], tol=1e-4)
    depth = float(points[:, 2].max()) - _lowest(master) + 4 * reach
    return cq.Solid.extrudeLinear(face, cq.Vector(0, 0, -depth))
