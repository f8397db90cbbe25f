"""The edging that goes once round the rim: its true length, pieces and joints, relief cuts, mitres."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shellgen.canvas import frozen_array
from shellgen.core.arrays import Bools, Floats, Ints
from shellgen.errors import FitError
from shellgen.fields import params as field
from shellgen.geom import loops
from shellgen.model import Finding, FoamSheet, Surface
from shellgen.model.said import count

AROUND = 1024
GRID = 4.0
"""mm between the places where a joint is tried."""


@dataclass(frozen=True, slots=True, eq=False)
class Params:
    """Edging of bevel stock, glued to the edge of the rim."""

    thickness: float = field.length(10.0, 2, 40, "How far the stock stands out from the rim's edge.")
    width: float = field.length(20.0, 5, 80, "Its size across the edge, through the thickness of the foam.")
    neutral: float = field.ratio(0.5, 0.0, 1.0, "Where bent stock keeps its length: 0 inside, 1 outside.")
    stock: float = field.length(1000.0, 200, 5000, "Length of the stock that the pieces are cut from.")
    kerf: float = field.length(0.5, 0, 5, "Lost at each cut.")
    midline: float = field.length(60.0, 0, 300, "Keep joints this far from the midline, where the rim gets knocked.")
    shoulder_from: float = field.angle(20.0, 0, 180, "Keep joints off the shoulders, from here; 0 is the head.")
    shoulder_to: float = field.angle(60.0, 0, 180, "Keep joints off the shoulders, up to here, as seen from above.")
    strain_limit: float = field.ratio(
        0.12, 0.01, 1.0, "Strain at its faces that the stock takes without creasing (common practice, no source)."
    )
    relief: float = field.length(3.0, 1, 10, "Width of a relief cut at the face that is pressed together.")
    corner: float = field.angle(35.0, 10, 90, "Where the rim turns by more within its width, it is mitred.")


def face(params: Params) -> float:
    """Width of what is painted: both slanted faces of the stock, whose section is a triangle on the rim's edge."""
    return float(2 * np.hypot(params.width / 2, params.thickness))


@dataclass(frozen=True, slots=True, eq=False)
class EdgePiece:
    """start, end : mm along the neutral fibre from the head's midline towards the wearer's left; end > start"""

    name: str
    start: float
    end: float

    @property
    def length(self) -> float:
        return self.end - self.start


@dataclass(frozen=True, slots=True)
class Relief:
    """Cuts spread evenly from `start` to `end` (mm, as above), `depth` deep from the face that is pressed together."""

    start: float
    end: float
    count: int
    depth: float


@dataclass(frozen=True, slots=True)
class RimCorner:
    """at : mm, as above; turn : of the rim; both ends that meet there are cut at `mitre` from square"""

    at: float
    turn: float

    @property
    def mitre(self) -> float:
        return self.turn / 2


@dataclass(frozen=True, slots=True, eq=False)
class Edging:
    """curve : (n, 3) mm, neutral fibre, from the head's midline to the wearer's left; joints : (k, 3) mm on it"""

    curve: Floats
    length: float
    pieces: tuple[EdgePiece, ...]
    joints: Floats
    reliefs: tuple[Relief, ...]
    corners: tuple[RimCorner, ...]
    strain: float
    findings: tuple[Finding, ...]

    def __post_init__(self) -> None:
        object.__setattr__(self, "curve", frozen_array(self.curve))
        object.__setattr__(self, "joints", frozen_array(self.joints))


def build(surface: Surface, params: Params, foam: FoamSheet) -> Edging:
    """The edging of a shell of this foam, on the middle of its rim's edge. FitError where its joints find no place."""
    edge, normals = rim(surface, foam)
    curve = loops.offset(edge, normals, params.neutral * params.thickness)
    along = loops.arc_length(curve)
    strain = strains(edge, normals, params)
    corners = _corners(edge, along, params)
    pieces, joints = _pieces(curve, along, corners, params)
    places = np.stack([np.interp(joints, along, np.append(curve[:, i], curve[0, i])) for i in range(3)], axis=-1)
    reliefs = _reliefs(strain, along, corners, params)
    return Edging(
        curve, float(along[-1]), pieces, places, reliefs, corners, float(strain.max()), _said(reliefs, corners)
    )


