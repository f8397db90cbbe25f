"""The scutes of a turtle: a nuchal, a row of vertebrals, pleurals on either hand and marginals round the rim.

By default 1 + 5 + 2 x 4 + 2 x 12 = 38 scutes; the supracaudals, over the tail, are counted as the last pair of
marginals. As in life the seams of vertebrals and pleurals alternate, each meeting its neighbour half-way, and every
pleural seam comes down on the middle of a marginal. All measures are taken along the outer face.

References: G. Cherepanov, Patterns of scute development in turtle shell: symmetry and asymmetry (alternation);
Moustakas-Verho et al., Development 141(15):3033, 2014.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy.spatial.distance import cdist

from shellgen.core.arrays import Bools, Floats
from shellgen.errors import PresetError
from shellgen.fields.params import count, ratio
from shellgen.geom.straightest import inward, walk
from shellgen.model import Layout, Surface
from shellgen.plates import _curves as curves
from shellgen.plates._draft import Draft
from shellgen.plates._net import MIDLINE, RIM, PlateLabel

ORDER = ("nuchal", "vertebral", "pleural", "marginal")
SAMPLES = 401
"""Points on each rail. Chosen: about 2 mm apart on an adult's shell."""
LOYALTY = 0.3
"""Weight of a pleural end's wished place against the middle of a marginal and equal marginals. Chosen by eye."""

ROOM = 0.75
"""How much of the way to the marginals the row may take near neck and tail. Chosen: the pleurals keep their ends."""


@dataclass(frozen=True, slots=True, eq=False)
class Params:
    vertebrals: int = count(5, 3, 9, "Scutes in the row along the back.")
    pleurals: int = count(4, 2, 10, "Pairs of scutes between that row and the rim: one fewer, as many, or one more.")
    marginals: int = count(12, 6, 20, "Pairs of scutes along the rim; the last pair lies over the tail.")
    vertebral_width: float = ratio(0.25, 0.15, 0.5, "Half the row's width as a share of the way from ridge to rim.")
    marginal_width: float = ratio(0.20, 0.08, 0.35, "Width of the rim scutes as a share of the way from ridge to rim.")
    nuchal_width: float = ratio(0.55, 0.3, 2.0, "Width of the scute over the neck as a share of a rim scute's.")
    zigzag: float = ratio(0.24, 0.0, 0.5, "How far the corners of the vertebrals reach out: 0 for straight sides.")
    waviness: float = ratio(0.7, 0.0, 1.0, "0 for straight lines; 1 for lines that bend to meet at even angles.")


def expected(params: Params, area: float) -> float:
    """How many plates there are to be, whatever the dome's area."""
    return 1 + params.vertebrals + 2 * params.pleurals + 2 * params.marginals


@dataclass(frozen=True, slots=True, eq=False)
class _Rails:
    """The curves the corners are placed on, each sampled from neck to tail on the left half.

    middle, rim, inner : (n, 2) uv of midline (between the marginals), rim, and inner border of the marginals;
                         rim and inner correspond point by point
    along_middle, along_band : (n,) mm from the neck; along the band, the mean of rim and inner border
    girth : mm from ridge to rim over the middle of the dome
    """

    middle: Floats
    rim: Floats
    inner: Floats
    along_middle: Floats
    along_band: Floats
    girth: float


def build(surface: Surface, params: Params) -> Layout:
    """The layout. PresetError for counts that cannot alternate; GeometryError where proportions make lines cross."""
    if abs(params.pleurals - params.vertebrals) > 1:
        problem = f"{params.pleurals} pleurals do not go with {params.vertebrals} vertebrals."
        remedy = f"Give {params.vertebrals - 1} to {params.vertebrals + 1}."
        raise PresetError("plates.pleurals", problem, remedy, hint="Their seams alternate.")
    draft = _drafted(surface, params, _rails(surface, params))
    return draft.finish(surface, ease=params.waviness, yielding=params.waviness, order=ORDER)


def _rails(surface: Surface, params: Params) -> _Rails:
    side = np.column_stack([np.zeros(SAMPLES), np.linspace(0, 1, SAMPLES)])
    girth = float(curves.lengths_along(surface, side)[-1])
    angle = np.linspace(0, np.pi, SAMPLES)
    rim = np.column_stack([np.cos(angle), np.sin(angle)])
    rim[-1] = -1, 0
    width = np.full(SAMPLES, params.marginal_width * girth)
    inner = walk(surface, rim, inward(surface, rim), width)
    inner[[0, -1], 1] = 0
    middle = np.column_stack([np.linspace(inner[0, 0], inner[-1, 0], SAMPLES), np.zeros(SAMPLES)])
    band = (curves.lengths_along(surface, rim) + curves.lengths_along(surface, inner)) / 2
    return _Rails(middle, rim, inner, curves.lengths_along(surface, middle), band, girth)


def _on(rail: Floats, along: Floats, where: Floats) -> Floats:
    return np.column_stack([np.interp(where, along, rail[:, axis]) for axis in (0, 1)])


