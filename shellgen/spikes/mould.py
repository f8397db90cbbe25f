"""Press moulds: two halves that part in the plane in which the spike leans, keyed to each other, open at the base, and
a foot with a flat back for each master, that closes the base and presses the shell's own curve into the clay.

A mould stands square to the shell: its frame has z along the shell's normal, x and y as the spike. The underside is
no part of the halves, which could not leave it: under a dome it is hollow.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from manifold3d import Manifold, OpType

from shellgen.core.arrays import Floats
from shellgen.core.memory import remembered
from shellgen.geom.vectors import cross
from shellgen.model import Finding, Solid
from shellgen.model.said import several
from shellgen.spikes.boolean import manifold, solid_of
from shellgen.spikes.fit import Underside
from shellgen.spikes.making import Mould
from shellgen.spikes.solids import NICK, Master, closed, stump

PAST = 2.0
"""mm that cutters reach beyond the faces they cut, so that no thin lenses stay."""
ROUND = 48
"""Facets of keys and vents."""
STEPS = (0.5, 2.0, 8.0, 24.0)
"""mm by which a half is drawn off in the draft test: from a first move to clear of any ridge."""
LEVEL = 1e-9
"""mm, or slope, that counts as none."""
GIVE = 2e-4
"""Share of the spike's volume that halves may graze in leaving it: soft clay gives way to facets (chosen)."""


@dataclass(frozen=True, slots=True, eq=False)
class PressMould:
    """The mould of one shape, and the feet of its masters.

    halves : the one on y > 0, which has the pegs, and the one on y < 0; none where they would lock on the spike
    feet   : one per master, in the order given
    block  : mm3 of halves, foot plate and all that they enclose
    locked : mm3 of the spike in the way of a half that is drawn off; not to be used if more than grazing
    """

    halves: tuple[Solid, ...]
    feet: tuple[Solid, ...]
    block: float
    locked: float

    @property
    def draws(self) -> bool:
        """Whether the spike can leave each half."""
        return bool(self.halves)


@remembered
def press_mould(name: str, masters: tuple[Master, ...], params: Mould, *, scale: float = 1.0) -> PressMould:
    """The mould for masters of one shape and tilt, larger than the finished spike by `scale`."""
    body, tilt = masters[0].body, masters[0].tilt
    low = min(float(_square(_ring(m.under), tilt)[:, 2].min()) for m in masters)
    solid = _cavity(stump(name, body, tilt, low - PAST), tilt, scale)
    cavity = manifold(solid)
    low *= scale
    box = _block(cavity, low, params.wall)
    clay = cavity.trim_by_plane((0, 0, 1), low)
    tip = _square(body.points(np.array([body.length]), np.zeros(1)), tilt)[0] * scale
    top = box.bounding_box()[5]
    vent = _rod(params.vent / 2, top + PAST - tip[2] + 1).translate((tip[0], 0, tip[2] - 1))
    shell = Manifold.batch_boolean([box, cavity, vent], OpType.Subtract)
    left, right = shell.split_by_plane((0, 1, 0), 0.0)
    locked = 0.0 if _recedes(solid) else max(locked_volume(left, clay, 1), locked_volume(right, clay, -1))
    if locked and locked > GIVE * clay.volume():
        return PressMould((), (), _stack(box, params.wall), locked)
    pegs, sockets = _keys(box, params)
    halves = (solid_of(f"{name}-half-a", left + pegs), solid_of(f"{name}-half-b", right - sockets))
    feet = tuple(_foot(f"{m.name}-foot", m, box, low, params, scale) for m in masters)
    return PressMould(halves, feet, _stack(box, params.wall), locked)


def locked_volume(half: Manifold, spike: Manifold, direction: int) -> float:
    """mm3: the most of the spike that stands in the way of a half drawn off along y. 0 when it leaves freely."""
    return max(float((half.translate((0, direction * step, 0)) ^ spike).volume()) for step in STEPS)


def _recedes(spike: Solid) -> bool:
    """Whether no face on either side of y = 0 looks back to it: then nothing stands in the way of a half."""
    corners = spike.vertices[spike.faces]
    normal = cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    back = LEVEL * np.linalg.norm(normal, axis=1)
    low, high = corners[:, :, 1].min(axis=1) < -LEVEL, corners[:, :, 1].max(axis=1) > LEVEL
    return not ((high & (normal[:, 1] < -back)) | (low & (normal[:, 1] > back))).any()