def rim(surface: Surface, foam: FoamSheet) -> tuple[Floats, Floats]:
    """(AROUND, 3) points once round the middle of the rim's edge, from the head by the wearer's left, and the dome's
    normals there."""
    turn = 2 * np.pi * np.arange(AROUND) / AROUND
    uv = np.column_stack([np.cos(turn), np.sin(turn)])
    return surface.points(uv, offset=foam.middle_offset), surface.normals(uv)


def strains(edge: Floats, normals: Floats, params: Params) -> Floats:
    """(n,) greatest strain in the bent stock's section: of both curvatures together, at the corner that has most.

    References: bending about two axes, strain = k_1 t / 2 + k_2 w / 2, for a neutral fibre in the middle.
    """
    aside, across = loops.curvatures(edge, normals)
    reach = max(params.neutral, 1 - params.neutral) * params.thickness
    return np.abs(aside) * reach + np.abs(across) * params.width / 2


def _corners(edge: Floats, along: Floats, params: Params) -> tuple[RimCorner, ...]:
    """Places where the rim turns by more than `corner` within the stock's width."""
    tangent = loops.derivative(edge)
    tangent = tangent / np.linalg.norm(tangent, axis=1, keepdims=True)
    middle = along[:-1]
    total = along[-1]

    def at(s: Floats) -> Floats:
        return np.stack(
            [np.interp(s % total, along, np.append(tangent[:, i], tangent[0, i])) for i in range(3)], axis=-1
        )

    before, after = at(middle - params.width / 2), at(middle + params.width / 2)
    turn = np.arctan2(np.linalg.norm(np.cross(before, after), axis=1), (before * after).sum(axis=1))
    peak = (turn >= np.roll(turn, 1)) & (turn > np.roll(turn, -1)) & (turn > params.corner)
    return tuple(RimCorner(float(middle[i]), float(turn[i])) for i in np.flatnonzero(peak))


def _pieces(
    curve: Floats, along: Floats, corners: tuple[RimCorner, ...], params: Params
) -> tuple[tuple[EdgePiece, ...], Floats]:
    """The pieces in order from the head's midline, and where they meet, mirror-symmetric wherever there are two."""
    total = float(along[-1])
    half = total / 2
    forced = [c.at for c in corners if 0 < c.at < half]
    free = _free_places(curve, along, params)
    if total <= params.stock and not forced:
        if not len(free):
            raise _no_place(params)
        at = float(free[-1])
        return (EdgePiece("edging", at, at + total),), np.array([at])
    left = _joints(half, free, forced, params)
    joints = np.array([*left, *(total - s for s in reversed(left))])
    ends = np.append(joints, joints[0] + total)
    count = len(left)
    names = [
        *(f"edging-L-{k}" for k in range(1, count)),
        "edging-rear",
        *(f"edging-R-{k}" for k in range(count - 1, 0, -1)),
        "edging-front",
    ]
    return tuple(EdgePiece(n, float(a), float(b)) for n, a, b in zip(names, ends[:-1], ends[1:], strict=True)), joints


