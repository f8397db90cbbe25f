"""A dome cut like a pie into rings and sectors: a small layout and mesh whose every seam can be counted by hand."""

from __future__ import annotations

import numpy as np

from shellgen.model import Layout, Line, Plate, ShellMesh


def cap(radius: float, angle: float):
    """The disc as a spherical cap, equidistant from the crown: points and normals of (n, 2) uv."""

    def place(uv):
        r, turn = np.hypot(*uv.T), np.arctan2(uv[:, 1], uv[:, 0])
        normal = np.column_stack(
            [np.sin(angle * r) * np.cos(turn), np.sin(angle * r) * np.sin(turn), np.cos(angle * r)]
        )
        return radius * normal, normal

    return place


def bowl(length: float, width: float, height: float):
    """Half an ellipsoid over an ellipse, as `cap`."""
    half = np.array([length / 2, width / 2, height])

    def place(uv):
        unit, _ = cap(1.0, np.pi / 2)(uv)
        normal = unit / half
        return unit * half, normal / np.linalg.norm(normal, axis=1, keepdims=True)

    return place


def shell(place, rings: list[tuple[float, list[int]]], *, around: int, steps: int) -> tuple[Layout, ShellMesh]:
    """Layout and mesh of a dome.

    rings  : for each ring from the crown out, its outer radius in the domain and the angular steps (0 is the head,
             0 to `around` - 1, mirror-symmetric) where lines part it
    around : mesh vertices per turn, even; steps : mesh rows per ring
    """
    inner = [0.0, *[radius for radius, _ in rings][:-1]]
    radii = np.concatenate([np.linspace(a, b, steps + 1)[1:] for a, (b, _) in zip(inner, rings, strict=True)])
    mesh_uv, mirror = _vertices(radii, around)
    faces, sector, row = _faces(len(radii), around)
    splits = [sorted({0, around // 2, *cuts}) for _, cuts in rings]
    starts = np.cumsum([0] + [len(s) for s in splits])
    ring = row // steps
    face_cell = np.array(
        [starts[k] + np.searchsorted(splits[k], j, side="right") - 1 for k, j in zip(ring, sector, strict=True)]
    )
    layout, chains = _net(rings, splits, starts, mesh_uv, around, steps)
    points, normals = place(mesh_uv)
    for array in (points, normals):  # exactly symmetric, as the real ones are
        array[:, 1] = 0.5 * (array[:, 1] - array[mirror, 1])
        array[:, [0, 2]] = 0.5 * (array[:, [0, 2]] + array[mirror][:, [0, 2]])
    return layout, ShellMesh(mesh_uv, points, normals, faces, face_cell, tuple(chains), mirror)


def _vertices(radii, around):
    turn = 2 * np.pi * np.arange(around) / around
    uv = np.concatenate(
        [[[0.0, 0.0]], (radii[:, None, None] * np.column_stack([np.cos(turn), np.sin(turn)])).reshape(-1, 2)]
    )
    back = (-np.arange(around)) % around
    mirror = np.concatenate([[0], (1 + around * np.arange(len(radii))[:, None] + back).ravel()])
    uv[:, 0] = 0.5 * (uv[:, 0] + uv[mirror, 0])
    uv[:, 1] = 0.5 * (uv[:, 1] - uv[mirror, 1])
    return uv, mirror


def _vertex(row: int, j: int, around: int) -> int:
    """Vertex on mesh row `row` (0 is the crown)."""
    return 0 if row == 0 else 1 + around * (row - 1) + j % around


def _faces(rows, around):
    faces, sector, of_row = [], [], []
    for i in range(rows):
        for j in range(around):
            a, b = _vertex(i, j, around), _vertex(i, j + 1, around)
            c, d = _vertex(i + 1, j, around), _vertex(i + 1, j + 1, around)
            if i == 0:
                new = [(0, c, d)]
            elif j < around // 2:  # the other diagonal on the right half, so that the halves mirror
                new = [(a, c, d), (a, d, b)]
            else:
                new = [(a, c, b), (c, d, b)]
            faces += new
            sector += [j] * len(new)
            of_row += [i] * len(new)
    return np.array(faces), np.array(sector), np.array(of_row)


def _net(rings, splits, starts, mesh_uv, around, steps):
    """Lines walk outward along the splits, then round the rings; nodes at every crossing."""
    at = {}

    def node(k: int, j: int) -> int:
        return at.setdefault((0, 0) if k == 0 else (k, j % around), len(at))

    def cell(k: int, j: int) -> int:
        if k >= len(rings):
            return -1
        return int(starts[k] + np.searchsorted(splits[k], j % around, side="right") - 1)

    drafts = []
    for k, (_, cuts) in enumerate(rings):
        for j in splits[k]:
            chain = [_vertex(k * steps + i, j, around) for i in range(steps + 1)]
            kind = "plate" if j in cuts else "midline"
            drafts.append((("ray", k, j), node(k, j), node(k + 1, j), chain, kind, cell(k, j), cell(k, j - 1)))
    for k in range(1, len(rings) + 1):
        stops = sorted(set(splits[k - 1]) | (set(splits[k]) if k < len(rings) else set()))
        for a, b in zip(stops, [*stops[1:], around], strict=True):
            chain = [_vertex(k * steps, j, around) for j in range(a, b + 1)]
            kind = "plate" if k < len(rings) else "rim"
            drafts.append((("arc", k, a, b), node(k, a), node(k, b), chain, kind, cell(k - 1, a), cell(k, a)))
    index = {draft[0]: i for i, draft in enumerate(drafts)}

    def mirrored(key):
        if key[0] == "ray":
            return index["ray", key[1], (-key[2]) % around]
        return index["arc", key[1], (-key[3]) % around, (-key[2]) % around or around]

    lines = tuple(
        Line(start, end, mesh_uv[chain], kind, left, right, mirrored(key))
        for key, start, end, chain, kind, left, right in drafts
    )
    nodes = np.zeros((len(at), 2))
    for line in lines:
        nodes[line.start], nodes[line.end] = line.uv[0], line.uv[-1]
    return _layout(nodes, lines, splits, starts, around), [np.array(draft[3]) for draft in drafts]


def _layout(nodes, lines, splits, starts, around):
    bounds = [[] for _ in range(starts[-1])]
    for i, line in enumerate(lines):
        bounds[line.left].append((i, 1))
        if line.right >= 0:
            bounds[line.right].append((i, -1))
    parent = list(range(starts[-1]))
    for line in lines:
        if line.kind == "midline":
            a, b = sorted((line.left, line.right))
            parent[b] = a
    groups = {}
    for c in range(starts[-1]):
        groups.setdefault(parent[parent[c]], []).append(c)
    plates, cell_plate = [], [0] * starts[-1]
    middle = {}
    for k, cuts in enumerate(splits):
        for i, (a, b) in enumerate(zip(cuts, [*cuts[1:], around], strict=True)):
            middle[int(starts[k]) + i] = (k, 0.5 * (a + b))
    by_middle = {(k, m): c for c, (k, m) in middle.items()}
    for number, cells in enumerate(groups.values()):
        for c in cells:
            cell_plate[c] = number
    for cells in groups.values():
        k, m = middle[cells[0]]
        side = "C" if len(cells) > 1 else "L" if m < around / 2 else "R"
        other = cell_plate[by_middle[k, around - m]]
        near = {cell_plate[c] for i in range(len(lines)) for c in (lines[i].left, lines[i].right)
                if c >= 0 and {lines[i].left, lines[i].right} & set(cells) and lines[i].kind == "plate"}  # fmt: skip
        own = cell_plate[cells[0]]
        rank = sum(1 for other_cells in groups.values() if middle[other_cells[0]][0] == k and other_cells[0] < cells[0])
        plates.append(
            Plate(f"ring{k}-{side}-{rank}", f"ring{k}", side, tuple(cells), 4, other, tuple(sorted(near - {own})))
        )
    return Layout(nodes, lines, tuple(_ordered(b, lines) for b in bounds), tuple(plates), tuple(cell_plate))


def _ordered(bound, lines):
    """Lines of one cell, joined end to end."""
    ends = {(lines[i].start if d > 0 else lines[i].end): (i, d) for i, d in bound}
    walk = [bound[0]]
    while len(walk) < len(bound):
        i, d = walk[-1]
        walk.append(ends[lines[i].end if d > 0 else lines[i].start])
    return tuple(walk)
