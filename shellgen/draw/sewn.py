"""How a strap is put together: its webbing to scale, its buckle, and on which side of the patch it is sewn."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from shellgen.canvas import Colour, Drawing, Path, Text
from shellgen.canvas.lettering import wrapped
from shellgen.canvas.rule import METRIC, Rule
from shellgen.core.arrays import Floats
from shellgen.draw.notes import raised
from shellgen.wear import LOOP, Strap, Wear

EDGE, ROW, HEIGHT, LINE = 3.0, 22.0, 2.5, 4.3
"""mm: border, height of a strap's words and gaps, of lettering (ISO 3098), and from line to line (chosen)."""
CLOTH, WEB, BUCKLE, FOAM = (236, 227, 200), (168, 182, 176), (89, 98, 90), (222, 228, 225)
"""Fills that stay apart in black and white (chosen)."""
LONG = 1.6
"""Length of a closed buckle over the width of its webbing (common practice, no source)."""
SECTION = 30.0
Items = list[Path | Text]


def strap_drawing(wear: Wear, *, across: float = 130.0, rule: Rule = METRIC) -> Drawing | None:
    """Every strap of webbing laid out flat, all at one scale, and the cut through a patch; None without webbing."""
    cut = [strap for strap in wear.straps if strap.pieces]
    if not cut:
        return None
    size = {patch.role: patch.length for patch in wear.patches}
    room = across - 2 * EDGE
    scale = min(room / (s.on_body + sum(size[p.role] for p in s.pieces) / 2) for s in cut)
    tallest = scale * max(size.values())
    items: Items = []
    for strap in cut:
        drawn = [*_strap(strap, size, scale, across, rule)]
        items = [*raised(items, ROW + tallest), *drawn]
    items = [*raised(items, SECTION), *_section(across, rule)]
    head = "Straps, laid out flat: what to cut, what is sewn to what, and where they open"
    lines = wrapped(head, room, HEIGHT)
    tall = (ROW + tallest) * len(cut) + SECTION + EDGE + LINE * len(lines)
    words = [Text(line, (EDGE, tall - LINE * (k + 1)), HEIGHT, layer="note") for k, line in enumerate(lines)]
    return Drawing("straps", across, tall, (*items, *words), "the straps, laid out flat")


def _strap(strap: Strap, size: dict[str, float], scale: float, across: float, rule: Rule) -> Iterator[Path | Text]:
    first, last = strap.pieces
    most = scale * max(size.values()) / 2
    y, half = most + 9.0, max(scale * strap.width / 2, 1.2)
    ends = EDGE + scale * size[first.role] / 2, EDGE + scale * (size[first.role] / 2 + strap.on_body)
    meet, buckle = ends[0] + scale * first.to_buckle, LONG * half
    for piece, at in zip(strap.pieces, ends, strict=True):
        side = scale * size[piece.role] / 2
        cloth = _box(at - side, y - side, at + side, y + side, CLOTH)
        yield from (cloth, Path(cloth.points, "guide", closed=True))
    tail = y + half + 1.6
    yield _box(ends[0] - half, y - half, meet - buckle, y + half, WEB)
    yield _box(meet + buckle, y - half, ends[1] + half, y + half, WEB)
    spare = scale * (last.length - last.to_buckle)
    yield _box(meet, tail - 0.5, min(meet + spare, ends[1]), tail + 0.5, WEB)  # the end to pull
    yield _box(meet - buckle, y - 1.3 * half, meet + buckle, y + 1.3 * half, BUCKLE)
    yield _words(f"{strap.name}: {strap.count} of this, {rule.mm(strap.width, None)} wide", EDGE, y + most + 7.6)
    above = y + most + 1.8
    yield _words(f"cut {rule.mm(first.length)}", ends[0] - half, above)
    yield _words(f"cut {rule.mm(last.length)}", ends[1] + half, above, "end")
    name = strap.buckles[0][0]
    yield _words(name, min(max(meet, EDGE + 25), across - EDGE - 25), above, "middle")
    low = y - most - 3.8
    sides = [f"patch-{piece.role}{', ' * bool(piece.side)}{piece.side}" for piece in strap.pieces]
    yield _words(sides[0], EDGE, low)
    yield _words(sides[1], ends[1] + scale * size[last.role] / 2, low, "end")
    yield _words(f"{rule.mm(first.to_buckle)} to the buckle", (ends[0] + meet) / 2, low - LINE, "middle")
    yield _words(f"{rule.mm(last.to_buckle)} and the end to pull", (ends[1] + meet) / 2, low - LINE, "middle")


def _section(across: float, rule: Rule) -> Iterator[Path | Text]:
    """The cut through a patch, the wearer above, and the loop round a bar."""
    low, right = 4.0, EDGE + 46.0
    yield _box(EDGE, low, right, low + 5.0, FOAM)
    yield _box(EDGE + 8, low + 5.8, right - 8, low + 6.6, CLOTH)
    web = np.array([(EDGE + 16, low + 7.4), (EDGE + 30, low + 7.4), (right - 2, low + 13.0), (right - 2, low + 14.4),
                    (EDGE + 29.6, low + 8.8), (EDGE + 16, low + 8.8)])  # fmt: skip
    yield Path(web, "fill", closed=True, fill=WEB)
    yield Path(web, "mark", closed=True)
    for x in (EDGE + 18, EDGE + 28):
        yield Path(np.array([(x, low + 5.6), (x, low + 9.4)]), "cut")
    called = (
        (16.0, "webbing, sewn to the side that faces the wearer", (right - 4, low + 13.5)),
        (11.0, "patch of cloth; the two short lines are the seam", (right - 10, low + 6.2)),
        (6.0, "glue between patch and foam only", (right - 12, low + 5.4)),
        (1.5, "foam of the shell, from its inside", (right, low + 1.5)),
    )
    for up, said, to in called:
        yield _words(said, right + 6, up + 1.0)
        yield Path(np.array([(right + 5, up + 2.0), to]), "label")
    yield _words(f"Fold {rule.mm(LOOP)} back round the bar of the fixed half of a buckle, and sew.", EDGE, 23.0)


def _words(text: str, x: float, y: float, anchor: str = "start") -> Text:
    return Text(text, (float(x), float(y)), HEIGHT, anchor=anchor, layer="note")


def _box(x0: float, y0: float, x1: float, y1: float, fill: Colour) -> Path:
    corners: Floats = np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], float)
    return Path(corners, "fill", closed=True, fill=fill)
