"""The wearer's torso in the shell's frame, as simple round shapes for straps to run around.

The back touches a plane along the shell's rim. The chest and the waist are ellipses that touch it, the top of
each shoulder is a round bar across the body. Straps lie like taut strings: straight, along shortest paths.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from shellgen.core.arrays import Floats
from shellgen.model import Body
from shellgen.wear._strand import Run, StrapBend

SLOPE = np.radians(20.0)
"""Fall of the shoulder from the neck outwards (common practice of tailors, no source)."""
SHOULDER = 0.25
"""Radius of the shoulder's top over the depth of the chest (chosen: half the depth is round)."""
ARMPIT, FLANK, HIP = 0.5, 0.85, 1.1
"""As shares of the back's length, which ends at the waist: from the neck down to where a strap turns under the arm, to
its lower anchor, and to the belt (chosen)."""
SHORT = 0.13
"""As a share of the length from tail edge to neck: least height of the belt's anchor above the tail edge, and of the
shoulder straps' above the belt's (chosen: a hand's width on an adult)."""
ROWS = 3
"""Rows of pads: down the spine and on both sides (chosen)."""
FLAT, LOW = 0.3, 1.4
"""The part of the back on which the shell rests: its half width over the width of the chest, and how far down it
reaches over the back's length, to the buttocks (chosen)."""


@dataclass(frozen=True, slots=True, eq=False)
class Torso:
    """Levels are x in the shell's frame; back is z of the plane that touches the back, tail x of the shell's tail edge.

    half, hips : half breadths of chest and hips; deep : half depth of both
    """

    neck: float
    back: float
    tail: float
    neck_radius: float
    back_length: float
    shoulder_half: float
    half: float
    hips: float
    deep: float

    @property
    def armpit(self) -> float:
        return self.neck - ARMPIT * self.back_length

    @property
    def hip(self) -> float:
        return self.neck - HIP * self.back_length

    @property
    def belt_anchor(self) -> float:
        """Level with the hips, as far down as the shell goes."""
        return max(self.hip, self.tail + SHORT * (self.neck - self.tail))

    @property
    def lower_anchor(self) -> float:
        """Where a shoulder strap ends, a hand's width above the belt."""
        return max(self.neck - FLANK * self.back_length, self.belt_anchor + SHORT * (self.neck - self.tail))

    @property
    def strap_y(self) -> float:
        """A third of the way out along the shoulder, where a strap lies (chosen)."""
        return self.neck_radius + (self.shoulder_half - self.neck_radius) / 3

    def shoulder_top(self, y: float) -> float:
        return self.neck - float(np.tan(SLOPE)) * max(0.0, y - self.neck_radius)

    def over_shoulder(self, anchor: Floats, y: float, front: float) -> Run:
        """From an anchor over the shoulder at `y` and down to the level `front` on the chest."""
        radius = 2 * SHOULDER * self.deep
        centre = np.array([self.shoulder_top(y) - radius, self.back - self.deep])  # x, z
        away = np.array([anchor[0], anchor[2]]) - centre
        reach = max(float(np.hypot(*away)), 1.001 * radius)
        start = np.arctan2(away[1], away[0]) - np.arccos(radius / reach)  # from up, towards the back
        foot = np.array([min(front, centre[0] - radius), self.back + _front(self.half, self.deep, y)])
        down = foot - centre
        end = np.arctan2(down[1], down[0])
        lean = np.arccos(min(1.0, radius / float(np.hypot(*down))))
        end = (end + lean + np.pi) % (2 * np.pi) - np.pi
        angle = np.linspace(start, min(end, start), 25)
        arc = centre + radius * np.column_stack([np.cos(angle), np.sin(angle)])
        middle = np.column_stack([arc[:, 0], np.full(len(arc), y), arc[:, 1]])
        path = np.vstack([anchor, middle, [foot[0], y, foot[1]]])
        return Run(path, (StrapBend("shoulder", radius, float(angle[0] - angle[-1])),))

    def over_neck(self, anchor: Floats, y: float) -> Run:
        """From an anchor over the root of the neck at `y`, then around the throat to its middle."""
        over = self.over_shoulder(anchor, y, self.shoulder_top(y) - self.neck_radius)
        front = over.path[-1]
        middle = np.array([front[0], 0.0, front[2]])
        sides = [replace(bend, where="side of the neck") for bend in over.bends]
        return Run(np.vstack([over.path, middle]), (*sides, StrapBend("throat", self.neck_radius, np.pi / 2)))

    def round_body(self, anchor: Floats, y: float, level: float | None, *, where: str, half: float) -> Run:
        """From an anchor around the flank to the front at `y` and `level`: on a cylinder its slope stays the same.

        level : the anchor's own if None
        half  : half breadth of the ellipse there
        """
        level = float(anchor[0]) if level is None else level
        scaled = np.array([anchor[1] / half, (anchor[2] - self.back + self.deep) / self.deep])
        reach = max(float(np.hypot(*scaled)), 1.0 + 1e-9)
        start = np.arctan2(scaled[1], scaled[0]) - np.arccos(1 / reach)
        end = -np.arccos(min(1.0, y / half))
        angle = np.linspace(start, end, 97)
        ring = np.column_stack([half * np.cos(angle), self.deep * np.sin(angle) + self.back - self.deep])
        level_way = np.vstack([anchor[1:], ring])
        along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(level_way, axis=0), axis=1))])
        rise = anchor[0] + (level - anchor[0]) * along / along[-1]
        lean = np.cos(np.arctan2(level - anchor[0], along[-1]))
        tangent = np.column_stack([half * np.sin(angle), -self.deep * np.cos(angle)])[[0, -1]]
        turn = float(np.arctan2(*tangent[0][::-1]) - np.arctan2(*tangent[1][::-1])) % (2 * np.pi) * lean
        radius = _tightest(half, self.deep, angle) / lean**2
        return Run(np.column_stack([rise, level_way]), (StrapBend(where, float(radius), float(turn)),))


