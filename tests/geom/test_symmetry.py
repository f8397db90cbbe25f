"""The plane in which a cloud is its own mirror image, from a start that is off."""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from shellgen.geom.symmetry import mirror_plane


@pytest.mark.parametrize("pitch", [20, 30, 45])
def test_the_mirror_plane_of_a_roof_holds_its_ridge(pitch: float) -> None:
    """Every normal leans alike, so that all pairs count or none; the points of both sides are strewn independently."""
    chance, slope = np.random.default_rng(3), np.radians(pitch)
    x, y = chance.uniform(-100, 100, 4000), chance.uniform(-150, 150, 4000)
    turn, shift = Rotation.from_euler("xyz", [30, 50, 70], degrees=True).as_matrix(), np.array([40.0, -20.0, 10.0])
    points = np.column_stack([x, y, -np.abs(x) * np.tan(slope)]) @ turn.T + shift
    normals = np.column_stack([np.sign(x) * np.sin(slope), 0 * x, np.full(len(x), np.cos(slope))]) @ turn.T
    start = Rotation.from_rotvec([0.02, 0.06, -0.05]).as_matrix() @ turn[:, 0]
    found = mirror_plane(points, normals, start)
    assert found.normal == pytest.approx(turn[:, 0], abs=1e-3)
    assert found.offset == pytest.approx(turn[:, 0] @ shift, abs=0.1)
    assert found.error < 0.1