def _free_places(curve: Floats, along: Floats, params: Params) -> Floats:
    """Places on the left half where a joint may be, away from midline and shoulder."""
    half = along[-1] / 2
    s = np.linspace(params.midline, half - params.midline, max(2, int((half - 2 * params.midline) / GRID)))
    bearing = np.abs(np.arctan2(curve[:, 1], curve[:, 0]))
    here = np.interp(s, along[: AROUND // 2 + 1], bearing[: AROUND // 2 + 1])
    free = (here < params.shoulder_from) | (here > params.shoulder_to)
    return np.asarray(s[free & (s > 0) & (s < half)])


def _joints(half: float, free: Floats, forced: list[float], params: Params) -> list[float]:
    """Joints on the left half: as few as will do, the pieces as even as can be; all `forced` ones are among them.

    The first piece reaches over the midline to its mirror image, and so does the last.
    """
    place = np.unique(np.concatenate([free, forced]))
    if not len(place):
        raise _no_place(params)
    needed = np.isin(place, forced)
    barred = np.cumsum(needed)  # between places a and b lie barred[b - 1] - barred[a] forced joints
    gap = place[None, :] - place[:, None]
    between = np.concatenate([[0], barred])[:-1][None, :] - barred[:, None]
    step = np.where((gap > 0) & (gap <= params.stock) & (between <= 0), gap**2, np.inf)
    cost = np.where((2 * place <= params.stock) & (np.concatenate([[0], barred])[:-1] == 0), 2 * place**2, np.inf)
    last = np.where((2 * (half - place) <= params.stock) & (barred == barred[-1]), 2 * (half - place) ** 2, np.inf)
    back: list[Floats] = []
    while not np.isfinite(cost + last).any():
        if len(back) > len(place):
            raise _no_place(params)
        through = cost[:, None] + step
        back.append(through.argmin(axis=0))
        cost = through.min(axis=0)
    at = int((cost + last).argmin())
    chosen = [at]
    for choice in reversed(back):
        chosen.append(int(choice[chosen[-1]]))
    return [float(place[i]) for i in reversed(chosen)]


def _no_place(params: Params) -> FitError:
    return FitError(
        f"edging from {params.stock:.0f} mm stock finds no place for its joints {params.midline:.0f} mm off the "
        f"midline and outside {np.degrees(params.shoulder_from):.0f} to {np.degrees(params.shoulder_to):.0f} degrees "
        "at the shoulders: allow more places or take longer stock"
    )


def _reliefs(strain: Floats, along: Floats, corners: tuple[RimCorner, ...], params: Params) -> tuple[Relief, ...]:
    """Cuts wherever the stock is bent harder than it takes, mitred corners left out: each takes up its own width of
    what the pressed face must shorten by beyond the limit.
    """
    middle, total = along[:-1], along[-1]
    over = strain > params.strain_limit
    for corner in corners:
        away = np.abs((middle - corner.at + total / 2) % total - total / 2)
        over = over & (away > params.width / 2)
    if not over.any():
        return ()
    runs, step = _runs(over), np.diff(along)
    depth = max(params.thickness * params.neutral, 0.6 * params.width / 2)
    made = []
    for run in runs:
        excess = ((strain[run] - params.strain_limit) * step[run]).sum()
        start = float(middle[run[0]])
        made.append(Relief(start, start + float(step[run].sum()), int(np.ceil(excess / params.relief)), depth))
    return tuple(made)


def _runs(flags: Bools) -> list[Ints]:
    """Indices of each run of true flags on a ring, in order round it."""
    count = len(flags)
    if flags.all():
        return [np.arange(count)]
    start = int(np.flatnonzero(~flags)[0])
    order = (start + np.arange(count)) % count
    edges = np.flatnonzero(np.diff(np.concatenate([[0], flags[order].astype(int), [0]])))
    return [order[a:b] for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _said(reliefs: tuple[Relief, ...], corners: tuple[RimCorner, ...]) -> tuple[Finding, ...]:
    said = []
    if reliefs:
        cuts = sum(r.count for r in reliefs)
        where, marked = count(len(reliefs), "place"), "is marked" if cuts == 1 else "are marked"
        said.append(f"the rim is tighter than the edging bends in {where}: {count(cuts, 'relief cut')} {marked}.")
    if corners:
        said.append(f"the rim has {count(len(corners), 'corner')}: the edging is mitred there.")
    return tuple(Finding("caution", "edging", text) for text in said)
