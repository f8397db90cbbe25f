"""Statics of a rigid body held by straps, which only pull, and supports, which only push."""

from __future__ import annotations

import numpy as np
from scipy.optimize import nnls

from shellgen.core.arrays import Floats

ROUNDING = 1e-9
"""Share of the load: a smaller imbalance, or a smaller force of the wrong sign, is rounding."""


def wrench(points: Floats, directions: Floats) -> Floats:
    """(6, n) force and moment about the origin of a unit force at each of `points` (n, 3) along `directions` (n, 3)."""
    return np.vstack([directions.T, np.cross(points, directions).T])


def least_work(
    wrenches: Floats, load: Floats, compliance: Floats, signs: Floats, *, span: float = 1.0
) -> Floats | None:
    """(n,) forces that balance a load with the least elastic work; None if no forces balance it.

    wrenches   : (6, n) of unit forces; load : (6,), its moment in N mm if forces are in N and places in mm
    compliance : (n,) > 0, mm by which each yields under a unit force
    signs      : (k, n) rows r with r @ forces >= 0: the unit matrix where no force may be negative. Leave out rows that
                 follow from others: they only slow the search
    span       : a length of the body, which brings moments and forces to the same scale

    The work is strictly convex, so the solution is unique, and symmetric for a symmetric problem.

    References: least work, or minimum complementary energy, with one-sided supports (Menabrea, Castigliano;
    Panagiotopoulos, Inequality Problems in Mechanics, 1985); found as a least distance problem (Lawson & Hanson,
    Solving Least Squares Problems, 1974, chapter 23).
    """
    size = np.repeat([1.0, span], 3)
    weight = np.linalg.norm(load / size)
    if weight == 0:
        return np.zeros(wrenches.shape[1])
    soft = np.sqrt(compliance)
    system, wanted = wrenches / size[:, None] / soft, -load / size / weight
    u, s, vt = np.linalg.svd(system)
    rank = int((s > 1e-10 * s[0]).sum()) if s.size else 0
    base = vt[:rank].T @ ((u[:, :rank].T @ wanted) / s[:rank])
    if np.abs(system @ base - wanted).max() > ROUNDING:
        return None
    free = vt[rank:].T
    rows = signs / soft
    rows = rows / np.linalg.norm(rows, axis=1, keepdims=True)
    bound, move = -rows @ base, np.zeros(free.shape[1])
    if (bound > ROUNDING * np.abs(base).max()).any():
        stacked = np.vstack([(rows @ free).T, bound])
        share, off = nnls(stacked, np.eye(len(stacked))[-1], maxiter=100 * len(rows))
        if off < 1e-7:
            return None
        left = stacked @ share - np.eye(len(stacked))[-1]
        move = -left[:-1] / left[-1]
    forces = weight * (base + free @ move) / soft
    if (rows @ (forces * soft) < -1e-7 * weight).any():
        return None
    return np.where(np.abs(forces) < 1e-12 * weight, 0.0, forces)
