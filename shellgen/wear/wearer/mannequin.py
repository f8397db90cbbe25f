"""A plain wooden figure with the wearer's measures, upright in the shell's frame with the shell on its back.

Beads with rounded ends: each is a stack of level ovals whose centre, breadth and depth vary smoothly with height. Only
the trunk, the neck and the head follow the measures that the shell must fit; limbs get their
length from the stature and their thickness from the chest.

References
----------
Lengths of limbs over stature: Drillis and Contini, Body Segment Parameters, 1966 (upper arm 0.186, forearm 0.146,
hand 0.108; from memory). All thicknesses and the pose are chosen by eye.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache

import numpy as np
from scipy.interpolate import PchipInterpolator

from shellgen.canvas import Colour, ScenePart
from shellgen.core.arrays import Floats, Ints
from shellgen.geom.triangles import areas, face_normals
from shellgen.model import Body
from shellgen.wear.wearer import trunk
from shellgen.wear.wearer.fit import ARMPITS, Fit

BUILD = 0.165
"""Chest breadth over stature of the median body of ANSUR II: limbs get thicker or thinner with the chest."""
WOOD: Colour = (208, 190, 160)
BLUNT, ROUND = 3.0, 2.0
"""Bluntness of the ends of beads and of the balls at joints; 2 gives an ellipsoid (chosen)."""

Oval = tuple[float, float, float, float, float]
"""Height above the floor, then y and z of the centre, half breadth and half depth, mm."""

Mesh = tuple[Floats, Ints]


def build(body: Body, fit: Fit) -> ScenePart:
    """The figure as one part of closed beads, mirror-symmetric; x up to the head, its back at `fit.back`."""
    central = [_bead(rows, 20, 12) for rows in _middle(body)]
    left = [_bead(rows, 12, 8) for rows in _limbs(body)] + [_bead(rows, 12, 8, ROUND) for rows in _joints(body)]
    right = [(points * (1, -1, 1), faces[:, ::-1]) for points, faces in left]
    points, faces = _together([*central, *left, *right])
    points = points + np.array([fit.neck - body.neck_height, 0.0, fit.back])
    return ScenePart("wearer", points, faces, WOOD, "wearer", vertex_normals=_normals(points, faces))


def _bead(rows: Sequence[Oval], around: int, rings: int, blunt: float = BLUNT) -> Mesh:
    """A bead through ovals in order of height; the first and last give its ends and the width there."""
    table = np.array(rows)
    share = (1 - np.cos(np.pi * np.arange(1, rings) / rings)) / 2
    height = table[0, 0] + share * np.ptp(table[:, 0])
    y, z, breadth, depth = _ovals(table, height, blunt)
    turn = 2 * np.pi * np.arange(around) / around
    across = y[:, None] + np.outer(breadth, np.sin(turn))
    behind = z[:, None] + np.outer(depth, np.cos(turn))
    level = np.repeat(height, around)
    poles = [(table[k, 0], table[k, 1], table[k, 2]) for k in (0, -1)]
    points = np.vstack([poles[:1], np.column_stack([level, across.ravel(), behind.ravel()]), poles[1:]])
    return points, _faces(around, rings - 1)


@lru_cache(maxsize=64)
def _glide(*rows: Oval) -> PchipInterpolator:
    """The ovals of a bead at any height; remembered, because laying straps on the figure needs the same many times."""
    table = np.array(rows)
    return PchipInterpolator(table[:, 0], table[:, 1:])


def _ovals(table: Floats, height: Floats, blunt: float) -> Floats:
    """(4, n) y and z of the centre, half breadth and half depth of a bead at heights from its one end to the other."""
    y, z, breadth, depth = _glide(*map(tuple, table.tolist()))(height).T
    share = (height - table[0, 0]) / np.ptp(table[:, 0])
    end = (1 - np.abs(2 * share - 1) ** blunt) ** (1 / blunt)
    return np.stack([y, z, breadth * end, depth * end])


def clear_of(points: Floats, body: Body, fit: Fit, gap: float) -> Floats:
    """Points (n, 3) in the shell's frame, with those inside the figure moved out to `gap` mm in front of it."""
    foot: Floats = np.array([fit.neck - body.neck_height, 0.0, fit.back])
    moved = points - foot
    for rows in _middle(body):
        table = np.array(rows)
        at = np.flatnonzero((moved[:, 0] > table[0, 0]) & (moved[:, 0] < table[-1, 0]))
        y, z, breadth, depth = _ovals(table, moved[at, 0], BLUNT)
        way = moved[at, 1:] - np.column_stack([y, z])
        share = np.hypot(way[:, 0] / (breadth + gap), way[:, 1] / (depth + gap))
        moved[at, 1:] += way * np.maximum(1 / np.maximum(share, 1e-9) - 1, 0.0)[:, None]
    return moved + foot


