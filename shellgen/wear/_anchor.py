"""The anchors as the maker finds them inside the shell, and the pressure of the straps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from shellgen.canvas import frozen_array
from shellgen.core.arrays import Floats, Ints
from shellgen.model import FoamSheet, Layout, ShellMesh, Surface
from shellgen.wear import _hold, _patch, _place
from shellgen.wear._hang import Hung, most_of
from shellgen.wear._patch import Bond
from shellgen.wear._strand import MIRROR, Strand

if TYPE_CHECKING:
    from shellgen.wear import Params


@dataclass(frozen=True, slots=True, eq=False)
class Anchor:
    """One place on the inside of the shell to which a strap is fastened.

    uv, point, inward : (2,), (3,) on the inner face, (3,) unit into the shell's hollow
    clear     : mm from the nearest seam, groove or spike; short : mm of room missing for its patch
    along, up : mm along the inner rim from the middle of the `edge` ("neck" or "tail"), then straight in over the foam
    turn      : from the straight way to the rim to the pull along the foam, radians, positive towards the head
    pull      : (3,) unit; pull_n : largest of all cases and `least_pull`; standing_n : upright
    patch     : index into `Wear.patches`; bond : under `pull_n`
    """

    name: str
    plate: str
    uv: Floats
    point: Floats
    inward: Floats
    clear: float
    short: float
    edge: str
    along: float
    up: float
    turn: float
    pull: Floats
    pull_n: float
    standing_n: float
    patch: int
    bond: Bond

    def __post_init__(self) -> None:
        for name in ("uv", "point", "inward", "pull"):
            object.__setattr__(self, name, frozen_array(getattr(self, name)))


@dataclass(frozen=True, slots=True, eq=False)
class Pressure:
    """Pressure under a strap where it bends around the body. standing_kpa : upright; most_kpa : in the worst case"""

    strap: str
    where: str
    width: float
    radius: float
    standing_kpa: float
    most_kpa: float


def inner_rim(mesh: ShellMesh, foam: FoamSheet) -> tuple[Ints, Floats]:
    """The inner rim from the middle of the neck edge, left side first: mesh vertices (k,), and places (k, 3)."""
    on = np.flatnonzero(np.hypot(*mesh.uv.T) > 1 - 1e-9)
    on = on[np.argsort(np.arctan2(mesh.uv[on, 1], mesh.uv[on, 0]) % (2 * np.pi), kind="stable")]
    return on, mesh.offset(foam.inner_offset)[on]


def anchors(
    surface: Surface, layout: Layout, strands: Sequence[Strand], on: _place.AnchorSites, hung: Hung,
    rim: tuple[Ints, Floats], params: Params, foam: FoamSheet,
) -> tuple[Anchor, ...]:  # fmt: skip
    names = _hold.anchor_names(strands)
    most = most_of(hung.holds, len(names), params.least_pull)
    standing = hung.holds[0].pulls if hung.holds[0] is not None else np.zeros(len(names))
    tapes = [_place.from_rim(surface, on, spot.vertex, *rim, foam) for spot in hung.spots]
    result = []
    for k, run in enumerate(_hold.both_sides(hung.runs)):
        spot, patch, sign = hung.spots[k // 2], hung.patches[k // 2], MIRROR if k % 2 else np.ones(3)
        vertex = int(on.mirror[spot.vertex]) if k % 2 else spot.vertex
        tape = tapes[k // 2]
        inward = on.inward[spot.vertex] * sign
        angle = _patch.angle_off(run.pull, inward)
        result.append(
            Anchor(
                name=names[k],
                plate=layout.plates[on.plate[vertex]].name,
                uv=on.uv[spot.vertex] * sign[:2],
                point=run.path[0],
                inward=inward,
                clear=spot.clear,
                short=spot.short,
                edge=tape.edge,
                along=tape.along,
                up=tape.up,
                turn=_turn(hung.runs[k // 2].pull, tape.out, on.inward[spot.vertex]),
                pull=run.pull,
                pull_n=float(most[k]),
                standing_n=float(standing[k]),
                patch=k // 2,
                bond=_patch.bond(float(most[k]), angle, patch.length, patch.width),
            )
        )
    return tuple(result)


def _turn(pull: Floats, out: Floats, inward: Floats) -> float:
    """Angle from `out` to the pull within the foam's surface, positive towards the head (x)."""
    flat = pull - (pull @ inward) * inward
    aside = flat - (flat @ out) * out
    angle = np.arctan2(np.linalg.norm(aside), flat @ out)
    return float(angle if aside[0] >= 0 else -angle)


def pressures(strands: Sequence[Strand], hung: Hung) -> list[Pressure]:
    """The strap's own pull over its width and the radius of the bend, the greater of the pulls at its ends.

    References: a string of tension T on a bend of radius r presses with T / r per length (a step in the derivation of
    the belt friction formula, any statics text); a strap spreads that over its width.
    """
    standing, others = hung.holds[0], [hold for hold in hung.holds if hold is not None]
    found, at = [], 0
    for strand in strands:
        own = slice(2 * at, 2 * (at + strand.count))
        still = float(standing.pulls[own].max()) if standing is not None else 0.0
        most = max((float(hold.pulls[own].max()) for hold in others), default=0.0)
        for run in hung.runs[at : at + strand.count]:
            for bend in run.bends:
                area = strand.width * bend.radius / 1000
                found.append(Pressure(strand.name, bend.where, strand.width, bend.radius, still / area, most / area))
        at += strand.count
    return found


def neck_share(strands: Sequence[Strand], hung: Hung, weight: float) -> float:
    """Share of the weight that bands on the neck carry, standing."""
    hold, runs = hung.holds[0], _hold.both_sides(hung.runs)
    if hold is None:
        return 1.0 if any(strand.on_neck for strand in strands) else 0.0
    on_neck = [strand.on_neck for strand in strands for _ in range(2 * strand.count)]
    up = sum(pull * run.pull[0] for pull, run, neck in zip(hold.pulls, runs, on_neck, strict=True) if neck)
    return float(up / weight)
