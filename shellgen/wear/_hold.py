"""What holds the shell: pulls of the straps and pressure of the back, for every posture of the wearer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.linalg import block_diag

from shellgen.core.arrays import Floats
from shellgen.geom.equilibrium import least_work, wrench
from shellgen.wear._strand import MIRROR, Run, Strand

GRAVITY = 9.80665
"""m/s2, standard (ISO 80000-3)."""
STRETCH = 10_000.0
"""N that would double a strap's length (chosen: 40 mm webbing stretches a few percent under 500 N)."""
BACK = 20.0
"""N/mm of the padding over the whole back (chosen). Statics alone does not say how straps and back share the load; this
and STRETCH do. The balance does not depend on them."""
PRESS = np.array([[0.0, 0.0, 1.0], [0.0, 1.0, 0.0]])
"""The back presses outward and holds sideways by friction. Friction upwards is not counted, because cloth slides down
with every step (chosen, on the safe side)."""


@dataclass(frozen=True, slots=True, eq=False)
class Case:
    """A posture. forward, sideways : lean, radians, sideways positive to the left; factor : multiplies the weight"""

    name: str
    forward: float
    sideways: float
    factor: float

    @property
    def down(self) -> Floats:
        """(3,) unit vector, in the shell's frame: the shell leans with the wearer."""
        cos, sin = np.cos(self.sideways), np.sin(self.sideways)
        return np.array([-np.cos(self.forward) * cos, sin, -np.sin(self.forward) * cos])


@dataclass(frozen=True, slots=True, eq=False)
class Hold:
    """pulls : (k,) N at the anchors, in the order of `anchor_names`; back : N of all supports, acting at x = `back_at`;
    off : imbalance, N
    """

    case: Case
    pulls: Floats
    back: float
    back_at: float
    off: float


def anchor_names(strands: Sequence[Strand]) -> tuple[str, ...]:
    """End by end, left before right: the order of all lists by anchor."""
    return tuple(f"{end.role}-{side}" for strand in strands for end in strand.ends for side in "LR")


def both_sides(runs: Sequence[Run]) -> tuple[Run, ...]:
    """Runs of the left half and their mirror images, in the order of `anchor_names`."""
    return tuple(side for run in runs for side in (run, run.mirrored()))


def couplings(strands: Sequence[Strand], runs: Sequence[Run], friction: float) -> Floats:
    """(k, anchors) rows; each row times the pulls is >= 0: friction on the body limits the difference of the pulls at
    both ends of a strap. With any friction at all, no pull can be negative.

    References: T1 <= T2 exp(mu b) around a bend of angle b (Euler 1762, Eytelwein 1808; texts on belt friction).
    """
    rows, at, count = [], 0, 2 * len(runs)
    for strand in strands:
        turn = sum(bend.turn for run in runs[at // 2 : at // 2 + strand.count] for bend in run.bends)
        if strand.count == 2:
            pairs = [(at, at + 2), (at + 1, at + 3)]
        else:
            pairs, turn = [(at, at + 1)], 2 * turn
        for one, other in (*pairs, *((b, a) for a, b in pairs)):
            row = np.zeros(count)
            row[one], row[other] = -1.0, np.exp(friction * turn)
            rows.append(row)
        at += 2 * strand.count
    return np.array(rows).reshape(-1, count)


def hold(
    case: Case, strands: Sequence[Strand], runs: Sequence[Run], supports: Floats, centre: Floats, weight: float,
    *, friction: float,
) -> Hold | None:  # fmt: skip
    """The shell at rest under `weight` N times the case's factor at `centre` (3,) mm; None if that is impossible.

    supports : (n, 3) mm, where the back may press outward on the shell, and hold it sideways by friction
    """
    ends = both_sides(runs)
    starts = np.array([run.path[0] for run in ends]).reshape(-1, 3)
    pulls = np.array([run.pull for run in ends]).reshape(-1, 3)
    columns = np.hstack([wrench(starts, pulls), *(wrench(supports, np.tile(way, (len(supports), 1))) for way in PRESS)])
    load = wrench(centre[None], case.factor * weight * case.down[None])[:, 0]
    give = np.concatenate([[run.length / STRETCH for run in ends], np.full(2 * len(supports), len(supports) / BACK)])
    one = np.eye(len(supports))
    signs = block_diag(couplings(strands, runs, friction), np.block([[friction * one, one], [friction * one, -one]]))
    span = float(np.ptp(np.vstack([starts, supports, centre[None]]), axis=0).max()) or 1.0
    forces = least_work(columns, load, give, signs, span=span)
    if forces is None:
        return None
    off = np.abs((columns @ forces + load) / np.repeat([1.0, span], 3)).max()
    back = forces[len(ends) : len(ends) + len(supports)]
    at = float(back @ supports[:, 0] / back.sum()) if back.sum() > 0 else 0.0
    return Hold(case, forces[: len(ends)], float(back.sum()), at, float(off))


def centre_of(centre: Floats) -> Floats:
    """The centre of mass without rounding errors: it lies in the middle, because the shell is its own mirror image."""
    return np.asarray((centre + centre * MIRROR) / 2)
