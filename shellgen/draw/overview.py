"""All pieces on one sheet, each turned and placed as on the dome seen from above, moved apart."""

from __future__ import annotations

import numpy as np
import shapely

from shellgen.canvas import Drawing, Path, Text
from shellgen.core.arrays import Floats
from shellgen.core.memory import remembered
from shellgen.draw.lines import score_paths, seat_paths
from shellgen.draw.placing import Room
from shellgen.geom.curves import length
from shellgen.pattern.flatmap import Seats
from shellgen.pipeline.dome import Ground
from shellgen.pipeline.foam import Foam

SHEET = (297.0, 210.0)  # ISO 216 A4, landscape
BORDER = 12.0
HEAD = 14.0
SCALES = (
    1,
    1.5,
    2,
    2.5,
    3,
    3.5,
    4,
    4.5,
    5,
    6,
    7,
    8,
    10,
    12,
    15,
    20,
    50,
)  # finer than ISO 5455, to fill the sheet


@remembered  # the files and the page show the same
def overview(ground: Ground, foam: Foam, seats: Seats, *, title: str) -> Drawing:
    """One A4 sheet at the largest usual scale at which all pieces fit."""
    placed = _spread(ground, foam)
    whole = np.vstack(placed)
    low, size = whole.min(axis=0), np.ptp(whole, axis=0)
    room = np.array(SHEET) - 2 * BORDER - [0.0, HEAD]
    scale = next((k for k in SCALES if (size / k <= room).all()), SCALES[-1])
    shift = np.array([BORDER, BORDER]) + (room - size / scale) / 2 - low / scale
    items: list[Path | Text] = []
    for index, at in enumerate(placed):
        items += _piece(ground, foam, seats, index, at / scale + shift)
    count = len(foam.cut.pieces)
    head = f"{title}: {count} {'piece' if count == 1 else 'pieces'}, scale 1:{scale:g}, head to the right"
    items.append(Text(head, (BORDER, SHEET[1] - BORDER - 3.5), 5.0, layer="note"))
    return Drawing("overview", *SHEET, tuple(items), head)


def _piece(ground: Ground, foam: Foam, seats: Seats, index: int, at: Floats) -> list[Path | Text]:
    piece, flat = foam.cut.pieces[index], foam.pattern.flats[index].flat
    cut = Path(at[piece.outline], "cut", closed=True, data={"piece": piece.name})
    # The lines within follow the same rigid motion and scale as the outline.
    matrix = np.linalg.lstsq(np.column_stack([flat, np.ones(len(flat))]), at, rcond=None)[0]
    inner = [
        Path(np.column_stack([p.points, np.ones(len(p.points))]) @ matrix, p.layer)
        for p in (*score_paths(ground, foam, index, np.zeros(2)), *seat_paths(seats, index, np.zeros(2)))
    ]
    for lines in ([p.points for p in inner], []):  # clear of the lines if possible
        room = Room(cut.points, lines)
        words = room.place([piece.name], (3.5, 2.5, 1.8), room.spots(cut.points.mean(axis=0), step=1.5, most=400))
        if words:
            break
    return [cut, *inner, *words]


@remembered
def _spread(ground: Ground, foam: Foam) -> list[Floats]:
    """Flat vertices of each piece, turned as on the dome and moved out from the crown until none overlap."""
    turned, centres = [], []
    ray = np.linspace(0.0, 1.0, 50)[:, None]
    reach = np.array(
        [length(ground.surface.points(ray * axis)) for axis in np.eye(2)]
    )  # from crown to rim over the dome
    for piece, of in zip(foam.cut.pieces, foam.pattern.flats, strict=True):
        plan = ground.mesh.points[piece.shell_vertices][:, :2]
        centred = of.flat - of.flat.mean(axis=0)
        u, _, vt = np.linalg.svd(centred.T @ (plan - plan.mean(axis=0)))
        turn = u @ np.diag([1.0, np.sign(np.linalg.det(u @ vt))]) @ vt
        turned.append(centred @ turn)
        centres.append(reach * ground.mesh.uv[piece.shell_vertices].mean(axis=0))
    for factor in np.arange(0.9, 4.0, 0.05):
        shapes = [
            shapely.make_valid(shapely.polygons((t + factor * c)[piece.outline])).buffer(4.0)
            for piece, t, c in zip(foam.cut.pieces, turned, centres, strict=True)
        ]
        pairs = shapely.STRtree(shapes).query(shapes, predicate="intersects")
        if (pairs[0] == pairs[1]).all():
            break
    return [t + factor * c for t, c in zip(turned, centres, strict=True)]
