"""Places of the anchors, sizes of the patches and the forces: found together, because each needs the others."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from shellgen.core.arrays import Floats
from shellgen.wear import _hold, _patch, _place
from shellgen.wear._hold import Case, Hold
from shellgen.wear._patch import AnchorPatch
from shellgen.wear._strand import Run, Strand

if TYPE_CHECKING:
    from shellgen.wear import Params

BOND_KPA, PEEL = 100.0, 1.0
"""kPa and N/mm that contact adhesive on foam bears if the preset does not say: common practice, no source. The foam is
stronger: cross-linked polyethylene foam of 33 kg/m3 bears 455 kPa (a supplier's sheet by ISO 1798)."""
ROUNDS = 6
"""Most rounds in which places and sizes of the patches are computed from each other; the demos need two."""


@dataclass(frozen=True, slots=True, eq=False)
class Hung:
    """Placed anchors and the forces on them."""

    spots: tuple[_place.AnchorSite, ...]
    runs: tuple[Run, ...]
    holds: tuple[Hold | None, ...]
    patches: tuple[AnchorPatch, ...]


def hang(
    strands: Sequence[Strand], on: _place.AnchorSites, cases: Sequence[Case], supports: Floats, centre: Floats,
    weight: float, params: Params,
) -> Hung:  # fmt: skip
    """Places and patches that match: the pull gives the size of a patch, its size the room that its place needs."""
    ends = [end for strand in strands for end in strand.ends]
    widths = [strand.width for strand in strands for _ in strand.ends]
    tabs = [min(width, 40.0) for width in widths]  # only a tab of a vest is sewn on
    allowed = {
        "stress_kpa": (params.bond or BOND_KPA) / params.safety,
        "peel": (params.peel or PEEL) / params.safety,
        "edge": params.edge,
    }
    reach = max((max(25.0, tab) + 2 * params.edge for tab in tabs), default=0.0) / 2
    for _ in range(ROUNDS):
        spots = _place.nearest_sites(on, ends, margin=params.margin, reach=reach)
        runs = tuple(end.run(on.inside[spot.vertex]) for end, spot in zip(ends, spots, strict=True))
        holds = tuple(
            _hold.hold(case, strands, runs, supports, _hold.centre_of(centre), weight, friction=params.friction)
            if strands
            else None
            for case in cases
        )
        most = most_of(holds, 2 * len(ends), params.least_pull)[::2]
        off = [_patch.angle_off(run.pull, on.inward[spot.vertex]) for run, spot in zip(runs, spots, strict=True)]
        patches = tuple(
            _patch.patch(end.role, pull, angle, tab, **allowed)
            for end, pull, angle, tab in zip(ends, most, off, tabs, strict=True)
        )
        needed = max((patch.length for patch in patches), default=0.0) / 2
        if needed <= reach + 1e-9:
            break
        reach = needed
    return Hung(spots, runs, holds, patches)


def most_of(holds: Sequence[Hold | None], count: int, least: float) -> Floats:
    """(count,) N at each anchor in the worst case, equal for mirrored anchors."""
    found = [np.full(count, least), *(hold.pulls for hold in holds if hold is not None)]
    most = np.max(found, axis=0)
    return np.repeat(most.reshape(-1, 2).max(axis=1), 2)
