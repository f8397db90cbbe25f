"""Made-up scans: clean shapes from trimesh or the house's own domes, then spoilt as scanners and file formats do."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import trimesh
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from shellgen.dome.surfaces import scan
from shellgen.fields.params import File
from shellgen.model import Surface

TURNED = Rotation.from_euler("xyz", [100, 20, 50], degrees=True).as_matrix()


def ball(fineness: int = 5, radius: float = 200.0) -> tuple[NDArray, NDArray]:
    mesh = trimesh.creation.icosphere(subdivisions=fineness, radius=radius)
    return np.array(mesh.vertices), np.array(mesh.faces)


def upper(points: NDArray, faces: NDArray, level: float = -1e-9) -> tuple[NDArray, NDArray]:
    """What lies above a level, used points only."""
    kept = faces[(points[faces][:, :, 2] >= level).all(axis=1)]
    used, index = np.unique(kept, return_inverse=True)
    return points[used], index.reshape(-1, 3)


def hemisphere(fineness: int = 5) -> tuple[NDArray, NDArray]:
    return upper(*ball(fineness))


def of_surface(surface: Surface, fineness: int = 5) -> tuple[NDArray, NDArray]:
    s, faces = upper(*ball(fineness, 1.0))
    across = np.maximum(np.hypot(s[:, 0], s[:, 1]), 1e-12)
    return surface.points(s[:, :2] * (np.arccos(np.clip(s[:, 2], 0, 1)) / (np.pi / 2) / across)[:, None]), faces


def bumpy(fineness: int = 5) -> tuple[NDArray, NDArray]:
    """A whole egg with six bumps round it and a dent, mirror-symmetric, narrower at -x."""
    s, faces = ball(fineness, 1.0)
    around = np.arctan2(s[:, 1], s[:, 0])
    r = 1 + 0.03 * np.cos(6 * around) * (1 - s[:, 2] ** 2) ** 3 + 0.02 * s[:, 0] - 0.03 * s[:, 0] ** 2 * s[:, 2]
    return s * r[:, None] * [280, 230, 180] * (1 + np.array([0, 0.1, 0]) * s[:, :1]), faces


def spoilt(
    points: NDArray, faces: NDArray, *, noise: float = 0.0, holes: int = 0, hole: float = 25.0, seed: int = 0
) -> tuple[NDArray, NDArray]:
    chance = np.random.default_rng(seed)
    moved = points + chance.normal(0, noise, points.shape) if noise else points
    for middle in points[chance.integers(len(points), size=holes)]:
        gone = np.linalg.norm(points - middle, axis=1) < hole
        faces = faces[~gone[faces].any(axis=1)]
    return moved, faces


def saved(path: Path, points: NDArray, faces: NDArray) -> Path:
    trimesh.Trimesh(points, faces, process=False).export(path)
    return path


def built(folder: Path, points: NDArray, faces: NDArray, **figures: object) -> scan.Scanned:
    path = saved(folder / "scan.ply", points, faces)
    return scan.build(scan.Params(file=File(path.name, path, "-"), **figures))  # type: ignore[arg-type]


def sphere_through(points: NDArray) -> tuple[NDArray, float]:
    """Centre and radius of the sphere nearest in the algebraic sense (Coope, J. Optim. Theory Appl. 76, 1993)."""
    solved = np.linalg.lstsq(np.column_stack([2 * points, np.ones(len(points))]), (points**2).sum(axis=1), rcond=None)
    centre = solved[0][:3]
    return centre, float(np.sqrt(solved[0][3] + centre @ centre))
