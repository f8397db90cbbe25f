"""A made-up sheet of two large pieces and some small ones, and a dome with cones on it, for the tests of formats."""

from functools import cache

import numpy as np

from shellgen.canvas import Drawing, Path, Scene, ScenePart, Text, tiling


def blob(across: float, up: float, *, lobes: int = 5, wave: float = 0.08, count: int = 240) -> np.ndarray:
    """(n, 2) a smooth closed outline that just fills `across` x `up`."""
    t = np.linspace(0, 2 * np.pi, count, endpoint=False)
    r = 1 + wave * np.cos(lobes * t) + wave / 2 * np.sin(2 * t)
    xy = np.column_stack([r * np.cos(t), r * np.sin(t)])
    low, high = xy.min(axis=0), xy.max(axis=0)
    return (xy - low) / (high - low) * (across, up)


def piece(name: str, across: float, up: float) -> Drawing:
    """A piece as it is drawn to be cut: four sides, score lines, a seat, marks and lettering, 3 mm clear all round."""
    outline = blob(across, up) + 3.0
    size, middle = (across + 6.0, up + 6.0), outline.mean(axis=0)
    items: list[Path | Text] = []
    for k, side in enumerate(np.array_split(np.arange(len(outline)), 4)):
        points = outline[np.r_[side, (side[-1] + 1) % len(outline)]]
        items.append(Path(points, "cut", data={"seam": f"{name}~{k}"}))
        a, b = points[len(points) // 2], points[len(points) // 2 + 1]
        inward = np.array([a[1] - b[1], b[0] - a[0]]) / np.hypot(*(b - a))
        items.append(Path([a, a + 5 * inward], "mark", data={"seam": f"{name}~{k}", "mark": str(k + 1)}))
        items.append(Text(str(k + 1), tuple(a + 9 * inward - (0, 1.2)), 2.5, anchor="middle"))
    items.append(Path(0.62 * (outline - middle) + middle, "score", closed=True))
    t = np.linspace(0, 2 * np.pi, 60, endpoint=False)
    radius = 0.1 * min(across, up)
    items.append(Path(middle + radius * np.column_stack([np.cos(t), np.sin(t)]), "seat", True, {"spike": "s1"}))
    items.append(Text(name, (middle[0], middle[1] + 0.2 * up), 7.0 if across > 80 else 3.5, anchor="middle"))
    if across > 150:
        items.append(Text("↑ crown", (middle[0], middle[1] - 0.24 * up), 5.0, anchor="middle"))
    return Drawing(name, *size, tuple(items), title=f"Piece {name}")


def pieces() -> tuple[Drawing, ...]:
    return (
        piece("L-crown-1", 330.0, 240.0),
        piece("R-crown-1", 330.0, 240.0),
        *(piece(f"{side}-rim-{k}", 120.0 + 9 * k, 80.0 + 6 * k) for side in "LR" for k in range(1, 5)),
        *(piece(f"ring-{k}", 40.0 + 4 * k, 30.0) for k in range(1, 4)),
    )


@cache
def arranged(paper: str | tuple[float, float] = "A4", landscape: bool | None = None) -> tiling.PagePlan:
    """The pieces on pages; worked out once for all tests."""
    return tiling.arrange(pieces(), paper=paper, landscape=landscape)


def cone(radius: float = 22.0, height: float = 60.0, *, count: int = 40) -> tuple[np.ndarray, np.ndarray]:
    """A closed cone, base at z = 0, by revolving; vertices and faces."""
    t = np.linspace(0, 2 * np.pi, count, endpoint=False)
    ring = np.column_stack([radius * np.cos(t), radius * np.sin(t), np.zeros(count)])
    vertices, k = np.vstack([ring, (0, 0, height), (0, 0, 0)]), np.arange(count)
    after = (k + 1) % count
    side, base = (
        np.column_stack([k, after, np.full(count, count)]),
        np.column_stack([after, k, np.full(count, count + 1)]),
    )
    return vertices, np.vstack([side, base])


def dome(rings: int = 60, spokes: int = 120) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Vertices, faces and normals of half an ellipsoid 640 x 480 x 190 mm, open below."""
    radii = np.array([320.0, 240.0, 190.0])
    u, v = np.meshgrid(np.linspace(0, np.pi / 2, rings + 1)[1:], np.arange(spokes) * 2 * np.pi / spokes, indexing="ij")
    unit = np.stack([np.sin(u) * np.cos(v), np.sin(u) * np.sin(v), np.cos(u)], axis=-1).reshape(-1, 3)
    unit = np.vstack([unit, (0, 0, 1)])
    normals = unit / radii
    k, top = np.arange(spokes), len(unit) - 1
    after = (k + 1) % spokes
    faces = [np.column_stack([np.full(spokes, top), k, after])]
    for ring in range(rings - 1):
        a, b = ring * spokes, (ring + 1) * spokes
        faces += [np.column_stack([a + k, b + k, b + after]), np.column_stack([a + k, b + after, a + after])]
    return unit * radii, np.vstack(faces), normals / np.linalg.norm(normals, axis=1, keepdims=True)


def frames(directions: np.ndarray) -> np.ndarray:
    """(k, 4, 4) where cones stand on the dome."""
    radii, out = np.array([320.0, 240.0, 190.0]), []
    for d in directions:
        axis = d / radii / np.linalg.norm(d / radii)
        side = np.cross((0.0, 1.0, 0.0), axis)
        side /= np.linalg.norm(side)
        frame = np.eye(4)
        frame[:3, 0], frame[:3, 1], frame[:3, 2], frame[:3, 3] = side, np.cross(axis, side), axis, d * radii - 2 * axis
        out.append(frame)
    return np.array(out)


def shell(rings: int = 60, spokes: int = 120) -> Scene:
    """A dome with two kinds of cones, coloured faces and plate lines."""
    vertices, faces, normals = dome(rings, spokes)
    middle = vertices[faces].mean(axis=1)
    pattern = (np.floor(np.arctan2(middle[:, 1], middle[:, 0]) / (np.pi / 4)) + np.floor(middle[:, 2] / 70)) % 3
    colours = np.array([(126, 142, 92), (146, 152, 104), (108, 126, 86)], np.uint8)[pattern.astype(int)]
    around = np.array(
        [(t, p) for t, n, o in ((0.35, 4, 0.4), (0.75, 8, 0.2)) for p in 2 * np.pi * np.arange(n) / n + o]
    )
    unit = np.column_stack([np.sin(around[:, 0]) * np.cos(around[:, 1]), np.sin(around[:, 0]) * np.sin(around[:, 1])])
    unit = np.column_stack([unit, np.cos(around[:, 0])])
    big, small, sand = cone(24, 70), cone(18, 45), (214, 196, 150)
    lines = [vertices[ring * spokes + np.r_[np.arange(spokes), 0]] for ring in (rings // 3, 2 * rings // 3, rings - 1)]
    lines += [vertices[np.arange(rings // 3, rings) * spokes + s] for s in range(0, spokes, spokes // 8)]
    parts = (
        ScenePart("dome", vertices, faces, zone="plates", face_colours=colours, vertex_normals=normals),
        ScenePart("spike-large", *big, colour=sand, zone="spikes", placements=frames(unit[:4])),
        ScenePart("spike-small", *small, colour=sand, zone="spikes", placements=frames(unit[4:])),
    )
    return Scene("Marsh <shell> & sons", parts, tuple(lines))


def masters() -> Scene:
    """Closed solids only, as they would be printed."""
    names = ("cone & stump", "cône")
    return Scene("masters", tuple(ScenePart(n, *cone(20.0 + k, 50.0), (90, 140, 60)) for k, n in enumerate(names)))
