"""Pieces of a sphere as triangle meshes, for tests and benchmarks of flattening."""

from __future__ import annotations

import numpy as np


def disc(rings: int) -> tuple[np.ndarray, np.ndarray]:
    """Unit disc: (n, 2) points on `rings` circles, the k-th with 6 k points, and the 6 rings^2 triangles between."""
    first = np.concatenate([[0], 1 + 3 * np.arange(rings) * np.arange(1, rings + 1), [1 + 3 * rings * (rings + 1)]])
    points = [np.zeros((1, 2))]
    faces = []
    for k in range(1, rings + 1):
        turn = 2 * np.pi * np.arange(6 * k) / (6 * k)
        points.append(k / rings * np.column_stack([np.cos(turn), np.sin(turn)]))
        sector, step = np.divmod(np.arange(6 * k), k)

        def ring(at, k):
            return first[k] + at % max(6 * k, 1) if k else np.zeros_like(at)

        out = ring(sector * k + step, k), ring(sector * k + step + 1, k)
        below = ring(sector * (k - 1) + step, k - 1)
        faces.append(np.column_stack([below, *out]))
        inner = step > 0
        before = ring(sector * (k - 1) + step - 1, k - 1)
        faces.append(np.column_stack([before, out[0], below])[inner])
    return np.concatenate(points), np.concatenate(faces)


def cap(rings: int, angle: float, radius: float = 300.0) -> tuple[np.ndarray, np.ndarray]:
    """Spherical cap of angular radius `angle`, laid out from the pole at true distances: (n, 3) points and faces."""
    flat, faces = disc(rings)
    away, turn = angle * np.hypot(*flat.T), np.arctan2(flat[:, 1], flat[:, 0])
    unit = np.column_stack([np.sin(away) * np.cos(turn), np.sin(away) * np.sin(turn), np.cos(away)])
    return radius * unit, faces


def gore(count: int, rows: int, low: float, high: float) -> tuple[np.ndarray, np.ndarray]:
    """One of `count` gores of the sphere between two latitudes: (n, 2) longitude and latitude, and faces."""
    columns = max(2, 2 * round(rows * 2 * np.pi / count / (high - low) / 2))
    across, up = np.meshgrid(np.linspace(-1, 1, columns + 1), np.linspace(low, high, rows + 1))
    at = np.arange(across.size).reshape(across.shape)
    a, b, c, d = at[:-1, :-1].ravel(), at[:-1, 1:].ravel(), at[1:, :-1].ravel(), at[1:, 1:].ravel()
    left = (np.arange(columns) < columns // 2)[None].repeat(rows, axis=0).ravel()
    one = np.where(left[:, None], np.column_stack([a, b, d]), np.column_stack([a, b, c]))
    two = np.where(left[:, None], np.column_stack([a, d, c]), np.column_stack([b, d, c]))
    return np.column_stack([across.ravel() * np.pi / count, up.ravel()]), np.concatenate([one, two])


def on_sphere(lonlat: np.ndarray, radius: float = 1.0) -> np.ndarray:
    """(n, 3) points at longitude and latitude."""
    lon, lat = lonlat.T
    return radius * np.column_stack([np.cos(lat) * np.cos(lon), np.cos(lat) * np.sin(lon), np.sin(lat)])


def exploded(points: np.ndarray, faces: np.ndarray, piece: np.ndarray):
    """The pieces with vertices of their own: points, faces, original vertex of each."""
    key, own = np.unique(piece[:, None] * len(points) + faces, return_inverse=True)
    vertex = key % len(points)
    return points[vertex], own.reshape(-1, 3), vertex
