"""A half sphere cut along meridians and parallels, against what pyproj and networkx make of the same sphere and graph.

References: PROJ's Geod on a sphere (GeographicLib, Karney 2013); networkx, connected components.
"""

from __future__ import annotations

import networkx
import numpy as np
import pytest
from polar import bowl, shell
from pyproj import Geod

from shellgen.pattern import marks, seams

RADIUS, MID = 200.0, -5.0
SPHERE = Geod(a=RADIUS, b=RADIUS)
INNER = Geod(a=RADIUS + MID, b=RADIUS + MID)


@pytest.fixture(scope="module")
def ball():
    rings = [(0.3, []), (0.65, [2, 6, 10, 14, 18, 22]), (1.0, [0, 3, 4, 8, 9, 12, 15, 16, 20, 21])]
    layout, mesh = shell(bowl(2 * RADIUS, 2 * RADIUS, RADIUS), rings, around=24, steps=6)
    return layout, mesh


def latitude(points):
    """(n,) above the plane of the rim, and (n,) longitudes; degrees."""
    height = np.degrees(np.arctan2(points[:, 2], np.hypot(points[:, 0], points[:, 1])))
    return height, np.degrees(np.arctan2(points[:, 1], points[:, 0]))


def meridians(layout, mesh):
    """Lines that run straight down from the crown's side to the rim's."""
    for i, chain in enumerate(mesh.line_vertices):
        lat, lon = latitude(mesh.points[chain])
        if layout.lines[i].kind == "plate" and np.ptp(lon) < 1e-6 and np.ptp(lat) > 10:
            yield i, lat, lon


def chord_loss(lat):
    """The most by which straight edges fall short of the arc they stand on, as a share: 1 - sin x / x."""
    x = np.radians(np.abs(np.diff(lat)).max()) / 2
    return 1 - np.sin(x) / x


def test_lines_of_the_mesh_are_as_long_as_the_geodesics(ball):
    layout, mesh = ball
    found = list(meridians(layout, mesh))
    assert len(found) > 10
    for i, lat, lon in found:
        _, _, wanted = SPHERE.inv(lon[0], lat[0], lon[-1], lat[-1])
        ours = np.linalg.norm(np.diff(mesh.points[mesh.line_vertices[i]], axis=0), axis=1).sum()
        assert wanted * (1 - 1.01 * chord_loss(lat)) <= ours <= wanted * (1 + 1e-9)


def test_seams_are_measured_on_the_mid_surface(ball):
    layout, mesh = ball
    lines = {i: lat for i, lat, _ in meridians(layout, mesh)}
    made = seams.cut(mesh, layout, [i for i, line in enumerate(layout.lines) if line.kind == "plate"], mid_offset=MID)
    checked = 0
    for seam in made.seams:
        if len(seam.lines) == 1 and seam.lines[0] in lines:
            lat, lon = latitude(mesh.points[seam.vertices])
            _, _, wanted = INNER.inv(lon[0], lat[0], lon[-1], lat[-1])
            assert wanted * (1 - 1.01 * chord_loss(lat)) <= seam.design_length <= wanted * (1 + 1e-9)
            checked += 1
    assert checked > 10


def test_marks_stand_where_the_geodesic_is_divided(ball):
    layout, mesh = ball
    made = seams.cut(mesh, layout, [i for i, line in enumerate(layout.lines) if line.kind == "plate"], mid_offset=MID)
    lines, checked = {i for i, *_ in meridians(layout, mesh)}, 0
    for seam in made.seams:
        if len(seam.lines) != 1 or seam.lines[0] not in lines:
            continue
        points = mesh.offset(MID)[seam.vertices]
        along = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
        shares = np.array(marks.fractions(seam.design_length, marks.Params(spacing=20, least_gap=8)))
        at = np.column_stack([np.interp(shares * along[-1], along, column) for column in points.T])
        lat, lon = latitude(at)
        _, _, gaps = INNER.inv(lon[:-1], lat[:-1], lon[1:], lat[1:])
        assert gaps == pytest.approx(np.diff(shares) * gaps.sum(), rel=2e-3)
        checked += len(shares) > 3
    assert checked > 5


@pytest.mark.parametrize("kept", [0, 1, 3])
def test_pieces_are_what_stays_joined(ball, kept):
    layout, mesh = ball
    plate_lines = [i for i, line in enumerate(layout.lines) if line.kind == "plate"]
    outer = [i for i, lat, _ in meridians(layout, mesh) if lat.min() < 1]
    left = [i for i in outer if layout.lines[i].mirror > i][:kept]
    assert len(left) == kept
    whole = {i for k in left for i in (k, layout.lines[k].mirror)}
    cut = [i for i in plate_lines if i not in whole]
    made = seams.cut(mesh, layout, cut, mid_offset=MID)
    graph = networkx.Graph()
    graph.add_nodes_from(range(len(layout.cells)))
    for i, line in enumerate(layout.lines):
        if i not in cut and line.left >= 0 and line.right >= 0:
            graph.add_edge(line.left, line.right)
    wanted = {frozenset(part) for part in networkx.connected_components(graph)}
    assert {frozenset(piece.cells) for piece in made.pieces} == wanted
    assert len(wanted) < len(layout.plates) or kept == 0
