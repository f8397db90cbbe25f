"""A patch on its way from the table to its place in space."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation


def rigid_fit(source: NDArray, target: NDArray) -> tuple[NDArray, NDArray]:
    """Rotation (3, 3) and shift (3,) that bring `source` (k, 3) nearest to `target` (k, 3), least squares.

    References: Kabsch, A Solution for the Best Rotation to Relate Two Sets of Vectors, Acta Cryst. A32, 1976.
    """
    one, other = source.mean(axis=0), target.mean(axis=0)
    left, _, right = np.linalg.svd((target - other).T @ (source - one))
    turn = left @ np.diag([1, 1, np.linalg.det(left @ right)]) @ right
    return turn, other - turn @ one


def on_the_way(flat: NDArray, built: NDArray, *, crown: NDArray, spread: float, table: float, count: int) -> NDArray:
    """(count, k, 3) the patch from flat on the table, first, to as built, last.

    flat   : (k, 2) mm; built : (k, 3) mm
    crown  : (3,) top of the whole; the patch lies `spread` times as far from it, outwards, as its middle does as built
    table  : height of the table, mm

    It rises, closes in and turns about one level axis by the least angle, and takes its curvature meanwhile.
    """
    lying = np.column_stack([flat - flat.mean(axis=0), np.zeros(len(flat))])
    turn, there = rigid_fit(lying, built)
    curved = (built - there) @ turn
    normal = turn[:, 2]
    axis = np.cross([0.0, 0.0, 1.0], normal)
    size = np.linalg.norm(axis)
    tilt = np.arctan2(size, normal[2]) * (axis / size if size > 0 else np.array([1.0, 0.0, 0.0]))
    yaw = Rotation.from_rotvec(-tilt).as_matrix() @ turn
    out = (there - crown)[:2]
    here = np.append(crown[:2] + spread * np.linalg.norm(there - crown) * out / max(np.linalg.norm(out), 1.0), table)
    share = np.linspace(0, 1, count)[:, None, None]
    turned = Rotation.from_rotvec(share[:, :, 0] * tilt).as_matrix() @ yaw
    return (lying + share * (curved - lying)) @ np.swapaxes(turned, 1, 2) + here + share * (there - here)