def torso_behind(body: Body, neck: float, back: float, tail: float) -> Torso:
    """The torso behind a shell, with the bone at the base of the neck at x = `neck`."""
    return Torso(
        neck=neck,
        back=back,
        tail=tail,
        neck_radius=body.neck_girth / (2 * np.pi),
        back_length=body.back_length,
        shoulder_half=body.shoulder_breadth / 2,
        half=body.chest_breadth / 2,
        hips=body.hip_breadth / 2,
        deep=body.chest_depth / 2,
    )


def supports(torso: Torso, rim: Floats, *, pads: bool) -> Floats:
    """(n, 3) points where the back can press on the shell: on pads all over the flat of the back, else on the rim.

    rim : (k, 3) closed, mm
    """
    broad = 2 * FLAT * torso.half
    low, high = torso.neck - LOW * torso.back_length, torso.neck
    if not pads:
        fine = rim[(np.abs(rim[:, 1]) <= broad) & (rim[:, 0] >= low) & (rim[:, 0] <= high + 1e-6)]
        return fine * [1, 1, 0]
    result = []
    for row in np.linspace(-1.0, 1.0, ROWS):
        y = row * min(broad, 0.8 * float(rim[:, 1].max()))
        ends = _levels(rim, y)
        x = np.linspace(max(low, ends[0]), min(high, ends[1]), 9)
        result.append(np.column_stack([x, np.full(9, y), np.zeros(9)]))
    return np.vstack(result)


def _levels(rim: Floats, y: float) -> tuple[float, float]:
    """Lowest and highest x at which the rim crosses `y`."""
    after = np.roll(rim, -1, axis=0)
    cross = (rim[:, 1] - y) * (after[:, 1] - y) <= 0
    step = after[cross] - rim[cross]
    share = np.where(step[:, 1] == 0, 0.0, (y - rim[cross, 1]) / np.where(step[:, 1] == 0, 1.0, step[:, 1]))
    x = rim[cross, 0] + share * step[:, 0]
    return float(x.min()), float(x.max())


def _front(half: float, deep: float, y: float) -> float:
    """z of the front of the chest at `y`."""
    return -deep * (1 + float(np.sqrt(max(0.0, 1 - (y / half) ** 2))))


def _tightest(half: float, deep: float, angle: Floats) -> float:
    """Least radius of curvature of an ellipse over a stretch of its parameter.

    References: r = (a^2 sin^2 t + b^2 cos^2 t)^(3/2) / (a b).
    """
    return float((((half * np.sin(angle)) ** 2 + (deep * np.cos(angle)) ** 2) ** 1.5 / (half * deep)).min())