def _rounded(uv: Floats) -> Floats:
    return np.asarray(uv / np.linalg.norm(uv, axis=1, keepdims=True))


def _row(params: Params) -> tuple[Floats, Bools]:
    """Corners along the side of the vertebral row, front to back: share of the midline at which each stands, and
    whether a pleural (rather than a vertebral) seam ends there.
    """
    between = np.arange(1, params.vertebrals) / params.vertebrals
    first = 1 if params.pleurals < params.vertebrals else 0
    mid = (first + np.arange(params.pleurals - 1) + 0.5) / params.vertebrals
    share = np.concatenate([between, mid])
    pleural = np.arange(len(share)) >= len(between)
    order = np.argsort(share)
    return share[order], pleural[order]


def _landings(params: Params, rails: _Rails, share: Floats) -> tuple[Floats, Floats]:
    """Where along the band the pleurals' ends (pleurals + 1) and the marginals' seams (marginals) come down.

    Least squares: equal marginals, each pleural end in the middle of one and near its wished place. In life (12 pairs)
    the seams of the pleurals come down on marginals 5, 7, 9 and 11; they lean a little towards the tail.
    """
    whole, count = rails.along_band[-1], params.marginals
    first = 0.5 * params.nuchal_width * whole / (count + 0.5 * params.nuchal_width)
    unit = (whole - first) / count
    row = params.vertebral_width * rails.girth
    low, high = (0.8 * row - first) / unit, count - 1.05 * row / unit
    step = np.arange(1, params.pleurals) * min(1, 0.8 * (high - low) / params.pleurals)
    wish = np.clip(count * (1 / 8 + 5 / 6 * share), low + step, high - step[::-1])
    wish = np.concatenate([[low], wish, [high]])
    slot = np.clip(np.floor(wish).astype(int), 0, count - 1)
    part = (np.arange(len(slot)) - np.searchsorted(slot, slot) + 1) / (np.bincount(slot)[slot] + 1)
    ends = np.arange(len(wish))

    spacing = np.diff(np.eye(count + 1, count + 1 + len(wish)), axis=0)
    placing = np.eye(len(wish), count + 1 + len(wish), count + 1)
    middle = placing.copy()
    middle[ends, slot] -= 1 - part
    middle[ends, slot + 1] -= part
    system = np.concatenate([spacing, middle, LOYALTY * placing])
    wanted = np.concatenate([np.ones(count), np.zeros(len(wish)), LOYALTY * wish]) - count * system[:, count]
    free = np.delete(np.arange(system.shape[1]), [0, count])  # the first seam stays at 0, the last at `count`
    found = first + unit * np.linalg.lstsq(system[:, free], wanted)[0]
    return found[count - 1 :], np.concatenate([[first], found[: count - 1]])


def _drafted(surface: Surface, params: Params, rails: _Rails) -> Draft:
    share, pleural = _row(params)
    ends, seams = _landings(params, rails, share[pleural])
    foot = _on(rails.middle, rails.along_middle, share * rails.along_middle[-1])
    reach = params.vertebral_width * rails.girth * (1 + params.zigzag * np.where(pleural, 1, -1))
    room = ROOM * cdist(surface.points(foot), surface.points(rails.inner)).min(axis=1)
    reach = reach * room / (reach**8 + room**8) ** (1 / 8)  # the lesser, with a smooth change from one to the other
    draft = Draft()
    neck, tail = draft.add(rails.rim[[0, -1]])
    front, back = draft.add(rails.inner[[0, -1]])
    spine = [front, *draft.add(foot[~pleural]), back]
    corner = draft.add(walk(surface, foot, np.tile([0.0, 1, 0], (len(foot), 1)), reach))
    landing = draft.add(_on(rails.inner, rails.along_band, ends))
    top = draft.add(_on(rails.inner, rails.along_band, seams))
    rim = [neck, *draft.add(_rounded(_on(rails.rim, rails.along_band, seams))), tail]

    draft.link(front, neck, left=PlateLabel("nuchal"), kind=MIDLINE)
    for k, (a, b) in enumerate(pairwise(spine), start=1):
        draft.link(a, b, right=PlateLabel("vertebral", k), kind=MIDLINE)
    for k, (a, b) in enumerate(pairwise(rim)):
        draft.link(a, b, left=PlateLabel("marginal", k) if k else None, kind=RIM)
    side = [landing[0], *corner, landing[-1]]
    number = np.concatenate([[1], 1 + np.cumsum(pleural)]).tolist()
    for k, (a, b) in zip(number, pairwise(side), strict=True):
        draft.link(a, b, right=PlateLabel("pleural", k))
    border = [front, *(node for _, node in sorted(zip([*ends, *seams], [*landing, *top], strict=True))), back]
    corners = np.array(corner)
    for start, end in ((top, rim[1:-1]), (spine[1:-1], corners[~pleural]), (corners[pleural], landing[1:-1])):
        for a, b in zip(start, end, strict=True):
            draft.link(int(a), int(b))
    for a, b in [*pairwise(border), (back, tail)]:
        draft.link(a, b)
    return draft
