"""Parts cut from lengths of stock: cutting lists as bars, and the plan of the edging around the rim."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from shellgen.canvas import Drawing, Path, Table, Text
from shellgen.canvas.lettering import width, wrapped
from shellgen.canvas.rule import METRIC, Rule, inch
from shellgen.core.arrays import Floats
from shellgen.draw import notes
from shellgen.draw.placing import Room
from shellgen.model.said import count
from shellgen.trim.edging import Edging
from shellgen.workshop.stock import CutList

SHEET = (210.0, 297.0)  # ISO 216 A4
BORDER = 12.0
BAR, INCH_BAR, ROW = 7.0, 8.2, 15.0
SMALL = (2.5, 1.8)  # ISO 3098
FOAM = (236, 240, 241)
AWAY = np.array([8.0, 11.0, 15.0, 20.0])


def cut_table(name: str, cuts: CutList, sizes: Mapping[str, float]) -> Table:
    """One row per piece, in the order of cutting."""
    rows = [
        (number, piece, round(sizes[piece], 1), round(length.left, 1))
        for number, length in enumerate(cuts.lengths, 1)
        for piece in length.pieces
    ]
    return Table(name, ("stock length", "piece", "cut (mm)", "left of the length (mm)"), tuple(rows))


def cut_sheets(
    name: str, title: str, cuts: CutList, sizes: Mapping[str, float], *, rule: Rule = METRIC
) -> tuple[Drawing, ...]:
    """Each stock length as a bar, to scale, on as many sheets as needed."""
    per = int((SHEET[1] - 2 * BORDER - 26) // ROW)
    groups = [cuts.lengths[k : k + per] for k in range(0, len(cuts.lengths), per)]
    scale = (SHEET[0] - 2 * BORDER) / cuts.stock
    result = []
    for page, group in enumerate(groups, 1):
        items: list[Path | Text] = _heading(title, cuts, page, len(groups), rule)
        y = SHEET[1] - BORDER - 32.0 - (INCH_BAR - BAR if rule.inches else 0.0)
        for number, length in enumerate(group, 1 + per * (page - 1)):
            items += _bar(number, length.pieces, length.left, sizes, scale, y, rule)
            y -= ROW
        result.append(Drawing(f"{name}-{page}" if page > 1 else name, *SHEET, tuple(items), title))
    return tuple(result)


def _heading(title: str, cuts: CutList, page: int, pages: int, rule: Rule) -> list[Path | Text]:
    proven = (
        "which is the fewest possible" if len(cuts.lengths) <= cuts.bound else f"where at least {cuts.bound} are needed"
    )
    lengths = count(len(cuts.lengths), "length")
    lines = [
        (f"{title}{f', sheet {page} of {pages}' if pages > 1 else ''}", 5.0),
        (f"{lengths} of {rule.mm(cuts.stock, None)}, {proven}; {cuts.waste:.0%} is left over", 3.5),
    ]
    words: list[Path | Text] = []
    y = SHEET[1] - BORDER
    for text, height in lines:
        y -= 1.6 * height
        words.append(Text(text, (BORDER, y), height, layer="note"))
    for line in wrapped(notes.KNIFE, SHEET[0] - 2 * BORDER, 2.5):
        y -= 5.0
        words.append(Text(line, (BORDER, y), 2.5, layer="note"))
    return words


def _bar(
    number: int,
    pieces: Sequence[str],
    left: float,
    sizes: Mapping[str, float],
    scale: float,
    y: float,
    rule: Rule,
) -> list[Path | Text]:
    items: list[Path | Text] = []
    x, high, all_named = BORDER, INCH_BAR if rule.inches else BAR, True
    for piece in pieces:
        across = scale * sizes[piece]
        box = np.array([(x, y), (x + across, y), (x + across, y + high), (x, y + high)])
        items.append(Path(box, "fill", closed=True, fill=FOAM))
        items.append(Path(box, "cut", closed=True, data={"piece": piece}))
        size = f"{sizes[piece]:.1f}"
        lines = [size, inch(sizes[piece])] if rule.inches else [size]
        named = _boxed([piece.removeprefix("spike-"), *lines], box)
        items += named or _boxed(lines, box) or _boxed([size], box)
        all_named = all_named and bool(named)
        x += across
    items.append(Text(f"{number}", (BORDER - 2.0, y + 2.0), 3.5, anchor="end", layer="note"))
    names = "" if all_named else ", ".join(piece.removeprefix("spike-") for piece in pieces) + "; "
    across = SHEET[0] - 2 * BORDER
    attempts = [(h, wrapped(f"{names}{rule.mm(left)} left", across, h)) for h in SMALL]
    height, lines = next((of for of in attempts if len(of[1]) == 1), attempts[-1])
    items += [Text(line, (BORDER, y - 3.3 - 3.3 * k), height, layer="note") for k, line in enumerate(lines[:2])]
    return items


def _boxed(lines: Sequence[str], box: Floats) -> list[Text]:
    """Lines in the middle of a part of a bar, as large as they fit; nothing if they do not fit."""
    (x, y), (across, up) = box.mean(axis=0).tolist(), np.ptp(box, axis=0).tolist()
    for height in SMALL:
        if max(width(line, height) for line in lines) < across - 1.0 and 1.45 * height * len(lines) < up:
            top = y + 0.7 * height * (len(lines) - 1) - 0.5 * height
            return [Text(line, (x, top - 1.4 * height * k), height, anchor="middle") for k, line in enumerate(lines)]
    return []


def edging_table(edging: Edging) -> Table:
    """Each piece of edging: its length, its start along the rim, the cuts of its ends."""
    total = edging.length
    mitre = {round(c.at, 3): round(float(np.degrees(c.mitre)), 1) for c in edging.corners}
    rows = [
        (
            piece.name,
            round(piece.length, 1),
            round(piece.start % total, 1),
            mitre.get(round(piece.start % total, 3), 0.0),
            mitre.get(round(piece.end % total, 3), 0.0),
            sum(r.count for r in edging.reliefs if _within(piece.start, piece.end, r.start, total)),
        )
        for piece in edging.pieces
    ]
    columns = (
        "piece", "length at the middle of the stock (mm)", "starts, from the head to the left (mm)",
        "mitre at the start (deg)", "mitre at the end (deg)", "relief cuts",
    )  # fmt: skip
    return Table("edging", columns, tuple(rows))


def _within(start: float, end: float, at: float, total: float) -> bool:
    return (at - start) % total < end - start


def edging_plan(name: str, edging: Edging, *, rule: Rule = METRIC) -> Drawing:
    """The rim from above, head up, to scale: joints, pieces with their lengths, relief cuts and mitres."""
    plan = np.column_stack([-edging.curve[:, 1], edging.curve[:, 0]])  # the wearer's left on the left
    joints = np.column_stack([-edging.joints[:, 1], edging.joints[:, 0]])
    size, low = np.ptp(plan, axis=0), plan.min(axis=0)
    field = np.array([SHEET[0] - 2 * BORDER - 64.0, SHEET[1] - 2 * BORDER - 110.0])
    scale = 1 / (np.ceil(2 * (size / field).max()) / 2)
    shift = np.array([SHEET[0] / 2, BORDER + 62.0 + field[1] / 2]) - scale * (low + size / 2)
    rim = scale * plan + shift
    items: list[Path | Text] = [Path(rim, "cut", closed=True)]
    seen = [np.vstack([rim, rim[:1]])]
    for at, joint in zip(joints, edging.joints, strict=True):
        out = _outward(rim, scale * at + shift)
        tick = np.array([scale * at + shift - 4 * out, scale * at + shift + 4 * out])
        items.append(Path(tick, "mark", data={"joint": f"{joint[0]:.1f} {joint[1]:.1f}"}))
        seen.append(tick)
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(edging.curve, axis=0), axis=1))])
    along *= edging.length / (along[-1] + np.linalg.norm(edging.curve[0] - edging.curve[-1]))

    def place(s: float) -> Floats:
        return np.array([np.interp(s % edging.length, along, rim[:, k], period=edging.length) for k in (0, 1)])

    for relief in edging.reliefs:
        for share in (np.arange(relief.count) + 0.5) / relief.count:
            at = place(relief.start + share * (relief.end - relief.start))
            cut = np.array([at, at - 2.5 * _outward(rim, at)])
            items.append(Path(cut, "score", data={"relief": f"{relief.depth:g}"}))
            seen.append(cut)
    box = np.array([(4.0, 50.0), (SHEET[0] - 4, 50.0), (SHEET[0] - 4, SHEET[1] - 40), (4.0, SHEET[1] - 40)])
    room = Room(box, seen)
    for piece in edging.pieces:
        at = place((piece.start + piece.end) / 2)
        out = _outward(rim, at)
        aside = np.array([-out[1], out[0]])
        inches = [inch(piece.length)] if rule.inches else []
        half = width(piece.name, 2.5) / 2 * abs(out[0])
        spots = [at + (r + half) * out + s * aside for r in AWAY for s in (0, 6, -6, 12, -12)]
        items += room.place([piece.name, f"{piece.length:.0f} mm", *inches], (3.5, 2.5, 1.8), np.array(spots))
    for corner in edging.corners:
        at = place(corner.at)
        spots = [at - r * _outward(rim, at) for r in AWAY]
        items += room.place([f"mitre {np.degrees(corner.mitre):.0f}°"], SMALL, np.array(spots))
    items += room.place(["head"], (5.0,), rim.mean(axis=0) + np.array([[0.0, 0.3 * scale * size[1]]]))
    return Drawing("edging-plan", *SHEET, (*items, *_edging_words(name, edging, 1 / scale, rule)), f"{name} edging")


def _outward(rim: Floats, at: Floats) -> Floats:
    """Unit normal of the rim's outline at its point nearest to `at`, away from its middle."""
    k = int(np.linalg.norm(rim - at, axis=1).argmin())
    along = rim[(k + 2) % len(rim)] - rim[k - 2]
    out: Floats = np.array([along[1], -along[0]]) / np.hypot(*along)
    return out if out @ (at - rim.mean(axis=0)) > 0 else -out


def _edging_words(name: str, edging: Edging, scale: float, rule: Rule) -> list[Text]:
    cuts = sum(relief.count for relief in edging.reliefs)
    head = f"{name}: edging from above, scale 1:{scale:g}"
    lines = [
        f"{count(len(edging.pieces), 'piece')}, {rule.metres(edging.length)} in all, measured along the middle of the "
        "stock. Fit each piece without glue first; start at the front.",
        *([f"Short dashes: {count(cuts, 'relief cut')} in the face that is compressed."] if edging.reliefs else []),
        f"Bending stretches or compresses the faces by up to {edging.strain:.0%}. Warm the stock where it resists.",
        notes.KNIFE,
        notes.HEAT,
        notes.GLUE,
    ]
    words = [Text(head, (BORDER, SHEET[1] - BORDER - 5.0), 5.0, layer="note")]
    y = 46.0
    for text in lines:
        for line in wrapped(text, SHEET[0] - 2 * BORDER, 2.5):
            words.append(Text(line, (BORDER, y), 2.5, layer="note"))
            y -= 4.2
    return words