def findings(moulds: dict[str, PressMould]) -> tuple[Finding, ...]:
    """A caution for moulds that would lock on their spikes."""
    locked = {name: mould.locked for name, mould in moulds.items() if not mould.draws}
    if not locked:
        return ()
    worst = max(locked, key=lambda name: locked[name])
    text = (
        f"No press mould {several(locked)}, because the spike would lock in it, the most in {worst} with "
        f"{locked[worst]:.0f} mm3 in the way: less twist or lean, fewer or shallower ridges, or clay laid over the "
        "master."
    )
    return (Finding("caution", "spikes", text),)


def _ring(under: Underside) -> Floats:
    """All points of an underside."""
    return np.vstack([under.points.reshape(-1, 3), under.middle])


def upright(tilt: float) -> Floats:
    """(3, 3) from the spike's own frame to the mould's, which stands square to the shell."""
    return np.array([[np.cos(tilt), 0, np.sin(tilt)], [0, 1, 0], [-np.sin(tilt), 0, np.cos(tilt)]])


def _square(points: Floats, tilt: float) -> Floats:
    return points @ upright(tilt).T


def _cavity(solid: Solid, tilt: float, scale: float) -> Solid:
    return Solid(solid.name, scale * _square(solid.vertices, tilt), solid.faces)


def _block(cavity: Manifold, low: float, wall: float) -> Manifold:
    """The block round the cavity, on the plane of its base."""
    x0, y0, _, x1, y1, z1 = cavity.bounding_box()
    half = max(-y0, y1) + wall
    size = (x1 - x0 + 2 * wall, 2 * half, z1 + wall - low)
    return Manifold.cube(size).translate((x0 - wall, -half, low))


def _stack(box: Manifold, wall: float) -> float:
    """mm3 of the block with the foot's plate under it."""
    x0, y0, _, x1, y1, _ = box.bounding_box()
    return float(box.volume() + (x1 - x0) * (y1 - y0) * wall)


def _rod(radius: float, height: float, top: float | None = None) -> Manifold:
    return Manifold.cylinder(height, radius, radius if top is None else top, ROUND)


def _keys(box: Manifold, params: Mould) -> tuple[Manifold, Manifold]:
    """Four tapered pegs in the corners of the parting face, and the sockets that take them."""
    x0, _, z0, x1, _, z1 = box.bounding_box()
    inset, radius = params.wall / 2, params.wall / 2 - 1.5
    depth = min(1.2 * radius, box.bounding_box()[4] - 2)
    places = [(x, z) for x in (x0 + inset, x1 - inset) for z in (z0 + inset, z1 - inset)]

    def set_out(key: Manifold) -> Manifold:
        lying = key.rotate((90, 0, 0))  # z to -y
        return Manifold.batch_boolean([lying.translate((x, 0, z)) for x, z in places], OpType.Add)

    peg = _rod(radius, depth, 0.7 * radius) + _rod(radius, 1.0).translate((0, 0, -1.0))
    wide = radius + params.fit
    socket = _rod(wide, depth + params.fit, 0.7 * radius + params.fit) + _rod(wide, 1.0).translate((0, 0, -1.0))
    return set_out(peg), set_out(socket)


def _foot(name: str, master: Master, box: Manifold, low: float, params: Mould, scale: float) -> Solid:
    """A plate with a flat back and, on it, the shell's curve as it stands under the spike."""
    x0, y0, _, x1, y1, _ = box.bounding_box()
    plate = Manifold.cube((x1 - x0, y1 - y0, params.wall)).translate((x0, y0, low - params.wall))
    under = master.under
    inward = 1 - params.fit / (0.5 * min(master.body.shape.diameter, master.body.shape.width) * scale)
    rings = scale * _square(under.points, master.tilt)
    middle = scale * _square(under.middle[None], master.tilt)[0]
    rings = middle + (rings - middle) * [inward, inward, 1.0]
    reach = np.linspace(1, 0, len(rings), endpoint=False)
    rings[(reach > 0.3) & (reach < 0.9), 0, 2] += NICK  # presses the turning line into the clay
    sunk = rings[0] * [1, 1, 0] + [0, 0, low - 1.0]
    plug = closed(name, np.concatenate([sunk[None], rings]), middle, rings[:0], sunk.mean(axis=0))
    return solid_of(name, plate + manifold(plug))
