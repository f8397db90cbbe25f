"""Motion of a patch from flat on the table to its pose and shape in space, for animation."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial.transform import Rotation

from shellgen.core.arrays import Floats


def rigid_fit(source: Floats, target: Floats) -> tuple[Floats, Floats]:
    """Rotation (3, 3) and shift (3,) that bring `source` (k, 3) nearest to `target` (k, 3), least squares.

    References: Kabsch, A Solution for the Best Rotation to Relate Two Sets of Vectors, Acta Cryst. A32, 1976.
    """
    one, other = source.mean(axis=0), target.mean(axis=0)
    left, _, right = np.linalg.svd((target - other).T @ (source - one))
    turn = left @ np.diag([1, 1, np.linalg.det(left @ right)]) @ right
    return turn, other - turn @ one


@dataclass(frozen=True, slots=True, eq=False)
class UnfoldingMotion:
    """Motion in which a patch rises from the table, approaches, rotates about one horizontal axis and bends.

    lying, curved : (k, 3) mm, flat and as built, about the patch's own middle and before any turn
    yaw           : (3, 3) turn of the patch on the table
    tilt          : (3,) rotation vector of the turn during the motion
    here, there   : (3,) mm, its middle on the table and as built
    """

    lying: Floats
    curved: Floats
    yaw: Floats
    tilt: Floats
    here: Floats
    there: Floats

    def at(self, share: Floats) -> Floats:
        """(count, k, 3) positions of the patch at each share (count,) of the motion, 0 on the table and 1 as built."""
        along = share[:, None, None]
        turned = Rotation.from_rotvec(share[:, None] * self.tilt).as_matrix() @ self.yaw
        shape = self.lying + along * (self.curved - self.lying)
        return np.asarray(shape @ np.swapaxes(turned, 1, 2) + self.here + along * (self.there - self.here))


def unfolding_motion(flat: Floats, built: Floats, *, crown: Floats, spread: float, table: float) -> UnfoldingMotion:
    """The motion of a patch from flat on the table to as built, with the least rotation.

    flat   : (k, 2) mm; built : (k, 3) mm
    crown  : (3,) top of the whole; the patch lies `spread` times as far from it, outwards, as its middle does as built
    table  : height of the table, mm
    """
    lying = np.column_stack([flat - flat.mean(axis=0), np.zeros(len(flat))])
    turn, there = rigid_fit(lying, built)
    normal = turn[:, 2]
    axis = np.cross([0.0, 0.0, 1.0], normal)
    size = np.linalg.norm(axis)
    tilt = np.arctan2(size, normal[2]) * (axis / size if size > 0 else np.array([1.0, 0.0, 0.0]))
    yaw = Rotation.from_rotvec(-tilt).as_matrix() @ turn
    out = (there - crown)[:2]
    here = np.append(crown[:2] + spread * np.linalg.norm(there - crown) * out / max(np.linalg.norm(out), 1.0), table)
    return UnfoldingMotion(lying, (built - there) @ turn, yaw, tilt, here, there)