def _faces(around: int, rings: int) -> Ints:
    """Faces of `rings` circles between two poles, outward if heights rise and the circles turn from z towards y."""
    k = np.arange(around)
    after = (k + 1) % around
    bottom = np.column_stack([np.zeros(around, int), 1 + k, 1 + after])
    top = np.column_stack([np.full(around, rings * around + 1), 1 + (rings - 1) * around + after])
    top = np.column_stack([top, 1 + (rings - 1) * around + k])
    one = 1 + np.arange(rings - 1)[:, None] * around + k
    two = 1 + np.arange(rings - 1)[:, None] * around + after
    sides = [np.stack([one, one + around, two + around], -1), np.stack([one, two + around, two], -1)]
    return np.vstack([bottom, *(side.reshape(-1, 3) for side in sides), top])


def _together(parts: Sequence[Mesh]) -> Mesh:
    before = np.cumsum([0, *(len(points) for points, _ in parts)])
    faces = [faces + start for (_, faces), start in zip(parts, before[:-1], strict=True)]
    return np.vstack([points for points, _ in parts]), np.vstack(faces)


def _normals(points: Floats, faces: Ints) -> Floats:
    """(n, 3) unit normals, the mean of the faces around each vertex, by area."""
    weighted = areas(points, faces)[:, None] * face_normals(points, faces)
    normal = np.zeros_like(points)
    for corner in faces.T:
        np.add.at(normal, corner, weighted)
    return np.asarray(normal / np.linalg.norm(normal, axis=1, keepdims=True))


def _middle(body: Body) -> Iterator[Sequence[Oval]]:
    """Trunk, neck and head; z = 0 is the plane of the back."""
    tall, neck, head = body.stature, body.neck_height, body.stature - body.neck_height
    chest, deep, hip = body.chest_breadth / 2, body.chest_depth / 2, body.hip_breadth / 2
    shoulder, throat = body.shoulder_breadth / 2, body.neck_girth / (2 * np.pi)
    waist, crotch = neck - body.back_length, tall - body.sitting_height
    thorax, mid = neck - waist, max(deep, 0.46 * head)  # the head never reaches behind the back

    def trunk_row(height: float, breadth: float, depth: float, away: float) -> Oval:
        return height, 0.0, -(away + depth), breadth, depth

    yield [
        trunk_row(waist + 0.16 * thorax, 0.90 * chest, 0.80 * deep, 0.10 * deep),
        trunk_row(waist + 0.50 * thorax, 1.00 * chest, 0.96 * deep, 0.02 * deep),
        trunk_row(waist + 0.68 * thorax, 1.06 * chest, 1.00 * deep, 0.0),
        trunk_row(waist + 0.86 * thorax, 1.10 * shoulder, 0.82 * deep, 0.05 * deep),
        trunk_row(waist + 1.00 * thorax, 1.05 * shoulder, 0.60 * deep, 0.18 * deep),
    ]
    yield [
        trunk_row(waist - 0.10 * thorax, 0.88 * chest, 0.74 * deep, 0.14 * deep),
        trunk_row(waist + 0.30 * thorax, 0.88 * chest, 0.78 * deep, 0.12 * deep),
    ]
    drop = waist - crotch
    yield [
        trunk_row(crotch - 0.06 * drop, 0.80 * hip, 0.70 * deep, 0.16 * deep),
        trunk_row(crotch + 0.35 * drop, 1.00 * hip, 0.92 * deep, 0.02 * deep),
        trunk_row(crotch + 1.05 * drop, 0.92 * hip, 0.78 * deep, 0.12 * deep),
    ]
    yield [
        (neck - 0.25 * head, 0.0, -0.75 * deep, 1.05 * throat, 1.05 * throat),
        (neck + 0.45 * head, 0.0, -0.95 * deep, 0.92 * throat, 0.92 * throat),
    ]
    yield [
        (neck + 0.04 * head, 0.0, -1.15 * mid, 0.22 * head, 0.27 * head),
        (neck + 0.40 * head, 0.0, -1.02 * mid, 0.31 * head, 0.38 * head),
        (neck + 0.68 * head, 0.0, -0.96 * mid, 0.34 * head, 0.42 * head),
        (tall, 0.0, -0.95 * mid, 0.34 * head, 0.42 * head),
    ]


def _arm(body: Body) -> tuple[Floats, Floats, Floats, Floats]:
    """Height, y and z of shoulder, elbow, wrist and fingertips of the left arm, hanging a little away from the hips."""
    tall, mid = body.stature, -0.95 * body.chest_depth / 2
    shoulder = np.array([body.neck_height - ARMPITS * trunk(body), body.shoulder_breadth / 2 + 0.006 * tall, mid])
    past_hips = (body.hip_breadth / 2 + 0.025 * tall - shoulder[1]) / (0.3 * tall)
    out = max(0.20, float(past_hips))
    elbow = shoulder + 0.186 * tall * _towards(out, 0.0)
    wrist = elbow + 0.146 * tall * _towards(out / 2, -0.16)
    return shoulder, elbow, wrist, wrist + 0.108 * tall * _towards(0.0, -0.10)


def _towards(out: float, back: float) -> Floats:
    way = np.array([-1.0, out, back])
    return np.asarray(way / np.linalg.norm(way))


def _leg(body: Body) -> tuple[Floats, Floats, Floats]:
    """Height, y and z of hip, knee and ankle of the left leg."""
    crotch, mid = body.stature - body.sitting_height, -0.95 * body.chest_depth / 2
    hip = np.array([crotch + 0.06 * body.stature, 0.52 * body.hip_breadth / 2, mid])
    knee = np.array([0.56 * crotch, 0.50 * body.hip_breadth / 2, mid])
    return hip, knee, np.array([0.09 * crotch, 0.48 * body.hip_breadth / 2, mid + 0.01 * body.stature])


def _limbs(body: Body) -> Iterator[Sequence[Oval]]:
    """Upper arm, forearm, hand, thigh, shin and foot of the left side, each from below upwards."""
    unit, tall = body.chest_breadth / BUILD, body.stature
    shoulder, elbow, wrist, tips = _arm(body)
    hip, knee, ankle = _leg(body)
    yield _limb(elbow, shoulder, [(0.0, 0.022), (0.5, 0.026), (1.0, 0.027)], unit)
    yield _limb(wrist, elbow, [(0.0, 0.017), (0.65, 0.024), (1.0, 0.023)], unit)
    yield _limb(tips, wrist, [(0.0, 0.011), (0.55, 0.017), (1.0, 0.014)], unit, flat=0.62)
    thick = 0.47 * body.hip_breadth / unit / 2
    yield _limb(knee, hip, [(0.0, 0.034), (0.55, 0.9 * thick), (1.0, thick)], unit)
    yield _limb(ankle, knee, [(0.0, 0.022), (0.65, 0.034), (1.0, 0.031)], unit)
    y, toes = ankle[1], ankle[2] - 0.042 * tall
    yield [
        (0.0, y, toes, 0.030 * tall, 0.078 * tall),
        (0.045 * tall, y, ankle[2] - 0.02 * tall, 0.024 * tall, 0.05 * tall),
    ]


def _limb(
    low: Floats, high: Floats, radii: Sequence[tuple[float, float]], unit: float, *, flat: float = 1.0
) -> list[Oval]:
    """A bead between two joints that extends past each by a third of its radius; radii over `unit` along the way."""
    past = [radii[0][1] * unit / 3, radii[-1][1] * unit / 3]
    way = (high - low) / np.linalg.norm(high - low)
    ends = low - past[0] * way, high + past[1] * way
    rows = []
    for share, radius in radii:
        height, y, z = ends[0] + share * (ends[1] - ends[0])
        rows.append((height, y, z, flat * radius * unit, radius * unit))
    return rows


def _joints(body: Body) -> Iterator[Sequence[Oval]]:
    """Balls at shoulder, elbow and knee."""
    unit = body.chest_breadth / BUILD
    shoulder, elbow, *_ = _arm(body)
    _, knee, _ = _leg(body)
    for (height, y, z), radius in ((shoulder, 0.031 * unit), (elbow, 0.0235 * unit), (knee, 0.0335 * unit)):
        yield [(height - radius, y, z, radius, radius), (height + radius, y, z, radius, radius)]
